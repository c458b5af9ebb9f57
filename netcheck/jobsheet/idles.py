"""The idle currents that were read, as found and as left, and what they mean."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ..engine.service import Service
from ..graph import Section
from ..idle import Judged, Match, Stage, judge, match
from ..idling import idle, idling_valve
from ..netlist import Circuit, Valve
from ..predictor import Predictor
from ..readings import OVERLOAD, Kind, Reading
from ..valves import lookup


@dataclass(frozen=True)
class IdleRead:
    """A cathode current that was read.

    Parameters
    ----------
    reading : Reading
        As read.
    valve : Valve
        Of which.
    stage : Stage
        The valve at work, with the plate volts that were read or are drawn.
    judged : Judged
        What the current means.
    """

    reading: Reading
    valve: Valve
    stage: Stage
    judged: Judged


def idle_readings(circuit: Circuit, readings: Sequence[Reading],
                  window: tuple[float, float] | None) -> Iterator[IdleRead]:  # fmt: skip
    """The currents among some readings, valve by valve in the order of the circuit.

    Parameters
    ----------
    circuit : Circuit
        The circuit that they were taken on.
    readings : sequence of Reading
        Of one stage.
    window : (float, float) or None
        Dissipation wanted, of the limit; None for the usual. [1]
    """
    for valve in circuit.of(Valve):
        kind = lookup(valve.type, circuit.own_types)
        own = [r for r in readings if r.part == valve.name and r.nominal != OVERLOAD]
        v_plate = _last(own, Kind.PLATE, valve.v_plate)
        if kind is None or v_plate is None:
            continue
        stage = Stage(kind, v_plate, _last(own, Kind.SCREEN, valve.v_screen),
                      r_cathode=valve.r_cathode, window=window)  # fmt: skip
        for reading in own:
            i = _current(valve, reading)
            if i is not None:
                yield IdleRead(reading, valve, stage, judge(stage, valve.name, i))


def _current(valve: Valve, reading: Reading) -> float | None:
    if reading.kind is Kind.CURRENT:
        return max(reading.nominal, 0.0)
    if reading.kind is Kind.CATHODE and valve.r_cathode > 0.0:
        return max(reading.nominal, 0.0) / valve.r_cathode
    return None


def _last(own: Sequence[Reading], kind: Kind, drawn: float | None) -> float | None:
    return next((r.nominal for r in reversed(own) if r.kind is kind), drawn)


@dataclass(frozen=True)
class IdleFound:
    """What a valve must have drawn with all pots in the middle.

    Parameters
    ----------
    i_cathode : float
        [A]
    of_limit : float
        Plate dissipation, of the limit. [1]
    """

    i_cathode: float
    of_limit: float


def in_the_middle(circuit: Circuit, service: Service) -> dict[str, IdleFound]:
    """What the valves of a circuit draw with all pots in the middle, by valve.

    Parameters
    ----------
    circuit : Circuit
        As it stood, its valves as they were measured.
    service : Service
        The running simulator.

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    supply, ready = circuit.high_tension, []
    for valve in circuit.of(Valve):
        kind = lookup(valve.type, circuit.own_types)
        one = None if kind is None else idling_valve(valve, kind, supply)
        if one is not None:
            ready.append(one)
    if not ready:
        return {}
    predictor = Predictor(Section(circuit), service)
    mean = predictor.whole(predictor.values()).mean
    drawn = idle(ready, [np.array([mean[one.valve.grid]]) for one in ready], supply)
    return {one.valve.name: IdleFound(float(now.i_cathode[0]),
                                      float(now.p_plate[0]) / one.type.limits.p_plate)
            for one, now in zip(ready, drawn, strict=True)}  # fmt: skip


def matched(read: Sequence[IdleRead]) -> Match | None:
    """How the valves match by their last currents; None for fewer than two, or several types.

    Currents read with the pots at different places are not compared.
    """
    last = {one.valve.name: one for one in read}
    types = {one.valve.type.upper() for one in last.values()}
    places = {tuple(sorted((pot, at.travel) for pot, at in one.reading.state.pots.items()))
              for one in last.values()}  # fmt: skip
    if len(last) < 2 or len(types) > 1 or len(places) > 1:
        return None
    return match([one.judged.i_cathode for one in last.values()])
