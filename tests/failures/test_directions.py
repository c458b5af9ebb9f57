"""What the trade knows of failing bias sections; common practice where nothing else is said."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from netcheck.failures import Danger, Judged, Study

from .sections import (
    BALANCE,
    COUPLED,
    DIVIDER,
    FOOT_RHEOSTAT,
    HIGH_TENSION,
    MAINS,
    PER_VALVE,
    SAFE,
    SERIES_RHEOSTAT,
    ZENER,
    replaced,
)

Failing = Callable[[str, str], Judged]
StudyOf = Callable[[str], Study]
FEET = [(MAINS, "R3"), (DIVIDER, "R2"), (SAFE, "R2"), (ZENER, "R3"), (PER_VALVE, "R3"),
        (BALANCE, "R3")]  # fmt: skip
SERIES = [(MAINS, "R2"), (DIVIDER, "R1"), (SAFE, "R1"), (PER_VALVE, "R2"), (HIGH_TENSION, "R1"),
          (HIGH_TENSION, "R2"), (ZENER, "R2"), (ZENER, "R7")]  # fmt: skip


@pytest.mark.parametrize("text", [MAINS, SAFE, ZENER, BALANCE, FOOT_RHEOSTAT])
def test_a_lifted_wiper_must_make_the_grids_more_negative(
    text: str, failing: Failing, study_of: StudyOf
) -> None:
    """With a safety resistor it does, or where the wiring is such."""
    found, sound = failing(text, "RV1 wiper lifted"), study_of(text).sound.mean
    assert np.all(found.outcome.mean < sound + 0.1)
    now = study_of(text).now
    assert np.all(found.outcome.mean[now] < sound[now] - 1.0)
    assert found.danger is Danger.COLD


@pytest.mark.parametrize(
    ("text", "name", "pot"),
    [(MAINS, "R6", "RV1"), (SAFE, "R6", "RV1"), (ZENER, "R6", "RV1"), (PER_VALVE, None, "RV2")],
)
def test_without_its_safety_resistor_the_bias_is_lost(
    text: str, name: str | None, pot: str, failing: Failing
) -> None:
    bare = text if name is None else replaced(text, name)
    assert failing(bare, f"{pot} wiper lifted").danger is Danger.NO_BIAS


@pytest.mark.parametrize(("text", "foot"), FEET)
def test_a_foot_open_makes_it_colder(
    text: str, foot: str, failing: Failing, study_of: StudyOf
) -> None:
    found = failing(text, f"{foot} open")
    assert found.danger is Danger.COLD
    assert np.all(found.outcome.mean < study_of(text).sound.mean)


@pytest.mark.parametrize(("text", "foot"), FEET)
def test_a_foot_short_makes_it_hotter(
    text: str, foot: str, failing: Failing, study_of: StudyOf
) -> None:
    found = failing(text, f"{foot} short")
    assert found.danger.is_dangerous
    assert np.all(found.outcome.mean > study_of(text).sound.mean)


@pytest.mark.parametrize(("text", "name"), SERIES)
def test_a_series_resistor_or_dropper_open_loses_the_bias(
    text: str, name: str, failing: Failing
) -> None:
    if (text, name) == (ZENER, "R7"):  # there the 220k to the wiper's line is behind it
        text = replaced(ZENER, "R6")
    found = failing(text, f"{name} open")
    assert found.danger is Danger.NO_BIAS
    assert found.outcome.mean == pytest.approx(0.0, abs=5e-3)


@pytest.mark.parametrize(
    ("text", "name"), [c for c in SERIES if c != (ZENER, "R2") and c[0] != HIGH_TENSION]
)
def test_a_series_resistor_short_makes_it_colder(
    text: str, name: str, failing: Failing, study_of: StudyOf
) -> None:
    found = failing(text, f"{name} short")
    assert found.danger is Danger.COLD
    assert np.all(found.outcome.mean < study_of(text).sound.mean)


@pytest.mark.parametrize(
    "words",
    ["T1 dead", "R1 open", "D1 open", "D1 short", "C1 short", "C2 short", "R2 open"],
)
def test_what_stops_the_rectifier_or_grounds_the_line_loses_the_bias(
    words: str, failing: Failing
) -> None:
    found = failing(MAINS, words)
    assert found.danger is Danger.NO_BIAS
    assert found.hit == ("V1", "V2")
    assert np.all(found.outcome.mean > -0.5)


def test_an_old_reservoir_makes_it_hotter(failing: Failing) -> None:
    """It leaks, dries out and loses its connection: each takes volts away from the bias."""
    dry, leaky, opened = (failing(MAINS, f"C1 {way}").outcome.mean[:, 0]
                          for way in ("dried out", "leaky (10k)", "open"))  # fmt: skip
    assert np.all(dry < leaky)
    assert np.all(leaky < opened)
    assert failing(MAINS, "C1 open").danger is Danger.OVER


def test_smoothing_open_hums_and_does_no_more(failing: Failing, study_of: StudyOf) -> None:
    found, sound = failing(MAINS, "C2 open"), study_of(MAINS).sound
    assert found.danger is Danger.HARMLESS
    assert found.outcome.mean == pytest.approx(sound.mean, abs=0.02)
    assert np.all(found.outcome.ripple[1] > 5 * sound.ripple[1])


@pytest.mark.parametrize("text", [MAINS, DIVIDER, BALANCE])
def test_a_grid_leak_open_loses_the_valve_behind_it(
    text: str, failing: Failing, study_of: StudyOf
) -> None:
    """Nothing holds the grid: it drifts positive by its own current, and the valve runs away."""
    leaks = [p for p in study_of(text).section.circuit.parts
             if {node for _, node in p.terminals} & {"grid1", "grid2"} and p.kind == "resistor"]  # fmt: skip
    assert len(leaks) == 2
    for leak, valve in zip(leaks, ("V1", "V2"), strict=True):
        found = failing(text, f"{leak.name} open")
        assert (found.danger, found.hit) == (Danger.NO_BIAS, (valve,))
        assert found.outcome.floats == {f"grid{valve[1]}"}
        assert failing(text, f"{leak.name} short").danger is Danger.HARMLESS


def test_a_lifted_wiper_of_a_balance_pot_takes_both_valves_colder(failing: Failing) -> None:
    found = failing(BALANCE, "RV2 wiper lifted")
    assert (found.danger, found.hit) == (Danger.COLD, ("V1", "V2"))


def test_an_end_of_a_balance_pot_broken_off_hits_the_other_side(failing: Failing) -> None:
    """The side that is left takes the whole current to ground: less bias; the free one more."""
    for end, hit in (("top", "V2"), ("bottom", "V1")):
        found = failing(BALANCE, f"RV2 {end} broken off")
        assert (found.danger, found.hit) == (Danger.OVER, (hit,))
        free = 0 if hit == "V2" else 1
        # 33k, half of either pot and 18k are left on 1k of source resistance
        assert found.outcome.mean[1, free] == pytest.approx(-69.0 * 61 / 62, abs=0.01)


def test_rheostats_lift_to_the_end_of_their_track(failing: Failing) -> None:
    """Strapped they leave the whole track, which in series is hot, but no valve is lost to it."""
    strapped = failing(SERIES_RHEOSTAT.format(end="bias"), "RV1 wiper lifted")
    assert strapped.danger is Danger.HOT
    free = failing(SERIES_RHEOSTAT.format(end="open"), "RV1 wiper lifted")
    assert free.danger is Danger.NO_BIAS


def test_what_the_drawing_does_not_tell(failing: Failing) -> None:
    """A coupling capacitor that leaks lets through what stands on the plate before: not drawn."""
    for words in ("C5 short", "C5 leaky (10k)"):
        found = failing(COUPLED, words)
        assert found.danger is Danger.UNKNOWN
        assert found.undrawn is not None
        assert found.undrawn.value == "the far end is not drawn"
    assert failing(COUPLED, "C5 open").danger is Danger.HARMLESS


def test_the_high_tension_is_lost_with_its_winding(failing: Failing) -> None:
    """The whole winding dead takes the plates' supply with the bias; one half leaves it."""
    dead = failing(HIGH_TENSION, "T1 dead")
    assert dead.danger is Danger.UNKNOWN
    assert dead.undrawn is not None
    assert dead.undrawn.value == "it feeds something else too"
    half = failing(HIGH_TENSION, "T1 half to its end dead")
    assert (half.danger, half.undrawn) == (Danger.NO_BIAS, None)
