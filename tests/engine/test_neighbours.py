"""A search that begins where one nearby has ended finds the same, and sooner."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from netcheck.engine.elements import (
    Capacitance,
    Element,
    Floats,
    Resistance,
    SineSource,
    SteadyState,
    Waveforms,
)
from netcheck.engine.jobs import Answer, Job
from netcheck.engine.neighbours import Neighbours
from netcheck.engine.service import Service
from netcheck.engine.steady import steady_state, steady_states
from netcheck.errors import EngineError

from .circuits import half_wave

CIRCUIT, FREQUENCY = half_wave()
"""A supply of two capacitors, and a load behind them."""


def scaled(kind: type[Element], share: float) -> list[Element]:
    """The circuit with all values of one kind a share of what they are."""
    names = {Resistance: "r", Capacitance: "c", SineSource: "v_peak"}
    at = names[kind]
    return [
        replace(one, **{at: getattr(one, at) * share}) if isinstance(one, kind) else one
        for one in CIRCUIT
    ]


def state(**volts: float) -> SteadyState:
    """Something that was found, wherever."""
    t: Floats = np.array([0.0, 1.0])
    return SteadyState(Waveforms(t, {}), converged=True, residual=0.0, cycles=1, start=volts)


def test_with_nothing_known_it_begins_at_nought_and_asks_for_the_slope() -> None:
    problem = Neighbours().problem(CIRCUIT, FREQUENCY)
    assert problem.start == {}
    assert problem.slope is None
    assert problem.slope_wanted


class Counting(Service):
    """A simulator that counts what it is asked."""

    def __init__(self, asked: Service) -> None:
        super().__init__()
        self._asked, self.lists = asked, list[int]()

    def solve(self, jobs: Sequence[Job], *, every: bool = False) -> list[Answer | EngineError]:
        self.lists.append(len(jobs))
        return self._asked.solve(jobs, every=every)


def test_the_very_same_circuit_is_simulated_once(service: Service) -> None:
    near, counting = Neighbours(), Counting(service)
    other = scaled(Resistance, 1.01)
    first = near.attempts([CIRCUIT, other, CIRCUIT, other], FREQUENCY, service=counting)
    again = near.attempts([other, CIRCUIT], FREQUENCY, service=counting)
    assert [one for one in counting.lists if one] == [1, 1]
    assert first[0] is first[2] is again[1]
    assert first[1] is first[3] is again[0]


def test_the_first_alone_then_the_rest_together(service: Service) -> None:
    near, counting = Neighbours(), Counting(service)
    circuits = [scaled(Resistance, 1.0 + k / 100) for k in range(4)]
    found = near.attempts(circuits, FREQUENCY, service=counting)
    assert counting.lists == [1, 3]
    alone = [steady_state(one, FREQUENCY, service=service) for one in circuits]
    for ours, theirs in zip(found, alone, strict=True):
        assert isinstance(ours, SteadyState)
        assert ours.mean("m") == pytest.approx(theirs.mean("m"), abs=5e-3)


def test_after_a_first_one_that_fails_there_is_no_other() -> None:
    class Failing(Service):
        def solve(self, jobs: Sequence[Job], *, every: bool = False) -> list[Answer | EngineError]:
            return [EngineError("it was too odd") for _ in jobs]

    circuits = [CIRCUIT, scaled(Resistance, 1.1)]
    for every, count in ((True, 1), (False, 2)):
        found = Neighbours().attempts(circuits, FREQUENCY, service=Failing(), every=every)
        assert [str(one) for one in found] == ["it was too odd"] * count


def test_the_nearest_is_taken() -> None:
    near = Neighbours()
    near.note(CIRCUIT, state(C1=1.0))
    near.note(scaled(Resistance, 3.0), state(C1=2.0))
    assert near.problem(scaled(Resistance, 1.2), FREQUENCY).start == {"C1": 1.0}
    assert near.problem(scaled(Resistance, 2.5), FREQUENCY).start == {"C1": 2.0}


def test_an_element_more_makes_a_circuit_another_one() -> None:
    near = Neighbours()
    probe = Resistance("probe", "n", "m", 1e3)
    near.note([*CIRCUIT, probe], state(C1=2.0))
    near.note(scaled(Resistance, 1.05), state(C1=1.0))
    assert near.problem(CIRCUIT, FREQUENCY).start == {"C1": 1.0}
    assert near.problem([*CIRCUIT, probe], FREQUENCY).start == {"C1": 2.0}


def test_sources_that_are_turned_up_together_take_all_voltages_along() -> None:
    near = Neighbours()
    near.note(CIRCUIT, state(C1=10.0, C2=4.0))
    start = near.problem(scaled(SineSource, 1.1), FREQUENCY).start
    assert start == pytest.approx({"C1": 11.0, "C2": 4.4})


def test_what_did_not_settle_is_no_place_to_begin() -> None:
    near = Neighbours()
    near.note(CIRCUIT, replace(state(C1=10.0), converged=False))
    assert near.problem(CIRCUIT, FREQUENCY).start == {}


@pytest.mark.parametrize(
    "other",
    [scaled(SineSource, 1.1), scaled(Resistance, 1.1), scaled(Resistance, 0.1),
     scaled(Resistance, 1e4), scaled(Capacitance, 3.0)],
    ids=["mains", "resistors", "heavy", "light", "capacitors"],
)  # fmt: skip
def test_same_state_from_nearby_as_from_nought(other: Sequence[Element], service: Service) -> None:
    near = Neighbours()
    first = near.problem(CIRCUIT, FREQUENCY)
    (found,) = steady_states([first], service=service)
    near.note(CIRCUIT, found)
    there = near.problem(other, FREQUENCY)
    assert there.slope is not None
    from_nearby, from_nought = steady_states(
        [there, Neighbours().problem(other, FREQUENCY)], service=service
    )
    assert from_nearby.converged
    for node in ("n", "m"):
        allowed = 5e-3 + 1e-4 * abs(from_nought.mean(node))
        assert from_nearby.mean(node) == pytest.approx(from_nought.mean(node), abs=allowed)


def test_a_search_from_nearby_is_shorter(service: Service) -> None:
    near = Neighbours()
    (found,) = steady_states([near.problem(CIRCUIT, FREQUENCY)], service=service)
    near.note(CIRCUIT, found)
    others = [scaled(SineSource, 1.1), scaled(Resistance, 1.1)]
    states = steady_states([near.problem(other, FREQUENCY) for other in others], service=service)
    assert all(one.cycles <= 5 < found.cycles for one in states)
