"""Why a part does not act: each reason on a circuit where it holds."""

from __future__ import annotations

import pytest

from netcheck.engine.service import Service
from netcheck.predictor import Predictor
from netcheck.substitution import LEAST, Asked, Way, knob_for, substitute, why_nothing

from .sections import DIVIDER, example, predictor_of

LINKED = DIVIDER.replace("R2 from foot", "R2 from foot2") + (
    "link F1 from foot to foot2\n"
    "resistor R9 from foot to foot2 1k\n"
    "resistor R8 from foot to ground 10k\n"
    "resistor R7 from raw to ground 47k\n"
    "resistor R6 from grid1 to hum 47k\n"
    "capacitor C9 from hum to ground 100n\n"
    "capacitor C7 from sweep to grid1 100n\n"
    "tremolo TR from lfo to ground 2 Vpp 4 Hz source 10k\n"
    "capacitor C8 from lfo to grid2 100n\n"
)


def reason(predictor: Predictor, part: str, way: Way | None = None) -> str:
    """What is said of a part that was turned in vain."""
    knob = knob_for(predictor, part, Asked(way, steps=2))
    found = substitute(predictor, knob)
    assert found.moved.max() <= LEAST
    return why_nothing(predictor, knob, found.swept)


@pytest.fixture(scope="module")
def linked(service: Service) -> Predictor:
    return predictor_of(LINKED, service)


@pytest.mark.parametrize(
    ("part", "way", "said"),
    [
        ("F1", None, "F1 does not act on the grids: it is a link, which shorts a resistor"),
        ("R9", None, "R9 does not act on the grids: both its ends are on one node"),
        ("R9", Way.IN_PLACE, "both its ends are on one node"),
        ("TR", None, "it alternates, and its mean is zero"),
        ("R6", None, "no direct current flows in it, so there are no volts across it"),
        ("R3", Way.IN_PLACE, "it is a grid leak; no direct current flows in it"),
        ("C9", None, "no direct current flows through it; it acts on ripple and on how fast"),
        ("C7", Way.ACROSS, "there are no volts across it"),
    ],
)
def test_behind_a_supply(part: str, way: Way | None, said: str, linked: Predictor) -> None:
    assert said in reason(linked, part, way)


def test_a_winding_of_little_resistance(service: Service) -> None:
    """0.3 ohm against a kilohm."""
    said = reason(example("two-el84-doubler", service), "T1", Way.ACROSS)
    assert said == "T1 does not act on the grids: its own resistance is small against such a load"


def test_a_balance_pot_in_the_middle(service: Service) -> None:
    """Both sides are alike: nothing flows through a box from one to the other."""
    said = reason(example("two-el34-balance", service), "RV2", Way.ACROSS)
    assert "it is a balance pot; with RV2 in the middle there are no volts across it" in said


def test_what_is_not_felt_at_the_grids(service: Service) -> None:
    """A kilohm in series with the 68k of 47n at 50 Hz, and a bleeder on a stiff supply."""
    coupled = reason(example("two-el34-coupled", service), "R1")
    assert "it is a dropper; whatever becomes of the 4.8" in coupled
    stiff = predictor_of(LINKED.replace("42 V source 100 ohm", "42 V source 0.001 ohm"), service)
    assert "it is a bleeder; whatever becomes of the 42.0 V across it" in reason(stiff, "R7")


def test_a_part_that_acts_with_other_values(service: Service) -> None:
    """By hand: 2k7 across the 27k leaves 2455 ohm of it; the grid at the far end of the travel
    falls from 42 V * 36.9k / 52.1k to 42 V * 12.35k / 27.55k."""
    section = predictor_of(DIVIDER, service)
    knob = knob_for(section, "R2", Asked(Way.ACROSS, "1G", "10G", steps=2))
    substitute(section, knob)
    moved = max(abs(42 * (27e3 + b) / 52.1e3 - 42 * (2454.5 + b) / 27554.5) for b in (9900, 100))
    assert why_nothing(section, knob, ("RV1",)) == (
        "R2 does not act on the grids with these values: it takes others, such as 2k7 across it, "
        f"which moves one by {moved:.1f} V"
    )
