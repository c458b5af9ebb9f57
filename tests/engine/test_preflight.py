"""Circuits that must not reach a simulator, and what is said about them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from netcheck.engine.elements import (
    GROUND,
    Capacitance,
    CurrentSource,
    DcSource,
    Element,
    Junction,
    Resistance,
    SineSource,
)
from netcheck.engine.preflight import MOST_ELEMENTS, check, check_start, check_steps, shown
from netcheck.errors import EngineError

from .circuits import KINDS

GOOD: list[Element] = [SineSource("W", "a", GROUND, 70.0), Resistance("R1", "a", GROUND, 1e3)]


def refusal(elements: list[Element], frequency: float | None = 50.0) -> str:
    with pytest.raises(EngineError) as caught:
        check(elements, frequency)
    sentence = str(caught.value)
    assert "\n" not in sentence
    return sentence


@pytest.mark.parametrize("kind", KINDS)
def test_good_circuits_pass(kind: str) -> None:
    check(*KINDS[kind]())


@pytest.mark.parametrize(
    "element",
    [
        Resistance("X9", "a", GROUND, 0.0),
        Resistance("X9", "a", GROUND, -10e3),
        Resistance("X9", "a", GROUND, math.nan),
        Resistance("X9", "a", GROUND, math.inf),
        Resistance("X9", "a", GROUND, 9e-4),
        Resistance("X9", "a", GROUND, 1.1e12),
        Resistance("X9", "a", GROUND, "4k7"),  # type: ignore[arg-type]
        Resistance("X9", "a", GROUND, None),  # type: ignore[arg-type]
        Resistance("X9", "a", GROUND, 1 + 2j),  # type: ignore[arg-type]
        Resistance("X9", "a", GROUND, np.ones(2)),  # type: ignore[arg-type]
        Capacitance("X9", "a", GROUND, 0.0),
        Capacitance("X9", "a", GROUND, 2.0),
        Capacitance("X9", "a", GROUND, -1e-6),
        SineSource("X9", "b", "a", 10.1e3),
        SineSource("X9", "b", "a", math.nan),
        DcSource("X9", "b", "a", -math.inf),
        CurrentSource("X9", "a", GROUND, 2e3),
        Junction("X9", "a", GROUND, i_s=0.0, n=1.0, r_s=0.0),
        Junction("X9", "a", GROUND, i_s=1e-9, n=0.0, r_s=0.0),
        Junction("X9", "a", GROUND, i_s=1e-9, n=1.0, r_s=-1.0),
        Junction("X9", "a", GROUND, i_s=1e-9, n=1.0, r_s=0.0, c_j=math.nan),
    ],
)
def test_impossible_value_names_the_part(element: Element) -> None:
    assert '"X9"' in refusal([*GOOD, element])


def test_numbers_of_numpy_are_numbers() -> None:
    check([*GOOD, Resistance("R2", "a", GROUND, np.float64(10.0))], np.float64(50.0))
    check([*GOOD, Resistance("R2", "a", GROUND, 10)], 50)


@pytest.mark.parametrize("frequency", [None, 0.0, -50.0, math.nan, 1e9, "50"])
def test_frequency_must_be_one(frequency: float | None) -> None:
    assert "frequency" in refusal(GOOD, frequency)


def test_no_frequency_needed_without_a_sine() -> None:
    check([DcSource("S", "a", GROUND, 1.0), Resistance("R", "a", GROUND, 1.0)], None)


def test_nothing_to_simulate() -> None:
    assert "nothing to simulate" in refusal([])


def test_too_large() -> None:
    many: list[Element] = [Resistance(f"R{k}", "a", GROUND, 1.0) for k in range(MOST_ELEMENTS + 1)]
    assert str(MOST_ELEMENTS + 1) in refusal(many)


def test_same_name_twice() -> None:
    assert '"R1"' in refusal([*GOOD, Resistance("R1", "a", GROUND, 1.0)])


def test_names_that_differ_in_case_only_are_two() -> None:
    check([*GOOD, Resistance("r1", "A", "a", 1.0)], 50.0)


def test_no_ground() -> None:
    assert '"ground"' in refusal([SineSource("W", "a", "b", 1.0), Resistance("R", "a", "b", 1.0)])


@pytest.mark.parametrize(
    "only_way",
    [Capacitance("C", "a", "island", 1e-6), CurrentSource("I", "a", "island", 1e-3)],
)
def test_floating_node(only_way: Element) -> None:
    elements = [*GOOD, only_way, Resistance("R2", "island", "shore", 1e3)]
    assert '"island"' in refusal(elements)


def test_part_with_both_ends_on_a_floating_node() -> None:
    assert '"b"' in refusal([*GOOD, Resistance("R2", "b", "b", 1e3)])


def test_diode_is_a_path_to_ground() -> None:
    check([*GOOD, Capacitance("C", "a", "x", 1e-6), Junction("D", "x", GROUND, 1e-9, 1.0, 0.0)], 50)


def test_sources_in_parallel() -> None:
    assert '"S2"' in refusal([*GOOD, DcSource("S2", GROUND, "a", 5.0)])


def test_loop_of_three_sources() -> None:
    loop: list[Element] = [DcSource("S2", "b", "a", 5.0), SineSource("S3", GROUND, "b", 5.0)]
    assert '"S3"' in refusal([*GOOD, *loop])


def test_source_across_nothing() -> None:
    sentence = refusal([*GOOD, DcSource("S2", "a", "a", 5.0)])
    assert '"S2"' in sentence
    assert '"a"' in sentence


def test_start_must_belong_to_a_capacitor() -> None:
    circuit = [*GOOD, Capacitance("C1", "a", GROUND, 1e-6)]
    check_start(circuit, {"C1": -50.0})
    with pytest.raises(EngineError, match='"C2"'):
        check_start(circuit, {"C2": 1.0})
    with pytest.raises(EngineError, match='"R1"'):
        check_start(circuit, {"R1": 1.0})
    with pytest.raises(EngineError, match='"C1"'):
        check_start(circuit, {"C1": math.nan})


@pytest.mark.parametrize("steps", [0, -1, 10, 10**6, math.nan])
def test_absurd_time_step(steps: int) -> None:
    with pytest.raises(EngineError, match="time steps"):
        check_steps(steps)


def test_hostile_name_stays_on_one_printable_line() -> None:
    text = shown("R1\n\x1b[2J.control\x00" + "x" * 1000)
    assert text.isprintable()
    assert len(text) < 70
    assert "\x1b" not in refusal([*GOOD, Resistance("R\x1b[31m\n", "a", GROUND, 0.0)])
