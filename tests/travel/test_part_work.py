"""What each part does, by hand."""

from __future__ import annotations

import pytest

from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.parse import parse_circuit
from netcheck.partwork import PartWork, largest, part_work
from netcheck.predictor import Operating, Predictor
from netcheck.source import Source

from .test_tracing import HALF_WAVE, LADDER


def worked(text: str, service: Service) -> tuple[dict[str, PartWork], Operating]:
    circuit, findings = parse_circuit(Source("circuit", text))
    assert circuit is not None, findings
    predictor = Predictor(Section(circuit), service)
    values = predictor.values(0.5)
    whole = predictor.whole(values)
    return part_work(circuit, values, whole.state.waves), whole


def test_a_zener_and_its_resistor(service: Service) -> None:
    """I = (60 V - V_z) / 1k, less the load's; P = V I. 20 V at 10 mA, and 10 ohm more."""
    work, whole = worked(
        "supply S1 plus ground minus raw 60 V\n"
        "resistor R1 from raw to head 1k\n"
        "zener Z1 anode head cathode ground 47 V resistance 10 ohm\n"
        "resistor R2 from head to grid1 220k\nvalve V1 EL34 grid grid1\n", service)  # fmt: skip
    v = -whole.mean["head"]
    i = (60.0 - v) / 1e3
    # The drop of a zener is stated at 10 mA: 3 mA more through 10 ohm, and a little of a diode's.
    assert v == pytest.approx(47.0 + 10.0 * i, abs=0.05)
    # The supply is never without some resistance: 1 mohm of 1k.
    assert work["Z1"].i_mean == pytest.approx(i, rel=1e-5)
    assert work["Z1"].power == pytest.approx(v * i, rel=1e-5)
    assert work["R1"].power == pytest.approx(i * i * 1e3, rel=1e-5)


def test_currents_and_volts_of_a_half_wave_supply(service: Service) -> None:
    """Mean currents by Kirchhoff; the diode stands twice the peak, as every handbook says."""
    work, whole = worked(HALF_WAVE + LADDER, service)
    i_load = -whole.mean["head"] / (10e3 + 27e3)
    assert abs(work["R2"].i_mean) == pytest.approx(i_load, rel=1e-4)
    assert abs(work["RV1"].i_mean) == pytest.approx(i_load, rel=1e-4)
    assert work["R3"].power == pytest.approx(i_load**2 * 27e3, rel=1e-3)
    # Integrated over pulses with a 200th of a period as the longest step.
    assert work["D1"].i_mean == pytest.approx(i_load, rel=2e-3)
    assert abs(work["T1"].i_mean) == pytest.approx(i_load, rel=2e-3)
    # Pulses: the root mean square is well above the mean, and warms the copper.
    assert work["T1"].i_rms > 2.0 * i_load
    assert work["T1"].power == pytest.approx(work["T1"].i_rms ** 2 * 60.0, rel=1e-9)
    peak = 48.0 * 2.0**0.5
    assert work["D1"].v_high == pytest.approx(peak - whole.mean["raw"], rel=0.01)
    assert work["C1"].i_mean == 0.0
    assert work["C1"].v_high == pytest.approx(-whole.mean["raw"], rel=0.02)


def test_power_is_conserved(service: Service) -> None:
    """Mean power out of winding's emf = mean power into everything else; Tellegen's theorem."""
    work, whole = worked(HALF_WAVE + LADDER, service)
    waves = whole.state.waves
    emf = waves.v["T1 emf 0"]
    delivered = waves.mean(emf * (emf - waves.v["tap"]) / 60.0)
    spent = sum(w.power for w in work.values())
    assert spent == pytest.approx(delivered, rel=5e-3)


def test_the_largest_of_several_states() -> None:
    one = {"R1": PartWork(-2.0, 3.0, 4.0, 5.0, -6.0)}
    other = {"R1": PartWork(1.0, 5.0, 3.0, 2.0, -7.0)}
    assert largest([one, other]) == {"R1": PartWork(-2.0, 5.0, 4.0, 5.0, -7.0)}
