"""Grid volts of a sweep against handbook arithmetic."""

from __future__ import annotations

import numpy as np
import pytest

from netcheck.engine.service import Service
from netcheck.predictor import Predictor
from netcheck.preferred import Series
from netcheck.substitution import Substitution, Way

from .sections import DIVIDER, FIXED, at_value, example, predictor_of, turn

V_SAME = 2e-3
"""Two simulations of one circuit agree so well behind a rectifier: the search for the steady
state ends there. [V]"""


def test_an_unloaded_divider_by_hand(divider: Predictor) -> None:
    """Handbook arithmetic: the grids draw no current, so all of it is one chain of resistors.

    Stops of 1 % of the track are taken where the file is silent.
    """
    found = turn(divider, "R2", Way.IN_PLACE, "10k", "68k", Series.E6)
    for one in found.settings:
        (r,) = one.values
        assert r is not None
        chain = 100.0 + 15e3 + 10e3 + r
        below = r + 100.0 + (10e3 - 200.0) * (1.0 - found.travel)
        assert one.mean[:, 0] == pytest.approx(-42.0 * below / chain, rel=1e-6)
        assert one.mean[:, 1] == pytest.approx(one.mean[:, 0], rel=1e-9)


def test_another_pot_brings_its_own_stops(divider: Predictor) -> None:
    """The same arithmetic with another track, and 1 % of that left at its stops."""
    found = turn(divider, "RV1", None, "1k", "47k")
    assert [one.values[0] for one in found.settings] == [1e3, 2.2e3, 4.7e3, 10e3, 22e3, 47e3]
    for one in found.settings:
        (track,) = one.values
        assert track is not None
        end = 0.01 * track
        below = 27e3 + end + (track - 2 * end) * (1.0 - found.travel)
        by_hand = -42.0 * below / (100.0 + 15e3 + track + 27e3)
        assert one.mean[:, 0] == pytest.approx(by_hand, rel=1e-6)


def test_stops_that_the_command_sets_stay(service: Service) -> None:
    """A worn stop of 2k named with --set is not forgotten when the track is exchanged."""
    worn = predictor_of(DIVIDER, service, {"RV1.end": 2e3})
    one = at_value(turn(worn, "RV1", None, "22k", "22k"), 22e3)
    below = 27e3 + 2e3 + (22e3 - 4e3) * (1.0 - np.linspace(0.0, 1.0, 11))
    assert one.mean[:, 0] == pytest.approx(-42.0 * below / (100.0 + 15e3 + 22e3 + 27e3), rel=1e-6)


def test_volts_without_a_pot_by_hand(service: Service) -> None:
    found = turn(predictor_of(FIXED, service), "S1", None, "40V", "44V", None, 5)
    assert found.swept == ()
    for one in found.settings:
        (v,) = one.values
        assert v is not None
        assert one.mean == pytest.approx(-v * 27e3 / (100.0 + 15e3 + 27e3), rel=1e-6)


@pytest.mark.parametrize("box", [470e3, 22e3, 2.2e3])
def test_a_strap_acts_as_the_two_in_parallel(
    box: float, rectified: Predictor, foot: Substitution
) -> None:
    """Theory: 27k with a box across it is 1/(1/27k + 1/box), behind a rectifier too."""
    r = f"{1 / (1 / 27e3 + 1 / box):.9g}"
    in_place = turn(rectified, "R3", Way.IN_PLACE, r, r)
    assert at_value(foot, box).mean == pytest.approx(at_value(in_place, float(r)).mean, abs=V_SAME)


def test_a_rheostat_is_strapped_from_its_end_to_its_wiper(service: Service) -> None:
    """Theory: with bottom and wiper joined, the box lies across what is left of the track."""
    rheostat = DIVIDER.replace("bottom foot 10k clockwise bottom\nresistor R2 from foot",
                               "bottom open 10k clockwise top\nresistor R2 from sweep")  # fmt: skip
    found = turn(predictor_of(rheostat, service), "RV1", Way.ACROSS, "10k", "10k")
    left = 100.0 + 9800.0 * (1.0 - found.travel)
    for box, one in zip((np.inf, 10e3), found.settings, strict=True):
        series = 1 / (1 / left + 1 / box)
        by_hand = -42.0 * 27e3 / (100.0 + 15e3 + series + 27e3)
        assert one.mean[:, 0] == pytest.approx(by_hand, rel=1e-6)


def test_another_zener_has_its_own_resistance(service: Service) -> None:
    """The 1N4728A-1N4764A data sheet has 33 V at 45 ohm and 47 V at 80 ohm; with the resistance
    of the 47 V type the volts would be wrong by what the current makes of the difference."""
    section = example("two-el34-zener", service)
    one = at_value(turn(section, "Z1", None, "33V", "33V"), 33.0)
    values = section.values({"RV1": 0.0}) | {"Z1": 33.0, "Z1.series": 45.0}
    assert one.mean[0, 0] == pytest.approx(section.whole(values).mean["grid1"], abs=0.03)
