"""Where volts are gone: what they still tell, and what is expected of the next ones.

The section is one of the examples; the readings are what ngspice gave with the fault in.
"""

from __future__ import annotations

from netcheck.diagnose.candidates import FIRST_TURN, Candidate
from netcheck.diagnose.diagnosis import Verdict, diagnose
from netcheck.diagnose.gain import next_readings
from netcheck.readings import OVERLOAD, Kind, Position, Reading, State

from .conftest import Models
from .sections import METER, YEAR, at, dc, ohms

OFF = at({"RV1": 0.0}, live=False)
HALF_A_WINDING = [
    ohms(("ground", "raw"), 21.3e3, OFF, "C2"),
    dc("grid2", 0.0, at({"RV1": 1.0}, turn=1)),
    ohms(("ht2", "couple"), OVERLOAD, OFF, "C1"),
    ohms(("sweep", "grid2"), 210e3, OFF, "R5"),
    ohms(("couple", "pump"), 1001.0, OFF, "R1"),
]
"""Of the coupled supply with the half of T1 open that feeds it."""


def test_volts_that_are_gone_are_not_asked_for_again_and_again(models: Models) -> None:
    # A rectifier open or half a winding: hardly anything is left anywhere, and how little of it
    # is told less exactly than a meter reads. To read it at another node brings nothing new.
    model = models("two-el34-coupled")
    found = diagnose(model, HALF_A_WINDING, YEAR)
    before = {s.label: s.probability for s in found.suspects}
    assert set(list(before)[:2]) == {"D2", "T1"}
    state = State(pots={"RV1": Position(0.0, turn=FIRST_TURN)}, turn=FIRST_TURN)
    volts = [Candidate(Reading(Kind.DC, 0.0, 0.0, state, METER, node, "ground"), 2.0)
             for node in ("raw", "head", "foot", "sweep", "grid1")]  # fmt: skip
    # With the error of the meter alone each would be expected to tell 0.4 bits.
    assert all(one.bits < 0.2 for one in next_readings(found, volts, YEAR))
    # And so it is: a meter that shows nothing leaves the suspects where they stood.
    again = diagnose(model, [*HALF_A_WINDING, dc("raw", 0.0, at({"RV1": 0.0}, turn=2))], YEAR)
    for suspect in again.suspects[:2]:
        assert abs(suspect.probability - before[suspect.label]) < 0.1


def test_a_winding_that_gives_nothing_is_not_the_rectifier(models: Models) -> None:
    # Without the reading at the winding an open rectifier would do as well.
    model = models("two-el34-coupled")
    before = diagnose(model, HALF_A_WINDING, YEAR)
    assert {"D2", "T1"} <= {s.label for s in before.suspects if s.probability > 0.1}
    state = at({"RV1": 0.0}, turn=2)
    at_the_winding = Reading(Kind.AC, 0.0, 1e-3, state, METER, "ht2", "ground")
    found = diagnose(model, [*HALF_A_WINDING, at_the_winding], YEAR)
    assert found.suspects[0].label == "T1"
    assert found.suspects[0].probability > 0.99


def test_what_strays_in_front_says_little_of_the_rest(models: Models) -> None:
    # With the half gone that feeds the tap, what is left there comes by way of the insulation
    # and of what else hangs on the winding: volts for a meter, but none that a curve foretells.
    model = models("two-6l6gc-ht-tap")
    state = at({"RV1": 0.0}, turn=1)
    taken = [
        Reading(Kind.MAINS, 223.0, 1.0, state, METER),
        dc("raw", 0.0, state),
        Reading(Kind.DC, 1.082, 1e-3, state, METER, "feed", "ground"),
        Reading(Kind.AC, 1.531, 1e-3, state, METER, "tap", "ground"),
        ohms(("ground", "ht2"), OVERLOAD, OFF),
        ohms(("ht1", "ground"), 85.0, OFF),
    ]
    found = diagnose(model, taken, YEAR)
    assert found.verdict is Verdict.NAMED
    assert (found.suspects[0].label, found.suspects[0].mode.hypothesis.mode) == (
        "T1", "half to ht2 open")  # fmt: skip
