"""What is shipped, and what the dialog writes by itself, is sound: checked and predicted."""

from __future__ import annotations

import pytest

from netcheck.engine.service import Service
from netcheck.engine.steady import Problem, steady_states
from netcheck.entry.build import bias_text
from netcheck.entry.pieces import Arrangement
from netcheck.entry.shipped import Shipped, shipped
from netcheck.entry.templates import ARRANGEMENTS
from netcheck.files import read_source
from netcheck.model import elements, nominal_values
from netcheck.netlist import Circuit, Pot, Valve
from netcheck.parse import parse_circuit
from netcheck.report.findings import render
from netcheck.source import Source
from netcheck.survey import survey
from netcheck.valves import lookup
from netcheck.valves.model import plate_current
from netcheck.valves.practice import USUAL_WINDOW, WINDOW

SHIPPED = pytest.mark.parametrize("example", shipped(), ids=lambda example: example.name)
TYPICAL = pytest.mark.parametrize("kind", ARRANGEMENTS, ids=lambda kind: kind.key)


def circuit_in(source: Source) -> Circuit:
    circuit, _ = parse_circuit(source)
    assert circuit is not None
    return circuit


def check(circuit: Circuit, service: Service) -> None:
    found = survey(circuit, "it", service)
    assert found.simulated, found.unanswered
    assert not found.matters, render(found.findings)


@SHIPPED
def test_a_shipped_circuit_gives_neither_error_nor_warning(
    example: Shipped, service: Service
) -> None:
    check(circuit_in(read_source(str(example.path))), service)


@TYPICAL
def test_typical_answers_give_neither_error_nor_warning(
    kind: Arrangement, service: Service
) -> None:
    check(circuit_in(Source(kind.key, bias_text(kind, {}))), service)


def idle(circuit: Circuit, service: Service, travels: tuple[float, ...]) -> list[list[float]]:
    """For each travel the share of the dissipation limit at which each valve idles.

    A balance pot stays in the middle.
    """
    frequency = None if circuit.mains is None else circuit.mains.frequency
    problems = []
    for travel in travels:
        values = nominal_values(circuit)
        for pot in circuit.of(Pot):
            if pot.wiper != "middle":
                values[f"{pot.name}.travel"] = travel
        problems.append(Problem(elements(circuit, values), frequency))
    states = steady_states(problems, service=service)
    return [[share(valve, state.mean(valve.grid)) for valve in circuit.of(Valve)]
            for state in states]  # fmt: skip


def share(valve: Valve, v_grid: float) -> float:
    kind = lookup(valve.type)
    assert kind is not None
    assert kind.limits is not None
    assert valve.v_plate is not None
    i_plate = float(plate_current(kind, valve.v_plate, valve.v_screen, v_grid))
    return i_plate * valve.v_plate / kind.limits.p_plate


def reaches_the_window(circuit: Circuit, service: Service) -> None:
    """The travel holds the usual idle dissipation, with some of it on either side.

    The window is 60 to 70 % of the limit, 50 to 70 % the accepted one: common practice. The
    model of the valve is within 1.5 V of the published grid voltages, which is some 15 % of
    current here: so 5 % of the limit are added to either end of the accepted one.
    """
    cold, middle, hot = idle(circuit, service, (0.0, 0.5, 1.0))
    low, high = USUAL_WINDOW[0] - 0.05, USUAL_WINDOW[1] + 0.05
    assert all(c < WINDOW[0] and h > WINDOW[1] for c, h in zip(cold, hot, strict=True))
    assert all(low <= m <= high for m in middle)
    assert all(h < 1.7 for h in hot)  # a trimmer at its stop, not a short circuit


@SHIPPED
def test_shipped_values_are_realistic(example: Shipped, service: Service) -> None:
    circuit = circuit_in(read_source(str(example.path)))
    if any(pot.taper == "audio" for pot in circuit.of(Pot)):
        cold, middle, hot = idle(circuit, service, (0.0, 0.5, 1.0))
        assert all(c < WINDOW[0] and h > WINDOW[1] for c, h in zip(cold, hot, strict=True))
        # What this one shows: a tenth of the track is used up by half the rotation.
        assert all(m < c + 0.2 * (h - c) for c, m, h in zip(cold, middle, hot, strict=True))
    elif any(circuit.of(Pot)):
        reaches_the_window(circuit, service)
    else:
        (fixed,) = idle(circuit, service, (0.5,))
        assert all(USUAL_WINDOW[0] <= f <= USUAL_WINDOW[1] for f in fixed)


@TYPICAL
def test_typical_values_are_realistic(kind: Arrangement, service: Service) -> None:
    circuit = circuit_in(Source(kind.key, bias_text(kind, {})))
    if any(circuit.of(Pot)):
        reaches_the_window(circuit, service)
    else:
        (fixed,) = idle(circuit, service, (0.5,))
        assert all(USUAL_WINDOW[0] <= f <= USUAL_WINDOW[1] for f in fixed)
