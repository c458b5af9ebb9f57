"""How dangerous an outcome is, and the order of dangers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from netcheck.engine.service import Service
from netcheck.failures import Bench, Danger, Outcome, Study
from netcheck.failures.danger import LEFT, dangers
from netcheck.graph import Section
from netcheck.idling import idle, idling_valve
from netcheck.netlist import Valve
from netcheck.predictor import Predictor
from netcheck.valves import known_types, lookup
from netcheck.valves.practice import WINDOW

from .sections import (
    BALANCE,
    COUPLED,
    DIVIDER,
    MAINS,
    PER_VALVE,
    SAFE,
    TWO_SUPPLIES,
    ZENER,
    circuit_of,
    studied,
)

StudyOf = Callable[[str], Study]
UNTOLD = DIVIDER.replace(" plate 450 V screen 445 V cathode 1 ohm", "")
"""The same with valves whose currents cannot be told."""


@pytest.fixture(scope="module")
def bench(service: Service) -> Bench:
    made = Bench(Predictor(Section(circuit_of(DIVIDER)), service))
    made.sound()
    return made


@pytest.fixture(scope="module")
def sound(bench: Bench) -> Outcome:
    return bench.sound()


def judged(bench: Bench, sound: Outcome, shares: list[float] | None = None,
           volts: list[float] | None = None, window: tuple[float, float] = WINDOW
           ) -> Danger:  # fmt: skip
    """The danger to V1 that has other volts, or other shares of its limit."""
    mean = sound.mean.copy()
    of_limit = dict(sound.of_limit)
    if volts is not None:
        mean[:, 0] = volts
    if shares is not None:
        of_limit["V1"] = np.array(shares)
    return dangers(bench, sound, replace(sound, mean=mean, of_limit=of_limit), window)["V1"]


def test_shares_of_the_limit(bench: Bench, sound: Outcome) -> None:
    cold, now, hot = (float(one) for one in sound.of_limit["V1"])
    assert cold < 0.6 < now < 0.7
    assert hot > 1.0
    assert judged(bench, sound, [cold, now, hot]) is Danger.HARMLESS
    assert judged(bench, sound, [cold, now + 0.04, hot + 0.04]) is Danger.HARMLESS
    assert judged(bench, sound, [cold, 0.75, hot]) is Danger.HOT
    assert judged(bench, sound, [cold, 1.01, hot]) is Danger.OVER
    assert judged(bench, sound, [1.01, now, hot]) is Danger.OVER
    # the pot goes beyond the limit there anyway
    assert judged(bench, sound, [cold, now, hot + 0.5]) is Danger.HOT
    assert judged(bench, sound, [cold, now - 0.1, hot - 0.1]) is Danger.COLD
    assert judged(bench, sound, [0.0, 0.0, 0.0]) is Danger.COLD


def test_volts_that_are_left(bench: Bench, sound: Outcome) -> None:
    v = sound.mean[:, 0]
    assert judged(bench, sound, volts=list(0.11 * v)) is not Danger.NO_BIAS
    assert judged(bench, sound, volts=list(0.09 * v)) is Danger.NO_BIAS
    assert judged(bench, sound, volts=[v[0], v[1], 0.05 * v[2]]) is Danger.NO_BIAS
    assert judged(bench, sound, volts=[30.0, 30.0, 30.0]) is Danger.NO_BIAS
    floats = replace(sound, floats=frozenset({"grid1"}))
    found = dangers(bench, sound, floats, WINDOW)
    assert found == {"V1": Danger.NO_BIAS, "V2": Danger.HARMLESS}
    unanswered = replace(sound, trouble="no convergence")
    assert set(dangers(bench, sound, unanswered, WINDOW).values()) == {Danger.UNKNOWN}


def test_where_the_pot_leaves_no_bias_anyway_it_is_not_lost(bench: Bench, sound: Outcome) -> None:
    """An end of the travel at ground counts only if a failure makes it positive."""
    mean = sound.mean.copy()
    mean[2] = -0.4
    drawn = replace(sound, mean=mean, of_limit={
        **sound.of_limit, "V1": np.array([*sound.of_limit["V1"][:2], 3.0])})  # fmt: skip
    shares = [float(share) for share in drawn.of_limit["V1"]]
    assert judged(bench, drawn, shares, [*mean[:2, 0], 0.0]) is Danger.HARMLESS
    assert judged(bench, drawn, shares, [*mean[:2, 0], 2.0]) is Danger.NO_BIAS
    assert judged(bench, drawn, shares, [mean[0, 0], 0.0, 0.0]) is Danger.NO_BIAS


def test_where_the_current_cannot_be_told_the_volts_decide(service: Service) -> None:
    bench = Bench(Predictor(Section(circuit_of(UNTOLD)), service))
    sound = bench.sound()
    assert not sound.of_limit
    v = sound.mean[:, 0]
    for factor, danger in [(1.0, Danger.HARMLESS), (0.98, Danger.HARMLESS), (0.96, Danger.HOT),
                           (0.68, Danger.HOT), (0.65, Danger.OVER), (0.05, Danger.NO_BIAS),
                           (1.02, Danger.HARMLESS), (1.05, Danger.COLD)]:  # fmt: skip
        assert judged(bench, sound, volts=list(factor * v)) is danger, factor


@pytest.mark.parametrize("plate", [300.0, 400.0, 450.0])
def test_with_a_third_of_the_bias_gone_every_known_type_is_over_its_limit(plate: float) -> None:
    """The rule for valves whose current cannot be told, against the published curves.

    Set to 65 % of the limit, in the window of common practice (60 to 70 %), at `plate` volts.
    """
    asked = 0
    for name in known_types():
        kind = lookup(name)
        assert kind is not None
        limits = kind.limits
        if limits.v_plate is not None and plate > limits.v_plate:
            continue
        screen = None if kind.kind.value == "triode" else min(plate, limits.v_screen or plate)
        drawn = Valve(name="V1", type=name, grid="g", v_plate=plate, v_screen=screen)
        one = idling_valve(drawn, kind, None)
        if one is None:
            continue
        grids = -np.linspace(0.5, 120.0, 4000)
        share = idle([one], [grids], None)[0].p_plate / limits.p_plate
        bias = grids[np.argmin(np.abs(share - 0.65))]
        left = idle([one], [np.array([LEFT * bias])], None)[0].p_plate / limits.p_plate
        assert left[0] > 1.0, (name, bias)
        asked += 1
    assert asked >= 10


def test_a_grid_led_positive_draws_no_fantasies(service: Service) -> None:
    """Its own current holds it near its cathode: the valve draws what it draws at 0 V."""
    text = DIVIDER + "supply HT plus hot minus ground 400 V\nresistor R9 from hot to sweep 10M\n"
    found = {one.failure.words: one for one in studied(text, service).failures}
    short, dead = found["R9 short"], found["S1 dead"]
    assert short.outcome.mean[1, 0] > 300.0
    most = short.outcome.i_cathode["V1"][1]
    at_zero = found["V1 grid to cathode short"].outcome.i_cathode["V1"][1]
    assert most == pytest.approx(at_zero, rel=1e-3)
    assert short.danger is dead.danger is Danger.NO_BIAS


# ------------------------------------------------------------------------------- order


@pytest.mark.parametrize("text", [DIVIDER, SAFE, MAINS, PER_VALVE, BALANCE, ZENER, COUPLED,
                                  UNTOLD, TWO_SUPPLIES])  # fmt: skip
def test_the_most_dangerous_come_first(text: str, study_of: StudyOf) -> None:
    """By the worst that happens to a valve; among equals the hottest valve decides."""
    found = study_of(text)
    degrees = ["no bias", "over the limit", "too hot", "not known", "too cold", "harmless"]
    ranks = [degrees.index(one.danger.value) for one in found.failures]
    assert ranks == sorted(ranks)
    for rank in set(ranks):
        those = [one for one, its in zip(found.failures, ranks, strict=True) if its == rank]
        shares = [max([0.0, *(float(s.max()) for s in one.outcome.of_limit.values())])
                  for one in those]  # fmt: skip
        assert all(a >= b - 0.011 for a, b in pairwise(shares))
    for one in found.failures:
        assert one.danger.rank == min(danger.rank for danger in one.dangers.values())
        assert one.hit == tuple(n for n, d in one.dangers.items() if d is one.danger)


def test_a_valve_without_bias_as_drawn_is_left_out(service: Service) -> None:
    """It has nothing to lose; the other one is judged, and sorted by, alone."""
    found = studied(SAFE + "link W1 from grid1 to ground\n", service)
    assert found.without == ("V1",)
    assert all(set(one.dangers) == {"V2"} for one in found.failures)
    shares = [float(one.outcome.of_limit["V2"].max()) for one in found.failures
              if one.danger is Danger.OVER]  # fmt: skip
    assert len(shares) > 2
    assert all(a >= b - 0.011 for a, b in pairwise(shares))


def test_nothing_is_said_where_no_valve_has_bias(service: Service) -> None:
    found = studied(SAFE + "link W1 from sweep to ground\n", service)
    assert found.without == ("V1", "V2")
    assert found.failures == ()


def test_where_the_pot_stands_decides(service: Service) -> None:
    """At the hot end the pot goes over the limit anyway: that counts if the pot stands there."""
    there = Bench(Predictor(Section(circuit_of(DIVIDER)), service), 1.0)
    sound = there.sound()
    assert there.travel.tolist() == [0.0, 1.0]
    assert there.now == 1
    cold, hot = (float(share) for share in sound.of_limit["V1"])
    assert hot > 1.0
    assert judged(there, sound, [cold, hot + 0.2]) is Danger.OVER
    assert judged(there, sound, [cold, hot]) is Danger.HARMLESS


def test_the_window_decides_what_is_hot_and_cold(bench: Bench, sound: Outcome) -> None:
    cold, _, hot = (float(share) for share in sound.of_limit["V1"])
    assert judged(bench, sound, [cold, 0.75, hot], window=(0.5, 0.8)) is Danger.HARMLESS
    assert judged(bench, sound, [cold, 0.85, hot], window=(0.5, 0.8)) is Danger.HOT
    assert judged(bench, sound, [cold, 0.55, hot], window=(0.5, 0.8)) is Danger.HARMLESS
    assert judged(bench, sound, [cold, 0.55, hot]) is Danger.COLD
