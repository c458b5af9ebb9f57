"""Readings that cannot be right, or that tell less than they seem to."""

from __future__ import annotations

from collections.abc import Iterator

from ..finding import Finding, Severity
from ..graph import Section
from ..netlist import Pot, Resistor, Valve
from ..polarity import MeanNetwork, Sign
from ..quantity import Dimension, show, show_part
from ..readings import OVERLOAD, Function, Kind, Reading, Sheet, function_of
from ..topology import Topology
from ..valves import lookup
from .shown import as_read, place_of

_WIPERS = (0.0, 0.5, 1.0)
"""Where the sign of a voltage must be the same, for it to be known. [1]"""

_SHARE = 0.02
"""Of the largest voltage: less is near ground, where a fault may turn it. [1]"""

_TINY = 0.5
"""A voltage this small is no sign of swapped leads. [V]"""

_TIMES_LIMIT = 4.0
"""Times the plate dissipation allowed: a valve would glow, and not live to be read. [1]"""

_LARGEST_RANGE = 20e6
"""Of ohms, where no range is stated: common practice for hand-held meters. [ohm]"""


def values(sheet: Sheet, section: Section) -> Iterator[Finding]:
    """Everything that is wrong with single readings.

    Parameters
    ----------
    sheet : Sheet
        With the nodes of its readings known.
    section : Section
        The circuit.
    """
    signs = _Signs(section)
    for reading in sheet.readings:
        yield from signs.findings(sheet, reading)
        yield from _cathode(sheet, reading, section)
        yield from _overload(sheet, reading, section)
    yield from _charged(sheet)


class _Signs:
    """Which voltages must be negative, and which positive, wherever the pots stand."""

    def __init__(self, section: Section) -> None:
        topology = Topology(section)
        pots = [pot.name for pot in section.circuit.of(Pot)]
        self._networks = [MeanNetwork(topology, dict.fromkeys(pots, at)) for at in _WIPERS]
        totals = [network.total(node) or 0.0 for network in self._networks
                  for node in section.circuit.nodes]  # fmt: skip
        self._largest = max(map(abs, totals), default=0.0)

    def _sign(self, plus: str, minus: str) -> Sign | None:
        """The sign that is sure, None where none is."""
        found = set()
        for network in self._networks:
            high, low = network.total(plus), network.total(minus)
            if high is None or low is None or abs(high - low) < _SHARE * self._largest:
                return None
            found.add(network.sign(plus, minus))
        return found.pop() if len(found) == 1 else None

    def findings(self, sheet: Sheet, reading: Reading) -> Iterator[Finding]:
        """A reading of the wrong sign."""
        if reading.kind is not Kind.DC or not self._largest:
            return
        limit = reading.meter.uncertainty(
            Function.DC_VOLTS, reading.nominal, reading.last_digit
        ).floor
        if abs(reading.nominal) <= max(_TINY, 3.0 * limit):
            return
        wanted = self._sign(reading.plus, reading.minus)
        is_wrong = (wanted is Sign.NEGATIVE and reading.nominal > 0.0) or (
            wanted is Sign.POSITIVE and reading.nominal < 0.0
        )
        if not is_wrong or wanted is None:
            return
        right = as_read(reading, negated=True)
        yield Finding("wrong-sign", Severity.WARNING, sheet.source, reading.span,
                      f"{_between(reading)} should be {wanted.value}: leads swapped?",
                      "with a rectifier that works it is so wherever the pots stand",
                      f"look again; if the sign was left out, write {right}")  # fmt: skip


def _between(reading: Reading) -> str:
    if reading.part:
        return f"the voltage across {reading.part} ({reading.plus} against {reading.minus})"
    return f"{reading.plus} against {reading.minus}"


def _cathode(sheet: Sheet, reading: Reading, section: Section) -> Iterator[Finding]:
    valve = section.circuit.part(reading.part) if reading.part else None
    if not isinstance(valve, Valve) or reading.kind not in (Kind.CATHODE, Kind.CURRENT):
        return
    across = valve.r_cathode if reading.kind is Kind.CATHODE else 1.0
    i_cathode = reading.nominal / across
    known = lookup(valve.type, section.circuit.own_types)
    if known is None or valve.v_plate is None:
        return
    p = i_cathode * valve.v_plate
    if p > _TIMES_LIMIT * known.limits.p_plate:
        yield Finding("absurd-current", Severity.WARNING, sheet.source, reading.span,
                      f"{show(i_cathode, Dimension.AMPERE)} in {valve.name} would be some "
                      f"{show(p, Dimension.WATT, 2)}",
                      f"a {known.name} is allowed {show(known.limits.p_plate, Dimension.WATT)} at "
                      "its plate",
                      "look for a slip of the decimal point or the unit")  # fmt: skip


def _overload(sheet: Sheet, reading: Reading, section: Section) -> Iterator[Finding]:
    part = section.circuit.part(reading.part) if reading.part else None
    if reading.nominal != OVERLOAD or not isinstance(part, Resistor | Pot):
        return
    ranges = reading.meter.on(function_of(reading.kind)).ranges
    largest = ranges[-1].full if ranges else _LARGEST_RANGE
    drawn = show_part(part.r)
    if part.r <= largest:
        # A note: where a part is open, this is the very finding of the job.
        yield Finding("overload", Severity.NOTE, sheet.source, reading.span,
                      f"{part.name} is drawn as {drawn}, and a range of {reading.meter.name} would "
                      "hold it",
                      "the part is open, a smaller range was selected, or a probe had no contact",
                      "read it again on a larger range; if OL stays, let it stand")  # fmt: skip
    elif reading.kind is Kind.LIFTED:  # in the circuit it may be less than drawn
        yield Finding("overload-expected", Severity.NOTE, sheet.source, reading.span,
                      f"OL tells nothing of {part.name}: it is drawn as {drawn}",
                      f"the largest range of {reading.meter.name} ends at {show_part(largest)}",
                      "take a meter with a larger range, if it matters")  # fmt: skip


def _charged(sheet: Sheet) -> Iterator[Finding]:
    reading = next((one for one in sheet.readings
                    if not one.state.live and not one.state.discharged), None)  # fmt: skip
    if reading is None:
        return
    span = place_of(sheet, reading, reading.part or reading.plus)
    yield Finding("not-discharged", Severity.NOTE, sheet.source, span,
                  "the sheet does not say that the capacitors were discharged",
                  "what is left in them upsets a meter on ohms, and may be lethal",
                  'if they were, and a meter said so, write "power off  discharged"')  # fmt: skip
