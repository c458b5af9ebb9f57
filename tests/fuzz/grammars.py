"""Lines that the grammars themselves give, from hypothesis's walk through lark's rules.

In one manner nothing but the grammar speaks; then no blank stands between two words, and about
half of the lines do not parse again. In the other each word is followed by a blank, and names
and values come from a few, so that lines fit together and whole circuits come about.
"""

from __future__ import annotations

import functools

from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from hypothesis.extra.lark import from_lark
from lark import Lark

from netcheck.resources import folder

CIRCUIT, SHEET = "circuit.lark", "readings.lark"
_NODES = (
    "raw",
    "head",
    "sweep",
    "foot",
    "grid1",
    "tap",
    "ground",
    "open",
    "Ground",
    "node",
    "-50V",
)
_PARTS = ("R1", "R2", "RV1", "C1", "D1", "V1", "T1", "mains", "at", "power", "4k7")
_VALUES = (
    "4k7",
    "47",
    "100k",
    "230",
    "50",
    "48",
    "10%",
    "-52.0",
    "1,5",
    "0",
    "2k2k",
    "1e9",
    "+/-5",
)
_EXPLICIT: dict[str, st.SearchStrategy[str]] = {
    "NODE": st.sampled_from(_NODES),
    "NAME": st.sampled_from(_PARTS),
    "PART_NAME": st.sampled_from(_PARTS),
    "THING": st.sampled_from(_NODES + _PARTS),
    "TYPE": st.sampled_from(["EL34", "6V6GT", "1N4007", "6v6", "EL35"]),
    "VALUE": st.sampled_from(_VALUES),
    "FILE": st.sampled_from(["two-6v6gt-foot.bias", "two-el34-across", "x", "../x"]),
    "METER_NAME": st.sampled_from(["dmm", "scope", "with"]),
    "HALVES": st.sampled_from(["50-0-50", "50-0-60", "0-0-0", "1-0-"]),
    "STRING": st.sampled_from(['"x"', '""', '"# x"', '"\t"']),
    "AMPS": st.just("amps"),
    "OHMS": st.just("ohms"),
    "PLUS_SIGN": st.just("+"),
}  # fmt: skip


@functools.cache
def lines(grammar: str, *, apart: bool) -> st.SearchStrategy[str]:
    """Lines of a language.

    Parameters
    ----------
    grammar : str
        File name below the folder of grammars.
    apart : bool
        Whether words stand apart, and names and values are few.
    """
    lark = Lark.open(str(folder("grammars") / grammar), parser="lalr", start="line")
    if not apart:
        return from_lark(lark, start="line")
    ignored = set(lark.ignore_tokens)
    words = {
        # What is ignored, comments among it, would hide most of what follows it.
        terminal.name: st.just(" ")
        if terminal.name in ignored
        else _word(terminal.name, terminal.pattern.to_regexp())
        for terminal in lark.terminals
    }
    return from_lark(lark, start="line", explicit=words)


def _word(name: str, pattern: str) -> st.SearchStrategy[str]:
    spelled = _EXPLICIT.get(name, st.from_regex(pattern, fullmatch=True))
    return spelled.map(lambda word: f"{word} ")


def drawn(grammar: str, count: int, number: int, *, apart: bool) -> list[str]:
    """Some lines, the same ones for the same number.

    Parameters
    ----------
    grammar : str
        File name below the folder of grammars.
    count : int
        How many. [count]
    number : int
        The seed.
    apart : bool
        As for `lines`.
    """
    found: list[str] = []

    @seed(number)
    @settings(max_examples=count, database=None, deadline=None, derandomize=False,
              phases=[Phase.generate], suppress_health_check=list(HealthCheck))  # fmt: skip
    @given(lines(grammar, apart=apart))
    def keep(line: str) -> None:
        found.append(line)

    keep()
    return found
