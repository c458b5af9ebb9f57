"""What only shows when all lines of a circuit file are seen together."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from lark import Token

from ..finding import Finding, Related, Severity
from ..netlist import GROUND, OPEN, Mains, Part, Winding
from ..source import NOWHERE, Source, Span
from .circuit import Elsewhere, Entry, Title
from .lines import ParsedLine, token_span

_OTHER_GROUNDS = frozenset({"gnd", "earth", "chassis", "0v", "0", "ground0", "mass"})


@dataclass(frozen=True, slots=True)
class Use:
    """A node's name where it stands, and the part it stands at."""

    node: str
    part: str
    span: Span


def check_whole(
    source: Source, lines: Iterable[ParsedLine], entries: Iterable[Entry]
) -> Iterator[Finding]:
    """Everything wrong between the lines.

    Parameters
    ----------
    source : Source
        The text.
    lines : iterable of ParsedLine
        All its lines.
    entries : iterable of Entry
        The entries that could be built.
    """
    lines, entries = list(lines), list(entries)
    if not any(line.tree is not None or line.broken for line in lines):
        yield Finding("empty-file", Severity.ERROR, source, NOWHERE, "the file holds no circuit",
                      "expected: one line for each part",
                      '"netcheck new" writes a first one for you')  # fmt: skip
        return
    yield from _doubled_lines(source, lines)
    yield from _same_name(source, lines)
    yield from _mains_missing(source, lines, entries)
    uses = _uses(lines)
    elsewhere = {n: s for line in lines for n, s in _elsewhere_nodes(line)}
    yield from _reserved(source, uses)
    yield from _two_spellings(source, uses)
    yield from _alone(source, uses, elsewhere, _lost_words(source, lines))
    yield from _no_ground(source, uses)


def _kind(line: ParsedLine) -> str:
    return str(line.tree.data) if line.tree is not None else ""


def _tokens(line: ParsedLine, kind: str) -> list[Token]:
    if line.tree is None:
        return []
    return [t for t in line.tree.scan_values(lambda v: isinstance(v, Token)) if t.type == kind]


def _elsewhere_nodes(line: ParsedLine) -> list[tuple[str, Span]]:
    if _kind(line) != "elsewhere":
        return []
    return [(str(t), token_span(t, line.number)) for t in _tokens(line, "NODE")]


def _uses(lines: list[ParsedLine]) -> list[Use]:
    """Where nodes are named at parts."""
    uses = []
    for line in lines:
        names = _tokens(line, "NAME")
        if names:
            uses += [
                Use(str(t), str(names[0]), token_span(t, line.number))
                for t in _tokens(line, "NODE")
            ]
    return uses


def _lost_words(source: Source, lines: list[ParsedLine]) -> set[str]:
    """All words of the lines with a syntax error: nodes may be among them."""
    broken = [source.line(line.number) for line in lines if line.broken]
    return {word for text in broken for word in text.split()}


def _doubled_lines(source: Source, lines: list[ParsedLine]) -> Iterator[Finding]:
    for kind in ("circuit", "mains"):
        spans = [
            token_span(line.tree.children[0], line.number)
            for line in lines
            if line.tree is not None and _kind(line) == kind
            and isinstance(line.tree.children[0], Token)
        ]  # fmt: skip
        for span in spans[1:]:
            yield Finding("doubled-line", Severity.ERROR, source, span,
                          f'there is more than one "{kind}" line', "a circuit has one",
                          "keep the right one", (Related(spans[0], "the first one"),))  # fmt: skip


def _same_name(source: Source, lines: list[ParsedLine]) -> Iterator[Finding]:
    first: dict[str, tuple[str, Span]] = {}
    for line in lines:
        for token in _tokens(line, "NAME")[:1]:
            name, span = str(token), token_span(token, line.number)
            if name.lower() in first:
                other, place = first[name.lower()]
                alike = "" if other == name else f' (as "{other}")'
                yield Finding("same-name", Severity.ERROR, source, span,
                              f'the name "{name}" is taken already{alike}',
                              "each part has a name of its own", "give one of the two another name",
                              (Related(place, "the first part of this name"),))  # fmt: skip
            else:
                first[name.lower()] = (name, span)


def _mains_missing(
    source: Source, lines: list[ParsedLine], entries: list[Entry]
) -> Iterator[Finding]:
    if any(_kind(line) == "mains" for line in lines):
        return
    winding = next((entry for entry in entries if isinstance(entry, Winding)), None)
    if winding is not None:
        yield Finding("missing-line", Severity.ERROR, source, winding.span,
                      "there is a winding but no mains line",
                      "the volts of a winding hold at some mains voltage and frequency",
                      'add a line "mains 230 V 50 Hz", with the volts of the nameplate')  # fmt: skip


def _reserved(source: Source, uses: list[Use]) -> Iterator[Finding]:
    for use in uses:
        if use.node != GROUND and use.node.lower() in _OTHER_GROUNDS | {GROUND}:
            yield Finding("other-ground", Severity.ERROR, source, use.span,
                          f'the node "{use.node}" looks like ground',
                          f'ground has one name, "{GROUND}", so that nothing floats by mistake',
                          f'write "{GROUND}"')  # fmt: skip
        line = source.line(use.span.line)[: use.span.column - 1].split()
        if use.node == OPEN and line[-1:] and line[-1].lower() not in ("top", "bottom"):
            yield Finding("reserved-word", Severity.ERROR, source, use.span,
                          f'"{OPEN}" is no name for a node',
                          "it stands for a pot end to which nothing is soldered",
                          "leave the part out, or name the node")  # fmt: skip


def _two_spellings(source: Source, uses: list[Use]) -> Iterator[Finding]:
    first: dict[str, Use] = {}
    told = set()
    for use in uses:
        other = first.setdefault(use.node.lower(), use)
        if other.node != use.node and use.node not in told and use.node.lower() != GROUND:
            told.add(use.node)
            yield Finding("two-spellings", Severity.ERROR, source, use.span,
                          f'the nodes "{use.node}" and "{other.node}" differ only in capitals',
                          "as written they are two nodes, not one",
                          "spell both alike, or give one another name",
                          (Related(other.span, "the other spelling"),))  # fmt: skip


def _alone(
    source: Source, uses: list[Use], elsewhere: dict[str, Span], lost: set[str]
) -> Iterator[Finding]:
    parts: dict[str, set[str]] = {}
    for use in uses:
        parts.setdefault(use.node, set()).add(use.part)
    lower = {node.lower() for node in parts}
    shared = [node for node, names in parts.items() if len(names) > 1 and node != OPEN]
    for use in uses:
        if len(parts[use.node]) > 1 or use.node in {GROUND, OPEN, *elsewhere, *lost}:
            continue
        if sum(node.lower() == use.node.lower() for node in parts) > 1:
            continue  # told already as two spellings
        near = difflib.get_close_matches(use.node, [n for n in shared if n != use.node], n=1)
        lines = {u.node: u.span.line for u in uses}
        fix = f'did you mean "{near[0]}" (line {lines[near[0]]})?' if near else (
            "join another part to it, or list it in a line "
            f'"elsewhere {use.node}" if it goes on outside the section')  # fmt: skip
        yield Finding("dangling-node", Severity.ERROR, source, use.span,
                      f'node "{use.node}" is used by {use.part} only',
                      "a node joins two parts or more", fix)  # fmt: skip
    for node, span in elsewhere.items():
        if node.lower() not in lower:
            near = difflib.get_close_matches(node, list(parts), n=1)
            fix = f'did you mean "{near[0]}"?' if near else "correct it or take it out"
            yield Finding("unknown-node", Severity.ERROR, source, span,
                          f'no part is joined to the node "{node}"', "", fix)  # fmt: skip


def _no_ground(source: Source, uses: list[Use]) -> Iterator[Finding]:
    if uses and not any(use.node.lower() in _OTHER_GROUNDS | {GROUND} for use in uses):
        yield Finding("no-ground", Severity.ERROR, source, NOWHERE,
                      "no part is joined to ground", "every voltage is counted from ground",
                      f'call the chassis node "{GROUND}"')  # fmt: skip


def first_of(entries: Iterable[Entry]) -> tuple[str, Mains | None, tuple[str, ...]]:
    """Title, mains and outside nodes of a circuit's entries."""
    entries = list(entries)
    title = next((e.text for e in entries if isinstance(e, Title)), "")
    mains = next((e for e in entries if isinstance(e, Mains)), None)
    outside = tuple(n for e in entries if isinstance(e, Elsewhere) for n in e.nodes)
    return title, mains, outside


def parts_of(entries: Iterable[Entry]) -> tuple[Part, ...]:
    """The parts among a circuit's entries."""
    return tuple(entry for entry in entries if isinstance(entry, Part))
