"""A diagnosis turned into a circuit: the section as it stands on the bench."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from ..assumed import r_source
from ..diagnose.suspects import Suspect
from ..netlist import (
    OPEN,
    Capacitor,
    Circuit,
    Diode,
    Link,
    Part,
    Pot,
    Resistor,
    Supply,
    Winding,
    Zener,
)
from ..readout.coordinates import FIXED
from ..readout.model import TAPERS, is_undrawn
from .fitted import free_name, free_node, with_part

R_MOST = 1e9
"""A break, in a circuit that is to be simulated. [ohm]"""
_DIGITS = 3  # of a fitted value: more than that no set of readings tells [count]
_LIVABLE = frozenset({
    "low", "high", "wired the other way", "top end worn", "bottom end worn",
    *(f"{taper} taper" for taper in TAPERS),
})  # fmt: skip
"""Ways of being at fault that one could work around: the part works, though not as drawn."""
_VALUED = (Resistor, Pot, Winding, Supply, Zener)


@dataclass(frozen=True, slots=True)
class Faulty:
    """A circuit with a fault in it.

    Parameters
    ----------
    circuit : Circuit
        All of it.
    parts : tuple of str
        The parts at fault.
    is_livable : bool
        Whether one could leave the fault and work around it.
    """

    circuit: Circuit
    parts: tuple[str, ...]
    is_livable: bool


class NoCircuit(Exception):
    """The suspect is nothing that a drawing could show; the message says what is to be done."""


def faulty(circuit: Circuit, suspect: Suspect) -> Faulty:
    """The circuit that a suspect, in its most probable way, makes of a drawing.

    Parameters
    ----------
    circuit : Circuit
        As drawn.
    suspect : Suspect
        One that is a fault.

    Raises
    ------
    NoCircuit
        If it is no change of the circuit.
    """
    hypothesis = suspect.mode.hypothesis
    if hypothesis.reading is not None:
        raise NoCircuit("a reading that was misread changes nothing in the chassis")
    if suspect.parts == ("mains",):
        raise NoCircuit("the mains is no part of the chassis")
    if suspect.parts and suspect.parts[0].startswith("meter "):
        raise NoCircuit("a meter that loads the circuit changes nothing in the chassis")
    if is_undrawn(suspect.label):
        raise NoCircuit("a leak that is not drawn is removed, and no part is chosen for it")
    values = {name: math.exp(prior.a) for name, prior in hypothesis.changes.items()
              if prior.kind == FIXED and not name.endswith((".taper", ".turned"))}  # fmt: skip
    values |= {f.coordinate: f.nominal for f in suspect.mode.fitted}
    values |= {name: prior.a for name, prior in hypothesis.changes.items()
               if name.endswith((".taper", ".turned"))}  # fmt: skip
    if not set(hypothesis.changes) <= set(values):
        raise NoCircuit(f"no value was fitted for {suspect.label}")
    for coordinate, x in values.items():
        circuit = _altered(circuit, coordinate, float(f"{x:.{_DIGITS}g}"))
    parts = tuple(name for name in suspect.parts if circuit.part(name) is not None)
    kinds = [isinstance(circuit.part(name), _VALUED) for name in parts]
    modes = hypothesis.mode.split(", ")
    return Faulty(circuit, parts, all(kinds) and set(modes) <= _LIVABLE)


def _altered(circuit: Circuit, coordinate: str, x: float) -> Circuit:
    name, _, which = coordinate.partition(".")
    part = circuit.part(name)
    if part is None:
        raise NoCircuit(f"{name} is no part of the circuit")
    if not which:
        return with_part(circuit, _valued(part, x))
    change = _CHANGES.get(which)
    if change is None:
        raise NoCircuit(_UNDRAWN.get(which, f"{name} cannot be drawn with this fault"))
    return change(circuit, part, x)


_UNDRAWN: Mapping[str, str] = {
    "grid current": "a valve that draws grid current is no change of the bias supply: replace it, "
                    "and look at its socket and coupling capacitor",
}  # fmt: skip


def _valued(part: Part, x: float) -> Part:
    """A part of another value."""
    found: Part
    match part:
        case Resistor():
            found = replace(part, r=min(x, R_MOST), bands=())
        case Link():
            found = Resistor(name=part.name, note=part.note, year=part.year, span=part.span,
                             start=part.start, end=part.end, r=min(x, R_MOST))  # fmt: skip
        case Pot():
            found = replace(part, r=min(x, R_MOST))
        case Capacitor():
            found = replace(part, c=x)
        case Winding():
            # What is fitted are no-load volts; taps keep their share.
            share = x / _no_load(part)
            taps = tuple(replace(tap, v_rms=share * tap.v_rms) for tap in part.taps)
            found = replace(part, v_rms=share * part.v_rms, taps=taps)
        case Supply():
            found = replace(part, v=x)
        case Zener():
            found = replace(part, v_zener=x)
        case _:
            raise NoCircuit(f"{part.name} has no value")
    return found


def _no_load(part: Winding) -> float:
    return part.v_rms + (part.i_load or 0.0) * r_source(part)


def _leak(circuit: Circuit, part: Part, x: float) -> Circuit:
    if isinstance(part, Capacitor):
        return with_part(circuit, replace(part, r_leak=x, i_leak=None))
    if isinstance(part, Diode | Zener):
        leak = Resistor(name=free_name(circuit), start=part.anode, end=part.cathode, r=x,
                        note=f"leak of {part.name}")  # fmt: skip
        return replace(circuit, parts=(*circuit.parts, leak))
    raise NoCircuit(_UNDRAWN["grid current"])


def _esr(circuit: Circuit, part: Part, x: float) -> Circuit:
    if not isinstance(part, Capacitor):
        raise NoCircuit(f"{part.name} is no capacitor")
    return with_part(circuit, replace(part, esr=x))


def _series(circuit: Circuit, part: Part, x: float) -> Circuit:
    x = min(x, R_MOST)
    if isinstance(part, Zener):
        return with_part(circuit, replace(part, r_zener=x))
    if not isinstance(part, Diode):
        raise NoCircuit(f"{part.name} is no diode")
    return with_part(circuit, replace(part, r_series=x))


def _end(which: str) -> Callable[[Circuit, Part, float], Circuit]:
    def worn(circuit: Circuit, part: Part, x: float) -> Circuit:
        node = getattr(part, which)
        if x >= R_MOST:
            return with_part(circuit, replace(part, **{which: OPEN}))  # type: ignore[arg-type]
        lug = free_node(circuit, node)
        end = Resistor(name=free_name(circuit), start=node, end=lug, r=x,
                       note=f"worn {which} end of {part.name}")  # fmt: skip
        circuit = with_part(circuit, replace(part, **{which: lug}))  # type: ignore[arg-type]
        return replace(circuit, parts=(*circuit.parts, end))

    return worn


def _wiper(circuit: Circuit, part: Part, _: float) -> Circuit:
    assert isinstance(part, Pot)
    return with_part(circuit, replace(part, wiper=free_node(circuit, part.wiper)))


def _taper(circuit: Circuit, part: Part, x: float) -> Circuit:
    assert isinstance(part, Pot)
    return with_part(circuit, replace(part, taper=TAPERS[round(x) - 1], mid=None))


def _turned(circuit: Circuit, part: Part, _: float) -> Circuit:
    assert isinstance(part, Pot)
    return with_part(circuit, replace(part, top=part.bottom, bottom=part.top))


def _broken(circuit: Circuit, part: Part, _: float) -> Circuit:
    """A whole winding, which has lost its volts already: there it is as good as broken."""
    if isinstance(part, Winding) and part.centre is not None:
        raise NoCircuit("half a winding cannot be drawn as broken")
    return circuit


_CHANGES: Mapping[str, Callable[[Circuit, Part, float], Circuit]] = {
    "leak": _leak,
    "esr": _esr,
    "series": _series,
    "top end": _end("top"),
    "bottom end": _end("bottom"),
    "wiper": _wiper,
    "taper": _taper,
    "turned": _turned,
    "break 0": _broken,
    "break 1": _broken,
}
