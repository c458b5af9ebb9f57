"""What is held likely before any reading: shares that make one whole, and their order."""

from __future__ import annotations

from dataclasses import replace

import pytest

from netcheck.commands.common import load
from netcheck.diagnose.diagnosis import SOUND_BEFORE, prior_of
from netcheck.diagnose.hypotheses import Hypothesis, misread, pairs, single, undrawn_leaks
from netcheck.graph import Section
from netcheck.readings import Kind, Meter

from .sections import dc

CIRCUITS = ["two-6v6gt-foot", "two-el34-balance", "two-el84-fixed", "two-6v6gta-direct"]


def total(hypotheses: list[Hypothesis]) -> float:
    return sum(prior_of(h, SOUND_BEFORE) for h in hypotheses)


@pytest.mark.parametrize("name", CIRCUITS)
def test_shares_make_one_whole(name: str) -> None:
    section = Section(load(name))
    sound, *faults = single(section, [])
    both = list(pairs(section))
    leaks = undrawn_leaks(["leak a to b", "leak a to ground", "leak b to ground"])
    assert prior_of(sound, SOUND_BEFORE) == SOUND_BEFORE
    # What is left is for readings written down wrong, of which at most four are doubted.
    reading = dc("raw", -50.0)
    assert reading.kind is Kind.DC
    doubted = misread([reading] * 4, range(4))
    assert total([sound, *faults, *both, *leaks, *doubted]) == pytest.approx(1.0)
    # Common practice: one part far more often than two at once, those more often than dirt.
    assert total(faults) > 10.0 * total(both) > 10.0 * total(leaks)


@pytest.mark.parametrize("name", CIRCUITS)
def test_every_part_is_as_likely_as_any_other_of_its_kind(name: str) -> None:
    section = Section(load(name))
    own: dict[str, float] = {}
    for h in single(section, []):
        part = section.circuit.part(h.label)
        if part is not None and part.kind == "resistor":
            own[h.label] = own.get(h.label, 0.0) + prior_of(h, SOUND_BEFORE)
    assert len(own) > 2
    assert max(own.values()) == pytest.approx(min(own.values()))


def test_hypotheses_of_meters_come_in_the_order_of_the_readings() -> None:
    """And not in that of a set: every fit of a batch is rounded by where it stands in it."""
    names = ["shop", "panel", "old", "new", "borrowed", "dmm"]
    readings = [replace(dc("raw", -50.0), meter=Meter(name)) for name in (*names, *names)]
    every = single(Section(load("two-6v6gt-foot")), readings)
    assert [h.label for h in every if h.label.startswith("meter ")] == [f"meter {n}" for n in names]
