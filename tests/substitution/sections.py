"""Small circuits to put a substitution box to, and what is done to them."""

from __future__ import annotations

import math

import numpy as np

from netcheck.commands.common import load
from netcheck.engine.elements import Floats
from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.parse import parse_circuit
from netcheck.predictor import Predictor
from netcheck.preferred import Series
from netcheck.source import Source
from netcheck.substitution import Asked, Setting, Substitution, Way, knob_for, substitute

DIVIDER = """\
circuit "A divider on a supply"
supply S1 plus ground minus raw 42 V source 100 ohm
resistor R1 from raw to head 15k
pot RV1 top head wiper sweep bottom foot 10k clockwise bottom
resistor R2 from foot to ground 27k
resistor R3 from sweep to grid1 68k
resistor R4 from sweep to grid2 68k
valve V1 6V6GTA grid grid1 plate 345 V screen 310 V
valve V2 6V6GTA grid grid2 plate 345 V screen 310 V
"""

FIXED = """\
circuit "No pot"
supply S1 plus ground minus raw 42 V source 100 ohm
resistor R1 from raw to bias 15k
resistor R2 from bias to ground 27k
resistor R3 from bias to grid1 220k
valve V1 6V6GTA grid grid1 plate 345 V screen 310 V
"""


def predictor_of(text: str, service: Service, changes: dict[str, float] | None = None) -> Predictor:
    """Of a text without errors."""
    circuit, findings = parse_circuit(Source("test.bias", text))
    assert circuit is not None, findings
    return Predictor(Section(circuit), service, changes)


def example(name: str, service: Service, changes: dict[str, float] | None = None) -> Predictor:
    """Of an example circuit."""
    return Predictor(Section(load(name)), service, changes)


def turn(predictor: Predictor, part: str, way: Way | None = None, low: str | None = None,
         high: str | None = None, series: Series | None = None, steps: int | None = None,
         ) -> Substitution:  # fmt: skip
    """Turn a box."""
    asked = Asked(way, low, high, series, steps)
    return substitute(predictor, knob_for(predictor, part, asked))


def at_value(s: Substitution, value: float | None) -> Setting:
    """The setting of a value."""
    (found,) = [one for one in s.settings if _is(one.values[0], value)]
    return found


def _is(found: float | None, value: float | None) -> bool:
    if found is None or value is None:
        return found is value
    return math.isclose(found, value, rel_tol=1e-9)


def plate_shares(one: Setting) -> Floats:
    """Dissipation of the first valve over the travel, as shares of the limit."""
    assert one.valves is not None
    valve = one.valves.valves[0]
    return np.asarray(valve.idle.p_plate / valve.limit)


def grids(s: Substitution, position: int = -1) -> Floats:
    """Volts of the first grid at one position of the travel, over the values."""
    return np.array([one.mean[position, 0] for one in s.settings])
