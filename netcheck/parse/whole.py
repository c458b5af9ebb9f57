"""What only shows when all lines of a circuit file are seen together."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence

from ..finding import Finding, Related, Severity
from ..source import NOWHERE, Source, Span
from .lines import ParsedLine, token_span, tokens_of
from .nodes import Nodes, uses

_ONCE = ("circuit", "mains", "hightension")
_NO_PARTS = frozenset({*_ONCE, "elsewhere"})


def check_whole(
    source: Source, lines: Sequence[ParsedLine], told: Collection[Span]
) -> Iterator[Finding]:
    """Everything wrong between the lines.

    Parameters
    ----------
    source : Source
        The text.
    lines : sequence of ParsedLine
        All its lines.
    told : collection of Span
        Places that have been complained of already.
    """
    has_part = any(line.tree is not None and line.tree.data not in _NO_PARTS for line in lines)
    if not has_part and not any(line.broken for line in lines):
        yield Finding("empty-file", Severity.ERROR, source, NOWHERE, "the file holds no part",
                      "expected: one line for each part of the bias section",
                      '"netcheck new" writes a first file for you')  # fmt: skip
        return
    yield from _doubled_lines(source, lines)
    yield from _same_name(source, lines)
    yield from _mains_missing(source, lines)
    yield from _nodes(source, lines, told).findings()


def _nodes(source: Source, lines: Sequence[ParsedLine], told: Collection[Span]) -> Nodes:
    every = [use for line in lines for use in uses(line)]
    words = (re.findall(r'[^\s#",;]+', line.text) for line in lines if line.broken)
    return Nodes(
        source,
        at_parts=[use for use in every if use.part],
        outside=[use for use in every if not use.part],
        lost={word for found in words for word in found},
        told=told,
    )


def _kind(line: ParsedLine) -> str:
    return str(line.tree.data) if line.tree is not None else ""


def _doubled_lines(source: Source, lines: Sequence[ParsedLine]) -> Iterator[Finding]:
    for kind in _ONCE:
        spans = [
            token_span(tokens_of(line.tree)[0], line.number)
            for line in lines
            if line.tree is not None and _kind(line) == kind
        ]
        for span in spans[1:]:
            yield Finding("doubled-line", Severity.ERROR, source, span,
                          f'there is more than one "{kind}" line', "a circuit has one",
                          "keep the right one", (Related(spans[0], "the first one"),))  # fmt: skip


def _name(line: ParsedLine) -> tuple[str, Span] | None:
    """The part's name in a line, and where it stands."""
    tokens = tokens_of(line.tree) if line.tree is not None else []
    names = [token for token in tokens if token.type == "NAME"]
    return (str(names[0]), token_span(names[0], line.number)) if names else None


def _same_name(source: Source, lines: Sequence[ParsedLine]) -> Iterator[Finding]:
    first: dict[str, tuple[str, Span]] = {}
    for name, span in filter(None, map(_name, lines)):
        other, place = first.setdefault(name.lower(), (name, span))
        if place != span:
            alike = "" if other == name else f' (as "{other}")'
            yield Finding("same-name", Severity.ERROR, source, span,
                          f'the name "{name}" is taken already{alike}',
                          "each part has a name of its own", "give one of the two another name",
                          (Related(place, "the first part of this name"),))  # fmt: skip


def _mains_missing(source: Source, lines: Sequence[ParsedLine]) -> Iterator[Finding]:
    if any(_kind(line) == "mains" or (line.broken and line.tree is None) for line in lines):
        return
    winding = next((_name(line) for line in lines if _kind(line) == "winding"), None)
    if winding is not None:
        yield Finding("missing-line", Severity.ERROR, source, winding[1],
                      "there is a winding but no mains line",
                      "the volts of a winding hold at some mains voltage and frequency",
                      'add the line "mains 230 V 50 Hz", as on the nameplate')  # fmt: skip
