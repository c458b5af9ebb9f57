"""Findings as text: place, sentence, the line with a mark under the spot, what to do."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from ..finding import Finding, Related, Severity
from ..source import NOWHERE, Source, Span

WIDTH = 80
"""Columns that a report may take. [count]"""

_LONGEST_LINE = 68  # characters of the user's line that are shown around the spot
MOST = 40
"""More findings than this are counted, not shown. [count]"""


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


def _one(finding: Finding) -> str:
    head = f"{finding.place}: {finding.severity.value}: {finding.what}  [{finding.slug}]"
    lines = _wrapped(printable(head), "  ")
    lines += _excerpt(finding.source, finding.span)
    for text in (finding.why, finding.fix):
        if text:
            lines += _wrapped(printable(text), "  ", first="  ")
    for related in finding.related:
        lines += _related(finding.source, related)
    return "\n".join(lines)


def _related(source: Source, related: Related) -> list[str]:
    place = f"{source.name}:{related.span.line}:{related.span.column}"
    return [*_wrapped(printable(f"{place}: {related.text}"), "  ", first="  "),
            *_excerpt(source, related.span)]  # fmt: skip


def _wrapped(text: str, indent: str, first: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=indent,
                         break_long_words=False, break_on_hyphens=False) or [first]  # fmt: skip


def printable(text: str) -> str:
    """The text with control and other unprintable characters shown as codes."""
    return "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in text)


def _excerpt(source: Source, span: Span) -> list[str]:
    """The line of the spot with a mark under it; a long line is cut to what lies around."""
    if span == NOWHERE:
        return []
    line = source.line(span.line)
    start, end = span.column - 1, max(span.end - 1, span.column)
    left = 0
    if len(line) > _LONGEST_LINE:
        left = max(0, min(start - 20, len(line) - _LONGEST_LINE))
    shown = line[left : left + _LONGEST_LINE]
    before, marked = line[left:start], line[start:end]
    number = str(span.line)
    lead = "".join(" " * _cells(c) for c in before)
    room = max(_LONGEST_LINE - (start - left), 1)
    mark = "^" * max(1, min(sum(_cells(c) for c in marked) or 1, room))
    text = "".join(_shown(c) for c in shown).rstrip()
    return [f"  {number} | {text}", f"  {' ' * len(number)} | {lead}{mark}"]


def _shown(char: str) -> str:
    if char == "\t":
        return "    "
    return char if char.isprintable() else "\N{REPLACEMENT CHARACTER}"


def _cells(char: str) -> int:
    """Columns that a character takes on a terminal. [count]"""
    import unicodedata  # noqa: PLC0415 - only on the way to a message

    if char == "\t":
        return 4
    if unicodedata.combining(char):
        return 0
    return 2 if unicodedata.east_asian_width(char) in "WF" else 1
