"""Ports as traced, against ngspice with the same load: where faults and odd circuits lead."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from netcheck.engine.elements import Element
from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.model import Values
from netcheck.parse import parse_circuit
from netcheck.predictor import Predictor
from netcheck.source import Source
from netcheck.tracing import LOADS, Simulated, curve_through, scaled, trace

HALF_WAVE = """\
mains 230 V 50 Hz
winding T1 from ground to tap 48 Vac source 60 ohm
diode D1 anode raw cathode tap 1000 V
capacitor C1 plus ground minus raw 47 uF
"""
LADDER = """\
resistor R2 from raw to head 4k7
pot RV1 10k top head wiper sweep bottom foot
resistor R3 from foot to ground 27k
capacitor C2 plus ground minus sweep 10 uF
resistor R4 from sweep to grid1 220k
valve V1 6V6GT grid grid1
"""
COUPLED = """\
mains 230 V 50 Hz
winding T1 from ground to ht 320 Vac source 140 ohm
capacitor C8 from ht to couple 47 nF
resistor R1 from couple to pump 1k
diode D1 anode pump cathode ground 1000 V
diode D2 anode raw cathode pump 1000 V
capacitor C1 plus ground minus raw 47 uF
"""
DOUBLER = """\
mains 230 V 50 Hz
winding T1 from ground to ac 24 Vac source 1 ohm
capacitor C8 plus ac minus pump 100 uF
diode D1 anode pump cathode ground 1000 V
diode D2 anode raw cathode pump 1000 V
capacitor C1 plus ground minus raw 100 uF
"""
ZENER = LADDER + "zener Z1 anode head cathode ground 55 V\n"
SECOND = """\
winding T2 from ground to tb 30 Vac source 40 ohm
diode D2 anode rb cathode tb 1000 V
capacitor C3 plus ground minus rb 22 uF
pot RV2 10k top rb wiper g2 bottom ground
valve V2 6V6GT grid g2
"""


def predictor_of(text: str, service: Service, **changes: float) -> Predictor:
    circuit, findings = parse_circuit(Source("circuit", text))
    assert circuit is not None, findings
    named = {name.replace("__", "."): value for name, value in changes.items()}
    return Predictor(Section(circuit), service, named)


def assert_agrees(predictor: Predictor, values: Values) -> None:
    """Within 0.1 % or 20 mV of ngspice, everywhere behind the rectifiers."""
    fast, whole = predictor.means(values), predictor.whole(values)
    for node in fast.nodes:
        true = whole.mean[node]
        allowed = max(20e-3, 1e-3 * abs(true))
        assert float(fast.at(node)[0]) == pytest.approx(true, abs=allowed), node


@pytest.mark.parametrize(
    "text",
    [HALF_WAVE + LADDER, COUPLED + LADDER, DOUBLER + LADDER, HALF_WAVE + ZENER],
    ids=["half-wave", "coupled", "doubler", "zener"],
)
def test_between_the_points(text: str, service: Service) -> None:
    """From a twentieth to ten times the load drawn: 0.05 %, half of what a prediction may err."""
    predictor = predictor_of(text, service)
    (curve,) = (c for c in predictor.trace(predictor.values()).values() if c.i.size > 2)
    between = np.sqrt(np.array(LOADS[1:]) * np.array(LOADS[:-1]))
    shares = [float(share) for share in between if 0.05 <= share <= 10.0]
    (truth,) = (c for c in predictor.trace(predictor.values(), shares, refine=False).values()
                if c.i.size > 2)  # fmt: skip
    flows = truth.i != 0.0
    g = truth.i[flows] / truth.v[flows]
    met, _ = curve.meet(np.zeros_like(g), g)
    assert met == pytest.approx(truth.v[flows], rel=5e-4)


def test_states_traced_together_are_those_traced_alone(service: Service) -> None:
    """But for where each search begins: ten times the share within which a state is found."""
    predictor = predictor_of(HALF_WAVE + LADDER, service)
    states = [predictor.values() | {"T1": v} for v in (40.0, 48.0, 60.0)]
    for state, together in zip(states, predictor.traces(states), strict=True):
        alone = predictor_of(HALF_WAVE + LADDER, service).trace(state)["raw"]
        assert together["raw"].i == pytest.approx(alone.i, rel=1e-4)
        assert together["raw"].v == pytest.approx(alone.v, rel=1e-4)


def test_a_point_that_still_moves_is_left_out(service: Service) -> None:
    """Whatever it shows; that of the state itself is needed. Fewer points say the same within
    0.1 %, as much as a prediction may err."""
    predictor = predictor_of(HALF_WAVE + LADDER, service)
    assert predictor.network is not None

    def simulate(states: Sequence[tuple[Values, Sequence[Element]]]) -> list[Simulated]:
        answers = [answer.mean for answer in predictor.wholes(states)]
        return [(mean, True) if k % 3 else ({node: 3.0 * v for node, v in mean.items()}, False)
                for k, mean in enumerate(answers, start=1)]  # fmt: skip

    whole = predictor.trace(predictor.values())["raw"]
    section, network, values = predictor.section, predictor.network, predictor.values()
    spoilt = trace(section, network, simulate, values, refine=False)["raw"]
    at = spoilt.i[spoilt.i != 0.0]
    assert 4 <= at.size < whole.i.size
    assert spoilt.at(at)[0] == pytest.approx(whole.at(at)[0], rel=1e-3)


@pytest.mark.parametrize("r", [2e3, 20e3, 1e6, 1e9])
@pytest.mark.parametrize("supply", [HALF_WAVE, COUPLED], ids=["half-wave", "coupled"])
def test_heavy_and_very_light_loads(supply: str, r: float, service: Service) -> None:
    """From near a short circuit to next to nothing: traced with the 42k that are drawn."""
    predictor = predictor_of(supply + LADDER, service)
    values = predictor.values() | {"R2": r / 20.0, "R3": r}
    assert_agrees(predictor, values)


def test_currents_that_lie_far_apart() -> None:
    """From the lightest load to the next thirty times as much: a straight line to no current."""
    curve = curve_through([(1e-6, 61.0), (3e-5, 60.0), (1e-3, 55.0), (1e-2, 40.0)])
    assert np.all(np.isfinite(curve.v))
    assert 61.0 < curve.v[0] < 61.2


@pytest.mark.parametrize("at", [0.0, 0.02, 1.0])
def test_a_rheostat_across_the_supply(at: float, service: Service) -> None:
    """Turned to an end it loads some 25 times as heavily as in the middle, where it is traced."""
    rheostat = "pot RV2 top ground wiper raw bottom ground 1800 ohm\n"
    predictor = predictor_of(HALF_WAVE + rheostat, service)
    assert_agrees(predictor, predictor.values(at))


def test_a_rectifier_of_the_other_polarity(service: Service) -> None:
    text = HALF_WAVE.replace("anode raw cathode tap", "anode tap cathode raw")
    predictor = predictor_of(
        text.replace("plus ground minus raw", "plus raw minus ground") + LADDER, service
    )
    assert_agrees(predictor, predictor.values(0.2))
    assert float(predictor.means(predictor.values()).at("grid1")[0]) > 30.0


def test_a_zener_that_drops_out(service: Service) -> None:
    """The curve has a knee where the load takes all that the resistor before it gives."""
    predictor = predictor_of(HALF_WAVE + ZENER, service)
    v = []
    for foot in (100e3, 27e3, 10e3, 5e3, 2e3):
        values = predictor.values() | {"R3": foot}
        assert_agrees(predictor, values)
        v.append(float(predictor.means(values).at("head")[0]))
    assert v[0] < -54.0
    assert v[-1] > -46.0


def test_a_zener_fed_by_a_supply_without_mains(service: Service) -> None:
    """The network drives the port; regulated as drawn, out of regulation with 47k before it."""
    predictor = predictor_of(
        "supply S1 plus ground minus raw 60 V\n" + ZENER.replace("55 V", "47 V"), service
    )
    assert predictor.frequency is None
    for r in (500.0, 2e3, 4.7e3, 20e3, 47e3):
        assert_agrees(predictor, predictor.values() | {"R2": r})


def test_a_rectifier_that_a_stronger_supply_blocks(service: Service) -> None:
    """Not drawn conducting, but some values make it conduct."""
    text = HALF_WAVE + LADDER + "supply S2 plus ground minus neg 90 V source 1k\n"
    predictor = predictor_of(text + "resistor R8 from neg to head 4k7\n", service)
    drawn = predictor.values()
    assert predictor.whole(drawn).mean["raw"] < -70.0, "48 Vac alone do not make this"
    for r in (1e3, 4.7e3, 22e3, 100e3, 1e6):
        assert_agrees(predictor, drawn | {"R8": r})


def test_two_rectifiers_and_what_leaks_between_them(service: Service) -> None:
    """A leaking capacitor joins two networks that are drawn apart."""
    text = HALF_WAVE + LADDER + SECOND + "capacitor C9 from raw to rb 100 nF\n"
    predictor = predictor_of(text, service)
    assert predictor.section.cut is not None
    assert set(predictor.section.cut.ports) == {"raw", "rb"}
    assert_agrees(predictor, predictor.values({"RV1": 0.2, "RV2": 0.7}))
    leaking = predictor_of(text, service, C9__leak=22e3)
    assert_agrees(leaking, leaking.values())


@pytest.mark.parametrize("leak", ["C1.leak", "C2.leak"])
def test_a_leak_that_is_not_drawn(leak: str, service: Service) -> None:
    """Asked for as a change, and as one state of many."""
    changed = predictor_of(HALF_WAVE + LADDER, service, **{leak.replace(".", "__"): 22e3})
    assert_agrees(changed, changed.values())
    plain = predictor_of(HALF_WAVE + LADDER, service)
    several = plain.means(plain.values() | {leak: np.array([22e3, 1e9])}).at("sweep")
    assert several[0] == pytest.approx(changed.whole(changed.values()).mean["sweep"], rel=1e-3)
    assert several[1] == pytest.approx(plain.whole(plain.values()).mean["sweep"], rel=1e-3)
    assert several[0] > several[1] + 1.0


def test_links_to_ground_and_between_nodes(service: Service) -> None:
    linked = LADDER.replace("resistor R3 from foot to ground 27k", "link W1 from foot to ground")
    bled = "link W2 from raw to test\nresistor R9 from test to ground 470k\n"
    predictor = predictor_of(HALF_WAVE + linked + bled, service)
    for travel in (0.0, 0.5, 1.0):
        assert_agrees(predictor, predictor.values(travel))


def test_lighter_loads_keep_their_time_constants(service: Service) -> None:
    """Theory of impedance scaling: resistances tenfold, capacitors a tenth; the front stays."""
    predictor = predictor_of(HALF_WAVE + LADDER, service)
    drawn = predictor.values()
    light = scaled(predictor.section, drawn, 0.1)
    for name in ("R2", "R3", "R4", "RV1", "RV1.end"):
        assert light[name] == pytest.approx(10.0 * drawn[name])
    assert light["C2"] == pytest.approx(0.1 * drawn["C2"])
    for name in ("C1", "T1", "T1.source", "D1.drop", "mains", "RV1.travel"):
        assert light[name] == drawn[name]


def test_the_voltage_without_current() -> None:
    """A diode's law by decades down to its saturation; a coupling capacitor's straight line."""
    i = np.array([1e-7, 1e-6, 1e-5, 1e-4, 1e-3])
    diode = curve_through([(-x, -60.0 + 0.1 * (np.log10(x) + 7.0)) for x in i])
    # Some 1.2 decades are left from 0.1 uA to 6 nA.
    assert diode.at(np.zeros(1))[0][0] == pytest.approx(-60.0 - 0.12, abs=0.02)
    straight = curve_through([(-x, -900.0 + 4e5 * x) for x in i])
    assert straight.at(np.zeros(1))[0][0] == pytest.approx(-900.0, abs=0.05)
