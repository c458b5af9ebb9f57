"""The values of the parts in front of the rectifier's port that are simulated beforehand."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from ..engine.elements import GROUND, Element, Resistance
from ..model import R_BROKEN, Value
from ..netlist import Capacitor, Diode, Part, Pot, Resistor, Supply, Winding, Zener
from ..predictor import Predictor
from .coordinates import R_NOTHING, R_OPEN, R_SHORT
from .links import is_link

R_METER = 10e6
"""Of the meter that reads a node which nothing else holds. [ohm]"""

Knot = tuple[float, dict[str, Value], tuple[Element, ...]]
"""A coordinate that is simulated, the parameters that differ there, and further elements."""
Axes = dict[str, list[Knot]]
"""Knots by coordinate name."""

_R_BREAK = 1e9  # enough to simulate a break with [ohm]
# Shares of what is drawn: close where sound parts lie, wide where only faults do.
_RESISTOR = (2e-4, 0.1, 0.35, 0.7, 1.0, 1.4, 3.0, 10.0, 40.0)
_CONTACT = (1.0, 1.5e3, 2e4, 3e5, 5e6, 1e8)  # of a link
_TRACK = (0.35, 0.7, 1.0, 1.4, 3.0)
_VOLTS = (1e-3, 0.3, 0.7, 1.0, 1.3, 2.0)
_SOURCE = (0.6, 1.0, 1.5)
_CAPACITANCE = (0.003, 0.02, 0.08, 0.3, 0.7, 1.0, 1.4)
_DROP = (0.7, 1.0, 1.3)
_ZENER = (0.6, 0.8, 0.93, 1.0, 1.07, 1.25, 1.6)
_ESR = (0.05, 10.0, 70.0, 400.0)  # ohm
_LEAK = (R_SHORT, 300.0, 2e3, 10e3, 50e3, 400e3)  # ohm


class Knots:
    """Chooses the knots of a section.

    Parameters
    ----------
    predictor : Predictor
        Of the section, which can be cut.
    """

    def __init__(self, predictor: Predictor) -> None:
        section = predictor.section
        self._section, self._values = section, predictor.values()
        cut = section.cut
        self._front = frozenset() if cut is None else cut.front
        self._nodes = frozenset() if cut is None else cut.front_nodes
        self._at_port = self._nodes if cut is None else self._nodes | set(cut.ports)
        self._sources = [s.name for s in section.sources if s.name in self._front]

    def find(self) -> tuple[Axes, dict[str, str]]:
        """Knots by axis, and the axis of a coordinate that has none of its own.

        The mains acts like the volts of the one source there is; with more than one it has an
        axis of its own.
        """
        axes: Axes = {}
        for part in self._section.circuit.parts:
            if part.name in self._front or (isinstance(part, Capacitor) and self._is_at_port(part)):
                axes |= _OF_KIND.get(type(part), _none)(self, part)
        if "mains" not in self._values or not self._section.sources:
            return axes, {}
        if len(self._sources) == 1:
            return axes, {"mains": self._sources[0]}
        return axes | {"mains": self._ratios("mains", _VOLTS)}, {}

    def state(self, x: Mapping[str, float]) -> tuple[dict[str, Value], tuple[Element, ...]]:
        """Parameters and further elements of one condition of the parts in front.

        Parameters
        ----------
        x : mapping of coordinate name to float
            The condition; what is not in front is left out.
        """
        changes: dict[str, Value] = {}
        extra: list[Element] = []
        is_broken = False
        for name in self._coordinates():
            part, _, what = name.partition(".")
            ohm = math.exp(min(x[name], 30.0))
            if what == "leak":
                if ohm < _R_BREAK:
                    extra.append(self._leak(part, ohm))
                continue
            if what == "series":
                is_broken |= ohm >= R_BROKEN
                ohm = min(ohm, R_BROKEN)
            elif what.startswith("break") or ohm > _R_BREAK:
                is_broken |= ohm > 1.0
                ohm = min(ohm, _R_BREAK)
            changes[name] = ohm
        return changes, (*extra, *(self._meters if is_broken else ()))

    def _coordinates(self) -> list[str]:
        axes, shared = self.find()
        return [*axes, *shared]

    def _leak(self, name: str, ohm: float) -> Element:
        part = self._section.circuit.part(name)
        assert part is not None
        at, ((_, a), (_, b)) = self._section.joined, part.terminals
        return Resistance(f"leak {name}", at[a], at[b], ohm)

    def _ends(self, part: Part) -> set[str]:
        at = self._section.joined
        return {at[node] for _, node in part.terminals if node in at}

    def _is_at_port(self, part: Part) -> bool:
        return bool(self._ends(part) & self._at_port)

    @property
    def _meters(self) -> tuple[Element, ...]:
        """Where something is open a node may hang on nothing but the meter that reads it."""
        return tuple(Resistance(f"meter {node}", node, GROUND, R_METER)
                     for node in sorted(self._nodes)
                     if node not in self._section.circuit.elsewhere)  # fmt: skip

    def _ratios(self, parameter: str, shares: Sequence[float], shift: float = 0.0) -> list[Knot]:
        nominal = float(self._values[parameter])
        return [(math.log(nominal * r) + shift, {parameter: nominal * r}, ()) for r in shares]

    def _volts(self, name: str) -> list[Knot]:
        # Where the mains acts on the same axis, the coordinates of both count from 1.
        is_single = len(self._sources) == 1
        shift = math.log(float(self._values.get("mains", 1.0))) if is_single else 0.0
        return self._ratios(name, _VOLTS, shift)

    def _across(self, name: str, a: str, b: str) -> list[Knot]:
        at = self._section.joined
        leaks: list[Knot] = [
            (math.log(r), {}, (Resistance(f"leak {name}", at[a], at[b], r),)) for r in _LEAK
        ]
        return [*leaks, (math.log(R_NOTHING), {}, ())]

    def _resistor(self, part: Resistor) -> Axes:
        broken: Knot = (math.log(R_OPEN), {part.name: _R_BREAK}, self._meters)
        shares = _CONTACT if is_link(part) else _RESISTOR
        return {part.name: [*self._ratios(part.name, shares), broken]}

    def _pot(self, part: Pot) -> Axes:
        return {part.name: self._ratios(part.name, _TRACK)}

    def _winding(self, part: Winding) -> Axes:
        name = part.name
        axes = {name: self._volts(name), f"{name}.source": self._ratios(f"{name}.source", _SOURCE)}
        for half in range(0 if part.centre is None else 2):
            broken = f"{name}.break {half}"
            axes[broken] = [(math.log(R_SHORT), {}, ()),
                            (math.log(R_OPEN), {broken: _R_BREAK}, self._meters)]  # fmt: skip
        return axes

    def _supply(self, part: Supply) -> Axes:
        return {part.name: self._volts(part.name)}

    def _capacitor(self, part: Capacitor) -> Axes:
        name = part.name
        axes: Axes = {name: self._ratios(name, _CAPACITANCE)}
        axes[f"{name}.esr"] = [(math.log(r), {f"{name}.esr": r}, ()) for r in _ESR]
        if self._ends(part) & self._nodes:  # else its leak is a load behind the port
            axes[f"{name}.leak"] = self._across(name, part.start, part.end)
        return axes

    def _diode(self, part: Diode) -> Axes:
        name, series = part.name, f"{part.name}.series"
        sound: Knot = (math.log(max(float(self._values[series]), 1e-3)), {}, ())
        return {
            f"{name}.drop": self._ratios(f"{name}.drop", _DROP),
            series: [sound, (math.log(R_BROKEN), {series: R_BROKEN}, self._meters)],
            f"{name}.leak": self._across(name, part.anode, part.cathode),
        }

    def _zener(self, part: Zener) -> Axes:
        name, series = part.name, f"{part.name}.series"
        broken: Knot = (math.log(R_BROKEN), {series: R_BROKEN}, self._meters)
        return {
            name: self._ratios(name, _ZENER),
            series: [*self._ratios(series, _SOURCE), broken],
            f"{name}.leak": self._across(name, part.anode, part.cathode),
        }


def _none(_: Knots, __: Part) -> Axes:
    return {}


_OF_KIND: Mapping[type[Part], Callable[[Knots, Any], Axes]] = {
    Resistor: Knots._resistor,
    Pot: Knots._pot,
    Winding: Knots._winding,
    Supply: Knots._supply,
    Capacitor: Knots._capacitor,
    Diode: Knots._diode,
    Zener: Knots._zener,
}
