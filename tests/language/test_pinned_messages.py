"""Some messages in full, as the user sees them."""

from __future__ import annotations

import pytest

from netcheck.finding import Finding, Related, Severity
from netcheck.parse import parse_lines
from netcheck.report.findings import MOST, render, tally
from netcheck.source import Source, Span

TEXT = """\
mains 230 V 50 Hz
winding   T1   from ground to tap   48 Vac
diode     D1   anode raw  cathode tap
capacitor C1   plus ground  minus raw   47 uF
resistor  R1   from raw to head   4,7k
pot       RV1  top head  wiper wiiper  bottom foot   10k
resistor  R2   form foot to ground   27k   # foot
resistor  R4   from wiper1 to ground   220k
valve     V1   6V6GX  grid wiper1   plate 390 mV
"""

SHOWN = """\
amp.bias:5:35: error: 4,7k has a comma  [unreadable-value]
  5 | resistor  R1   from raw to head   4,7k
    |                                   ^^^^
  a decimal point is wanted, and no mark for thousands
  write 4.7k or 4k7

amp.bias:6:32: error: node "wiiper" is used by RV1 only  [dangling-node]
  6 | pot       RV1  top head  wiper wiiper  bottom foot   10k
    |                                ^^^^^^
  a node joins two parts or more
  did you mean "wiper1" (line 8)?

amp.bias:7:16: error: "form" is not understood here  [unknown-word]
  7 | resistor  R2   form foot to ground   27k   # foot
    |                ^^^^
  expected here: bands, from, to, a value
  did you mean "from"?

amp.bias:9:16: error: the valve type "6V6GX" is not known  [unknown-valve]
  9 | valve     V1   6V6GX  grid wiper1   plate 390 mV
    |                ^^^^^
  the known types nearest to it are 6V6G, 6V6GT, 6V6
  "netcheck valves" lists the known ones; your own go into a file valves.toml
  beside the circuit

amp.bias:9:43: error: "390 mV" cannot be a plate voltage  [absurd-value]
  9 | valve     V1   6V6GX  grid wiper1   plate 390 mV
    |                                           ^^^^^^
  one between 60 V and 2 kV is believable
  look for a slip in the figures or the unit"""

SHOWN_RELATED = """\
amp.bias:2:6: error: the name "W1" is taken already  [same-name]
  2 | link W1 from a to ground
    |      ^^
  each part has a name of its own
  give one of the two another name
  amp.bias:1:6: the first part of this name
  1 | link W1 from a to ground
    |      ^^"""


def test_a_file_with_five_mistakes() -> None:
    _, findings = parse_lines(Source("amp.bias", TEXT))
    assert render(findings) == SHOWN
    assert tally(findings) == "5 errors"


def test_a_second_place_is_shown_too() -> None:
    _, findings = parse_lines(Source("amp.bias", "link W1 from a to ground\n" * 2))
    assert render(findings) == SHOWN_RELATED


def marked(line: str, start: int, end: int) -> list[str]:
    """The two lines that show a spot, without what stands before the bar."""
    finding = Finding("slug", Severity.NOTE, Source("f", line), Span(1, start, end), "what")
    return [row.partition("| ")[2] for row in render([finding]).split("\n")[1:]]


@pytest.mark.parametrize(
    ("line", "start", "end", "shown", "mark"),
    [
        ("abc def", 5, 8, "abc def", "    ^^^"),
        ("abc", 4, 5, "abc", "   ^"),  # behind the end of the line
        ("abc", 9, 10, "abc", "   ^"),
        ("", 1, 2, "", "^"),
        ("a\tb\tc", 5, 6, "a    b    c", "          ^"),
        ("a\tb", 2, 4, "a    b", " ^^^^^"),
        ("\u4e2d\u4e2d x", 4, 5, "\u4e2d\u4e2d x", "     ^"),  # two columns each
        ("e\u0301 x", 4, 5, "e\u0301 x", "  ^"),  # an accent by itself takes none
        ("a\x1b[31m x", 8, 9, "a\ufffd[31m x", "       ^"),
        ("a\u200b x", 4, 5, "a\ufffd x", "   ^"),
        ("x" * 90, 1, 91, "x" * 66 + "...", "^" * 66),
        ("x" * 70 + " spot " + "y" * 60, 72, 76, "..." + "x" * 19 + " spot " + "y" * 38 + "...",
         " " * 23 + "^^^^"),
        ("x" * 1_000_000, 1_000_000, 1_000_001, "..." + "x" * 21, " " * 23 + "^"),
    ],
)  # fmt: skip
def test_the_mark_stands_under_the_spot(
    line: str, start: int, end: int, shown: str, mark: str
) -> None:
    assert marked(line, start, end) == [shown, mark]


def test_unprintable_characters_reach_no_terminal() -> None:
    finding = Finding("slug", Severity.ERROR, Source("a\x1b[2Jb\n", "x\x07"), Span(1, 1, 2),
                      "w\x1b\u202e", "y\x00", "f\x9b", (Related(Span(1, 2, 3), "r\x1b"),))  # fmt: skip
    assert all(line.isprintable() for line in render([finding]).split("\n"))


def test_many_findings_are_counted_and_not_all_shown() -> None:
    one = Finding("slug", Severity.WARNING, Source("f", "x"), Span(1, 1, 2), "what")
    shown = render([one] * (MOST + 3))
    assert shown.count("what") == MOST
    assert shown.endswith("and 3 more: mend these first")
    assert render([]) == ""


def test_tally_counts_by_severity() -> None:
    spot = (Source("f", ""), Span(1, 1, 2), "what")
    found = [Finding("s", severity, *spot) for severity in (*Severity, Severity.NOTE)]
    assert tally(found) == "1 error, 1 warning, 2 notes"
    assert tally([]) == "nothing found"
