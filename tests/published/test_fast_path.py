"""The fast path against ngspice: settled transients on every example, whole states at random.

ngspice is the truth. The fast path must be within 0.1 % or 20 mV of it, whichever is larger,
at every node behind the rectifiers.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from netcheck.engine.elements import Waveforms
from netcheck.engine.service import Service
from netcheck.engine.steady import stretches, transient
from netcheck.graph import Section
from netcheck.model import Values, elements
from netcheck.netlist import Pot, Resistor
from netcheck.parse import parse_circuit
from netcheck.predictor import Predictor
from netcheck.resources import folder
from netcheck.source import Source

from ..travel.random_sections import sections

CIRCUITS = sorted(folder("circuits").glob("*.bias"))
EVERY = pytest.mark.parametrize("path", CIRCUITS, ids=lambda path: path.stem)
PIECE = 25
"""Periods after which a transient is looked at. [count]"""
SETTLED = 0.5e-3
"""It has settled when no mean moved more than this from one piece to the next; with the
slowest time constant here, some 2 s, what is left to go is then 2 mV. [V]"""
LONGEST = 60.0
"""No example takes so long to settle. [s]"""


def predictor_of(text: str, service: Service) -> Predictor:
    circuit, findings = parse_circuit(Source("circuit", text))
    assert circuit is not None, findings
    return Predictor(Section(circuit), service)


def assert_agrees(predictor: Predictor, values: Values, true: dict[str, float]) -> None:
    """The fast path gives these mean voltages within what it may be off."""
    network, fast = predictor.network, predictor.means(values)
    assert network is not None
    for node in network.nodes:
        allowed = max(20e-3, 1e-3 * abs(true[node]))
        assert float(fast.at(node)[0]) == pytest.approx(true[node], abs=allowed), node


def settled_means(predictor: Predictor, values: Values) -> dict[str, float]:
    """Means of a plain transient from switching on, when it has come to rest. [V]"""
    circuit, frequency = elements(predictor.section.circuit, values), predictor.frequency
    if frequency is None:
        waves = transient(circuit, None, LONGEST, service=predictor.service)
        return {node: float(v[-1]) for node, v in waves.v.items()}
    before: dict[str, float] = {}
    for waves in stretches(circuit, frequency, LONGEST, service=predictor.service, cycles=PIECE):
        now = last_period(waves, 1.0 / frequency)
        if before and all(abs(now[node] - before[node]) < SETTLED for node in now):
            return now
        before = now
    raise AssertionError("the transient has not settled")


def last_period(waves: Waveforms, period: float) -> dict[str, float]:
    """Means over the last period. [V]"""
    begin = waves.t[-1] - period
    kept = waves.t > begin
    t = np.concatenate(([begin], waves.t[kept]))
    return {
        node: Waveforms(t, {}).mean(np.concatenate(([np.interp(begin, waves.t, v)], v[kept])))
        for node, v in waves.v.items()
    }


@EVERY
@pytest.mark.parametrize("travel", [0.0, 0.5, 1.0])
def test_examples_agree_with_settled_transients(
    path: Path, travel: float, service: Service
) -> None:
    predictor = predictor_of(path.read_text(encoding="utf-8"), service)
    values = predictor.values(travel)
    assert_agrees(predictor, values, settled_means(predictor, values))


@EVERY
def test_examples_with_one_wrong_resistor(path: Path, service: Service) -> None:
    """A decimal place misread, a resistor doubled, one that is all but open."""
    predictor = predictor_of(path.read_text(encoding="utf-8"), service)
    cut = predictor.section.cut
    assert cut is not None
    drawn = predictor.values()
    states = [
        drawn | {part.name: part.r * factor}
        for part in predictor.section.circuit.of(Resistor)
        for factor in (0.1, 2.0, 10.0, 200.0)
        if part.name not in cut.front
    ]
    for values, whole in zip(states, predictor.wholes([(v, ()) for v in states]), strict=True):
        if whole.state.converged:
            assert_agrees(predictor, values, dict(whole.mean))


@EVERY
def test_examples_with_all_values_off(path: Path, service: Service) -> None:
    """Every resistance behind the port off by up to a factor of three, pots anywhere."""
    predictor = predictor_of(path.read_text(encoding="utf-8"), service)
    for seed in range(4):
        values = changed_at_random(predictor, seed)
        assert_agrees(predictor, values, dict(predictor.whole(values).mean))


def changed_at_random(predictor: Predictor, seed: int) -> Values:
    random = np.random.default_rng(seed)
    values = dict(predictor.values())
    cut = predictor.section.cut
    assert cut is not None
    for part in predictor.section.circuit.parts:
        if isinstance(part, Resistor) and part.name not in cut.front:
            values[part.name] = part.r * math.exp(random.uniform(-1.1, 1.1))
        if isinstance(part, Pot):
            values[part.name] = part.r * math.exp(random.uniform(-0.3, 0.3))
            values[f"{part.name}.travel"] = random.uniform()
    return values


@settings(max_examples=45, deadline=None, derandomize=True,
          suppress_health_check=[HealthCheck.function_scoped_fixture])  # fmt: skip
@given(text=sections(), travel=st.floats(0.0, 1.0), seed=st.integers(0, 1000))
def test_random_circuits(text: str, travel: float, seed: int, service: Service) -> None:
    """As drawn with the pot anywhere, and with a resistor a third to ten times of what it was."""
    predictor = predictor_of(text, service)
    cut = predictor.section.cut
    assert cut is not None
    drawn = predictor.values(travel)
    random = np.random.default_rng(seed)
    behind = [r for r in predictor.section.circuit.of(Resistor) if r.name not in cut.front]
    wrong = behind[random.integers(len(behind))]
    for values in (drawn, drawn | {wrong.name: wrong.r * 10 ** random.uniform(-0.5, 1.0)}):
        assert_agrees(predictor, values, dict(predictor.whole(values).mean))


@settings(max_examples=6, deadline=None, derandomize=True,
          suppress_health_check=[HealthCheck.function_scoped_fixture])  # fmt: skip
@given(text=sections(), travel=st.floats(0.0, 1.0))
def test_random_circuits_agree_with_settled_transients(
    text: str, travel: float, service: Service
) -> None:
    predictor = predictor_of(text, service)
    values = predictor.values(travel)
    assert_agrees(predictor, values, settled_means(predictor, values))


def test_a_batch_is_what_its_states_are_one_by_one(service: Service) -> None:
    """A wiper that leads the smoothing capacitor to the reservoir: some rows need a curve."""
    text = """\
mains 230 V 50 Hz
winding T1 from ground to tap 15 Vac source 18 ohm
diode D1 anode raw cathode tap 1000 V
capacitor C1 plus ground minus raw 8 uF
pot RV1 top raw wiper arm bottom open 4k7 linear
resistor R3 from arm to ground 18k
capacitor C3 plus ground minus arm 10 uF
resistor R4 from arm to grid1 270k
valve V1 EL34 grid grid1
"""
    predictor = predictor_of(text, service)
    travel = np.linspace(0.0, 1.0, 9)
    batch = predictor.means(predictor.values() | {"RV1.travel": travel}).at("grid1")
    whole = [predictor.whole(predictor.values(float(at))).mean["grid1"] for at in travel]
    assert batch == pytest.approx(np.array(whole), abs=20e-3)
    alone = [float(predictor.means(predictor.values(float(at))).at("grid1")[0]) for at in travel]
    # A curve may serve a row that it was not traced for, as long as no one notices.
    assert batch == pytest.approx(np.array(alone), abs=20e-3)
    assert np.ptp(np.array(whole)) > 1.0, "the pot must do something"


def test_a_section_that_cannot_be_cut_is_simulated_whole(service: Service) -> None:
    """A clamp diode at the grid: the same answer, without a fast path."""
    text = (folder("circuits") / "two-6v6gt-foot.bias").read_text(encoding="utf-8")
    plain = predictor_of(text, service)
    clamped = predictor_of(text + "diode D9 anode grid1 cathode ground 100 V\n", service)
    assert clamped.network is None
    # The diode blocks some 35 V; its saturation current through 68k is a fifth of a millivolt.
    values = clamped.values(0.5)
    free = plain.whole(plain.values(0.5)).mean["grid1"]
    assert float(clamped.means(values).at("grid1")[0]) == pytest.approx(free, abs=5e-3)
