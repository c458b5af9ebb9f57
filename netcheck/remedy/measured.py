"""Valves as they were measured: what cathode currents among readings say of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..engine.elements import GROUND
from ..idling import IdlingValve, fitted_shift
from ..model import Value
from ..netlist import Circuit, IdleReading, Valve
from ..network import Network
from ..predictor import Predictor
from ..readings import OVERLOAD, Kind, Reading
from ..valves import lookup
from ..valves.model import curve_of
from .fitted import with_part

_MOST = 2  # readings that a valve can be shifted to [count]
_LEAST = 0.5e-3  # below this current the tail of a curve is no guide [A]
_APART = 1.0  # two grid voltages closer than this tell one thing [V]


@dataclass(frozen=True, slots=True)
class Drawn:
    """A cathode current with the grid voltage it was drawn at.

    Parameters
    ----------
    valve : str
        The valve.
    i_cathode : float
        As measured. [A]
    v_grid : float
        As measured, without the meter's load; else as predicted. [V]
    is_predicted : bool
        Whether it was predicted.
    v_plate, v_screen : float or None
        As measured in the same state of the chassis; else as drawn, times what the mains, or
        the plate, was of what it should be. [V]
    """

    valve: str
    i_cathode: float
    v_grid: float
    is_predicted: bool
    v_plate: float | None
    v_screen: float | None


def currents(predictor: Predictor, readings: Sequence[Reading]) -> list[Drawn]:
    """The cathode currents among readings.

    Parameters
    ----------
    predictor : Predictor
        Of the section as it was when they were taken, at the mains that was read.
    readings : sequence of Reading
        Of one stage.

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    found = []
    for reading in readings:
        valve = predictor.section.circuit.part(reading.part)
        if not isinstance(valve, Valve):
            continue
        i = _current(valve, reading)
        if i is not None and i > _LEAST:
            found.append(_drawn(predictor, readings, reading, valve, i))
    return found


def _current(valve: Valve, reading: Reading) -> float | None:
    if reading.nominal == OVERLOAD:
        return None
    if reading.kind is Kind.CURRENT:
        return reading.nominal
    if reading.kind is Kind.CATHODE and valve.r_cathode > 0.0:
        return reading.nominal / valve.r_cathode
    return None


def _drawn(predictor: Predictor, readings: Sequence[Reading], reading: Reading, valve: Valve,
           i: float) -> Drawn:  # fmt: skip
    turn = [r for r in readings if r.state.live and r.state.turn == reading.state.turn]
    state = predictor.values({pot: at.travel for pot, at in reading.state.pots.items()})

    def read(kind: Kind) -> float | None:
        return next((r.nominal for r in turn if r.kind is kind and r.part == valve.name), None)

    # Plate and screen follow the mains, which moves all volts of the chassis in proportion.
    share = float(predictor.changes.get("mains", 1.0))
    v_plate = read(Kind.PLATE) or (valve.v_plate and share * valve.v_plate)
    if v_plate and valve.v_plate:
        share = v_plate / valve.v_plate
    v_screen = read(Kind.SCREEN) or (valve.v_screen and share * valve.v_screen)
    at_grid = next((r for r in turn if r.kind is Kind.DC and r.minus == GROUND
                    and r.plus == valve.grid), None)  # fmt: skip
    node = predictor.section.joined[valve.grid]
    if at_grid is None:
        v_grid = float(predictor.means(state, 1).at(node)[0])
    else:
        v_grid = at_grid.nominal * _unloaded(predictor, state, node, at_grid)
    return Drawn(valve.name, i, v_grid, at_grid is None, v_plate, v_screen)


def _unloaded(predictor: Predictor, state: dict[str, Value], node: str, reading: Reading) -> float:
    """What the meter's load takes off a reading, as a factor that gives it back. [1]"""
    section, network = predictor.section, predictor.network
    if section.cut is None or network is None or not network.has(node):
        return 1.0
    loaded = Network(section, section.cut, [(node, GROUND, reading.meter.r_input)])
    bare = float(network.means(state, predictor.curves, 1).at(node)[0])
    seen = float(loaded.means(state, predictor.curves, 1).at(node)[0])
    return bare / seen if seen else 1.0


def shifted(circuit: Circuit, drawn: Sequence[Drawn]) -> Circuit:
    """A circuit whose valves draw what they were measured to draw.

    A reading taken at other plate volts than those drawn becomes the current that the same
    valve draws at those drawn and the same grid voltage.

    Parameters
    ----------
    circuit : Circuit
        The circuit.
    drawn : sequence of Drawn
        What was measured.
    """
    for name in dict.fromkeys(one.valve for one in drawn):
        valve = circuit.part(name)
        assert isinstance(valve, Valve)
        readings = _readings(circuit, valve, [one for one in drawn if one.valve == name])
        if readings:
            circuit = with_part(circuit, replace(valve, readings=readings))
    return circuit


def _readings(circuit: Circuit, valve: Valve, own: Sequence[Drawn]) -> tuple[IdleReading, ...]:
    kind = lookup(valve.type, circuit.own_types)
    if kind is None or not kind.rows or valve.v_plate is None:
        return ()
    if kind.kind.value != "triode" and valve.v_screen is None:
        return ()
    # The largest current tells most of where the window lies; a second one of the slope.
    ranked = sorted(own, key=lambda one: -one.i_cathode)
    chosen = ranked[:1] + [one for one in ranked[1:] if ranked[0].v_grid - one.v_grid > _APART]
    found = []
    for one in chosen[:_MOST]:
        there = replace(valve, v_plate=one.v_plate, v_screen=one.v_screen, readings=())
        reading = IdleReading(one.i_cathode, one.v_grid)
        bare = IdlingValve(there, kind, curve_of(kind))
        shift = fitted_shift(bare, [reading])
        here = IdlingValve(replace(valve, readings=()), kind, curve_of(kind), shift)
        found.append(_at_drawn_volts(here, one.v_grid))
    return tuple(found)


def _at_drawn_volts(valve: IdlingValve, v_grid: float) -> IdleReading:
    i = valve.cathode_current(np.array([v_grid]), np.zeros(1))
    return IdleReading(float(i[0]), v_grid)
