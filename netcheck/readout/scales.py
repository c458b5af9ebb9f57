"""Scales on which readings are compared, and the errors that are their own.

Volts are compared as they are; what spans decades as a logarithm, with something added where
small values blur.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..engine.elements import GROUND, Floats
from ..netlist import Valve
from ..readings import (
    DIODE_TEST,
    OVERLOAD,
    SOLDERED_IN,
    WITH_OVERLOAD,
    Function,
    Kind,
    Reading,
    function_of,
)
from .model import SectionModel

R_ADDED = 10.0
"""Ohms are compared as ln(R + this): contacts and leads blur what is less. [ohm]"""
R_OVERLOAD = 20e6
"""What a meter shows as OL where its ranges are not stated. [ohm]"""
V_OVERLOAD = 2.0
"""From here on a diode test shows OL; common practice. [V]"""
V_ADDED = 0.02
"""Volts of a diode test are compared as ln(V + this). [V]"""
I_ADDED = 50e-6
"""Currents are compared as ln(I + this): near cut-off a valve's curve says little. [A]"""
ESR_ADDED = 0.2
"""Series resistances are compared as ln(ESR + this). [ohm]"""
ALMOST = 0.9999
"""From this share of its largest range on a meter shows OL, after arithmetic. [1]"""
_OL_ERROR = 0.05  # of the resistance, or of the volts of a test, from which on it shows OL
_TEST_ERROR = 0.06  # of a junction's volts at a tenth of the current that its drop is stated at
_RIPPLE_ERROR = 0.08  # of the ripple by this path against a whole simulation
_FORM = 0.01  # an averaging meter on a mains that is not quite a sine
_V_ERROR = 0.01  # of mean volts by this path [V]
_UNSAFE = 3.0  # what is read so with capacitors not known to be discharged may be off by more


_ADDED = {
    **dict.fromkeys(DIODE_TEST, V_ADDED),
    **dict.fromkeys((Kind.OHMS, Kind.LIFTED), R_ADDED),
    Kind.ESR: ESR_ADDED,
    Kind.CURRENT: I_ADDED,
}


@dataclass(frozen=True, slots=True)
class Measured:
    """A reading as a number that predictions are compared with.

    Parameters
    ----------
    y : float
        The reading on its scale: volts as they are, what spans decades as a logarithm.
    sigma : float
        Its own standard deviation on that scale, what it shares with others left out.
    """

    y: float
    sigma: float


class Scales:
    """The scales of readings of one section.

    Parameters
    ----------
    model : SectionModel
        The section.
    """

    def __init__(self, model: SectionModel) -> None:
        self._model = model

    def measured(self, reading: Reading) -> Measured:
        """The reading on its scale, with the error that is its own."""
        nominal, kind = reading.nominal, reading.kind
        if nominal == OVERLOAD:
            return Measured(self.y(reading, OVERLOAD), _OL_ERROR)
        function = function_of(kind)
        limits = reading.meter.uncertainty(function, nominal, reading.last_digit)
        own = math.hypot(limits.gain * abs(nominal) * math.sqrt(0.5), limits.floor) / 2.0
        if kind is Kind.DC:
            return Measured(nominal, math.hypot(own, _V_ERROR))
        added = self.added(reading)
        sigma = own / max(abs(nominal) + added, 1e-12)
        if kind in {Kind.AC, Kind.RIPPLE}:
            sigma = math.hypot(sigma, _FORM if self._is_in_front(reading) else _RIPPLE_ERROR)
        if kind in DIODE_TEST:
            sigma = math.hypot(sigma, _TEST_ERROR * nominal / (nominal + added))
        if kind in SOLDERED_IN and not reading.state.discharged:
            sigma *= _UNSAFE
        return Measured(self.y(reading, nominal), sigma)

    def y(self, reading: Reading, value: float) -> float:
        """A value on the scale of a reading; `OVERLOAD` as where the meter shows OL."""
        if reading.kind is Kind.DC:
            return value
        value = overload(reading) if value == OVERLOAD else max(value, 0.0)
        if reading.kind in DIODE_TEST:
            value = min(value, V_OVERLOAD)
        return math.log(max(value + self.added(reading), 1e-15))

    def value(self, reading: Reading, y: float) -> float:
        """The value that a number on the scale of a reading stands for. [SI]"""
        return y if reading.kind is Kind.DC else max(math.exp(y) - self.added(reading), 0.0)

    def seen(self, reading: Reading, y: float) -> float:
        """The same as a meter shows it, `OVERLOAD` included. [SI]"""
        value = self.value(reading, y)
        is_ol = reading.kind in WITH_OVERLOAD and value >= ALMOST * overload(reading)
        return OVERLOAD if is_ol else value

    def _is_in_front(self, reading: Reading) -> bool:
        front, leads = self._model.front, map(self._model.section.at, (reading.plus, reading.minus))
        return front is not None and front_output(front.index, *leads) is not None

    def added(self, reading: Reading) -> float:
        """What is added to a reading before its logarithm is taken. [SI]"""
        kind = reading.kind
        if kind in _ADDED:
            return _ADDED[kind]
        if kind is Kind.CATHODE:
            return I_ADDED * self.r_cathode(reading)
        if kind in {Kind.AC, Kind.RIPPLE}:
            return max(reading.meter.uncertainty(Function.AC_VOLTS, 0.0, reading.last_digit).floor,
                       2e-3)  # fmt: skip
        return 0.0

    def r_cathode(self, reading: Reading) -> float:
        """The resistor across which a cathode current is read. [ohm]"""
        valve = self._model.section.circuit.part(reading.part)
        return valve.r_cathode if isinstance(valve, Valve) and valve.r_cathode else 1.0

    def share(self, reading: Reading, y: Floats) -> Floats:
        """How a proportional error shows on a logarithmic scale."""
        return 1.0 - self.added(reading) * np.exp(-y) if self.added(reading) else np.ones_like(y)


def front_output(index: Mapping[tuple[str, str, str], int], plus: str, minus: str) -> int | None:
    """Which output of the front an alternating voltage between two nodes is."""
    if minus == GROUND:
        minus = ""
    for a, b in ((plus, minus), (minus, plus)):
        for b_ in (b, GROUND) if b == "" else (b,):
            if ("ac", a, b_) in index:
                return index["ac", a, b_]
    return None


def overload(reading: Reading) -> float:
    """What the meter shows as OL. [ohm], of a diode test [V]"""
    if reading.kind in DIODE_TEST:
        return V_OVERLOAD
    ranges = reading.meter.on(Function.OHMS).ranges
    return max(ranges[-1].full, 1e3) if ranges else R_OVERLOAD
