"""What readings ask for: parts measured alone, and what the diagnosis names."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..assumed import tolerance
from ..diagnose.diagnosis import Diagnosis, Verdict
from ..diagnose.suspects import Suspect
from ..diagnose.words import listed, suspect_name, suspect_words
from ..netlist import Capacitor, Circuit, Part, Pot, Resistor, Valve
from ..quantity import Dimension, show, show_part
from ..readings import OVERLOAD, Kind, Reading, function_of
from .bearing import Bearing
from .needs import PRACTICE, Need, Reason
from .purchase import replacement
from .valves import set_of

READINGS = "the readings"
ONCE_FOUND = "once it is found to be the one"
_STRAP = " across the "  # in what explains a value that is too low
ESR_MOST = 5.0
"""An electrolytic with more series resistance has dried out; common practice. [ohm]"""


def alone_needs(circuit: Circuit, readings: Sequence[Reading], bearing: Bearing) -> Iterator[Need]:
    """Parts that were measured with one leg lifted, and are out of their tolerance.

    Parameters
    ----------
    circuit : Circuit
        As drawn.
    readings : sequence of Reading
        Of one stage.
    bearing : Bearing
        What the parts have to bear.
    """
    for reading in readings:
        part = circuit.part(reading.part) if reading.part else None
        told = None if part is None else _drifted(part, reading)
        bought = None if part is None or told is None else replacement(part, bearing)
        if part is not None and told is not None and bought is not None:
            yield Need(part.name, bought, told)


def _drifted(part: Part, reading: Reading) -> Reason | None:
    """Why a part that was measured alone is replaced; None if it is within its tolerance."""
    if isinstance(part, Resistor | Pot) and reading.kind is Kind.LIFTED:
        return _off(part.r, Dimension.OHM, tolerance(part), reading)
    if not isinstance(part, Capacitor):
        return None
    if reading.kind is Kind.CAPACITANCE:
        # More than marked is no fault: old electrolytics were made so.
        found = _off(part.c, Dimension.FARAD, tolerance(part), reading)
        return found if reading.nominal < part.c else None
    if reading.kind is Kind.ESR and part.polarised and reading.nominal > ESR_MOST:
        esr = "OL" if reading.nominal == OVERLOAD else show(reading.nominal, Dimension.OHM)
        return Reason(f"has a series resistance of {esr}: it has dried out", PRACTICE)
    return None


def _off(nominal: float, dimension: Dimension, tolerance: float, reading: Reading
         ) -> Reason | None:  # fmt: skip
    drawn = show_part(nominal, dimension)
    if reading.nominal == OVERLOAD:
        return Reason(f"was measured alone and is open; {drawn} is drawn", READINGS)
    limits = reading.meter.uncertainty(
        function_of(reading.kind), reading.nominal, reading.last_digit)  # fmt: skip
    error = limits.gain * abs(reading.nominal) + limits.floor
    if abs(reading.nominal - nominal) <= tolerance * nominal + error:
        return None
    off = reading.nominal / nominal - 1.0
    measured = show(reading.nominal, dimension)
    return Reason(f"measures {measured} alone where {drawn} is drawn: {off * 100:+.0f} %, beyond "
                  f"its {tolerance * 100:g} %", READINGS)  # fmt: skip


def diagnosed_needs(circuit: Circuit, found: Diagnosis, bearing: Bearing) -> Iterator[Need]:
    """The part that the diagnosis names, or each that it leaves.

    Parameters
    ----------
    circuit : Circuit
        As drawn.
    found : Diagnosis
        The diagnosis.
    bearing : Bearing
        What the parts have to bear.
    """
    if found.verdict not in (Verdict.NAMED, Verdict.GROUP):
        return
    for suspect in found.group:
        if suspect.mode.hypothesis.reading is not None:
            continue
        for name in suspect.parts:
            part = circuit.part(name)
            condition = "" if name in found.common else ONCE_FOUND
            why = Reason(_words(found, suspect).removeprefix(f"{name} "), "the diagnosis")
            if isinstance(part, Valve):
                yield set_of(circuit, part, why, condition)
            elif part is not None:
                bought = replacement(part, bearing)
                if bought is not None:
                    yield Need(name, bought, why, condition)


def _words(found: Diagnosis, suspect: Suspect) -> str:
    readout = found.readout
    return suspect_words(readout.model.section, suspect, readout.readings)


def diagnosed_remarks(circuit: Circuit, found: Diagnosis, bearing: Bearing) -> Iterator[str]:
    """What the diagnosis says beside parts to order."""
    names = [suspect_name(s, found.readout.readings) for s in found.group if s.parts]
    if found.verdict is Verdict.UNDETERMINED:
        yield (f"The readings do not tell whether {listed(names, 'or')} is at fault, or nothing: "
               "read more before a part is ordered for that.")  # fmt: skip
    if found.verdict is Verdict.NONE_FITS:
        yield "Nothing that is thought of explains the readings: no part is ordered for that."
    if found.verdict not in (Verdict.NAMED, Verdict.GROUP):
        return
    for suspect in found.group:
        parts = [circuit.part(name) for name in suspect.parts]
        known = [p for p in parts if p is not None]
        if suspect.explanations and _STRAP in suspect.explanations[0].text:
            yield (f"{suspect.label}: look for a resistor across it before it is replaced: to take "
                   "that off costs nothing.")  # fmt: skip
        if any(isinstance(p, Valve) or replacement(p, bearing) for p in known):
            continue
        name = suspect_name(suspect, found.readout.readings)
        yield f"Suspected, and nothing to buy over the counter: {name}; {_words(found, suspect)}."
