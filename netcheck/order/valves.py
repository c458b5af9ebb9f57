"""Sets of valves, and what they must draw."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..diagnose.words import listed
from ..idle import Stage, target
from ..netlist import Circuit, Valve
from ..quantity import Dimension, show, show_part
from ..remedy.samples import Sample, matching
from ..valves import lookup
from ..valves.practice import WINDOW
from .needs import PRACTICE, Need, Reason
from .purchase import Purchase

_SETS = {2: "matched pair", 4: "matched quartet"}
ONCE_EXCHANGED = "once the difference goes with the valve when two are exchanged"


def asked_needs(circuit: Circuit, window: tuple[float, float] = WINDOW) -> Iterator[Need]:
    """A matched set of each type in the circuit, because it was asked for.

    Parameters
    ----------
    circuit : Circuit
        As drawn.
    window : (float, float)
        Plate dissipation wanted, as shares of the limit. [1]
    """
    for valve in _one_of_each(circuit):
        told = must_draw(circuit, valve, window)
        why = Reason(f"asked for{f'; {told}' if told else ''}", PRACTICE)
        yield set_of(circuit, valve, why)


def measured_needs(circuit: Circuit, found: Sequence[Sample]) -> Iterator[Need]:
    """A matched set of a type of which valves were measured to be far off, or unlike.

    Parameters
    ----------
    circuit : Circuit
        As drawn.
    found : sequence of Sample
        The valves that were measured, beside an average one.
    """
    for valve in _one_of_each(circuit):
        names = _alike(circuit, valve)
        own = [sample for sample in found if sample.name in names]
        far = [sample for sample in own if sample.is_far]
        if far:
            told = listed([f"{s.name} draws {s.ratio:.2f} times what an average one does"
                           for s in far])  # fmt: skip
            yield set_of(circuit, valve, Reason(f"{told}: one sample of twenty is so far off",
                                                "the readings"), ONCE_EXCHANGED)  # fmt: skip
            continue
        matched = matching(own)
        if matched is not None and not matched.matched:
            told = (f"{listed([s.name for s in own])} differ by "
                    f"{show(matched.spread, Dimension.AMPERE)} at one grid voltage; "
                    f"{show(matched.allowed, Dimension.AMPERE)} are acceptable")  # fmt: skip
            yield set_of(circuit, valve, Reason(told, PRACTICE), ONCE_EXCHANGED)


def set_of(circuit: Circuit, valve: Valve, why: Reason, condition: str = "") -> Need:
    """All valves of the type of one, matched."""
    names = _alike(circuit, valve)
    kind = lookup(valve.type, circuit.own_types)
    name = valve.type if kind is None else kind.name
    how = _SETS.get(len(names), f"matched set of {len(names)}") if len(names) > 1 else ""
    bought = Purchase("valve", type=f"{name}, {how}" if how else name)
    return Need(listed(names), bought, why, condition, len(names))


def must_draw(circuit: Circuit, valve: Valve, window: tuple[float, float]) -> str:
    """What a valve must draw in this place; empty where its volts or limits are not known."""
    kind = lookup(valve.type, circuit.own_types)
    if kind is None or valve.v_plate is None:
        return ""
    stage = Stage(kind, valve.v_plate, valve.v_screen, r_cathode=valve.r_cathode, window=window)
    try:
        low, high = (target(stage, share).i_cathode.nominal for share in window)
    except ValueError:  # the cathode resistor leaves too few volts
        return ""
    limit = show_part(stage.limits.p_plate, Dimension.WATT)
    share = f"{window[0] * 100:g} to {window[1] * 100:g} % of {limit}"
    return (f"at {show_part(valve.v_plate, Dimension.VOLT)} on the plate each must be able to "
            f"draw {low * 1e3:.0f} to {high * 1e3:.0f} mA at the cathode, {share}")  # fmt: skip


def _one_of_each(circuit: Circuit) -> list[Valve]:
    first: dict[str, Valve] = {}
    for valve in circuit.of(Valve):
        first.setdefault(valve.type.upper(), valve)
    return list(first.values())


def _alike(circuit: Circuit, valve: Valve) -> list[str]:
    return [v.name for v in circuit.of(Valve) if v.type.upper() == valve.type.upper()]
