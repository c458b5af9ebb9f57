"""The score by hand: what each shortcoming costs, and which order it makes."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from netcheck.remedy.aim import Aim, Mark
from netcheck.remedy.figures import POSITIONS, Fall, Figures, figures
from netcheck.remedy.score import EFFORT, WEIGHTS, score, serves
from netcheck.remedy.search import Tried
from netcheck.remedy.ways import Kind, Way

MARK = Mark("V1", "grid1", 0, -36.0, -35.0, -34.0)
STRAP = Way(Kind.STRAP, ("R3",), 100e3)


def fall(**changed: Any) -> Fall:
    told: dict[str, Any] = {
        "mark": MARK, "inside": (0.45, 0.55), "middle": 0.5, "covered": 1.0, "off": 0.0,
        "steepness": 1.0, "i_per_tenth": 4e-3, "v_per_tenth": 2.0, "share_most": 0.9,
        "v_least": -45.0, "v_most": -25.0,
    }  # fmt: skip
    return Fall(**(told | changed))


def made(worst: float | None = 1.0, apart: float = 0.0, travel: bool = True, **changed: Any
         ) -> Figures:  # fmt: skip
    one = fall(**changed)
    return Figures((one,), one.inside, apart, travel, worst)


def test_what_falls_in_the_middle_loses_only_the_work() -> None:
    found = score(made(), STRAP)
    assert found.total == pytest.approx(100.0 - EFFORT[Kind.STRAP])
    assert score(made()).total == 100.0


@pytest.mark.parametrize(
    ("figures", "term", "points"),
    [
        # a fifth of the travel off is 0.4 of half of it; by the square 0.16 of the weight
        (made(middle=0.7, inside=(0.65, 0.75)), "off middle", 0.16 * WEIGHTS["off middle"]),
        (made(middle=0.3, inside=(0.25, 0.35)), "off middle", 0.16 * WEIGHTS["off middle"]),
        (made(middle=None), "off middle", WEIGHTS["off middle"]),
        (made(covered=0.25), "window missed", 0.75 * WEIGHTS["window missed"]),
        (made(apart=0.5), "valves apart", 0.5 * WEIGHTS["valves apart"]),
        # 5 % left where 20 % are wanted is three quarters short
        (made(inside=(0.05, 0.3)), "little range", 0.75 * WEIGHTS["little range"]),
        (made(inside=(0.3, 1.0)), "little range", WEIGHTS["little range"]),
        (made(inside=(0.3, 0.7)), "little range", 0.0),
        # 2.5 windows lie halfway from 1 to 4
        (made(steepness=2.5), "coarse", 0.5 * WEIGHTS["coarse"]),
        (made(steepness=9.0), "coarse", WEIGHTS["coarse"]),
        (made(worst=2.0), "hot end", 0.5 * WEIGHTS["hot end"]),
        (made(worst=None), "hot end", 0.0),
        # without a pot half a half width off the middle, by the square
        (made(travel=False, off=0.5), "off middle", 0.25 * WEIGHTS["off middle"]),
    ],
)
def test_each_shortcoming_costs_its_points(figures: Figures, term: str, points: float) -> None:
    assert score(figures).terms[term] == pytest.approx(points)


def test_work_is_counted_for_each_part_and_for_what_goes_before() -> None:
    two = Way(Kind.STRAP, ("R5", "R6"), 100e3)
    put_right = Way(Kind.RESTORE, ("R1",))
    assert score(made(), two).terms["effort"] == 2 * EFFORT[Kind.STRAP]
    assert score(made(), two, put_right).terms["effort"] == (
        2 * EFFORT[Kind.STRAP] + EFFORT[Kind.RESTORE]
    )


def test_a_strap_is_less_work_than_a_resistor_and_that_less_than_a_pot() -> None:
    assert EFFORT[Kind.STRAP] < EFFORT[Kind.RESISTOR] < EFFORT[Kind.SERIES] < EFFORT[Kind.POT]


def test_what_every_drawer_holds_is_preferred() -> None:
    for r, points in ((100e3, 0.0), (110e3, 2.0)):
        assert score(made(), Way(Kind.STRAP, ("R3",), r)).terms["series"] == points
    # 2k5 is no value of E12, but every pot maker has it
    assert score(made(), Way(Kind.POT, ("RV1",), 2500.0)).terms["series"] == 0.0


def test_no_score_makes_up_for_over_running() -> None:
    good, bad = made(share_most=1.2), made(share_most=0.9, middle=0.7, inside=(0.6, 0.8))
    ranked = sorted((Tried(STRAP, f, score(f, STRAP).total) for f in (good, bad)),
                    key=lambda t: t.rank)  # fmt: skip
    assert ranked[0].figures is bad
    assert ranked[1].total > ranked[0].total


def test_near_the_middle_and_not_at_an_end() -> None:
    for middle, does in ((0.5, True), (0.21, True), (0.79, True), (0.19, False), (0.81, False)):
        assert serves(made(middle=middle)) is does
    assert not serves(made(middle=None))
    assert serves(made(travel=False, off=0.99))
    assert not serves(made(travel=False, off=-1.01))


# ------------------------------------------------------------- where a window falls, by hand


def goal(*marks: Mark) -> Aim:
    return Aim(marks, None, None, (), 1.0)


def test_of_a_straight_curve_by_hand() -> None:
    """From -45 to -25 V over the travel the volts are -45 + 20 t."""
    v = np.linspace(-45.0, -25.0, POSITIONS)[None, :, None]
    (found,) = figures(goal(MARK), v, [[0]], [None])
    (one,) = found.falls
    assert one.inside == pytest.approx((9 / 20, 11 / 20), abs=1e-9)
    assert one.middle == pytest.approx(10 / 20, abs=1e-9)
    assert found.room == pytest.approx((0.45, 0.45), abs=1e-9)
    assert one.v_per_tenth == pytest.approx(2.0)
    assert one.steepness == pytest.approx(1.0)  # 2 V a tenth; the window is 2 V wide
    assert one.covered == 1.0


def test_turned_the_other_way_it_falls_mirrored() -> None:
    v = np.linspace(-25.0, -39.0, POSITIONS)[None, :, None]
    (found,) = figures(goal(MARK), v, [[0]], [None])
    assert found.inside == pytest.approx((9 / 14, 11 / 14), abs=1e-9)
    assert found.falls[0].v_per_tenth == pytest.approx(-1.4)


def test_a_bent_curve_is_followed_between_the_positions() -> None:
    """v = -45 + 20 t^2 passes -36, -35 and -34 V at the roots; 1e-4 is far below a degree."""
    t = np.linspace(0.0, 1.0, POSITIONS)
    (found,) = figures(goal(MARK), (-45.0 + 20.0 * t**2)[None, :, None], [[0]], [None])
    (one,) = found.falls
    assert one.inside == pytest.approx(((9 / 20) ** 0.5, (11 / 20) ** 0.5), abs=1e-4)
    assert one.middle == pytest.approx((10 / 20) ** 0.5, abs=1e-4)


def test_half_a_window_beyond_the_end() -> None:
    v = np.linspace(-45.0, -35.5, POSITIONS)[None, :, None]
    (found,) = figures(goal(MARK), v, [[0]], [None])
    assert found.middle is None
    assert found.covered == pytest.approx(0.25)
    assert found.falls[0].inside == pytest.approx((9 / 9.5, 1.0))


def test_valves_of_one_pot_have_a_stretch_in_common() -> None:
    other = Mark("V2", "grid2", 1, -35.5, -34.5, -33.5)
    v = np.repeat(np.linspace(-45.0, -25.0, POSITIONS)[None, :, None], 2, axis=2)
    (found,) = figures(goal(MARK, other), v, [[0, 1]], [None])
    assert found.inside == pytest.approx((9.5 / 20, 11 / 20), abs=1e-9)
    assert found.apart == pytest.approx(0.25)  # 0.5 of 2 V is not common
    (alone,) = figures(goal(MARK, other), v, [[0], [1]], [None])
    assert alone.apart == 0.0


def test_valves_that_want_different_volts_from_one_pot() -> None:
    other = Mark("V2", "grid2", 1, -32.0, -31.0, -30.0)
    v = np.repeat(np.linspace(-45.0, -25.0, POSITIONS)[None, :, None], 2, axis=2)
    (found,) = figures(goal(MARK, other), v, [[0, 1]], [None])
    assert found.inside is None
    assert found.apart == 1.0
