"""The fast path against ngspice: settled transients on every example, whole states at random.

ngspice is the truth. The fast path must be within 0.1 % or 20 mV of it, whichever is larger.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Literal

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from netcheck.engine.service import Service
from netcheck.engine.steady import transient
from netcheck.graph import Section
from netcheck.model import Values, elements
from netcheck.netlist import Pot, Resistor
from netcheck.parse import parse_circuit
from netcheck.predictor import Predictor
from netcheck.resources import folder
from netcheck.source import Source

CIRCUITS = sorted(folder("circuits").glob("*.bias"))
DURATIONS = (4.0, 24.0, 96.0)
"""A transient is run for longer and longer, until it has settled. [s]"""
SETTLED = 1e-3
"""It has when its mean moves less than this in the last second. [V]"""


def section_of(text: str) -> Section:
    circuit, findings = parse_circuit(Source("circuit", text))
    assert circuit is not None, findings
    return Section(circuit)


def allowed(v: float) -> float:
    """How far the fast path may be off. [V]"""
    return max(20e-3, 1e-3 * abs(v))


def settled_means(
    section: Section, predictor: Predictor, values: Values, service: Service
) -> dict[str, float]:
    """Means of the last period of a transient that has come to rest. [V]"""
    circuit = elements(section.circuit, values)
    frequency = predictor.frequency
    record: Literal["all", "means"] = "all" if frequency is None else "means"
    for duration in DURATIONS:
        waves = transient(circuit, frequency, duration, service=service, record=record)
        ends = {node: waves.v[section.joined[node]] for node in section.watched}
        second = int(np.searchsorted(waves.t, waves.t[-1] - 1.0))
        if all(abs(v[-1] - v[second]) < SETTLED for v in ends.values()):
            break
    return {node: float(v[-1]) for node, v in ends.items()}


@pytest.mark.parametrize("path", CIRCUITS, ids=lambda path: path.stem)
def test_the_fast_path_agrees_with_settled_transients(path: Path, service: Service) -> None:
    """Plain transients of ngspice, run until they have settled, at both ends and the middle."""
    section = section_of(path.read_text(encoding="utf-8"))
    predictor = Predictor(section, service)
    assert predictor.network is not None, "every example can be cut"
    for at in (0.0, 0.5, 1.0):
        values = predictor.values(at)
        fast = predictor.means(values)
        settled = settled_means(section, predictor, values, service)
        for node in section.watched:
            true = settled[node]
            stands = section.joined[node]
            assert float(fast.at(stands)[0]) == pytest.approx(true, abs=allowed(true))


def changed_at_random(predictor: Predictor, seed: int) -> Values:
    """A state with every resistance behind the port off by up to a factor of three."""
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


@pytest.mark.parametrize("path", CIRCUITS, ids=lambda path: path.stem)
def test_other_values_behind_the_port(path: Path, service: Service) -> None:
    predictor = Predictor(section_of(path.read_text(encoding="utf-8")), service)
    for seed in range(4):
        values = changed_at_random(predictor, seed)
        fast, whole = predictor.means(values), predictor.whole(values)
        for node in predictor.section.watched:
            true = whole.mean[node]
            got = float(fast.at(predictor.section.joined[node])[0])
            assert got == pytest.approx(true, abs=allowed(true)), seed


@st.composite
def ladders(draw: st.DrawFn) -> str:
    """A random bias supply: winding, dropper, diode, reservoir, ladder, pot, loads."""

    def ohms(low: float, high: float) -> str:
        return f"{10 ** draw(st.floats(math.log10(low), math.log10(high))):.0f} ohm"

    lines = [
        f"mains 230 V {draw(st.sampled_from([50, 60]))} Hz",
        f"winding T1 from ground to tap {draw(st.integers(15, 120))} Vac source {ohms(5, 300)}",
        f"resistor R1 from tap to feed {ohms(10, 2000)}",
        "diode D1 anode raw cathode feed 1000 V",
        f"capacitor C1 plus ground minus raw {draw(st.integers(8, 220))} uF",
    ]
    top = "raw"
    if draw(st.booleans()):
        lines += [f"resistor R2 from raw to head {ohms(500, 30e3)}"]
        top = "head"
        if draw(st.booleans()):
            lines += [f"capacitor C2 plus ground minus head {draw(st.integers(1, 100))} uF"]
    bottom = "ground"
    if draw(st.booleans()):
        lines += [f"resistor R3 from foot to ground {ohms(1e3, 60e3)}"]
        bottom = "foot"
    taper = draw(st.sampled_from(["linear", "audio", "reverse audio"]))
    side = draw(st.sampled_from(["top", "bottom"]))
    wiper = draw(st.sampled_from(["sweep", top])) if bottom == "foot" else "sweep"
    lines += [
        f"pot RV1 top {top} wiper {wiper} bottom {bottom} {ohms(2e3, 60e3)} {taper} clockwise {side}"
    ]
    line = "foot" if wiper != "sweep" else "sweep"
    if draw(st.booleans()):
        lines += [f"capacitor C3 plus ground minus {line} {draw(st.integers(1, 50))} uF"]
    if draw(st.booleans()):
        lines += [f"resistor R6 from {line} to ground {ohms(20e3, 1e6)}"]
    lines += [f"resistor R4 from {line} to grid1 {ohms(10e3, 220e3)}", "valve V1 EL34 grid grid1"]
    return "\n".join(lines) + "\n"


@settings(max_examples=40, deadline=None, derandomize=True,
          suppress_health_check=[HealthCheck.function_scoped_fixture])  # fmt: skip
@given(text=ladders(), travel=st.floats(0.0, 1.0))
def test_random_circuits(text: str, travel: float, service: Service) -> None:
    section = section_of(text)
    predictor = Predictor(section, service)
    assert predictor.network is not None
    values = predictor.values(travel)
    true = predictor.whole(values).mean["grid1"]
    fast = float(predictor.means(values).at("grid1")[0])
    assert fast == pytest.approx(true, abs=allowed(true))


def test_a_section_that_cannot_be_cut_is_simulated_whole(service: Service) -> None:
    """A clamp diode at the grid: the same answer, without a fast path."""
    plain = section_of((folder("circuits") / "two-6v6gt-foot.bias").read_text(encoding="utf-8"))
    text = plain.circuit.source.text + "diode D9 anode grid1 cathode ground 100 V\n"
    clamped = Predictor(section_of(text), service)
    assert clamped.network is None
    # The diode blocks some 35 V; its saturation current through 68k is a few millivolts.
    values = clamped.values(0.5)
    free = Predictor(plain, service).whole(values).mean["grid1"]
    assert float(clamped.means(values).at("grid1")[0]) == pytest.approx(free, abs=20e-3)
