"""What makes a lifted wiper harmless: its value, what it costs in travel, whether it holds."""

from __future__ import annotations

from collections.abc import Callable

import eseries
import numpy as np
import pytest

from netcheck.engine.service import Service
from netcheck.failures import Danger, Study, study
from netcheck.failures.cure import I_GRID
from netcheck.graph import Section
from netcheck.predictor import Predictor

from .cures import TRAVEL, are_preferred, are_safe, moves_as_said, written
from .sections import (
    BALANCE,
    COUPLED,
    DIVIDER,
    FOOT_RHEOSTAT,
    PER_VALVE,
    SAFE,
    SERIES_RHEOSTAT,
    TWO_SUPPLIES,
    ZENER,
    circuit_of,
    grids,
    studied,
)

StudyOf = Callable[[str], Study]

UPSIDE_DOWN = """\
circuit "The negative end at the bottom of the pot"
supply S1 plus ground minus raw 75 V source 1k
resistor R1 from raw to head 15k
pot RV1 top foot wiper sweep bottom head 10k linear clockwise top
resistor R2 from foot to ground 27k
resistor R3 from sweep to grid1 68k
valve V1 6L6GC grid grid1 plate 450 V screen 445 V cathode 1 ohm
"""
TWICE = SAFE + "resistor R7 from head to sweep 470k\n"
CLAMPED = DIVIDER.replace("sweep to grid2 100k", "sweep to ground 100k").replace(
    "valve V2 6L6GC grid grid2 plate 450 V screen 445 V cathode 1 ohm\n", ""
) + ("supply HT plus hot minus ground 400 V\nresistor R9 from hot to sweep 1M\n")  # fmt: skip
"""A bleed from the high tension pulls the bias line up: nothing light holds it down."""


@pytest.mark.parametrize("text", [DIVIDER, PER_VALVE, COUPLED, UPSIDE_DOWN])
def test_the_value_is_a_preferred_one(text: str, study_of: StudyOf) -> None:
    are_preferred(study_of(text))


@pytest.mark.parametrize("text", [DIVIDER, PER_VALVE, COUPLED, UPSIDE_DOWN])
def test_typed_into_the_circuit_it_makes_the_lifted_wiper_safe(
    text: str, study_of: StudyOf
) -> None:
    before = study_of(text)
    are_safe(before, study_of(written(text, before)))


@pytest.mark.parametrize("text", [DIVIDER, COUPLED, UPSIDE_DOWN])
def test_it_moves_the_travel_by_no_more_than_is_said(
    text: str, study_of: StudyOf, service: Service
) -> None:
    moves_as_said(text, study_of(text), service)


def test_several_are_weighed_together(study_of: StudyOf, service: Service) -> None:
    """Each of three resistors draws on the line that all pots share."""
    found = study_of(PER_VALVE)
    assert [one.pot for one in found.proposals] == ["RV1", "RV2", "RV3"]
    all_fitted = written(PER_VALVE, found)
    for one in found.proposals:
        moved = np.max(np.abs(grids(all_fitted, service, TRAVEL, one.pot)
                              - grids(PER_VALVE, service, TRAVEL, one.pot)))  # fmt: skip
        assert float(moved) == pytest.approx(one.moves, rel=0.03)
    one_only = all_fitted.split("resistor R91")[0]
    moved = np.max(np.abs(grids(one_only, service, TRAVEL) - grids(PER_VALVE, service, TRAVEL)))
    assert float(moved) < found.proposals[0].moves


def test_the_shift_is_that_of_thevenins_formula(study_of: StudyOf) -> None:
    """R across the upper track a, b below: the wiper rises by the theorem of Thevenin.

    Without it the wiper has V b / (s + a + b) behind the resistance a (s + b) / (s + a + b) as
    seen from the head; the resistor is in parallel with a, and the current grows.
    """
    found = study_of(DIVIDER)
    (one,) = found.proposals
    assert one.r is not None
    v, s, track, end, foot = 75.0, 16e3, 10e3, 100.0, 27e3
    shifts = []
    for travel in np.linspace(0.0, 1.0, 11):
        low = end + (track - 2 * end) * (1.0 - travel)
        a, b = track - low, low + foot
        # volts across a before, resistance seen by R: Thevenin's two numbers
        v_a, r_a = v * a / (s + a + b), a * (s + b) / (s + a + b)
        i = v_a / (one.r + r_a)
        # that current flows from the head into the wiper: s and b share what it takes off a
        shifts.append(i * r_a * b / (s + b))
    assert one.moves == pytest.approx(max(shifts), abs=1e-3)


def test_the_largest_value_that_still_holds_is_taken(study_of: StudyOf) -> None:
    """Two grids at 2 uA each lift the line by r times 4 uA; it must stay below where it was.

    With 1M it would rise by 4 V from the head at -52.4 V: enough still; 47 times the track, the
    largest that is looked at, is 470k.
    """
    (one,) = study_of(DIVIDER).proposals
    assert one.r == 470e3
    head = -75.0 * 37 / 53
    held = head + 2 * I_GRID * one.r
    assert held <= study_of(DIVIDER).sound.mean[1, 0]


def test_where_grid_current_matters_it_is_smaller(service: Service) -> None:
    """With the pot near its cold end little is to spare: the formula of the current decides."""
    found = studied(DIVIDER, service, now=0.1)
    (one,) = found.proposals
    assert one.r is not None
    assert found.sound.mean[found.now, 0] == pytest.approx(-75.0 * (27 + 0.1 + 0.9 * 9.8) / 53)
    spare = found.sound.mean[found.now, 0] - -75.0 * 37 / 53
    behind = 16e3 * 37e3 / 53e3  # the divider's own resistance at the head
    most = spare / (2 * I_GRID) - behind
    fitting = [r for r in eseries.erange(eseries.E12, 10e3, 470e3) if r <= most]
    assert one.r == pytest.approx(max(fitting))
    assert one.r < 470e3


def test_it_goes_to_the_negative_end(study_of: StudyOf) -> None:
    places = {text: [(one.start, one.end, one.end_word) for one in study_of(text).proposals]
              for text in (DIVIDER, UPSIDE_DOWN)}  # fmt: skip
    assert places == {
        DIVIDER: [("sweep", "head", "top")],
        UPSIDE_DOWN: [("sweep", "head", "bottom")],
    }


def test_the_negative_end_goes_before_one_that_would_do_as_well(study_of: StudyOf) -> None:
    """Set so cold that even the foot of the track endangers nothing: the head it is all the same.

    Common practice: if the wiper lifts, the grid must go more negative.
    """
    cold = study_of(DIVIDER.replace("75 V", "95 V"))
    assert max(float(share.max()) for share in cold.sound.of_limit.values()) < 0.6
    (one,) = cold.proposals
    assert (one.end, one.end_word) == ("head", "top")
    assert np.all(one.lifted.mean < cold.sound.mean)


def test_with_a_pot_held_in_place_it_is_found_too(service: Service) -> None:
    """What it costs is told over the pot's travel all the same."""
    found = studied(DIVIDER, service, fixed={"RV1": 0.3})
    assert found.travel.size == 1
    (one,) = found.proposals
    assert one.r == 470e3
    (free,) = studied(DIVIDER, service).proposals
    assert one.moves == pytest.approx(free.moves, abs=1e-4)


# ------------------------------------------------------------------------ what is there


@pytest.mark.parametrize(("text", "part", "r"), [(SAFE, "R6", 220e3), (ZENER, "R6", 220e3)])
def test_a_safety_resistor_is_named(text: str, part: str, r: float, study_of: StudyOf) -> None:
    (guard,) = study_of(text).guards
    assert (guard.pot, guard.part, guard.r) == ("RV1", part, r)
    assert guard.danger is Danger.COLD
    assert guard.danger_without is Danger.NO_BIAS
    assert guard.without is not None
    assert guard.without.floats
    assert not study_of(text).proposals


@pytest.mark.parametrize("text", [BALANCE, FOOT_RHEOSTAT, SERIES_RHEOSTAT.format(end="bias"),
                                  TWICE])  # fmt: skip
def test_where_the_wiring_holds_the_grids_no_part_is_credited(text: str, study_of: StudyOf) -> None:
    """Nor one of two resistors that each would do."""
    found = study_of(text)
    pots = [part.name for part in found.section.circuit.parts if part.kind == "pot"]
    assert [guard.pot for guard in found.guards] == pots
    assert not any(guard.part for guard in found.guards)
    assert not found.proposals
    assert not found.helpless


def test_a_resistor_from_the_wiper_to_an_end_is_credited(study_of: StudyOf) -> None:
    """Whatever else it may be there for."""
    (guard,) = study_of(TWO_SUPPLIES).guards
    assert (guard.part, guard.r) == ("R1", 100e3)
    assert guard.danger is Danger.HARMLESS
    assert guard.danger_without is Danger.NO_BIAS


def test_a_value_set_on_the_command_line_is_the_one_that_is_named(service: Service) -> None:
    predictor = Predictor(Section(circuit_of(SAFE)), service, {"R6": 100e3})
    (guard,) = study(predictor).guards
    assert guard.r == 100e3


# -------------------------------------------------------------------- other cures, none


def test_the_free_end_of_a_rheostat_is_strapped(study_of: StudyOf, service: Service) -> None:
    """That costs nothing and moves nothing; written into the circuit it makes it safe."""
    text = SERIES_RHEOSTAT.format(end="open")
    (one,) = study_of(text).proposals
    assert (one.r, one.end_word, one.start, one.end) == (None, "bottom", "bias", "open")
    assert one.moves == pytest.approx(0.0, abs=1e-3)
    strapped = SERIES_RHEOSTAT.format(end="bias")
    assert grids(strapped, service, TRAVEL) == pytest.approx(grids(text, service, TRAVEL), abs=1e-3)
    (lifted,) = [one for one in study_of(strapped).failures
                 if one.failure.words == "RV1 wiper lifted"]  # fmt: skip
    assert lifted.danger is one.danger is Danger.HOT
    assert lifted.outcome.mean == pytest.approx(one.lifted.mean, abs=1e-3)


def test_where_nothing_helps_it_is_said(study_of: StudyOf) -> None:
    found = study_of(CLAMPED)
    assert found.helpless == ("RV1",)
    assert not found.proposals
    assert not found.guards
