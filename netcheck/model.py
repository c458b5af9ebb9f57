"""A circuit as the primitive elements an engine understands.

Every number of a circuit that can be off has a parameter name: "R3" (its ohms), "C1",
"C1.esr", "C1.leak", "T1" (its volts), "T1.source", "RV1" (its track), "RV1.end",
"RV1.travel" (rotation, 0 to 1 clockwise), "D1.drop", "D1.series", "Z1", "Z1.series", "S1",
"S1.source", "mains" (actual over nominal). A state of the circuit is a mapping of those
names to values; for resistances behind the rectifier the values may be arrays.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from . import assumed
from .engine.elements import (
    Capacitance,
    DcSource,
    Element,
    Floats,
    Junction,
    Resistance,
    SineSource,
)
from .graph import joined
from .netlist import (
    GROUND,
    OPEN,
    Capacitor,
    Circuit,
    Diode,
    Part,
    Pot,
    Resistor,
    Supply,
    Tremolo,
    Winding,
    Zener,
)

Value = float | Floats
Values = Mapping[str, Value]

R_LEAST = 1e-3
"""The least resistance that is simulated; what is less is taken for this. [ohm]"""
R_ELSEWHERE = 1e9
"""Between ground and a node that goes on outside the section: whatever holds it there is
unknown, and without some path it would float. [ohm]"""
R_BROKEN = 1e6
"""A junction with so much in series is open: it is simulated as what insulates. [ohm]"""
I_SATURATION = assumed.I_DROP / math.exp(0.70 / (1.8 * assumed.V_THERMAL))
"""Of a silicon rectifier with 0.7 V at 10 mA and an emission coefficient of 1.8, common for
1 A types; the other materials keep it and scale the coefficient. [A]"""
C_JUNCTION = 15e-12
"""Junction capacitance of a 1 A rectifier (1N4007 data sheet, from memory); simulation of a
floating bridge needs some. [F]"""


@dataclass(frozen=True, slots=True)
class Branch:
    """A resistance of `part` between two nodes; `r` may be an array, shape (batch,). [ohm]"""

    part: str
    name: str
    a: str
    b: str
    r: Value


def nominal_values(circuit: Circuit, travel: float = 0.5) -> dict[str, Value]:
    """Every parameter of a circuit at its nominal value, all pots at `travel`.

    Parameters
    ----------
    circuit : Circuit
        The circuit.
    travel : float
        Rotation of every pot, 0 to 1 clockwise. [1]
    """
    values: dict[str, Value] = {}
    mains = circuit.mains
    if mains is not None:
        values["mains"] = 1.0 if mains.v_actual is None else mains.v_actual / mains.v_nominal
    for part in circuit.parts:
        values.update(_part_values(part, travel))
    return values


def _part_values(part: Part, travel: float) -> dict[str, Value]:
    name = part.name
    match part:
        case Resistor():
            values: dict[str, Value] = {name: part.r}
        case Capacitor():
            values = _capacitor_values(part)
        case Winding():
            r = assumed.r_source(part)
            values = {name: part.v_rms + (part.i_load or 0.0) * r, f"{name}.source": r}
        case Tremolo():
            values = {f"{name}.source": part.r_source}
        case Supply():
            values = {name: part.v, f"{name}.source": part.r_source}
        case Pot():
            end = assumed.r_end(part)
            values = {name: part.r, f"{name}.end": end, f"{name}.travel": travel}
        case Diode():
            drop = assumed.DROP[part.material] if part.v_drop is None else part.v_drop
            series = assumed.SERIES[part.material] if part.r_series is None else part.r_series
            values = {f"{name}.drop": drop, f"{name}.series": series}
        case Zener():
            values = {name: part.v_zener, f"{name}.series": assumed.r_zener(part)}
        case _:
            values = {}
    return values


def _capacitor_values(part: Capacitor) -> dict[str, Value]:
    values: dict[str, Value] = {part.name: part.c}
    if part.esr:
        values[f"{part.name}.esr"] = part.esr
    if part.r_leak is not None:
        values[f"{part.name}.leak"] = part.r_leak
    elif part.i_leak is not None and part.v_rated is not None:
        values[f"{part.name}.leak"] = part.v_rated / part.i_leak
    return values


def spreads(circuit: Circuit) -> dict[str, float]:
    """Half the tolerance band of each parameter that has one, as a fraction of nominal. [1]

    The mains is not among them: see `assumed.mains_tolerance`.
    """
    spread = {part.name: assumed.tolerance(part) for part in circuit.parts}
    spread = {name: tolerance for name, tolerance in spread.items() if tolerance}
    for winding in circuit.of(Winding):
        # Copper rises 0.39 % per degree and the share of the primary is rarely known.
        spread[f"{winding.name}.source"] = 0.2
    for diode in circuit.of(Diode):
        spread[f"{diode.name}.drop"] = 0.1
    return spread


def audio_law(travel: Value, mid: float) -> Value:
    """Share of an audio track between its slow end and the wiper. [1]

    Parameters
    ----------
    travel : float or array
        Rotation away from the slow end, 0 to 1. [1]
    mid : float
        The share at half rotation, below 0.5. [1]

    Notes
    -----
    The exponential (a^t - 1)/(a - 1) with a = (1/mid - 1)^2 passes through 0, `mid` and 1 at
    0, 1/2 and 1. Real tracks are two or three straight pieces near it.

    References
    ----------
    MIL-R-94, tapers C and F: 10 % of the resistance at 50 % of the rotation (from memory).
    """
    a = (1.0 / mid - 1.0) ** 2
    return (a**travel - 1.0) / (a - 1.0)


def wiper_position(pot: Pot, travel: Value) -> Value:
    """Where the wiper stands on the track, 0 at the bottom end and 1 at the top end. [1]

    Parameters
    ----------
    pot : Pot
        The pot.
    travel : float or array
        Rotation, 0 to 1 clockwise. [1]
    """
    mid = assumed.AUDIO_MID if pot.mid is None else pot.mid
    if pot.taper == "audio":
        share = audio_law(travel, mid)
    elif pot.taper == "reverse audio":
        share = 1.0 - audio_law(1.0 - travel, mid)
    else:
        share = travel
    return share if pot.clockwise == "top" else 1.0 - share


def branches(circuit: Circuit, values: Values) -> Iterator[Branch]:
    """The resistances that carry direct current, named after their parts."""
    node = joined(circuit)
    for outside in circuit.elsewhere:
        if node.get(outside, GROUND) != GROUND:
            yield Branch("", f"elsewhere {outside}", node[outside], GROUND, R_ELSEWHERE)
    for part in circuit.parts:
        for branch in _part_branches(part, values):
            if OPEN in (branch.a, branch.b):
                continue
            a, b = node.get(branch.a, branch.a), node.get(branch.b, branch.b)
            if a != b:
                yield Branch(branch.part, branch.name, a, b, branch.r)


def _part_branches(part: Part, values: Values) -> Iterator[Branch]:
    if isinstance(part, Resistor):
        yield Branch(part.name, part.name, part.start, part.end, values[part.name])
    elif isinstance(part, Pot):
        yield from _pot_branches(part, values)
    elif isinstance(part, Capacitor) and f"{part.name}.leak" in values:
        leak = f"{part.name}.leak"
        yield Branch(part.name, leak, part.start, part.end, values[leak])
    elif isinstance(part, Winding):
        yield from _winding_branches(part, values)
    elif isinstance(part, Tremolo):
        # Its mean is zero: for direct current it is the resistance of its source.
        source = f"{part.name}.source"
        yield Branch(part.name, source, part.start, part.end, np.maximum(values[source], R_LEAST))
    elif isinstance(part, Supply):
        source = f"{part.name}.source"
        r = np.maximum(values[source], R_LEAST)
        yield Branch(part.name, source, part.plus, emf_node(part.name, 0), r)


def _pot_branches(pot: Pot, values: Values) -> Iterator[Branch]:
    track, end = values[pot.name], values[f"{pot.name}.end"]
    wiper = wiper_position(pot, values[f"{pot.name}.travel"])
    between = np.maximum(track - 2.0 * end, 0.0)
    yield Branch(pot.name, f"{pot.name}.top", pot.top, pot.wiper, end + between * (1.0 - wiper))
    yield Branch(pot.name, f"{pot.name}.bottom", pot.wiper, pot.bottom, end + between * wiper)


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of winding between neighbouring terminals: its share of the volts."""

    a: str
    b: str
    share: float


def stretches(winding: Winding) -> list[Stretch]:
    """The winding from start to end; the shares are of `v_rms`."""
    full = winding.v_rms
    stops: list[tuple[str, float]] = [(winding.start, 0.0)]
    if winding.centre is not None:
        stops = [(winding.start, -1.0), (winding.centre, 0.0)]
    stops += [(tap.node, tap.v_rms / full) for tap in winding.taps]
    stops.append((winding.end, 1.0))
    return [Stretch(a, b, up - down) for (a, down), (b, up) in pairwise(stops)]


def emf_node(part: str, stretch: int) -> str:
    """Name of the node inside a source, between its voltage and its resistance."""
    return f"{part} emf {stretch}"


def _winding_branches(winding: Winding, values: Values) -> Iterator[Branch]:
    total = values[f"{winding.name}.source"]
    for index, stretch in enumerate(stretches(winding)):
        name = f"{winding.name}.source" + (f".{index}" if index else "")
        broken = values.get(f"{winding.name}.break {index}", 0.0)
        r = np.maximum(total * stretch.share + broken, R_LEAST)
        yield Branch(winding.name, name, emf_node(winding.name, index), stretch.b, r)


def junction(name: str, anode: str, cathode: str, drop: float, series: float) -> Junction:
    """A rectifier with a given drop at `assumed.I_DROP`."""
    n = drop / (assumed.V_THERMAL * math.log(assumed.I_DROP / I_SATURATION))
    return Junction(name, anode, cathode, I_SATURATION, n, max(series, R_LEAST), C_JUNCTION)


def _zener_elements(zener: Zener, values: Mapping[str, float]) -> Iterator[Element]:
    """Forward a silicon junction; backward a source, a junction and the dynamic resistance.

    Two paths of well-behaved elements stand for the breakdown: they are the same in every
    engine, and the source is reduced by the junction's drop at 10 mA.
    """
    name = zener.name
    inner, far = f"{name} inner", f"{name} far"
    yield junction(f"{name}.forward", zener.anode, zener.cathode, 0.7, 1.0)
    yield junction(f"{name}.break", inner, far, 0.5, R_LEAST)
    yield DcSource(f"{name}.volts", zener.cathode, inner, values[name] - 0.5)
    yield Resistance(f"{name}.series", far, zener.anode, max(values[f"{name}.series"], R_LEAST))


def elements(circuit: Circuit, values: Values) -> list[Element]:
    """All elements of a circuit in one state; every value must be a single number.

    Parameters
    ----------
    circuit : Circuit
        The circuit.
    values : mapping of str to float
        A value for each parameter of `nominal_values`; further "NAME.leak" or "NAME.esr" of
        capacitors are taken too.
    """
    single = {name: float(value) for name, value in values.items()}
    node = joined(circuit)

    def at(name: str) -> str:
        return node.get(name, name)

    made: list[Element] = [
        Resistance(b.name, b.a, b.b, max(float(b.r), R_LEAST)) for b in branches(circuit, single)
    ]
    for part in circuit.parts:
        for element in _other_elements(part, single):
            ends = [at(getattr(element, field)) for field in _end_fields(element)]
            if ends[0] != ends[1]:
                made.append(_moved(element, *ends))
    return made


def _other_elements(part: Part, values: Mapping[str, float]) -> Iterator[Element]:
    if isinstance(part, Capacitor):
        esr = values.get(f"{part.name}.esr", 0.0)
        far = f"{part.name} inner" if esr else part.end
        yield Capacitance(part.name, part.start, far, values[part.name])
        if esr:
            yield Resistance(f"{part.name}.esr", far, part.end, max(esr, R_LEAST))
    elif isinstance(part, Diode):
        drop, series = values[f"{part.name}.drop"], values[f"{part.name}.series"]
        if series >= R_BROKEN:
            yield Resistance(part.name, part.anode, part.cathode, R_ELSEWHERE)
        else:
            yield junction(part.name, part.anode, part.cathode, drop, series)
    elif isinstance(part, Zener):
        yield from _zener_elements(part, values)
    elif isinstance(part, Winding):
        peak = math.sqrt(2.0) * values[part.name] * values.get("mains", 1.0)
        for index, stretch in enumerate(stretches(part)):
            name = part.name + (f".{index}" if index else "")
            inner = emf_node(part.name, index)
            yield SineSource(name, inner, stretch.a, peak * stretch.share)
    elif isinstance(part, Supply):
        volts = values[part.name] * values.get("mains", 1.0)
        yield DcSource(part.name, emf_node(part.name, 0), part.minus, volts)


def _end_fields(element: Element) -> tuple[str, str]:
    return ("anode", "cathode") if isinstance(element, Junction) else ("a", "b")


def _moved(element: Element, a: str, b: str) -> Element:
    """The same element between other nodes."""
    if isinstance(element, Junction):
        return replace(element, anode=a, cathode=b)
    return replace(element, a=a, b=b)
