"""Which readings speak for a suspect, and what they are set beside."""

from __future__ import annotations

from netcheck.diagnose.diagnosis import Diagnosis, diagnose
from netcheck.diagnose.evidence import Evidence, evidence
from netcheck.diagnose.suspects import Suspect
from netcheck.readings import Kind, Reading

from .conftest import Models
from .sections import METER, YEAR, at, dc, ohms

FOOT = "two-6v6gt-foot"
CW, ACW = at({"RV1": 1.0}, turn=1), at({"RV1": 0.0}, turn=2)
OFF = at({"RV1": 0.0}, live=False, turn=2)
MAINS = Reading(Kind.MAINS, 236.0, 1.0, CW, METER)
STRAPPED = [MAINS, dc("raw", -61.8, CW), dc("foot", -26.1, CW), dc("grid1", -26.1, CW),
            dc("grid1", -37.8, ACW), dc("grid2", -37.9, ACW),
            ohms(("raw", "head"), 18.4e3, OFF, "R2"), ohms(("foot", "ground"), 20.2e3, OFF, "R3")]  # fmt: skip
"""As the simulation gives it with 82k across the foot resistor R3 of 27k."""


def of(found: Diagnosis, part: str) -> tuple[Suspect, list[Evidence]]:
    suspect = next(s for s in found.suspects if s.parts == (part,))
    return suspect, evidence(found, suspect)


def test_the_strongest_first_with_what_a_sound_section_shows(models: Models) -> None:
    found = diagnose(models(FOOT), STRAPPED, YEAR)
    suspect, speaks = of(found, "R3")
    assert suspect is found.group[0]
    used = found.readout.readings
    assert used[speaks[0].reading].part == "R3"
    bits = [e.bits for e in speaks]
    assert bits == sorted(bits, reverse=True)
    # A sound R3 lies within 5 %, evenly: 95 of 100 within 4.75 %, and the meter's error on top;
    # the points of 256 draws are one part in 256 of the 10 % apart.
    low, middle, high = speaks[0].sound
    assert 25.4e3 < low < 27e3 * (0.9525 + 0.1 / 256)
    assert 27e3 * (1.0475 - 0.1 / 256) < high < 28.6e3
    assert abs(middle - 27e3) < 300.0
    assert speaks[0].fault is not None
    assert abs(speaks[0].fault - 20.2e3) < 400.0
    # What R2 and the reservoir show goes with either, so it is not listed.
    assert {used[e.reading].plus for e in speaks} == {"foot", "grid1", "grid2"}
    for one in speaks:
        assert one.measured == used[one.reading].nominal
        assert not one.sound[0] <= one.measured <= one.sound[2] or one.bits < 6.0


def test_the_range_of_a_sound_section_follows_the_mains_as_read(models: Models) -> None:
    def grid(mains: float) -> tuple[float, float, float]:
        readings = [Reading(Kind.MAINS, mains, 1.0, CW, METER), *STRAPPED[1:]]
        _, speaks = of(diagnose(models(FOOT), readings, YEAR), "R3")
        found = diagnose(models(FOOT), readings, YEAR).readout.readings
        return next(e.sound for e in speaks
                    if found[e.reading].plus == "foot" and found[e.reading].kind is Kind.DC)  # fmt: skip

    low, _, high = grid(236.0)
    low_less, _, high_less = grid(220.0)
    assert low < low_less  # less mains, less negative
    assert high < high_less
    assert abs(low / low_less - 236.0 / 220.0) < 0.02


def test_readings_that_only_tell_together(models: Models) -> None:
    # Either grid is where it may be; that they differ is what no sound section shows.
    readings = [dc("grid1", -39.6, ACW), dc("grid2", -43.4, ACW)]
    found = diagnose(models(FOOT), readings, YEAR)
    _, speaks = of(found, "V1")
    assert {found.readout.readings[e.reading].plus for e in speaks} == {"grid1", "grid2"}
    for one in speaks:
        assert one.together
        assert one.bits > 10.0
        # Like grids of a sound section differ by nothing: each should be where the other is.
        other = next(r.nominal for r in readings if r.nominal != one.measured)
        assert one.sound[0] - 0.3 < other < one.sound[2] + 0.3
        assert not one.sound[0] < one.measured < one.sound[2]


def test_what_speaks_against_a_suspect_comes_last(models: Models) -> None:
    # The volts are those of a strapped foot resistor, but its resistance is right.
    readings = [*STRAPPED[:6], ohms(("foot", "ground"), 20.2e3, OFF, "R3"),
                ohms(("head", "foot"), 9.9e3, OFF, "RV1"), ohms(("raw", "head"), 27.5e3, OFF, "R2")]  # fmt: skip
    found = diagnose(models(FOOT), readings, YEAR)
    every = [
        (s, evidence(found, s))
        for s in found.suspects
        if s.parts and s.mode.hypothesis.reading is None
    ]
    against = [(s, speaks) for s, speaks in every if speaks and speaks[-1].bits < 0.0]
    assert against
    for _, speaks in every:
        bits = [e.bits for e in speaks]
        assert bits == sorted(bits, reverse=True)


def test_nothing_speaks_for_nothing(models: Models) -> None:
    found = diagnose(models(FOOT), STRAPPED, YEAR)
    sound = Suspect((), 0.0, found.suspects[0].modes)
    assert evidence(found, sound) == []
