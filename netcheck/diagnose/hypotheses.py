"""What may be wrong with a chassis: every part, in every way that is found in practice.

Each hypothesis is a sound chassis in which one or two coordinates have another prior. Every part
is taken to be equally likely at fault, and so is each way of being so, but for those that are
seldom seen; common practice.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from .. import assumed
from ..graph import Section
from ..model import spreads
from ..netlist import (
    OPEN,
    Capacitor,
    Diode,
    Part,
    Pot,
    Resistor,
    Supply,
    Valve,
    Winding,
    Zener,
)
from ..readings import Kind, Reading
from ..readout.coordinates import (
    R_OPEN,
    R_SHORT,
    Prior,
    between,
    fixed,
)
from ..readout.links import is_link
from ..readout.model import TAPERS

NOTHING = "nothing wrong"
"""The label of a sound chassis."""


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One way in which the chassis may differ from the drawing.

    Parameters
    ----------
    parts : tuple of str
        What is at fault: no part, one, or the two of a pair; "mains" for the mains,
        "meter dmm" for a meter, "reading 3" for a reading, "leak raw to grid1" for a leak that
        is not drawn.
    mode : str
        How: "open", "low", "leaky" and so on.
    changes : mapping of coordinate name to Prior
        What differs from a sound chassis.
    weight : float
        Share of the part's probability. [1]
    axis : str
        The coordinate that is fitted, if there is one; of a pair the first.
    starts : tuple of mapping of coordinate name to float
        Scores from which the fit begins.
    reading : int or None
        The reading that is taken for misread, by its place. [count]
    factor : float
        What the meter really showed is the reading times this; 0 if nothing is known of it. [1]
    """

    parts: tuple[str, ...]
    mode: str
    changes: Mapping[str, Prior] = field(default_factory=dict)
    weight: float = 1.0
    axis: str = ""
    starts: tuple[Mapping[str, float], ...] = ({},)
    reading: int | None = None
    factor: float = 1.0

    @property
    def label(self) -> str:
        """What is at fault, as one name."""
        return " and ".join(self.parts) or NOTHING


SOUND = Hypothesis((), "sound")

_STARTS = (-1.2, 0.0, 1.2)  # scores of a fitted coordinate from which a fit begins
_UNDRAWN = (5e3, 5e6)  # a leak that is not drawn; common practice [ohm]
_NEAR, _FAR = 3.4, 40.0  # a value off by up to so many times; a decade or more misread


def _fitted(part: str, mode: str, coordinate: str, prior: Prior, weight: float,
            more: Mapping[str, Prior] | None = None) -> Hypothesis:  # fmt: skip
    starts = tuple({coordinate: score} for score in _STARTS)
    return Hypothesis((part,), mode, {coordinate: prior, **(more or {})}, weight, coordinate,
                      starts)  # fmt: skip


def _set(part: str, mode: str, changes: Mapping[str, Prior], weight: float) -> Hypothesis:
    return Hypothesis((part,), mode, changes, weight)


def single(section: Section, readings: Sequence[Reading]) -> list[Hypothesis]:
    """Nothing wrong, and every part alone.

    Parameters
    ----------
    section : Section
        The section.
    readings : sequence of Reading
        What was read: of the mains and of meters.
    """
    spread = spreads(section.circuit)
    found = [SOUND]
    for part in section.circuit.parts:
        found += _of_part(section, part, spread.get(part.name, 0.0))
    is_read = any(reading.kind is Kind.MAINS for reading in readings)
    if section.circuit.mains is not None and section.sources and not is_read:
        tolerance = assumed.mains_tolerance(section.circuit.mains)
        found += _off("mains", "mains", 1.0, tolerance, 1.5, 0.5)
    for meter in dict.fromkeys(r.meter.name for r in readings if r.kind is Kind.DC):
        found.append(_fitted(f"meter {meter}", "loads more", f"{meter}.input",
                             between(3e-3, 0.5), 0.5))  # fmt: skip
    return _normalised(found)


def _normalised(found: Sequence[Hypothesis]) -> list[Hypothesis]:
    """Weights so that those of all faults together make 1."""
    total = sum(h.weight for h in found if h.parts)
    return [h if not h.parts else _weighted(h, h.weight / total) for h in found]


def _weighted(h: Hypothesis, weight: float) -> Hypothesis:
    return Hypothesis(h.parts, h.mode, h.changes, weight, h.axis, h.starts, h.reading, h.factor)


def _of_part(section: Section, part: Part, tolerance: float) -> list[Hypothesis]:
    match part:
        case Resistor():
            found = _resistor(part, tolerance)
        case Pot():
            found = _pot(part, tolerance)
        case Capacitor():
            found = _capacitor(part, tolerance)
        case Diode():
            found = _diode(part.name)
        case Zener():
            found = _zener(part, tolerance)
        case Winding():
            found = _winding(section, part, tolerance)
        case Supply():
            found = _supply(part, tolerance)
        case Valve():
            found = _valve(part)
        case _:
            found = []
    return found


def _zener(part: Zener, tolerance: float) -> list[Hypothesis]:
    name = part.name
    return [
        *_off(name, name, part.v_zener, tolerance, 1.7, 0.6),
        _set(name, "open", {f"{name}.series": fixed(math.log(R_OPEN))}, 0.2),
        *_shorted(name, 3e3, 0.2),
    ]


def _supply(part: Supply, tolerance: float) -> list[Hypothesis]:
    dead = {part.name: fixed(math.log(1e-3 * part.v))}
    return [*_off(part.name, part.name, part.v, tolerance, 2.0, 0.8),
            _set(part.name, "no volts", dead, 0.2)]  # fmt: skip


def _off(part: str, coordinate: str, nominal: float, tolerance: float, far: float,
         weight: float) -> list[Hypothesis]:  # fmt: skip
    """A value below or above its tolerance."""
    low = between(nominal / far, nominal * (1.0 - tolerance))
    high = between(nominal * (1.0 + tolerance), nominal * far)
    return [_fitted(part, "low", coordinate, low, weight / 2.0),
            _fitted(part, "high", coordinate, high, weight / 2.0)]  # fmt: skip


def _resistor(part: Resistor, tolerance: float) -> list[Hypothesis]:
    name, r = part.name, part.r
    if is_link(part):
        return [_set(name, "open", {name: fixed(math.log(R_OPEN))}, 0.5),
                _fitted(name, "bad contact", name, between(30.0, 3e6), 0.5)]  # fmt: skip
    return [
        *_off(name, name, r, tolerance, _NEAR, 0.5),
        _fitted(name, "low", name, between(r / _FAR, r / _NEAR), 0.05),
        _fitted(name, "high", name, between(r * _NEAR, r * _FAR), 0.05),
        *_another_decade(name, r, tolerance),
        _set(name, "open", {name: fixed(math.log(R_OPEN))}, 0.15),
        _set(name, "short", {name: fixed(math.log(R_SHORT))}, 0.15),
    ]


def _another_decade(name: str, r: float, tolerance: float) -> Iterator[Hypothesis]:
    """A band misread, as 27k for 2k7: far off, and yet as exact as any other."""
    for mode, by in (("low", 0.1), ("high", 10.0)):
        near = between(by * r * (1.0 - tolerance), by * r * (1.0 + tolerance))
        yield Hypothesis((name,), mode, {name: near}, 0.05, name)


def _pot(pot: Pot, tolerance: float) -> list[Hypothesis]:
    name, found = pot.name, []
    found += _off(name, name, pot.r, tolerance, _NEAR, 0.25)
    others = [k for k, taper in enumerate(TAPERS, start=1) if taper != pot.taper]
    found += [_set(name, f"{TAPERS[k - 1]} taper", {f"{name}.taper": fixed(float(k))}, 0.07)
              for k in others]  # fmt: skip
    found.append(_set(name, "wired the other way", {f"{name}.turned": fixed(1.0)}, 0.125))
    found.append(_set(name, "wiper lifted", {f"{name}.wiper": fixed(math.log(R_OPEN))}, 0.15))
    ends = [half for half, node in (("top", pot.top), ("bottom", pot.bottom)) if node != OPEN]
    for half in ends:
        end = f"{name}.{half} end"
        found.append(_set(name, f"{half} end open", {end: fixed(math.log(R_OPEN))}, 0.1))
        found.append(_fitted(name, f"{half} end worn", end, between(0.05 * pot.r, 0.6 * pot.r),
                             0.07))  # fmt: skip
    return found


def _capacitor(part: Capacitor, tolerance: float) -> list[Hypothesis]:
    name = part.name
    dry = {f"{name}.esr": between(5.0, 400.0)} if part.polarised else {}
    found = [
        _fitted(name, "leaky", f"{name}.leak", between(500.0, 500e3), 0.25),
        *_shorted(name, 500.0, 0.25),
        _fitted(name, "dried out" if part.polarised else "low", name,
                between(0.005 * part.c, max(0.35, 1.0 - 2.0 * tolerance) * part.c), 0.25, dry),
    ]  # fmt: skip
    if part.polarised:
        found.append(_fitted(name, "reversed", f"{name}.leak", between(100.0, 6e3), 0.25))
    return found


def _diode(name: str) -> list[Hypothesis]:
    return [
        _set(name, "open", {f"{name}.series": fixed(math.log(R_OPEN))}, 0.33),
        *_shorted(name, 3e3, 0.33),
        _fitted(name, "leaky", f"{name}.leak", between(3e3, 400e3), 0.33),
    ]


def _shorted(name: str, most: float, weight: float) -> list[Hypothesis]:
    """A breakdown leaves a wire as a rule, and now and then some ohms, below those of a leak."""
    return [
        _set(name, "short", {f"{name}.leak": fixed(math.log(R_SHORT))}, 0.85 * weight),
        _fitted(name, "broken down", f"{name}.leak", between(2.0, most), 0.15 * weight),
    ]


def _winding(section: Section, part: Winding, tolerance: float) -> list[Hypothesis]:
    load = (part.i_load or 0.0) * assumed.r_source(part)
    found = _off(part.name, part.name, part.v_rms + load, tolerance, 1.8, 0.7)
    dead = {part.name: fixed(math.log(1e-3 * part.v_rms))}
    if part.centre is None:  # a meter on ohms tells it from one that is only not fed
        opened = {**dead, f"{part.name}.break 0": fixed(math.log(R_OPEN))}
        return [*found, _set(part.name, "no volts", dead, 0.06),
                _set(part.name, "open", opened, 0.04)]  # fmt: skip
    found.append(_set(part.name, "no volts", dead, 0.1))
    used = {node for p in section.circuit.parts if p is not part for _, node in p.terminals}
    halves = ({part.start}, {part.end, *(tap.node for tap in part.taps)})
    for half, (end, nodes) in enumerate(zip((part.start, part.end), halves, strict=True)):
        if nodes & used:
            broken = {f"{part.name}.break {half}": fixed(math.log(R_OPEN))}
            found.append(_set(part.name, f"half to {end} open", broken, 0.1))
    return found


def _valve(valve: Valve) -> list[Hypothesis]:
    return [_fitted(valve.name, "draws grid current", f"{valve.name}.grid current",
                    between(0.3e-6, 100e-6), 1.0)]  # fmt: skip


def misread(readings: Sequence[Reading], which: Sequence[int]) -> list[Hypothesis]:
    """Readings that were written down wrong.

    Parameters
    ----------
    readings : sequence of Reading
        The readings.
    which : sequence of int
        Those that are doubted, by their place. [count]
    """
    found = []
    for k in which:
        factors = [(10.0, "a decade too low"), (0.1, "a decade too high"), (0.0, "misread")]
        if readings[k].kind is Kind.DC:
            factors.append((-1.0, "leads swapped"))
        for factor, mode in factors:
            found.append(Hypothesis((f"reading {k + 1}",), mode, weight=0.1 / len(factors),
                                    reading=k, factor=factor))  # fmt: skip
    return found


def undrawn_leaks(names: Sequence[str]) -> list[Hypothesis]:
    """Leaks between nodes that no part of the drawing joins: dirt, damp, burnt board.

    Parameters
    ----------
    names : sequence of str
        From `SectionModel.undrawn`.
    """
    return [_fitted(name, "not drawn", name, between(*_UNDRAWN), 1.0 / len(names))
            for name in names]  # fmt: skip


def resistive(section: Section) -> list[Resistor | Pot]:
    """The parts that may drift, one of which may hide what another does."""
    return [p for p in section.circuit.parts if isinstance(p, Resistor | Pot) and not is_link(p)]


def pairs(section: Section, among: Sequence[str] | None = None) -> Iterator[Hypothesis]:
    """Two resistors, or a resistor and a pot, that are both off.

    Parameters
    ----------
    section : Section
        The section.
    among : sequence of str, optional
        At least one of the two is one of these; all by default.
    """
    spread = spreads(section.circuit)
    every = list(itertools.combinations(resistive(section), 2))
    for a, b in every:
        if among is not None and a.name not in among and b.name not in among:
            continue
        low_high: list[tuple[str, Prior, Prior]] = []
        for part in (a, b):
            tolerance = spread.get(part.name, 0.0)
            low_high.append((part.name, between(part.r / _NEAR, part.r * (1.0 - tolerance)),
                             between(part.r * (1.0 + tolerance), part.r * _NEAR)))  # fmt: skip
        (name_a, *of_a), (name_b, *of_b) = low_high
        for side_a, side_b in itertools.product((0, 1), repeat=2):
            mode = f"{('low', 'high')[side_a]}, {('low', 'high')[side_b]}"
            yield Hypothesis((name_a, name_b), mode,
                             {name_a: of_a[side_a], name_b: of_b[side_b]},
                             0.25 / len(every), name_a, ({name_a: 0.0, name_b: 0.0},))  # fmt: skip
