"""The live panel's values against whole simulations by ngspice, and how they are packed."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.commands.common import load
from netcheck.engine.elements import Resistance
from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.idling import idle
from netcheck.jobsheet.paneldata import STEPS, pack, panel_data
from netcheck.jobsheet.turned import Turn, Turned, groups, turned
from netcheck.netlist import Pot
from netcheck.parse import parse_circuit
from netcheck.predictor import Predictor
from netcheck.preferred import Series, is_preferred
from netcheck.source import Source
from netcheck.travel import Prediction, predict

from .conftest import Made
from .markup import Page

V_NEAR = 0.020
"""What a bench meter on its 20 V range does not show, twice over. [V]"""
HARD = {"two-el34-zener": "R2", "two-6l6gc-audio-taper": "RV1"}
"""Parts that are hard to interpolate: in front of a zener that drops out, a track that bends."""
SIDES = """circuit "Two sides, invented"
supply   S1   plus ground minus raw    60 V source 100 ohm
resistor R1   from raw to head         1k
resistor R5   from head to side1       33k
resistor R6   from head to side2       33k
pot      RV2  top side1 wiper middle bottom side2  10k linear clockwise top
pot      RV1  top middle wiper foot bottom foot    10k linear clockwise top
resistor R3   from foot to ground      18k
resistor R11  from side1 to grid1      180k
resistor R12  from side2 to grid2      180k
valve    V1   EL34 grid grid1 plate 420 V screen 415 V
valve    V2   EL34 grid grid2 plate 420 V screen 415 V
"""


def unpacked(packed: Sequence[int], step: float) -> np.ndarray[Any, Any]:
    """The inverse of `pack`, by the definition in its docstring."""
    steps = np.cumsum(packed[1:])
    return step * np.concatenate([packed[:1], packed[0] + np.cumsum(steps)])


@given(st.lists(st.integers(-(10**7), 10**7), min_size=1, max_size=12))
def test_packed_series_come_back(whole: list[int]) -> None:
    packed = pack(np.array(whole) * 1e-4, 1e-4)
    assert np.allclose(unpacked(packed, 1e-4), np.array(whole) * 1e-4, atol=1e-9)


def test_a_packed_line_is_two_numbers_and_zeros() -> None:
    assert pack(np.array([4.0, 5.0, 6.0, 7.0]), 1.0) == [4, 1, 0, 0]
    assert pack(np.array([4.0, 5.0, 6.0, 6.0]), 1.0) == [4, 1, 0, -1]
    assert pack(np.array([4.0]), 1.0) == [4]


@pytest.fixture(scope="module", params=sorted(HARD))
def hard(request: pytest.FixtureRequest, service: Service) -> tuple[Predictor, Turned]:
    predictor = Predictor(Section(load(request.param)), service)
    prediction = predict(predictor, with_start=False)
    every = list(groups(predictor, prediction.swept))
    only = [group for group in every if group.parts == (HARD[request.param],)]
    assert only
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("netcheck.jobsheet.turned.groups", lambda *_: only)
        return predictor, turned(predictor, prediction)


def whole(predictor: Predictor, p: Prediction, at: float, parts: Sequence[str],
          value: float | None, is_across: bool) -> dict[str, float]:  # fmt: skip
    """Mean voltages by ngspice, a box across or in place put in by hand."""
    values = predictor.values({**p.fixed, **dict.fromkeys(p.swept, at)})
    joined = predictor.section.joined
    extra = []
    for name in parts if value is not None else ():
        part = predictor.section.circuit.part(name)
        assert part is not None
        if not is_across:
            values[name] = value  # type: ignore[assignment]
            if isinstance(part, Pot):
                values[f"{name}.end"] = 0.01 * float(value or 0.0)  # as `assumed.r_end` has it
        else:
            ends = [node for word, node in part.terminals if word != "wiper"]
            extra.append(Resistance(f"box {name}", joined[ends[0]], joined[ends[1]], value or 0.0))
    return dict(predictor.whole(values, extra).mean)


def test_values_agree_with_ngspice(hard: tuple[Predictor, Turned]) -> None:
    predictor, found = hard
    p, watched = found.prediction, found.prediction.watched
    assert not found.left_out
    rng = np.random.default_rng(7)
    for turn in found.turns:
        for row in rng.choice(len(turn.values), 4, replace=False):
            k = int(rng.integers(p.travel.size))
            want = whole(predictor, p, float(p.travel[k]), turn.parts, turn.values[row],
                         turn.is_across)  # fmt: skip
            for node in watched:
                got = turn.v[row, k, found.nodes.index(node)]
                assert abs(got - want[node]) < V_NEAR, (turn.parts, turn.values[row], node)


def between(values: np.ndarray[Any, Any], travel: float) -> float:
    """The polynomial through the six nearest of evenly spaced values, as the page's script."""
    last = values.size - 1
    place = travel * last
    first = min(max(int(place) - 2, 0), last - 5)
    near = range(first, first + 6)
    weights = [np.prod([(place - k) / (j - k) for k in near if k != j]) for j in near]
    return float(np.dot(weights, values[first : first + 6]))


def test_between_the_positions_ngspice_says_the_same(hard: tuple[Predictor, Turned]) -> None:
    predictor, found = hard
    for at in (0.03, 0.47, 0.88, 0.96):
        want = whole(predictor, found.prediction, at, (), None, False)
        for node in found.prediction.watched:
            got = between(found.base[:, found.nodes.index(node)], at)
            assert abs(got - want[node]) < V_NEAR, (at, node)


def test_what_is_turned_is_in_every_drawer(hard: tuple[Predictor, Turned]) -> None:
    """E12 across and in place (IEC 60063); pots as they are sold (common practice)."""
    predictor, found = hard
    for turn in found.turns:
        part = predictor.section.circuit.part(turn.parts[0])
        values = [value for value in turn.values if value is not None]
        assert turn.values[turn.home] is None
        if turn.is_across:  # a box is stepped down from nothing across
            assert turn.home == 0
            assert values == sorted(values, reverse=True)
        else:
            told = [turn.fitted if value is None else value for value in turn.values]
            assert told == sorted(told)
        if turn.is_across or not isinstance(part, Pot):
            assert all(is_preferred(value, Series.E12) for value in values)


def test_directions_are_those_of_the_trade(foot: Made) -> None:
    """More foot, less current; more series resistance, more current; a strap only ever lowers
    what it lies across (common practice)."""
    found = foot.job.turned
    assert isinstance(found, Turned)
    grid = found.nodes.index("grid1")

    def grids(part: str, is_across: bool) -> tuple[Turn, np.ndarray[Any, Any]]:
        (turn,) = [t for t in found.turns if t.parts == (part,) and t.is_across is is_across]
        return turn, turn.v[:, 5, grid]

    turn, v = grids("R3", is_across=False)
    assert np.all(np.diff(v) < 0.0)
    assert np.all(np.diff(turn.valves[0].i_cathode[:, 5]) <= 0.0)
    assert np.all(np.diff(grids("R2", is_across=False)[1]) > 0.0)
    assert np.all(np.diff(grids("R3", is_across=True)[1]) > 0.0)
    assert np.all(np.diff(grids("R2", is_across=True)[1]) < 0.0)


def test_parts_that_belong_together_are_turned_together(service: Service) -> None:
    circuit, findings = parse_circuit(Source("sides.bias", SIDES))
    assert circuit is not None, findings
    predictor = Predictor(Section(circuit), service)
    found = turned(predictor, predict(predictor, with_start=False))
    assert [turn.parts for turn in found.turns if turn.is_across] == [
        ("R1",), ("R5", "R6"), ("R3",), ("RV1",)]  # fmt: skip
    assert found.prediction.swept == ("RV1",)
    assert found.prediction.fixed == {"RV2": 0.5}
    (turn,) = [t for t in found.turns if t.parts == ("R5", "R6") and not t.is_across]
    one, other = (found.nodes.index(node) for node in ("grid1", "grid2"))
    assert np.allclose(turn.v[:, :, one], turn.v[:, :, other], atol=1e-3)


def test_the_data_of_the_page_unpack_to_what_was_computed(foot: Made) -> None:
    found, data = foot.job.turned, Page(foot.page).data
    assert isinstance(found, Turned)
    assert data["pots"] == ["RV1"]
    assert set(data["nodes"]) == {n for n in foot.job.section.circuit.nodes if n != "ground"}
    assert set(data["steps"]) == set(STEPS.values())
    for turn, packed in itertools.zip_longest(found.turns, data["turns"]):
        assert packed["parts"] == list(turn.parts)
        assert packed["home"] == turn.home
        assert [one["series"] is None for one in packed["values"]] == [
            value is None for value in turn.values]  # fmt: skip
        for row, one in enumerate(packed["values"]):
            series = one["series"] or data["base"]
            for node, k in data["nodes"].items():
                v = turn.v[row, :, found.nodes.index(node)]
                # Nodes that differ by the noise of arithmetic share a series.
                assert np.allclose(unpacked(series[k], data["steps"][k]), v, atol=4e-4), node
            for valve in data["valves"]:
                own = turn.valves[0]
                for key, want in (("current", own.i_cathode[row]), ("power", own.p_plate[row])):
                    k = valve[key]
                    got = unpacked(series[k], data["steps"][k])
                    assert np.allclose(got, want, atol=2 * data["steps"][k]), key


def test_currents_follow_from_the_grids(foot: Made) -> None:
    found = foot.job.turned
    assert isinstance(found, Turned)
    valves = found.prediction.valves.valves
    turn = found.turns[0]
    v = [turn.v[3, :, found.nodes.index(one.valve.grid)] for one in valves]
    supply = foot.job.section.circuit.high_tension
    for one, own in zip(idle([one.idling for one in valves], v, supply), turn.valves, strict=True):
        assert np.allclose(one.i_cathode, own.i_cathode[3])


def test_what_is_turned_is_said_in_words(foot: Made) -> None:
    found = foot.job.turned
    assert isinstance(found, Turned)
    texts = {value["text"] for turn in panel_data(found)["turns"] for value in turn["values"]}
    # 82k across 27k: 1 / (1/82 + 1/27) = 20.31k.
    assert {"82k across R3, together 20.3k", "nothing across R3, 27k alone",
            "33k as R3, instead of 27k", "27k as R3, as drawn",
            "22k pot as RV1, instead of 10k"} <= texts  # fmt: skip
