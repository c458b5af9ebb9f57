"""The circuit with a remedy in it, the parts and nodes that are new under names of their own."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from ..netlist import Circuit, Part, Pot, Resistor
from ..quantity import show_part
from .ways import NEW_TOLERANCE, Kind, Way


@dataclass(frozen=True, slots=True)
class Fitted:
    """A circuit with a remedy in it.

    Parameters
    ----------
    circuit : Circuit
        All of it.
    new : tuple of str
        The parts that were bought for it.
    """

    circuit: Circuit
    new: tuple[str, ...]


def fit(circuit: Circuit, way: Way) -> Fitted:
    """Solder a remedy into a circuit.

    Parameters
    ----------
    circuit : Circuit
        To begin with.
    way : Way
        Any that does not restore.
    """
    bench = _Bench(circuit)
    for name in way.parts:
        bench.do(way, name)
    return Fitted(bench.circuit, tuple(bench.new))


def free_name(circuit: Circuit, letter: str = "R") -> str:
    """The first name of a part that is not used: "R7"."""
    used = {part.name.lower() for part in circuit.parts}
    return next(n for n in _numbered(letter, 1) if n.lower() not in used)


def free_node(circuit: Circuit, near: str) -> str:
    """A node's name that is not used, after one that is: "head2"."""
    used = {node.lower() for node in (*circuit.nodes, *circuit.elsewhere)}
    return next(n for n in _numbered(near, 2) if n.lower() not in used)


def _numbered(stem: str, first: int) -> Iterator[str]:
    number = first
    while True:
        yield f"{stem}{number}"
        number += 1


class _Bench:
    """A circuit that is being worked on."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.new: list[str] = []

    def do(self, way: Way, name: str) -> None:
        part = self.circuit.part(name)
        if way.kind is Kind.STRAP and isinstance(part, Resistor):
            self._add(part, part.start, part.end, way.r, f"strap across {name}")
        elif way.kind is Kind.STRAP_POT and isinstance(part, Pot):
            self._add(part, part.top, part.bottom, way.r, f"strap across the ends of {name}")
        elif way.kind is Kind.SERIES and isinstance(part, Pot):
            self._in_series(part, way)
        elif isinstance(part, Resistor):
            self._replace(_resistor(part, way.r))
        elif isinstance(part, Pot):
            self._replace(replace(part, r=way.r, r_end=None, power=None, year=None,
                                  note=replaced_note(part.r, part.note)))  # fmt: skip

    def _in_series(self, pot: Pot, way: Way) -> None:
        node = getattr(pot, way.end)
        lug = free_node(self.circuit, node)
        self._add(pot, node, lug, way.r, f"in series with the {way.end} of {pot.name}")
        self._replace(replace(pot, **{way.end: lug}))  # type: ignore[arg-type]

    def _add(self, beside: Part, start: str, end: str, r: float, what: str) -> None:
        name = free_name(self.circuit)
        part = Resistor(name=name, start=start, end=end, r=r, tolerance=NEW_TOLERANCE,
                        note=f"added: {what}")  # fmt: skip
        self.circuit = replace(self.circuit, parts=tuple(_behind(self.circuit.parts, beside, part)))
        self.new.append(name)

    def _replace(self, part: Part) -> None:
        self.circuit = with_part(self.circuit, part)
        if part.name not in self.new and not self.new:
            self.new.append(part.name)


def _resistor(part: Resistor, r: float) -> Resistor:
    tolerance = NEW_TOLERANCE if part.tolerance is None else min(part.tolerance, NEW_TOLERANCE)
    return replace(part, r=r, tolerance=tolerance, bands=(), year=None, power=None, v_rated=None,
                   note=replaced_note(part.r, part.note))  # fmt: skip


def replaced_note(r: float, before: str | None) -> str:
    """The remark on a part of another value, behind what was remarked before."""
    said = f"was {show_part(r)}"
    return f"{before}; {said}" if before else said


def _behind(parts: Iterable[Part], beside: Part, new: Part) -> Iterator[Part]:
    for part in parts:
        yield part
        if part.name == beside.name:
            yield new


def with_part(circuit: Circuit, part: Part) -> Circuit:
    """A circuit with one part exchanged for another one of its name."""
    return replace(circuit, parts=tuple(part if p.name == part.name else p for p in circuit.parts))


def with_power(circuit: Circuit, names: Iterable[str], power: float) -> Circuit:
    """A circuit with the rating of some parts stated. [W]"""
    wanted = set(names)
    parts = (
        replace(p, power=power) if p.name in wanted and isinstance(p, Resistor | Pot) else p
        for p in circuit.parts
    )
    return replace(circuit, parts=tuple(parts))
