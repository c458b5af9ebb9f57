"""What is wrong with the nodes of a circuit, seen over all its lines."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass

from ..finding import Finding, Related, Severity
from ..netlist import GROUND, OPEN
from ..source import NOWHERE, Source, Span
from .lines import ParsedLine, token_span, tokens_of, walk
from .words import nearest

_OTHER_GROUNDS = frozenset({"gnd", "earth", "chassis", "0v", "0"})


@dataclass(frozen=True, slots=True)
class Use:
    """A node's name where it stands.

    Parameters
    ----------
    node : str
        The name.
    part : str
        The part it stands at; "" in a line that lists nodes.
    terminal : str
        The terminal, by the name of its field.
    span : Span
        Where.
    """

    node: str
    part: str
    terminal: str
    span: Span


@dataclass(frozen=True, slots=True)
class Nodes:
    """The nodes of a circuit file.

    Parameters
    ----------
    source : Source
        The text.
    at_parts : sequence of Use
        Where parts name nodes, in the order of reading.
    outside : sequence of Use
        Where nodes are said to go on outside the section.
    lost : collection of str
        The words of lines that could not be read as a whole: nodes may be among them.
    told : collection of Span
        Places that have been complained of already.
    """

    source: Source
    at_parts: list[Use]
    outside: list[Use]
    lost: Collection[str]
    told: Collection[Span]

    def findings(self) -> Iterator[Finding]:
        """Everything wrong with the nodes."""
        yield from self._other_grounds()
        yield from self._open_elsewhere()
        yield from self._two_spellings()
        yield from self._alone()
        yield from self._outside_unknown()
        yield from self._no_ground()

    def _error(self, slug: str, span: Span, what: str, why: str, fix: str,
               related: tuple[Related, ...] = ()) -> Finding:  # fmt: skip
        return Finding(slug, Severity.ERROR, self.source, span, what, why, fix, related)

    def _other_grounds(self) -> Iterator[Finding]:
        by_name: dict[str, list[Use]] = {}
        for use in self.at_parts:
            if use.node.lower() in _OTHER_GROUNDS:
                by_name.setdefault(use.node, []).append(use)
        for name, uses in by_name.items():
            lines = dict.fromkeys(use.span.line for use in uses)
            more = f"; it is on line{_listed(lines)}" if len(lines) > 1 else ""
            yield self._error("other-ground", uses[0].span, f'the node "{name}" looks like ground',
                              f'ground has one name, "{GROUND}", so that nothing floats by mistake',
                              f'write "{GROUND}"{more}')  # fmt: skip

    def _open_elsewhere(self) -> Iterator[Finding]:
        for use in (*self.at_parts, *self.outside):
            if use.node == OPEN and use.terminal not in ("top", "bottom"):
                yield self._error("reserved-word", use.span, f'"{OPEN}" is no name for a node',
                                  "it stands for an end of a pot with nothing soldered to it",
                                  "leave the part out, or name the node")  # fmt: skip

    def _two_spellings(self) -> Iterator[Finding]:
        first: dict[str, Use] = {}
        told = set()
        for use in (*self.at_parts, *self.outside):
            lower = use.node.lower()
            other = first.setdefault(lower, use)
            if other.node != use.node and use.node not in told and lower not in _OTHER_GROUNDS:
                told.add(use.node)
                yield self._error("two-spellings", use.span,
                                  f'the nodes "{use.node}" and "{other.node}" differ only in '
                                  "capitals", "as written they are two nodes, not one",
                                  "spell both alike, or give one another name",
                                  (Related(other.span, "the other spelling"),))  # fmt: skip

    def _alone(self) -> Iterator[Finding]:
        """Nodes that one part alone is joined to, those of which more is wrong aside."""
        first = {use.node: use for use in reversed(self.at_parts)}
        parts = Counter({use.node: 0 for use in self.at_parts})
        parts.update(node for node, _ in {(use.node, use.span.line) for use in self.at_parts})
        spellings = Counter(node.lower() for node in {u.node for u in (*self.at_parts,
                                                                       *self.outside)})  # fmt: skip
        exempt = {GROUND, OPEN, *self.lost, *(use.node for use in self.outside)}
        alone = {
            node: first[node]
            for node, count in parts.items()
            if count == 1
            and node not in exempt
            and node.lower() not in _OTHER_GROUNDS
            and spellings[node.lower()] == 1
            and first[node].span not in self.told
        }
        shared = {node: first[node] for node, count in parts.items() if count > 1 and node != OPEN}
        yield from self._each_alone(alone, shared)

    def _each_alone(self, alone: Mapping[str, Use], shared: Mapping[str, Use]) -> Iterator[Finding]:
        single = dict(alone)
        while single:
            node, use = next(iter(single.items()))
            del single[node]
            near = nearest(node, _no_brothers(node, shared))
            twin = nearest(node, _no_brothers(node, single))
            if twin is not None and sorted(twin) == sorted(node):  # two letters swapped
                yield self._twins(use, single.pop(twin))
            elif near is not None:
                yield self._dangling(use, f'did you mean "{near}" (line {shared[near].span.line})?')
            elif twin is not None:
                yield self._twins(use, single.pop(twin))
            else:
                yield self._dangling(use, _join(node))

    def _dangling(self, use: Use, fix: str) -> Finding:
        return self._error("dangling-node", use.span,
                           f'node "{use.node}" is used by {use.part} only',
                           "a node joins two parts or more", fix)  # fmt: skip

    def _twins(self, one: Use, other: Use) -> Finding:
        """Two lone nodes of nearly one name: one of them is a slip of the pen."""
        related = Related(one.span, f'node "{one.node}" is used by {one.part} only')
        return self._error("dangling-node", other.span,
                           f'node "{other.node}" is used by {other.part} only',
                           "a node joins two parts or more",
                           f'if "{one.node}" is the same node, spell both alike',
                           (related,))  # fmt: skip

    def _outside_unknown(self) -> Iterator[Finding]:
        known = {use.node.lower(): use.node for use in self.at_parts}
        for use in self.outside:
            if use.node.lower() not in known and use.node not in self.lost and use.node != OPEN:
                near = nearest(use.node, known.values())
                yield self._error("unknown-node", use.span,
                                  f'no part is joined to the node "{use.node}"', "",
                                  f'did you mean "{near}"?' if near else "correct it, or take it "
                                  "out")  # fmt: skip

    def _no_ground(self) -> Iterator[Finding]:
        names = {use.node.lower() for use in self.at_parts}
        if names and not (names | {word.lower() for word in self.lost}) & {GROUND, *_OTHER_GROUNDS}:
            yield self._error("no-ground", NOWHERE, "no part is joined to ground",
                              "every voltage is counted from ground",
                              f'call the chassis node "{GROUND}"')  # fmt: skip


def uses(line: ParsedLine) -> Iterator[Use]:
    """The nodes that a line names."""
    if line.tree is None:
        return
    tokens = tokens_of(line.tree)
    part = next((str(token) for token in tokens if token.type == "NAME"), "")
    for field in (line.tree, *walk(line.tree)):
        for token in tokens_of(field):
            if token.type == "NODE":
                yield Use(str(token), part, str(field.data), token_span(token, line.number))


def _no_brothers(node: str, names: Iterable[str]) -> Iterator[str]:
    """The names without those like grid1 beside grid2, which are meant to be two."""
    letters = _letters(node)
    return (name for name in names if letters in (node, name) or _letters(name) != letters)


def _letters(name: str) -> str:
    return "".join(char for char in name if not char.isdigit())


def _join(node: str) -> str:
    return (
        f'join another part to it, or add the line "elsewhere {node}" if it goes on outside the '
        "section"
    )


def _listed(lines: Iterable[int]) -> str:
    """Line numbers in words: "s 4, 5 and 7"."""
    *most, last = (str(line) for line in lines)
    return f"s {', '.join(most)} and {last}" if most else f" {last}"
