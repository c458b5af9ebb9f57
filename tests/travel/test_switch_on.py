"""How the bias comes up, against the exponential of a resistor and a capacitor."""

from __future__ import annotations

import math

import pytest

from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.parse import parse_circuit
from netcheck.predictor import Predictor
from netcheck.source import Source
from netcheck.switchon import LONGEST, SwitchOn, switch_on

SUPPLY = """\
mains 230 V 50 Hz
supply S1 plus ground minus raw 60 V source 1 ohm
resistor R1 from raw to sweep {r1}
resistor R3 from sweep to ground 33k
capacitor C1 plus ground minus sweep 100 uF
resistor R4 from sweep to grid1 220k
valve V1 EL34 grid grid1
resistor R5 from raw to grid2 220k
valve V2 EL34 grid grid2
"""


def rise(text: str, service: Service) -> SwitchOn | None:
    circuit, findings = parse_circuit(Source("circuit", text))
    assert circuit is not None, findings
    predictor = Predictor(Section(circuit), service)
    values = predictor.values()
    mean = predictor.whole(values).mean
    return switch_on(predictor, values, {node: mean[node] for node in ("grid1", "grid2")})


def test_ninety_percent_of_an_exponential(service: Service) -> None:
    """Theory: ln(10) time constants; 22k and 33k in parallel with 100 uF. A step is 1/60 period."""
    found = rise(SUPPLY.format(r1="22k"), service)
    assert found is not None
    constant = 1.0 / (1.0 / (22e3 + 1.0) + 1.0 / 33e3) * 100e-6
    assert found.times["grid1"] == pytest.approx(math.log(10.0) * constant, rel=2e-3)


def test_what_has_no_capacitor_is_there_at_once(service: Service) -> None:
    found = rise(SUPPLY.format(r1="22k"), service)
    assert found is not None
    assert found.times["grid2"] == pytest.approx(0.0, abs=1e-3)


def test_what_takes_too_long_has_no_time(service: Service) -> None:
    found = rise(SUPPLY.format(r1="22k").replace("100 uF", "10000 uF"), service)
    assert found is not None
    assert math.log(10.0) * 13.2e3 * 10e-3 > LONGEST
    assert found.times["grid1"] is None
    assert found.times["grid2"] is not None


def test_without_mains_nothing_is_switched_on(service: Service) -> None:
    assert rise(SUPPLY.format(r1="22k").partition("\n")[2], service) is None
