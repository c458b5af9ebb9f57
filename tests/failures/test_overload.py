"""What a failure burns besides, against the laws of Ohm and Joule."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from netcheck.failures import Judged, Strain, Study

from .sections import DIVIDER, HIGH_TENSION, MAINS, SAFE, SERIES_RHEOSTAT, ZENER

Failing = Callable[[str, str], Judged]
StudyOf = Callable[[str], Study]


def over(one: Judged, part: str, strain: Strain) -> float:
    """What a part bears too much of."""
    found = [o.bears for o in one.outcome.overloads if o.what == (part, strain)]
    assert len(found) == 1, one.outcome.overloads
    return found[0]


def none_of(one: Judged, part: str) -> bool:
    return all(o.part != part for o in one.outcome.overloads)


def test_a_dropper_behind_a_shorted_reservoir(failing: Failing) -> None:
    """Half-wave through 470 ohm: half the power of 48 V on the resistances in series.

    The diode's 0.8 V of drop takes some per cent.
    """
    one = failing(MAINS, "C1 short")
    power = 0.5 * 48.0**2 / 530.0**2 * 470.0
    assert over(one, "R1", Strain.POWER) == pytest.approx(power, rel=0.05)
    both = failing(MAINS, "D1 short")
    # both halves, and the reservoir's reactance of 68 ohm in series
    x = 1.0 / (2 * np.pi * 50 * 47e-6)
    power = 48.0**2 / (530.0**2 + x**2) * 470.0
    assert over(both, "R1", Strain.POWER) == pytest.approx(power, rel=0.02)


def test_a_shorted_rectifier_turns_the_reservoir_round(failing: Failing) -> None:
    """It gets alternating volts: the peak over its reactance comes the wrong way round."""
    x = 1.0 / (2 * np.pi * 50 * 47e-6)
    peak = np.sqrt(2) * 48.0 * x / np.hypot(530.0, x)
    assert over(failing(MAINS, "D1 short"), "C1", Strain.REVERSED) == pytest.approx(peak, rel=0.02)


def test_capacitors_and_diodes_beyond_their_volts(failing: Failing) -> None:
    """With the foot open nothing loads the rectifier: 330 V rms peak at 467 V."""
    one = failing(HIGH_TENSION, "R3 open")
    volts = over(one, "C1", Strain.VOLTS)
    # on 100k and the electrolytic's own 4.5 Mohm the charge does not reach the peak
    assert 0.75 * 467 < volts < 467
    assert none_of(failing(HIGH_TENSION, "R3 short"), "C1")
    assert none_of(one, "D1")  # it stands 1000 V


def test_a_diode_that_blocks_more_than_it_stands(study_of: StudyOf) -> None:
    text = HIGH_TENSION.replace("1000 V", "800 V")
    assert not study_of(text).sound.overloads
    (one,) = [o for o in study_of(text).failures if o.failure.words == "R3 open"]
    volts = over(one, "D1", Strain.BLOCKED)
    assert volts == pytest.approx(467 + over(one, "C1", Strain.VOLTS), rel=0.01)


def test_a_zener_without_its_series_resistor(failing: Failing) -> None:
    """27 V left on 300 ohm and the zener's own resistance: 90 mA at most, 4 W in it."""
    watts = over(failing(ZENER, "R2 short"), "Z1", Strain.POWER)
    assert 47.0 * (74.0 - 51.0) / 400.0 < watts < 52.0 * (74.0 - 47.0) / 300.0
    assert none_of(failing(ZENER, "R2 open"), "Z1")


def test_a_small_winding_and_one_of_the_high_tension(failing: Failing) -> None:
    """6 W in a bias winding's copper is much, in that of the high tension it is not."""
    text = MAINS.replace("470 ohm 10% 1 W", "10 ohm 10 W")
    assert over(failing(text, "C1 short"), "T1", Strain.COPPER) == pytest.approx(
        0.5 * 48.0**2 / 70.0**2 * 60.0, rel=0.1
    )
    assert none_of(failing(HIGH_TENSION, "C1 short"), "T1")


def test_the_part_that_is_broken_does_not_burn(study_of: StudyOf) -> None:
    for text in (MAINS, ZENER, HIGH_TENSION):
        for one in study_of(text).failures:
            if one.failure.mode.value in ("open", "short"):
                assert none_of(one, one.failure.part), one.failure.words


def test_what_is_too_much_as_drawn_is_not_blamed_on_failures(study_of: StudyOf) -> None:
    found = study_of(SAFE.replace("27k 5% 0.5 W", "27k 5% 0.03 W"))
    assert [o.what for o in found.sound.overloads] == [("R2", Strain.POWER)]
    (one,) = [o for o in found.failures if o.failure.words == "R1 short"]
    assert over(one, "R2", Strain.POWER) > 0.1
    assert not found.besides(one)


def test_a_pot_counts_for_its_whole_track(study_of: StudyOf) -> None:
    """A rheostat all but turned out of circuit: its rating is for the current of the whole track.

    42 V on 16.5k and what is left of the track at its stop, 1 %.
    """
    text = SERIES_RHEOSTAT.format(end="bias").replace("10k linear", "10k 0.05 W linear")
    assert not study_of(text).sound.overloads
    (one,) = [o for o in study_of(text).failures if o.failure.words == "R2 short"]
    watts = (42.0 / 16.6e3) ** 2 * 10e3
    assert over(one, "RV1", Strain.POWER) == pytest.approx(watts, rel=1e-3)


def test_a_resistor_beyond_its_working_volts(study_of: StudyOf) -> None:
    text = DIVIDER.replace("27k 5% 0.5 W", "27k 5% 0.5 W 45 V")
    assert not study_of(text).sound.overloads
    (one,) = [o for o in study_of(text).failures if o.failure.words == "R1 short"]
    assert over(one, "R2", Strain.VOLTS) == pytest.approx(75.0 * 27 / 38, rel=1e-3)
    (opened,) = [o for o in study_of(text).failures if o.failure.words == "R2 open"]
    assert not opened.outcome.overloads  # 75 V stand across it, but it is broken already
