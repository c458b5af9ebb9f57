"""The coordinates of a made-up chassis, so that both ways of reading it can be held together."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from netcheck.engine.elements import Floats
from netcheck.model import nominal_values
from netcheck.netlist import Capacitor, Pot, Supply, Winding
from netcheck.readout.coordinates import NORMAL, R_OPEN, Coordinates
from netcheck.readout.model import TAPERS

from ..chassis.chassis import Chassis
from ..chassis.faults import METER, Fault


def coordinates_of(chassis: Chassis, coordinates: Coordinates) -> Floats:
    """What the parts of a chassis are, as a row of coordinates, shape (coordinates,).

    Pots stand where the readings say and meters are exact: chassis without those errors only.
    What the valves draw is left as usual.
    """
    row = np.array([_middle(prior.kind, prior.a, prior.b) for prior in coordinates.sound])
    for name, x in _known(chassis):
        if name in coordinates.index:
            row[coordinates.index[name]] = x
    return row


def _middle(kind: int, a: float, b: float) -> float:
    return a if kind in (0, NORMAL) else 0.5 * (a + b)


def _known(chassis: Chassis) -> Iterator[tuple[str, float]]:
    circuit, values = chassis.section.circuit, chassis.wiring.values
    for name, value in values.items():
        if value > 0.0:
            yield name, math.log(_as_coordinate(chassis, name, value))
    for pot in circuit.of(Pot):
        for half in ("top", "bottom"):
            yield f"{pot.name}.{half} end", math.log(values[f"{pot.name}.end"])
    for supply in circuit.of(Supply):  # without power an ideal one is a wire
        yield f"{supply.name}.off", math.log(values[f"{supply.name}.source"])
    alone = chassis.copper_alone().values
    for winding in circuit.of(Winding):
        source = f"{winding.name}.source"
        yield f"{winding.name}.copper", math.log(alone[source] / values[source])
    for capacitor in circuit.of(Capacitor):
        if not values.get(f"{capacitor.name}.esr"):
            yield f"{capacitor.name}.esr", math.log(0.01)
    for fault in chassis.faults:
        yield from _of_fault(chassis, fault)


def _of_fault(chassis: Chassis, fault: Fault) -> Iterator[tuple[str, float]]:
    """What the values of the parts do not show."""
    name, mode, number = fault.part, fault.mode, fault.number or 0.0
    part = chassis.section.circuit.part(name)
    kind = "" if part is None else part.kind
    broken = math.log(R_OPEN)
    if mode == "open":
        yield name if kind == "resistor" else f"{name}.series", broken
    elif mode in {"short", "leaky"} and kind in {"diode", "zener"}:
        yield f"{name}.leak", math.log(0.2 if mode == "short" else number)
    elif mode == "half open":
        yield f"{name}.break {int(fault.detail == 'to')}", broken
    elif mode == "grid current":
        yield f"{name}.grid current", math.log(number)
    elif name == METER:
        yield f"{chassis.meter.name}.input", math.log(number / chassis.meter.r_input)
    elif kind == "pot":
        yield from _of_pot(chassis, fault)


def _of_pot(chassis: Chassis, fault: Fault) -> Iterator[tuple[str, float]]:
    name, mode = fault.part, fault.mode
    if mode == "wiper lifted":
        yield f"{name}.wiper", math.log(R_OPEN)
    elif mode.endswith(" open"):
        yield f"{name}.{mode.removesuffix(' open')} end", math.log(R_OPEN)
    elif mode == "worn end":
        end = float(chassis.wiring.values[f"{name}.end"])
        yield f"{name}.{fault.detail} end", math.log(end + (fault.number or 0.0))
    elif mode == "other taper":
        yield f"{name}.taper", float(TAPERS.index(fault.detail) + 1)
    elif mode == "ends exchanged":
        yield f"{name}.turned", 1.0


def nominal_of(chassis: Chassis) -> dict[str, float]:
    """What the parts of a chassis should be."""
    return {name: float(v) for name, v in nominal_values(chassis.section.circuit).items()}


def _as_coordinate(chassis: Chassis, name: str, value: float) -> float:
    """A parameter as the coordinate of its name.

    The track of a pot holds its sound ends in the one, and not what differs there in the other.
    """
    part = chassis.section.circuit.part(name)
    if not isinstance(part, Pot):
        return value
    sound = 2.0 * nominal_of(chassis)[f"{name}.end"] / part.r
    return (value - 2.0 * float(chassis.wiring.values[f"{name}.end"])) / (1.0 - sound)
