"""Everything that could be done to a section with one kind of part, and the circuit it makes.

All ways are tried on one scaffold: the section with a resistor of no ohms in series with either
end of each pot and one of no conductance across it, so that each way is a change of values.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum

from ..assumed import comes_with
from ..graph import Section
from ..netlist import OPEN, Circuit, Part, Pot, Resistor
from ..predictor import Predictor
from ..preferred import Series, is_preferred, parallel, values_between
from ..roles import Role, roles

NEW_TOLERANCE = 0.05
"""Of a resistor that is fitted anew; common practice. [1]"""
POT_FIGURES = (1.0, 2.0, 2.2, 2.5, 4.7, 5.0)
"""Values of pots in each decade: E3, and 1-2-2.5-5 of today's; common practice."""
R_NONE = 1e-2
"""A resistor of the scaffold that is a wire. [ohm]"""
R_OFF = 1e9
"""A resistor of the scaffold that is not there. [ohm]"""

_STRAP = (0.1, 30.0)  # of what is strapped: less is a replacement, more does nothing [1]
_REPLACED = (0.1, 10.0)  # of what is replaced [1]
_IN_SERIES = (0.02, 5.0)  # of the pot [1]
_ACROSS_POT = (0.2, 30.0)  # of the pot [1]
_OTHER_POT = (0.05, 20.0)  # of the pot [1]
_SAME = 0.12  # pots so much apart are one value: 4k7 and 5k [1]
_RAISED = 1.5  # each part is tried at so many times its value [1]
_MOVES = 0.05  # what moves the grids by less does not act on them [V]
_MIRRORED = 0.05  # parts whose effects agree so well, grids exchanged, belong together [1]

_OFFERED = {Role.DROPPER, Role.SERIES, Role.FOOT, Role.BLEEDER, Role.WIPER_SAFETY,
            Role.WIPER_LOAD, Role.ACROSS_POT}  # fmt: skip


class Kind(Enum):
    """What is done."""

    RESTORE = "restore"
    """Put back what is drawn."""
    STRAP = "strap"
    """A resistor across one that is fitted."""
    STRAP_POT = "strap pot"
    """A resistor from end to end of a pot."""
    RESISTOR = "replace resistor"
    SERIES = "series"
    """A resistor in series with one end of a pot."""
    POT = "replace pot"


@dataclass(frozen=True, slots=True)
class Way:
    """One thing that could be done.

    Parameters
    ----------
    kind : Kind
        What.
    parts : tuple of str
        To which parts, each in the same way: one, or one for each grid.
    r : float
        The value fitted; 0 for what restores. [ohm]
    end : str
        Which end of the pot, "top" or "bottom"; empty where that says nothing.
    """

    kind: Kind
    parts: tuple[str, ...]
    r: float = 0.0
    end: str = ""

    @property
    def is_e12(self) -> bool:
        """Whether every drawer holds the value."""
        return self.r == 0.0 or self.kind is Kind.POT or is_preferred(self.r, Series.E12)

    @property
    def where(self) -> tuple[Kind, tuple[str, ...], str]:
        """All of it but the value."""
        return self.kind, self.parts, self.end


# ------------------------------------------------------------------------ the scaffold


def scaffold(circuit: Circuit, pots: Sequence[str]) -> Circuit:
    """A circuit with resistors that do nothing yet around some of its pots.

    Parameters
    ----------
    circuit : Circuit
        The circuit.
    pots : sequence of str
        The pots.
    """
    parts: list[Part] = []
    for part in circuit.parts:
        if not isinstance(part, Pot) or part.name not in pots:
            parts.append(part)
            continue
        top, bottom = part.top, part.bottom
        lugs: dict[str, str] = {}
        for end in free_ends(part):
            node = getattr(part, end)
            lugs[end] = f"{part.name} {end} lug"
            parts.append(Resistor(name=series_name(part.name, end), start=node, end=lugs[end],
                                  r=R_NONE, tolerance=NEW_TOLERANCE))  # fmt: skip
        if OPEN not in (top, bottom):
            parts.append(Resistor(name=across_name(part.name), start=top, end=bottom, r=R_OFF,
                                  tolerance=NEW_TOLERANCE))  # fmt: skip
        parts.append(replace(part, **lugs))  # type: ignore[arg-type]
    return replace(circuit, parts=tuple(parts))


def free_ends(pot: Pot) -> tuple[str, ...]:
    """The ends of a pot with which something can be put in series: not those at its wiper."""
    ends = (("top", pot.top), ("bottom", pot.bottom))
    return tuple(end for end, node in ends if node not in (OPEN, pot.wiper))


def series_name(pot: str, end: str) -> str:
    """Name of the scaffold's resistor in series with an end of a pot."""
    return f"{pot} {end} series"


def across_name(pot: str) -> str:
    """Name of the scaffold's resistor across a pot."""
    return f"{pot} across"


def changes(circuit: Circuit, way: Way) -> dict[str, float]:
    """What a way changes on the scaffold: parameters and their values.

    Parameters
    ----------
    circuit : Circuit
        The circuit that the scaffold was made of.
    way : Way
        Any that does not restore.
    """
    found = {}
    for name in way.parts:
        if way.kind is Kind.STRAP:
            part = circuit.part(name)
            assert isinstance(part, Resistor)
            found[name] = parallel(part.r, way.r)
        elif way.kind is Kind.STRAP_POT:
            found[across_name(name)] = way.r
        elif way.kind is Kind.SERIES:
            found[series_name(name, way.end)] = way.r
        else:
            found[name] = way.r
            part = circuit.part(name)
            assert part is not None
            found |= comes_with(part, way.r)
    return found


# --------------------------------------------------------------------------- what acts


def candidates(predictor: Predictor, drawn: Circuit, pots: Sequence[str]) -> list[Way]:
    """Every way with every preferred value, of the parts that act on the grids.

    Parameters
    ----------
    predictor : Predictor
        Of the section to begin with.
    drawn : Circuit
        As drawn: its values tell in which range to look.
    pots : sequence of str
        The pots that set the bias.

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    circuit = predictor.section.circuit
    found: list[Way] = []
    for names in acting(predictor):
        part, was = circuit.part(names[0]), drawn.part(names[0])
        assert isinstance(part, Resistor)
        nominal = was.r if isinstance(was, Resistor) else part.r
        found += _of_resistor(names, part.r, nominal, _is_safety(predictor.section, names[0]))
    for same in _pots_alike(circuit, pots):
        found += _of_pot(circuit, same)
    return found


def acting(predictor: Predictor) -> list[tuple[str, ...]]:
    """The resistors whose value sets the grids, those that belong together as one.

    Grid leaks, stoppers and what carries no direct current are none of them; nor is what was
    put there for another purpose than setting the bias.

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    section = predictor.section
    known = roles(section)
    resistors = [r for r in section.circuit.of(Resistor) if known.get(r.name) in _OFFERED]
    moves = _moves(predictor, resistors)
    left = [r for r in resistors if max(map(abs, moves[r.name]), default=0.0) > _MOVES]
    found = []
    while left:
        first, *left = left
        same = [r for r in left if _belong(first, r, moves, known)]
        left = [r for r in left if r not in same]
        found.append((first.name, *(r.name for r in same)))
    return found


def _moves(predictor: Predictor, resistors: Sequence[Resistor]) -> dict[str, list[float]]:
    """Change of each watched node when each resistor is raised. [V]"""
    section, base = predictor.section, predictor.values()
    raised = [base | {r.name: _RAISED * r.r} for r in resistors]
    first, *rest = predictor.wholes([(values, ()) for values in [base, *raised]])
    return {
        r.name: [answer.mean[node] - first.mean[node] for node in section.watched]
        for r, answer in zip(resistors, rest, strict=True)
    }


def _belong(a: Resistor, b: Resistor, moves: Mapping[str, Sequence[float]],
            known: Mapping[str, Role]) -> bool:  # fmt: skip
    """Whether two do the same, each for another grid."""
    if known[a.name] is not known[b.name] or a.r != b.r:
        return False
    near = _MIRRORED * max(map(abs, moves[a.name]))
    mirrored = zip(sorted(moves[a.name]), sorted(moves[b.name]), strict=True)
    apart = zip(moves[a.name], moves[b.name], strict=True)
    return all(abs(x - y) <= near for x, y in mirrored) and any(abs(x - y) > near for x, y in apart)


def _is_safety(section: Section, name: str) -> bool:
    return roles(section)[name] is Role.WIPER_SAFETY


def _of_resistor(names: tuple[str, ...], r: float, drawn: float, only_lower: bool
                 ) -> Iterator[Way]:  # fmt: skip
    for value in _e24(drawn, _STRAP):
        yield Way(Kind.STRAP, names, value)
    for value in _e24(drawn, _REPLACED):
        # What holds the grid negative when the wiper lifts must not get weaker.
        if not math.isclose(value, r, rel_tol=0.02) and not (only_lower and value > r):
            yield Way(Kind.RESISTOR, names, value)


def _pots_alike(circuit: Circuit, names: Sequence[str]) -> list[tuple[str, ...]]:
    """The pots that set the bias, those of one value and wired in one manner together."""
    groups: dict[tuple[object, ...], list[str]] = {}
    for pot in circuit.of(Pot):
        if pot.name in names:
            manner = free_ends(pot), OPEN in (pot.top, pot.bottom)
            groups.setdefault((pot.r, pot.taper, *manner), []).append(pot.name)
    return [tuple(group) for group in groups.values()]


def _of_pot(circuit: Circuit, names: tuple[str, ...]) -> Iterator[Way]:
    pot = circuit.part(names[0])
    assert isinstance(pot, Pot)
    for end in free_ends(pot):
        for value in _e24(pot.r, _IN_SERIES):
            yield Way(Kind.SERIES, names, value, end)
    if OPEN not in (pot.top, pot.bottom):
        strapped, r = _to_strap(circuit, names)
        for value in _e24(r, _ACROSS_POT):
            yield Way(Kind.STRAP_POT, strapped, value)
    for value in pot_values(*(share * pot.r for share in _OTHER_POT)):
        if abs(value / pot.r - 1.0) > _SAME:
            yield Way(Kind.POT, names, value)


def _to_strap(circuit: Circuit, names: tuple[str, ...]) -> tuple[tuple[str, ...], float]:
    """Which of some like pots to strap, and what lies there: pots side by side need one strap."""
    pots = [pot for pot in circuit.of(Pot) if pot.name in names]
    first = {(pot.top, pot.bottom): pot.name for pot in reversed(pots)}
    side_by_side = sum((p.top, p.bottom) == (pots[0].top, pots[0].bottom) for p in pots)
    return tuple(n for n in names if n in first.values()), pots[0].r / side_by_side


def _e24(nominal: float, shares: tuple[float, float]) -> tuple[float, ...]:
    return values_between(shares[0] * nominal, shares[1] * nominal, Series.E24)


def pot_values(low: float, high: float) -> list[float]:
    """The usual values of pots between two limits. [ohm]"""
    decades = range(math.floor(math.log10(low)), math.floor(math.log10(high)) + 1)
    every = (float(f"{figure}e{decade}") for decade in decades for figure in POT_FIGURES)
    return [value for value in every if low <= value <= high]
