"""What to read next: bits, and what it would show."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import entropy

from netcheck.diagnose.account import account, varied
from netcheck.diagnose.candidates import FIRST_TURN, Candidate
from netcheck.diagnose.diagnosis import diagnose
from netcheck.diagnose.gain import next_readings
from netcheck.readings import Kind, Position, Reading, State

from .conftest import Models
from .sections import METER, YEAR, at, dc, model_of
from .test_posterior import CASES, DIVIDER, volts

FOOT = "two-6v6gt-foot"
WEAK = [dc("raw", -47.3, at({"RV1": 1.0}, turn=1)), dc("grid1", -23.3, at({"RV1": 1.0}, turn=1)),
        dc("grid1", -31.5, at({"RV1": 0.0}, turn=2))]  # fmt: skip
"""As the simulation gives it with the winding, or the mains, at 78 %."""


def lifted(part: str) -> Candidate:
    off = State(live=False, turn=FIRST_TURN, discharged=True)
    return Candidate(Reading(Kind.LIFTED, 0.0, 0.0, off, METER, part=part), 3.0)


def test_a_part_read_alone_settles_which_of_two_it_is() -> None:
    # The divider's middle is off: R1 high or R2 low, each some 0.3 and V1 the rest.
    model = model_of(DIVIDER)
    raw, mid = (round(float(v), 1) for v in volts(*(np.array(v) for v in CASES["R1 up"])))
    found = diagnose(model, [dc("raw", raw), dc("mid", mid)], YEAR)
    shares = [s.probability for s in found.suspects]
    (one,) = next_readings(found, [lifted("R1")], YEAR)
    r1 = next(s.probability for s in found.suspects if s.parts == ("R1",))
    # Whether it is R1 is then known, and nothing else: the entropy of that question.
    wanted = entropy([r1, 1.0 - r1], base=2)
    assert one.bits == pytest.approx(wanted, abs=0.1)
    assert one.bits <= entropy(shares, base=2)
    low, _, high = one.if_fault[("R2",)]
    assert 9.4e3 < low < high < 10.6e3  # if it is R2, R1 lies within its 5 %
    assert one.if_fault[("R1",)][1] == pytest.approx(15e3, rel=0.1)


def test_what_is_foretold_does_not_hang_on_what_else_might_be_read(models: Models) -> None:
    # Once the mains is read it may be anything; that it could be read changes nothing yet.
    found = diagnose(models(FOOT), WEAK, YEAR)
    state = State(pots={"RV1": Position(0.0, turn=FIRST_TURN)}, turn=FIRST_TURN)
    volts_at_raw = Candidate(Reading(Kind.DC, 0.0, 0.0, state, METER, "raw", "ground"), 2.0)
    mains = Candidate(Reading(Kind.MAINS, 0.0, 0.0, state, METER), 1.6)
    (alone,) = next_readings(found, [volts_at_raw], YEAR)
    beside = next(
        n for n in next_readings(found, [mains, volts_at_raw], YEAR) if n.candidate is volts_at_raw
    )
    # Sixteen draws of each hypothesis: the ends of the range are good to a few tenths of a volt.
    assert beside.likely == pytest.approx(alone.likely, abs=0.3)
    assert alone.likely[1] == pytest.approx(-47.3, abs=0.5)


def test_bits_are_bounded_and_in_order_of_worth(models: Models) -> None:
    found = account(models(FOOT), WEAK, METER, YEAR)
    most = entropy([s.probability for s in found.diagnosis.suspects], base=2)
    assert found.following
    assert all(0.0 < n.bits <= most + 1e-9 for n in found.following)
    worth = [n.worth for n in found.following]
    assert worth == sorted(worth, reverse=True)
    had = {(r.kind, r.plus, tuple(p.travel for p in r.state.pots.values())) for r in WEAK}
    for n in found.following:
        r = n.candidate.reading
        assert (r.kind, r.plus, tuple(p.travel for p in r.state.pots.values())) not in had


def test_alternatives_tell_apart_what_the_best_does_not(models: Models) -> None:
    found = account(models(FOOT), WEAK, METER, YEAR)
    shown = varied(found.following, 4)
    assert shown[0] is found.following[0]
    assert len(shown) <= 4
    kinds = {n.candidate.reading.kind for n in shown}
    assert len(kinds) >= 2  # ohms tell leaks, only volts at the winding tell the mains from it
    assert kinds & {Kind.MAINS, Kind.AC}


def test_nothing_is_gained_where_all_is_known() -> None:
    model = model_of(DIVIDER)
    found = diagnose(model, [dc("raw", -0.1), dc("mid", -0.1)], YEAR)
    assert found.suspects[0].parts == ("S1",)
    assert all(n.bits < 0.2 for n in next_readings(found, [lifted("R1"), lifted("R2")], YEAR))


def test_without_candidates_there_is_nothing_to_say(models: Models) -> None:
    found = diagnose(models(FOOT), WEAK, YEAR)
    assert next_readings(found, [], YEAR) == []
