"""The same with a rectifier, whose volts give way: behind it, and in front of it."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.engine.service import Service
from netcheck.failures import Study

from .cures import are_preferred, are_safe, moves_as_said, written
from .sections import MAINS, replaced

StudyOf = Callable[[str], Study]
BEHIND = replaced(MAINS, "R6")
IN_FRONT = """\
circuit "A pot in front of the rectifier"
mains 230 V 50 Hz
winding T1 from ground to tap 50 Vac source 60 ohm
pot RV1 top tap wiper level bottom ground 10k linear
resistor R1 from level to feed 1k
diode D1 anode raw cathode feed 1000 V
capacitor C1 plus ground minus raw 47 uF 100 V
resistor R2 from raw to bias 18k
resistor R3 from bias to ground 220k
resistor R4 from bias to grid1 68k
valve V1 6L6GC grid grid1 plate 300 V screen 300 V cathode 1 ohm
"""
PLACES = {BEHIND: ("sweep", "head", "top"), IN_FRONT: ("level", "tap", "top")}


@pytest.mark.parametrize("text", PLACES)
def test_it_is_a_preferred_value_from_the_wiper_to_the_negative_end(
    text: str, study_of: StudyOf
) -> None:
    """In front of the rectifier that is the end that alternates."""
    are_preferred(study_of(text))
    (one,) = study_of(text).proposals
    assert (one.start, one.end, one.end_word) == PLACES[text]


@pytest.mark.parametrize("text", PLACES)
def test_typed_into_the_circuit_it_makes_the_lifted_wiper_safe(
    text: str, study_of: StudyOf
) -> None:
    before = study_of(text)
    are_safe(before, study_of(written(text, before)))


@pytest.mark.parametrize("text", PLACES)
def test_it_moves_the_travel_by_no_more_than_is_said(
    text: str, study_of: StudyOf, service: Service
) -> None:
    moves_as_said(text, study_of(text), service)
