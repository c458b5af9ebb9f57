"""Findings as text: place, sentence, the line with a mark under the spot, what to do."""

from __future__ import annotations

import textwrap
import unicodedata
from collections.abc import Iterable

from ..finding import Finding, Related, Severity
from ..source import NOWHERE, Source, Span

WIDTH = 80
"""Columns that a report may take. [count]"""

MOST = 40
"""More findings than this are counted, not shown. [count]"""

_LONGEST_LINE = 66  # columns of the user's line that are shown around the spot
_LEAD = 20  # of them, columns in front of the spot where the line is cut there
_LOOKED_AT = 200  # characters either side of the spot that are looked at
_CUT = "..."
_TAB = 4  # columns that a tab takes


def render(findings: Iterable[Finding]) -> str:
    """All findings as plain text, one empty line between them; "" when there are none."""
    findings = list(findings)
    shown = [_one(finding) for finding in findings[:MOST]]
    if len(findings) > MOST:
        shown.append(f"and {len(findings) - MOST} more: mend these first")
    return "\n\n".join(shown)


def tally(findings: Iterable[Finding]) -> str:
    """How many of which severity, in words: "2 errors, 1 warning"."""
    findings = list(findings)
    counts = []
    for severity in Severity:
        count = sum(finding.severity is severity for finding in findings)
        if count:
            counts.append(f"{count} {severity.value}{'' if count == 1 else 's'}")
    return ", ".join(counts) or "nothing found"


def printable(text: str) -> str:
    """The text with control and other unprintable characters shown as codes."""
    return "".join(char if char.isprintable() else f"<U+{ord(char):04X}>" for char in text)


def _one(finding: Finding) -> str:
    head = f"{finding.place}: {finding.severity.value}: {finding.what}  [{finding.slug}]"
    lines = _wrapped(head, "")
    lines += _excerpt(finding.source, finding.span)
    for text in (finding.why, finding.fix):
        if text:
            lines += _wrapped(text, "  ")
    for related in finding.related:
        lines += _related(finding.source, related)
    return "\n".join(lines)


def _related(source: Source, related: Related) -> list[str]:
    place = f"{source.name}:{related.span.line}:{related.span.column}"
    return [*_wrapped(f"{place}: {related.text}", "  "), *_excerpt(source, related.span)]


def _wrapped(text: str, first: str) -> list[str]:
    return textwrap.wrap(printable(text), WIDTH, initial_indent=first, subsequent_indent="  ",
                         break_long_words=False, break_on_hyphens=False)  # fmt: skip


def _excerpt(source: Source, span: Span) -> list[str]:
    """The line of the spot with a mark under it; a long line is cut to what lies around."""
    if span == NOWHERE:
        return []
    line = source.line(span.line).rstrip()
    start = min(span.column - 1, len(line))
    far = max(0, start - _LOOKED_AT)  # a line may have a million characters
    shown = [_shown(char) for char in line[far : start + _LOOKED_AT]]
    end = max(span.end - 1 - far, 0)
    before, marked, after = shown[: start - far], shown[start - far : end], shown[end:]
    lead = ""
    if far or _columns(before) + min(_columns(marked), _LEAD) > _LONGEST_LINE:
        before, lead = _last(before, _LEAD), _CUT
    room = _LONGEST_LINE - len(lead) - _columns(before)
    mark = "^" * max(1, min(_columns(marked), room))
    text = _first(marked + after, room)
    number = str(span.line)
    # A blank for each column, so that the mark stands under the spot whatever is above it.
    blanks = " " * (len(lead) + _columns(before))
    return [
        f"  {number} | {lead}{''.join(before)}{text}".rstrip(),
        f"  {' ' * len(number)} | {blanks}{mark}",
    ]


def _first(chars: list[str], room: int) -> str:
    """As many characters as there is room for, and a sign where there are more. [columns]"""
    if _columns(chars) <= room:
        return "".join(chars)
    while chars and _columns(chars) > room:
        chars = chars[:-1]
    return "".join(chars) + _CUT


def _last(chars: list[str], room: int) -> list[str]:
    """The last characters for which there is room. [columns]"""
    chars = chars[-room:]
    while _columns(chars) > room:
        chars = chars[1:]
    return chars


def _shown(char: str) -> str:
    if char == "\t":
        return " " * _TAB
    return char if char.isprintable() else "\N{REPLACEMENT CHARACTER}"


def _columns(chars: list[str]) -> int:
    """Columns that characters, as shown, take on a terminal. [count]"""
    return sum(_width(char) for char in chars)


def _width(char: str) -> int:
    if char.isascii():
        return len(char)
    if unicodedata.category(char) in ("Mn", "Me"):
        return 0
    return 2 if unicodedata.east_asian_width(char) in "WF" else 1
