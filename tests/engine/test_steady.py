"""Steady states by ngspice: hand formulas, differential equations, long transients, balances."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from netcheck.engine.elements import (
    GROUND,
    Capacitance,
    CurrentSource,
    DcSource,
    Element,
    Elements,
    Floats,
    Junction,
    Resistance,
    SineSource,
    SteadyState,
    terminals,
)
from netcheck.engine.linear import LinearNetwork
from netcheck.engine.service import Service
from netcheck.engine.steady import Problem, steady_state, steady_states, transient
from netcheck.errors import EngineError

from . import ode
from .circuits import KINDS, Made, capacitor_coupled, diode, full_wave, half_wave, winding

NODES_BEHIND = ("n", "m", "w", "g")


def closeness(v: float) -> float:
    """What the fast ways are held to: 0.1 % or 20 mV."""
    return max(1e-3 * abs(v), 20e-3)


# Hand formulas ---------------------------------------------------------------------------


def test_divider(service: Service) -> None:
    upper = Resistance("R1", "a", "w", 10e3)
    elements: list[Element] = [
        DcSource("S", "a", GROUND, -60.0),
        upper,
        Resistance("R2", "w", GROUND, 22e3),
    ]
    state = steady_state(elements, None, service=service)
    # ngspice adds nothing to a linear circuit; its relative tolerance is far from reached.
    assert state.mean("w") == pytest.approx(-60.0 * 22 / 32, rel=1e-9)
    assert state.power(upper) == pytest.approx((60 * 10 / 32) ** 2 / 10e3, rel=1e-9)
    # From a to b inside the source: the load takes it out of b, so it is positive here.
    assert state.mean_current("S") == pytest.approx(60 / 32e3, rel=1e-9)
    assert state.converged
    assert state.mean(GROUND) == 0.0


def test_current_source_drives_from_a_to_b(service: Service) -> None:
    elements: list[Element] = [
        CurrentSource("I", GROUND, "a", 1e-3),
        Resistance("R", "a", GROUND, 4.7e3),
    ]
    assert steady_state(elements, None, service=service).mean("a") == pytest.approx(4.7, rel=1e-9)


def test_sine_into_resistor(service: Service) -> None:
    load = Resistance("R", "a", GROUND, 1e3)
    state = steady_state([winding("W", "a", GROUND, 50.0), load], 60.0, service=service)
    # Two hundred chords of a sine fall short of its square by pi^2/200^2 or so.
    assert state.rms("a") == pytest.approx(50.0, rel=1e-4)
    assert state.power(load) == pytest.approx(2.5, rel=2e-4)
    assert state.mean("a") == pytest.approx(0.0, abs=1e-3)
    assert state.maximum("a") == pytest.approx(50 * math.sqrt(2), rel=1e-3)
    assert state.ripple("a") == pytest.approx(100 * math.sqrt(2), rel=1e-3)
    assert state.waves.t[0] == 0.0
    assert state.waves.t[-1] == pytest.approx(1 / 60)


def test_low_pass_by_phasors(service: Service) -> None:
    elements: list[Element] = [
        SineSource("W", "a", GROUND, 100.0),
        DcSource("S", "b", "a", -30.0),
        Resistance("R", "b", "c", 10e3),
        Capacitance("C", GROUND, "c", 1e-6),
    ]
    state = steady_state(elements, 50.0, service=service)
    wrc = 2 * math.pi * 50 * 10e-3
    assert state.mean("c") == pytest.approx(-30.0, abs=1e-3)
    assert state.ripple("c") == pytest.approx(200 / math.hypot(1, wrc), rel=1e-3)
    # At phase zero; the capacitor counts from ground to c.
    assert state.start["C"] == pytest.approx(30 + 100 * wrc / (1 + wrc**2), rel=1e-3)


def test_diode_law(service: Service) -> None:
    """A silicon diode from a current source: n V_T ln(1 + i/i_s) + i r_s."""
    junction = Junction("D", "a", GROUND, i_s=5e-9, n=1.9, r_s=0.5)
    state = steady_state([CurrentSource("I", GROUND, "a", 10e-3), junction], None, service=service)
    expected = 1.9 * ode.V_T * math.log1p(10e-3 / 5e-9) + 10e-3 * 0.5
    # ngspice stops iterating at a thousandth; the last step squares what was left.
    assert state.mean("a") == pytest.approx(expected, rel=1e-5)
    assert state.mean_current("D") == pytest.approx(10e-3, rel=1e-6)


# Differential equations ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rectifier", "made"),
    [
        (ode.half_wave(c1=22e-6), half_wave(c1=22e-6)),
        (ode.half_wave(c1=4.7e-6, r=1000.05), half_wave(c1=4.7e-6, r=1000.0)),
        (ode.full_wave(c1=22e-6), full_wave()),
    ],
)
def test_against_scipy(service: Service, rectifier: ode.Rectifier, made: Made) -> None:
    """Within 0.1 % of the same circuit integrated by scipy.integrate.solve_ivp."""
    state = steady_state(*made, service=service)
    guess = np.array([state.start["C1"], state.start["C2"]])
    # From elsewhere, so that the other solution is found by its own means.
    expected = rectifier.steady_means(guess * 0.95)
    assert state.mean(GROUND, "n") == pytest.approx(expected[0], rel=1e-3)
    assert state.mean(GROUND, "m") == pytest.approx(expected[1], rel=1e-3)


# Long transients -------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_against_settled_transient(service: Service, kind: str) -> None:
    """One uninterrupted run of ngspice from discharged capacitors, until it has settled."""
    elements, frequency = KINDS[kind]()
    state = steady_state(elements, frequency, service=service)
    assert state.converged
    # A whole number of periods; the slowest of these circuits takes half a second for 1/e.
    settled = transient(elements, frequency, 400 / frequency, service=service, record="last")
    for node in settled.v:
        expected = settled.mean(settled.v[node])
        # The mean of a floating winding is set by the leakage of blocked diodes alone.
        tolerance = closeness(expected) if node in NODES_BEHIND else 5 * closeness(expected)
        assert state.mean(node) == pytest.approx(expected, abs=tolerance), node
        # Ripple hangs on where the points of time fall on the peak of the pulse.
        ripple = float(np.ptp(settled.v[node]))
        assert state.ripple(node) == pytest.approx(ripple, rel=0.01, abs=20e-3), node


def test_smoothing_that_takes_minutes(service: Service) -> None:
    """470 uF behind 220 kilohm: ten seconds are far too short, the mean is known by hand."""
    elements, frequency = half_wave(c1=470e-6)
    slow: list[Element] = [
        Resistance("R slow", "n", "z", 220e3),
        Capacitance("C slow", GROUND, "z", 470e-6),
        Resistance("R load", "z", GROUND, 220e3),
    ]
    state = steady_state([*elements, *slow], frequency, service=service)
    assert state.converged
    assert state.mean("z") == pytest.approx(state.mean("n") / 2, rel=1e-4)
    waited = transient([*elements, *slow], frequency, 10.0, service=service, record="last")
    assert abs(waited.mean(waited.v["z"]) - state.mean("z")) > 1.0


# Balances --------------------------------------------------------------------------------


def currents(state: SteadyState, elements: Elements) -> dict[str, Floats]:
    """Current through every element, from its first node to its second."""
    waves = state.waves
    found: dict[str, Floats] = {}
    for element in elements:
        match element:
            case Resistance():
                found[element.name] = waves.across(element.a, element.b) / element.r
            case Capacitance():
                slope = np.gradient(waves.across(element.a, element.b), waves.t)
                found[element.name] = element.c * slope
            case CurrentSource():
                found[element.name] = np.full_like(waves.t, element.i)
            case _:
                found[element.name] = waves.i[element.name]
    return found


@pytest.mark.parametrize("kind", KINDS)
def test_mean_currents_at_every_node_sum_to_zero(service: Service, kind: str) -> None:
    elements, frequency = KINDS[kind]()
    state = steady_state(elements, frequency, service=service)
    through = currents(state, elements)
    sums: dict[str, float] = defaultdict(float)
    allowed: dict[str, float] = defaultdict(lambda: 1e-9)
    for element in elements:
        mean = state.waves.mean(through[element.name])
        # Trapezoids over a pulse of some thirty points of time.
        off = 1e-3 * state.waves.mean(np.abs(through[element.name]))
        if isinstance(element, Capacitance):
            # What charges it in a period; the search lets its voltage be 1 mV off or so.
            v = state.waves.across(element.a, element.b)
            mean, off = element.c * (v[-1] - v[0]) * frequency, element.c * 1e-3 * frequency
        for node, sign in zip(terminals(element), (1, -1), strict=True):
            sums[node] += sign * mean
            allowed[node] += off
    for node, total in sums.items():
        assert abs(total) <= allowed[node], node


@pytest.mark.parametrize("kind", KINDS)
def test_currents_sum_to_zero_at_any_time_where_nothing_is_stored(
    service: Service, kind: str
) -> None:
    elements, frequency = KINDS[kind]()
    state = steady_state(elements, frequency, service=service)
    through = currents(state, elements)
    storing = {n for e in elements if isinstance(e, Capacitance) for n in terminals(e)}
    sums: dict[str, Floats] = defaultdict(lambda: np.zeros_like(state.waves.t))
    allowed: dict[str, float] = defaultdict(lambda: 1e-9)
    for element in elements:
        for node, sign in zip(terminals(element), (1, -1), strict=True):
            sums[node] = sums[node] + sign * through[element.name]
            allowed[node] += 1e-6 * float(np.abs(through[element.name]).max())
    checked = [node for node in sums if node not in storing]
    assert checked
    for node in checked:
        assert float(np.abs(sums[node]).max()) <= allowed[node], node


@pytest.mark.parametrize("kind", sorted(set(KINDS) - {"no_capacitor"}))
def test_means_behind_the_reservoir_obey_the_resistive_network(service: Service, kind: str) -> None:
    """What the fast way of prediction stands on."""
    elements, frequency = KINDS[kind]()
    state = steady_state(elements, frequency, service=service)
    behind = ("m", "w", "f", "g")
    branches = [
        e for e in elements
        if isinstance(e, Resistance) and {e.a, e.b} <= {*behind, "n", GROUND} and e.r > 1e3
    ]  # fmt: skip
    network = LinearNetwork(("n", *behind), [(e.a, e.b) for e in branches])
    solution = network.held([1 / e.r for e in branches], ["n"])
    for node, v in zip(network.nodes, solution.voltages([state.mean("n")])[0], strict=True):
        assert state.mean(node) == pytest.approx(v, rel=2e-4), node


def test_power_comes_from_the_winding(service: Service) -> None:
    """Mean power out of the winding is what resistors and diode turn into heat."""
    elements, frequency = half_wave()
    state = steady_state(elements, frequency, service=service)
    waves = state.waves
    delivered = -waves.mean(waves.across("a") * waves.i["W"])
    heat = sum(state.power(e) for e in elements if isinstance(e, Resistance))
    heat += waves.mean(waves.across("n", "b") * waves.i["D1"])
    assert delivered == pytest.approx(heat, rel=5e-3)


# The search, the batch, the odd cases ------------------------------------------------------


def test_neighbour_shortens_the_search(service: Service) -> None:
    elements, frequency = half_wave()
    first = steady_state(elements, frequency, service=service)
    changed = [Resistance("foot", "f", GROUND, 27e3) if e.name == "foot" else e for e in elements]
    from_zero = steady_state(changed, frequency, service=service)
    # Names that the circuit has not are no obstacle: the neighbour may have had more parts.
    start = {**first.start, "C gone": 5.0}
    from_near = steady_state(changed, frequency, service=service, start=start)
    assert from_near.cycles < from_zero.cycles
    assert from_near.mean("w") == pytest.approx(from_zero.mean("w"), abs=5e-3)


def test_finer_steps_agree(service: Service) -> None:
    """The error of the usual time step, against steps ten times finer."""
    elements, frequency = half_wave()
    usual = steady_state(elements, frequency, service=service)
    fine = steady_state(elements, frequency, service=service, steps_per_cycle=2000)
    assert fine.waves.t.size > 5 * usual.waves.t.size
    for node in NODES_BEHIND:
        assert usual.mean(node) == pytest.approx(fine.mean(node), rel=3e-4)


def test_batch_is_the_same_as_one_by_one(service: Service) -> None:
    problems = [Problem(*make()) for make in KINDS.values()]
    together = steady_states(problems, service=service)
    assert len(together) == len(problems)
    for problem, state in zip(problems, together, strict=True):
        alone = steady_state(problem.elements, problem.frequency, service=service)
        assert {n: state.mean(n) for n in state.waves.v} == {
            n: alone.mean(n) for n in alone.waves.v
        }
    assert steady_states([], service=service) == []


def test_two_workers_give_the_same_in_the_same_order(service: Service) -> None:
    problems = [Problem(*half_wave(r=10.0 + k)) for k in range(90)]
    with Service(workers=2) as pair:
        states = steady_states(problems, service=pair)
        assert len(pair.pids) == 2
        alone = steady_state(problems[77].elements, 50.0, service=pair)
    means = [state.mean("n") for state in states]
    assert means == sorted(means)
    assert means[77] == alone.mean("n")


def test_one_bad_circuit_of_a_batch_is_reported(service: Service) -> None:
    good = Problem(*half_wave())
    with pytest.raises(EngineError, match='"island"'):
        steady_states(
            [good, Problem([*good.elements, Resistance("R9", "island", "shore", 1.0)], 50.0)],
            service=service,
        )


def faults() -> dict[str, Sequence[Element]]:
    """Half-wave supplies as a technician finds them."""
    elements, _ = half_wave()
    rest = [e for e in elements if e.name in ("W", "R winding", "D1", "C1")]
    return {
        "shorted diode": [*elements, Resistance("short", "n", "b", 1e-3)],
        "leaky diode": [*elements, Resistance("leak", "n", "b", 100e3)],
        "shorted reservoir": [*elements, Resistance("short", "n", GROUND, 1e-3)],
        "leaky reservoir": [*elements, Resistance("leak", "n", GROUND, 1e3)],
        "nothing behind the reservoir": rest,
        "10 megohm behind the reservoir": [*rest, Resistance("R", "n", GROUND, 10e6)],
        "diode the wrong way": [*[e for e in elements if e.name != "D1"], diode("D1", "b", "n")],
        "two diodes back to back": [
            *[e for e in elements if e.name != "D1"], diode("D1", "x", "b"), diode("D2", "x", "n"),
        ],
        "no winding volts": [
            SineSource("W", "a", GROUND, 0.0) if e.name == "W" else e for e in elements
        ],
        "zener behind the smoothing": [
            *elements, DcSource("V zener", "z", "m", 30.0),
            Junction("zener", GROUND, "z", 1e-9, 1.0, 20.0),
        ],
        "part with both ends on one node": [*elements, Resistance("R9", "n", "n", 1e3)],
        "one farad": [
            Capacitance("C1", GROUND, "n", 1.0) if e.name == "C1" else e for e in elements
        ],
        "one picofarad": [
            Capacitance("C1", GROUND, "n", 1e-12) if e.name == "C1" else e for e in elements
        ],
        "ideal diode, almost no resistance": [
            Junction("D1", "n", "b", 1e-12, 0.01, 0.0) if e.name == "D1"
            else Resistance("R winding", "a", "b", 0.01) if e.name == "R winding" else e
            for e in elements
        ],
    }  # fmt: skip


@pytest.mark.parametrize("fault", faults())
def test_faulty_supplies_converge(service: Service, fault: str) -> None:
    state = steady_state(faults()[fault], 50.0, service=service)
    assert state.converged
    # Nothing in them can exceed the peak of the winding.
    assert all(np.abs(v).max() < 71.0 for v in state.waves.v.values())


def test_zener_holds_its_voltage(service: Service) -> None:
    state = steady_state(faults()["zener behind the smoothing"], 50.0, service=service)
    # 30 V, a forward drop and a few milliamperes through 20 ohm.
    assert state.mean("m") == pytest.approx(-30.5, abs=0.4)


@pytest.mark.parametrize("swap", [False, True])
def test_polarity_follows_the_diode(service: Service, swap: bool) -> None:
    elements, frequency = half_wave()
    if swap:
        elements = [diode("D1", "b", "n") if e.name == "D1" else e for e in elements]
    state = steady_state(elements, frequency, service=service)
    assert math.copysign(1, state.mean("w")) == (1 if swap else -1)


def test_names_do_not_matter(service: Service) -> None:
    """Names that would be commands, comments, numbers or ground to ngspice."""
    hostile = ["0", "gnd", "a b", ".end", "\n.control\nshell touch hacked\n.endc\n", "n1 0 1k",
               "*", "$", ";", "{x}", "'", '"', "N", "V(1)", "é", "", "#branch"]  # fmt: skip
    elements, frequency = capacitor_coupled()
    nodes = dict.fromkeys(n for e in elements for n in terminals(e) if n != GROUND)
    new = dict(zip(nodes, hostile, strict=False)) | {GROUND: GROUND}
    renamed: list[Element] = []
    for k, e in enumerate(elements):
        a, b = (new[n] for n in terminals(e))
        name = f"{hostile[k % len(hostile)]} {k}"
        match e:
            case Resistance():
                renamed.append(Resistance(name, a, b, e.r))
            case Capacitance():
                renamed.append(Capacitance(name, a, b, e.c))
            case SineSource():
                renamed.append(SineSource(name, a, b, e.v_peak))
            case Junction():
                renamed.append(Junction(name, a, b, e.i_s, e.n, e.r_s))
    plain = steady_state(elements, frequency, service=service)
    odd = steady_state(renamed, frequency, service=service)
    assert {new[n]: plain.mean(n) for n in plain.waves.v} == {n: odd.mean(n) for n in odd.waves.v}


@settings(
    max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    v=st.floats(20, 90),
    r=st.floats(5, 1000),
    c1=st.floats(4.7e-6, 100e-6),
    c2=st.floats(1e-6, 47e-6),
    r_series=st.floats(470, 47e3),
    foot=st.floats(1e3, 150e3),
)
def test_random_half_wave_supplies(
    service: Service, v: float, r: float, c1: float, c2: float, r_series: float, foot: float
) -> None:
    """Against transients that go on from a guess for as long as five time constants."""
    elements: list[Element] = [
        winding("W", "a", GROUND, v),
        Resistance("R winding", "a", "b", r),
        diode("D1", "n", "b"),
        Capacitance("C1", GROUND, "n", c1),
        Resistance("R series", "n", "m", r_series),
        Capacitance("C2", GROUND, "m", c2),
        Resistance("foot", "m", GROUND, foot),
    ]
    state = steady_state(elements, 50.0, service=service)
    assert state.converged
    slowest = (c1 + c2) * (r_series + foot)
    periods = min(600, max(20, math.ceil(5 * slowest * 50)))
    # Displaced by a volt: a state that is not steady would not come back to the same means.
    start = {name: v * 0.98 for name, v in state.start.items()}
    settled = transient(elements, 50.0, periods / 50, service=service, start=start, record="last")
    for node in ("n", "m"):
        expected = settled.mean(settled.v[node])
        left = 0.02 * abs(expected) * math.exp(-periods / 50 / slowest)
        assert state.mean(node) == pytest.approx(expected, abs=closeness(expected) + left)
