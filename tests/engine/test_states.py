"""Which capacitor voltages are free, and what the others follow from."""

from __future__ import annotations

import numpy as np
import pytest

from netcheck.engine.elements import GROUND, Capacitance, DcSource, Element, SineSource
from netcheck.engine.states import States

from .circuits import parallel_capacitors


def test_all_free_without_loops() -> None:
    states = States([Capacitance("C1", "a", GROUND, 1e-6), Capacitance("C2", "a", "b", 2e-6)])
    assert {e.name for e in states.free} == {"C1", "C2"}
    vector = states.vector({"C2": 5.0, "C1": -3.0})
    assert states.voltages(vector) == {"C1": -3.0, "C2": 5.0}


def test_parallel_capacitors_share_one_voltage_with_its_sign() -> None:
    states = States([Capacitance("C1", "a", GROUND, 2e-6), Capacitance("C2", GROUND, "a", 1e-6)])
    assert [e.name for e in states.free] == ["C1"]
    assert states.voltages(np.array([7.0])) == {"C1": 7.0, "C2": -7.0}


def test_the_smallest_of_a_loop_follows() -> None:
    states = States(
        [
            Capacitance("C1", "a", GROUND, 1e-6),
            Capacitance("C2", "a", "b", 2e-6),
            Capacitance("C3", "b", GROUND, 3e-6),
        ]
    )
    assert {e.name for e in states.free} == {"C2", "C3"}
    start = states.voltages(states.vector({"C2": 4.0, "C3": 1.0, "C1": 99.0}))
    assert start["C1"] == pytest.approx(5.0)


def test_across_sources_there_is_no_choice() -> None:
    """At phase zero a sine is at 0 V and a direct voltage is what it is."""
    elements: list[Element] = [
        DcSource("S", "a", GROUND, -300.0),
        SineSource("W", "b", GROUND, 70.0),
        Capacitance("C1", "a", GROUND, 1e-6),
        Capacitance("C2", "b", GROUND, 1e-6),
        Capacitance("C3", "b", "a", 1e-6),
    ]
    states = States(elements)
    assert states.free == ()
    assert states.voltages(np.array([])) == {"C1": -300.0, "C2": 0.0, "C3": 300.0}


def test_shorted_capacitor_has_no_voltage() -> None:
    states = States([Capacitance("C1", "a", "a", 1e-6)])
    assert states.voltages(np.array([])) == {"C1": 0.0}


def test_parallel_circuit() -> None:
    states = States(parallel_capacitors()[0])
    assert len(states.all) == 5
    assert {e.name for e in states.free} == {"C1", "C2", "C series 1"}
    v = states.voltages(states.vector({"C1": 60.0, "C series 1": -45.0}))
    assert v["C parallel"] == pytest.approx(60.0)
    assert v["C series 2"] == pytest.approx(-15.0)
