"""What is found wrong in real chassis, drawn at random for any bias section.

A fault says what is wrong and by how much; `wiring` builds it into the circuit. Every part is
equally likely to be the one, and then each way in which that part fails.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TypeVar

import numpy as np

from netcheck import assumed
from netcheck.graph import Section
from netcheck.model import elements, nominal_values
from netcheck.netlist import (
    GROUND,
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
from netcheck.preferred import Series, neighbours, parallel, values_between

from .ohms import resistance
from .plans import quiet_nodes

Rng = np.random.Generator
T = TypeVar("T")

MAINS = "mains"
METER = "meter"
READING = "reading"
STRAY = "stray"
"""What stands for the part's name where no part is at fault."""

AT_LEAST = 0.25
"""The least deviation of a resistor that is off; less is hardly a fault. [1]"""
_POT_FIGURES = (1.0, 2.0, 2.2, 2.5, 4.7, 5.0)
"""The decade in which pots are made: 1, 2, 5 and 2.2, 4.7; common practice. [1]"""


@dataclass(frozen=True, slots=True)
class FaultKind:
    """A way in which a part can be wrong.

    Parameters
    ----------
    part : str
        Name of the part; `MAINS`, `METER`, `READING` or `STRAY` where it is none.
    mode : str
        The way, such as "open".
    """

    part: str
    mode: str


@dataclass(frozen=True, slots=True)
class Fault:
    """Something wrong with a chassis.

    Parameters
    ----------
    part, mode : str
        As in `FaultKind`.
    number : float or None
        By mode. Resistor: ohms that it has ("off"), that are marked on it ("neighbour",
        "decade") or that were put across it ("strapped"). Pot: the marked ohms of the other
        one ("other value"), the ohms added ("worn end"). Capacitor: ohms across it ("leaky",
        "reversed"), or the share of the capacitance that is left ("dried out"). Diode and
        `STRAY`: ohms. Zener: volts marked on it. Winding, supply, mains: actual over nominal.
        Valve: grid current [A]. `METER`: its true input resistance [ohm]. `READING`: the
        factor on what was shown [1]. None where there is nothing to say.
    second : float or None
        Series resistance of a dried-out capacitor [ohm]; for `READING` which one of the
        readings that can be misread, as a share of their number, 0 to 1 [1].
    detail : str
        The other taper; the worn end ("top" or "bottom"); the half of a winding that is open
        ("from" or "to").
    nodes : tuple of str
        Where a stray leak is.
    """

    part: str
    mode: str
    number: float | None = None
    second: float | None = None
    detail: str = ""
    nodes: tuple[str, ...] = ()

    @property
    def kind(self) -> FaultKind:
        """Part and mode."""
        return FaultKind(self.part, self.mode)

    @property
    def opens(self) -> bool:
        """Whether something hangs in the air with it."""
        return "open" in self.mode or "lifted" in self.mode


def faults_of(section: Section, *, mains_is_read: bool = True) -> list[FaultKind]:
    """All ways in which one thing can be wrong with a chassis.

    Parameters
    ----------
    section : Section
        The section.
    mains_is_read : bool
        Whether the mains voltage is among the readings: then it is known, and no fault.
    """
    found = [FaultKind(p.name, mode) for p in section.circuit.parts for mode in _modes(section, p)]
    if section.circuit.mains is not None and not mains_is_read:
        found.append(FaultKind(MAINS, "off"))
    return [*found, FaultKind(METER, "low resistance"), FaultKind(READING, "misread")]


def draw_fault(section: Section, rng: Rng, *, mains_is_read: bool = True) -> Fault:
    """One fault: each part equally likely, and then each of its modes."""
    kinds = faults_of(section, mains_is_read=mains_is_read)
    part = _one([*dict.fromkeys(kind.part for kind in kinds)], rng)
    return draw(section, _one([kind for kind in kinds if kind.part == part], rng), rng)


def draw_pair(section: Section, rng: Rng) -> tuple[Fault, Fault]:
    """Two resistors that are both off, by a factor of 0.4 to 2.5."""
    resistors = list(section.circuit.of(Resistor))
    first, second = rng.choice(len(resistors), size=2, replace=False)
    return _off(resistors[first], rng, 0.4, 2.5), _off(resistors[second], rng, 0.4, 2.5)


def draw_stray(section: Section, rng: Rng) -> Fault:
    """A leak that is across no part of the drawing, such as over a dirty tag strip.

    Between nodes that no part joins, for a leak across a part would be a fault of that part;
    and low enough to lower the resistance between them by a tenth.
    """
    drawn = elements(section.circuit, nominal_values(section.circuit))
    open_pairs = [
        (a, b, level)
        for a, b in _unjoined(section)
        if (level := resistance(drawn, a, b)) >= 2e3
    ]  # fmt: skip
    a, b, level = _one(open_pairs, rng)
    ohm = _log_even(rng, 20e3, min(1e6, max(10.0 * level, 21e3)))
    return Fault(STRAY, "leak", ohm, nodes=(a, b))


def draw(section: Section, kind: FaultKind, rng: Rng) -> Fault:
    """A fault of a given kind."""
    if kind.part == MAINS:
        return Fault(MAINS, "off", _volts_off(rng))
    if kind.part == METER:
        return Fault(METER, kind.mode, _one([1e6, 100e3], rng))
    if kind.part == READING:
        factor = _one([10.0, 0.1, -1.0, _one([0.9, 1.1], rng)], rng)
        return Fault(READING, kind.mode, factor, rng.uniform())
    part = section.circuit.part(kind.part)
    if part is None:
        raise ValueError(f"no part {kind.part}")
    return _DRAW[type(part)](section, part, kind.mode, rng)


# -------------------------------------------------------------------- what can happen


_MODES: dict[type[Part], tuple[str, ...]] = {
    Resistor: ("off", "neighbour", "decade", "strapped", "open", "short"),
    Capacitor: ("leaky", "short"),
    Diode: ("open", "short", "leaky"),
    Zener: ("other value", "open", "short"),
    Winding: ("off",),
    Supply: ("off",),
    Valve: ("grid current",),
}


def _modes(section: Section, part: Part) -> tuple[str, ...]:
    modes = _MODES.get(type(part), ())
    if isinstance(part, Pot):
        return _pot_modes(section, part)
    if isinstance(part, Capacitor) and part.polarised:
        # Without ripple nothing but a lifted leg would show what is left of it.
        dried = () if section.circuit.mains is None else ("dried out",)
        return (*modes, *dried, "reversed")
    if isinstance(part, Winding) and used_halves(section, part):
        return (*modes, "half open")
    return modes


def _pot_modes(section: Section, pot: Pot) -> tuple[str, ...]:
    ends = live_ends(section, pot)
    opened = [f"{end} open" for end in ends]
    return ("other value", "other taper", "worn end", "wiper lifted", *opened, "ends exchanged")


def live_ends(section: Section, pot: Pot) -> list[str]:
    """The ends of a pot's track that are wired to something else than its own wiper."""
    at = section.joined
    nodes = {"top": pot.top, "bottom": pot.bottom}
    return [e for e, node in nodes.items() if node != OPEN and at[node] != at[pot.wiper]]


def used_halves(section: Section, winding: Winding) -> list[str]:
    """The halves of a centre-tapped winding that feed something in the section."""
    if winding.centre is None:
        return []
    at = section.joined
    fed = {
        at[node]
        for part in section.circuit.parts
        if not isinstance(part, Winding | Valve)
        for _, node in part.terminals
        if node != OPEN
    }
    halves = {"from": [winding.start], "to": [*(tap.node for tap in winding.taps), winding.end]}
    return [half for half, nodes in halves.items() if fed & {at[node] for node in nodes}]


def _unjoined(section: Section) -> Iterator[tuple[str, str]]:
    """Pairs of nodes behind the rectifiers, or one and ground, that no part stands between."""
    groups = [
        {section.joined[node] for _, node in part.terminals if node != OPEN}
        for part in section.circuit.parts
        if not isinstance(part, Valve)
    ]
    for a, b in combinations([*quiet_nodes(section), GROUND], 2):
        if not any({a, b} <= group for group in groups):
            yield a, b


# ------------------------------------------------------------------------ by how much


def _one(choices: Sequence[T], rng: Rng) -> T:
    return choices[int(rng.integers(len(choices)))]


def _log_even(rng: Rng, low: float, high: float) -> float:
    return math.exp(rng.uniform(math.log(low), math.log(high)))


def _volts_off(rng: Rng) -> float:
    return rng.uniform(0.7, 0.9) if rng.uniform() < 0.5 else rng.uniform(1.1, 1.3)


def _off(part: Resistor, rng: Rng, low: float = 0.3, high: float = 3.0) -> Fault:
    while True:
        factor = _log_even(rng, low, high)
        if abs(factor - 1.0) >= AT_LEAST:
            return Fault(part.name, "off", part.r * factor)


def _steps(value: float, series: Series) -> list[float]:
    """Values one and two steps of a series away."""
    below, above = neighbours(value, series)
    return [neighbours(below, series)[0], below, above, neighbours(above, series)[1]]


def _resistor(_: Section, part: Part, mode: str, rng: Rng) -> Fault:
    assert isinstance(part, Resistor)
    if mode == "off":
        return _off(part, rng)
    if mode == "neighbour":
        beyond = [r for r in _steps(part.r, Series.E12)
                  if abs(r / part.r - 1.0) > assumed.tolerance(part)]  # fmt: skip
        return Fault(part.name, mode, _one(beyond, rng))
    if mode == "decade":
        return Fault(part.name, mode, part.r * _one([10.0, 0.1], rng))
    if mode == "strapped":
        straps = [r for r in values_between(0.1 * part.r, 3.0 * part.r, Series.E12)
                  if parallel(part.r, r) <= (1.0 - AT_LEAST) * part.r]  # fmt: skip
        return Fault(part.name, mode, _one(straps, rng))
    return Fault(part.name, mode)


def _pot(section: Section, part: Part, mode: str, rng: Rng) -> Fault:
    assert isinstance(part, Pot)
    if mode == "other value":
        decade = 10.0 ** math.floor(math.log10(part.r))
        made = [figure * decade * shift for shift in (0.1, 1.0, 10.0) for figure in _POT_FIGURES]
        others = [r for r in made if 0.4 <= r / part.r <= 2.5
                  and abs(r / part.r - 1.0) > assumed.tolerance(part)]  # fmt: skip
        return Fault(part.name, mode, _one(others, rng))
    if mode == "other taper":
        tapers = [t for t in ("linear", "audio", "reverse audio") if t != part.taper]
        return Fault(part.name, mode, detail=_one(tapers, rng))
    if mode == "worn end":
        end = _one(live_ends(section, part), rng)
        return Fault(part.name, mode, part.r * rng.uniform(0.1, 0.4), detail=end)
    return Fault(part.name, mode)


def _capacitor(section: Section, part: Part, mode: str, rng: Rng) -> Fault:
    assert isinstance(part, Capacitor)
    if mode == "leaky":
        return Fault(part.name, mode, _log_even(rng, *_leaks(section, part)))
    if mode == "reversed":
        return Fault(part.name, mode, _log_even(rng, 200.0, 5e3))
    if mode == "dried out":
        return Fault(part.name, mode, _log_even(rng, 0.01, 0.3), _log_even(rng, 10.0, 300.0))
    return Fault(part.name, mode)


def _leaks(section: Section, part: Capacitor) -> tuple[float, float]:
    """The leaks that matter where a capacitor stands: those that would not be seen are none."""
    drawn = elements(section.circuit, nominal_values(section.circuit))
    level = resistance(drawn, section.joined[part.start], section.joined[part.end])
    low, high = max(1e3, 0.03 * level), min(300e3, 3.0 * level)
    return (low, high) if low < high else (1e3, 300e3)


def _diode(_: Section, part: Part, mode: str, rng: Rng) -> Fault:
    return Fault(part.name, mode, _log_even(rng, 5e3, 200e3) if mode == "leaky" else None)


def _zener(_: Section, part: Part, mode: str, rng: Rng) -> Fault:
    assert isinstance(part, Zener)
    if mode == "other value":
        return Fault(part.name, mode, _one(_steps(part.v_zener, Series.E24), rng))
    return Fault(part.name, mode)


def _winding(section: Section, part: Part, mode: str, rng: Rng) -> Fault:
    assert isinstance(part, Winding)
    if mode == "half open":
        return Fault(part.name, mode, detail=_one(used_halves(section, part), rng))
    return Fault(part.name, mode, _volts_off(rng))


def _supply(_: Section, part: Part, mode: str, rng: Rng) -> Fault:
    return Fault(part.name, mode, _volts_off(rng))


def _valve(_: Section, part: Part, mode: str, rng: Rng) -> Fault:
    return Fault(part.name, mode, _log_even(rng, 0.5e-6, 50e-6))


_DRAW: dict[type[Part], Callable[[Section, Part, str, Rng], Fault]] = {
    Resistor: _resistor,
    Pot: _pot,
    Capacitor: _capacitor,
    Diode: _diode,
    Zener: _zener,
    Winding: _winding,
    Supply: _supply,
    Valve: _valve,
}
