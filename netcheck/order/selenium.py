"""Selenium rectifiers, replaced by silicon: what that adds to the bias, and what takes it off."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from ..engine.service import Service
from ..graph import Section
from ..netlist import Circuit, Diode, Resistor, Winding
from ..partwork import part_work
from ..predictor import Predictor
from ..preferred import Series, nearest
from ..quantity import Dimension, show, show_part
from ..remedy.ratings import buy
from ..roles import Role, roles
from ..stress import Stress
from . import shelf
from .bearing import Bearing
from .needs import PRACTICE, Need, Reason
from .purchase import of_resistance, replacement

_LITTLE = 0.3  # a bias that moves by less is left as it is [V]
_STEPS = 6  # of the search for the resistance [count]
_NEAR = 0.02  # of the shift may be left [1]


@dataclass(frozen=True, slots=True)
class Silicon:
    """What silicon in place of selenium does.

    Parameters
    ----------
    shift : float
        Change of the first grid with the pots at the middle. [V]
    r_added : float or None
        Resistance in front of the rectifier that brings it back; None where nothing does. [ohm]
    power : float
        What that dissipates. [W]
    """

    shift: float
    r_added: float | None = None
    power: float = 0.0


def selenium_needs(section: Section, bearing: Bearing, service: Service) -> Iterator[Need]:
    """Rectifiers of selenium with what replaces them, and the dropper that must grow with it.

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    circuit = section.circuit
    old = [diode for diode in circuit.of(Diode) if diode.material == "selenium"]
    if not old:
        return
    found = silicon(section, service)
    for diode in old:
        bought = replacement(diode, bearing)
        assert bought is not None
        yield Need(diode.name, bought, Reason(
            "selenium ages, and gives off poisonous fumes when it burns out: silicon takes its "
            f"place{_moves(found)}", PRACTICE))  # fmt: skip
    if found is not None and found.r_added is not None:
        yield _dropper(section, found, old[0])


def _moves(found: Silicon | None) -> str:
    if found is None:
        return ""
    if abs(found.shift) < _LITTLE:
        return "; the bias hardly moves"
    way = "more" if found.shift < 0 else "less"
    cure = "" if found.r_added is None else ", so that the dropper must grow"
    return f"; it makes the grids {show(abs(found.shift), Dimension.VOLT, 2)} {way} negative{cure}"


def _dropper(section: Section, found: Silicon, diode: Diode) -> Need:
    """The resistor that takes off what silicon adds."""
    assert found.r_added is not None
    known = roles(section)
    fitted = next((r for r in section.circuit.of(Resistor) if known.get(r.name) is Role.DROPPER),
                  None)  # fmt: skip
    was = 0.0 if fitted is None else fitted.r
    r = nearest(was + found.r_added, Series.E12)
    power = found.power * r / found.r_added  # the same current
    name = f"in series with {diode.name}" if fitted is None else fitted.name
    if fitted is None:
        part = Resistor(name=name, start="", end="", r=r)
        told = "new"
    else:
        part = replace(fitted, r=r)
        told = f"the dropper, from {show_part(was)} to {show_part(r)}"
    bought = of_resistance(buy(part, Stress(power=power), as_drawn=True), part)
    why = Reason(f"{told}: that takes off again what silicon adds", "simulation")
    return Need(name, bought, why, is_own_value=True)


def silicon(section: Section, service: Service) -> Silicon | None:
    """What silicon in place of all selenium does; None where no grid or wiper is drawn.

    Parameters
    ----------
    section : Section
        As drawn.
    service : Service
        The running simulator.

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    if not section.watched:
        return None
    node = section.watched[0]
    before = Predictor(section, service)
    wanted = before.whole(before.values()).mean[node]
    circuit = _replaced(section.circuit)
    predictor = Predictor(Section(circuit), service)

    def grid(added: float, winding: Winding | None) -> float:
        values = predictor.values()
        if winding is not None:
            values[f"{winding.name}.source"] = float(values[f"{winding.name}.source"]) + added
        return predictor.whole(values).mean[node]

    shift = grid(0.0, None) - wanted
    windings = list(circuit.of(Winding))
    if abs(shift) < _LITTLE or shift > 0.0 or len(windings) != 1:
        return Silicon(shift)
    (winding,) = windings
    r = _search(lambda added: grid(added, winding) - wanted, shift,
                float(predictor.values()[f"{winding.name}.source"]))  # fmt: skip
    if r is None:
        return Silicon(shift)
    values = predictor.values()
    values[f"{winding.name}.source"] = float(values[f"{winding.name}.source"]) + r
    work = part_work(circuit, values, predictor.whole(values).state.waves)
    return Silicon(shift, r, work[winding.name].i_rms ** 2 * r)


def _search(off: Callable[[float], float], shift: float, first: float) -> float | None:
    """The resistance at which nothing is off, by the secant through the last two tries."""
    r0, y0, r1 = 0.0, shift, first
    for _ in range(_STEPS):
        y1 = off(r1)
        if abs(y1) < _NEAR * abs(shift):
            return r1
        if y1 == y0:
            return None
        r0, y0, r1 = r1, y1, max(r1 - y1 * (r1 - r0) / (y1 - y0), 0.1 * r1)
    return None


def _replaced(circuit: Circuit) -> Circuit:
    parts = (
        replace(part, material="silicon", v_drop=None, r_series=None, type=shelf.RECTIFIER,
                v_reverse=shelf.V_RECTIFIER)
        if isinstance(part, Diode) and part.material == "selenium" else part
        for part in circuit.parts
    )  # fmt: skip
    return replace(circuit, parts=tuple(parts))
