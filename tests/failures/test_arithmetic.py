"""Failures of a divider on direct volts against the formulas of a divider, worked out by hand.

No grid draws current, so a grid has the volts of the node at the other end of its leak.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from netcheck.failures import Judged, Study

from .sections import DIVIDER, FOOT_RHEOSTAT, PER_VALVE, SAFE, SERIES_RHEOSTAT, ZENER, Floats

V, RS, R1, TRACK, END, R2 = 75.0, 1e3, 15e3, 10e3, 100.0, 27e3
SHORT = 0.2
"""What a short has. [ohm]"""

Failing = Callable[[str, str], Judged]
StudyOf = Callable[[str], Study]


def lower(travel: float) -> float:
    """Track between wiper and foot; clockwise takes the wiper to the foot. [ohm]"""
    return END + (TRACK - 2 * END) * (1.0 - travel)


def at_wiper(travel: float, r1: float = R1, r2: float = R2, beside: float = np.inf) -> float:
    """Volts of the wiper, `beside` the resistor from it to the head of the track. [V]"""
    upper = 1.0 / (1.0 / (TRACK - lower(travel)) + 1.0 / beside)
    below = lower(travel) + r2
    return -V * below / (RS + r1 + upper + below)


def thevenin(travel: float) -> tuple[float, float]:
    """Open-circuit volts of the wiper and the resistance behind it. [V], [ohm]"""
    above, below = RS + R1 + TRACK - lower(travel), lower(travel) + R2
    return -V * below / (above + below), above * below / (above + below)


TRAVEL = (0.0, 0.5, 1.0)


def over_travel(formula: Callable[[float], float]) -> Floats:
    return np.array([formula(t) for t in TRAVEL])


@pytest.mark.parametrize(
    ("words", "formula"),
    [
        ("R1 short", lambda t: at_wiper(t, r1=SHORT)),
        ("R2 short", lambda t: at_wiper(t, r2=SHORT)),
        ("R2 open", lambda _: -V),
        ("RV1 bottom broken off", lambda _: -V),
        ("R1 open", lambda _: 0.0),
        ("S1 dead", lambda _: 0.0),
        ("RV1 top broken off", lambda _: 0.0),
        ("RV1 short from end to end", lambda _: -V * R2 / (RS + R1 + R2)),
        ("R3 short", at_wiper),
    ],
)
def test_a_divider_with_one_part_broken(
    words: str, formula: Callable[[float], float], failing: Failing
) -> None:
    outcome = failing(DIVIDER, words).outcome
    assert outcome.settled
    for column in (0, 1):
        # 0.2 ohm across the whole track and 100 Mohm of insulation are far below 2 mV
        assert outcome.mean[:, column] == pytest.approx(over_travel(formula), abs=2e-3)


def test_as_drawn(study_of: StudyOf) -> None:
    found = study_of(DIVIDER)
    assert tuple(found.travel) == TRAVEL
    assert found.sound.mean[:, 0] == pytest.approx(over_travel(at_wiper), abs=1e-3)
    safe = study_of(SAFE).sound.mean[:, 0]
    assert safe == pytest.approx(over_travel(lambda t: at_wiper(t, beside=220e3)), abs=1e-3)


@pytest.mark.parametrize(("name", "mine", "other"), [("R3", 0, 1), ("R4", 1, 0)])
def test_a_grid_leak_open_lets_its_own_grid_float(
    name: str, mine: int, other: int, failing: Failing
) -> None:
    outcome = failing(DIVIDER, f"{name} open").outcome
    assert outcome.floats == {f"grid{mine + 1}"}
    assert outcome.mean[:, other] == pytest.approx(over_travel(at_wiper), abs=2e-3)


def test_insulation_holds_no_grid(study_of: StudyOf) -> None:
    """Some 500 Mohm to the supply would charge an ideal grid; a real one is taken to float."""
    text = DIVIDER + "resistor R9 from raw to grid1 500M\n"
    (one,) = [o for o in study_of(text).failures if o.failure.words == "R3 open"]
    assert one.outcome.floats == {"grid1"}
    assert np.all(one.outcome.mean[:, 0] == 0.0)
    assert one.danger.value == "no bias"


@pytest.mark.parametrize(("valve", "leak"), [("V1", 68e3), ("V2", 100e3)])
def test_a_grid_that_leaks_divides_the_bias(valve: str, leak: float, failing: Failing) -> None:
    """100k to the cathode at the far end of the grid leak, behind the divider's resistance."""

    def grid(travel: float) -> float:
        v, r = thevenin(travel)
        return v * 100e3 / (r + leak + 100e3)

    def wiper(travel: float) -> float:
        v, r = thevenin(travel)
        return v * (leak + 100e3) / (r + leak + 100e3)

    outcome = failing(DIVIDER, f"{valve} grid to cathode 100k").outcome
    mine = int(valve[1]) - 1
    assert outcome.mean[:, mine] == pytest.approx(over_travel(grid), abs=2e-3)
    assert outcome.mean[:, 1 - mine] == pytest.approx(over_travel(wiper), abs=2e-3)
    short = failing(DIVIDER, f"{valve} grid to cathode short").outcome
    assert short.mean[:, mine] == pytest.approx(0.0, abs=2e-3)


# --------------------------------------------------------------------- the wiper lifted


def test_a_lifted_wiper_with_its_safety_resistor_takes_the_head_of_the_track(
    failing: Failing,
) -> None:
    """No current flows in R6, so the grids have the volts at the head: the whole track below."""
    outcome = failing(SAFE, "RV1 wiper lifted").outcome
    head = -V * (TRACK + R2) / (RS + R1 + TRACK + R2)
    assert outcome.mean == pytest.approx(np.full((3, 2), head), abs=2e-3)


@pytest.mark.parametrize(("safety", "load"), [(220e3, 1e6), (470e3, 470e3), (100e3, 220e3)])
def test_a_lifted_wiper_with_a_known_load_at_the_grids(
    safety: float, load: float, study_of: StudyOf
) -> None:
    """A resistor from the bias line to ground draws on the safety resistor: Thevenin's divider."""
    text = DIVIDER + (f"resistor R6 from head to sweep {safety:.0f}\n"
                      f"resistor R7 from sweep to ground {load:.0f}\n")  # fmt: skip
    above, below = RS + R1, TRACK + R2
    v, r = -V * below / (above + below), above * below / (above + below)
    (lifted,) = [one.outcome for one in study_of(text).failures
                 if one.failure.words == "RV1 wiper lifted"]  # fmt: skip
    assert lifted.mean[0, 0] == pytest.approx(v * load / (r + safety + load), abs=2e-3)


def test_a_lifted_wiper_without_anything_lets_the_grids_float(failing: Failing) -> None:
    outcome = failing(DIVIDER, "RV1 wiper lifted").outcome
    assert outcome.floats == {"grid1", "grid2"}
    assert np.all(outcome.mean == 0.0)


def test_a_lifted_wiper_hits_its_own_valve_only(failing: Failing, study_of: StudyOf) -> None:
    """Pots side by side: the other tracks stay as they are, to the millivolt."""
    sound = study_of(PER_VALVE).sound.mean
    for k in range(3):
        one = failing(PER_VALVE, f"RV{k + 1} wiper lifted")
        assert one.hit == (f"V{k + 1}",)
        assert one.outcome.floats == {f"grid{k + 1}"}
        others = [n for n in range(3) if n != k]
        assert one.outcome.mean[:, others] == pytest.approx(sound[:, others], abs=2e-3)


def test_rheostats(failing: Failing) -> None:
    """What a lifted wiper leaves of a rheostat, by the formula of a divider of 42 V."""
    foot = failing(FOOT_RHEOSTAT, "RV1 wiper lifted").outcome
    assert foot.mean == pytest.approx(-42.0, abs=2e-3)  # no way to ground any more
    strapped = failing(SERIES_RHEOSTAT.format(end="bias"), "RV1 wiper lifted").outcome
    assert strapped.mean == pytest.approx(-42.0 * 27 / (1.5 + 15 + 10 + 27), abs=2e-3)
    free = failing(SERIES_RHEOSTAT.format(end="open"), "RV1 wiper lifted").outcome
    assert free.mean == pytest.approx(0.0, abs=2e-3)


# ---------------------------------------------------------------------------- the zener


def test_a_zener_open_and_short(failing: Failing) -> None:
    """Open, the divider takes the whole supply; its 220k beside the upper track count."""

    def wiper(travel: float) -> float:
        track, end = 10e3, 0.01 * 10e3
        below = end + (track - 2 * end) * (1.0 - travel)
        upper = 1.0 / (1.0 / (track - below) + 1.0 / 220e3)
        below += 33e3
        return -74.0 * below / (300 + 4.7e3 + 4.7e3 + upper + below)

    opened = failing(ZENER, "Z1 open")
    assert opened.danger.value == "too cold"
    assert opened.outcome.mean[:, 0] == pytest.approx(over_travel(wiper), abs=2e-3)
    short = failing(ZENER, "Z1 short")
    assert short.danger.value == "no bias"
    # 74 V on 5k, 0.2 ohm of that at the zener: 3 mV
    assert np.all(np.abs(short.outcome.mean) < 5e-3)
