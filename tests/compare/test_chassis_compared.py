"""Chassis simulated as a whole by ngspice, with the meter at their nodes, and compared."""

from __future__ import annotations

from dataclasses import replace

import pytest

from netcheck.compare import Comparison, Verdict, compare
from netcheck.engine.service import Service
from netcheck.netlist import Supply
from netcheck.readings import OVERLOAD, Kind, Reading
from netcheck.readout.model import SectionModel

from ..chassis.chassis import DMM, NO_ERRORS, Chassis, Errors
from ..chassis.faults import MAINS, READING, Fault
from ..chassis.plans import resistances, settings, voltages
from .conftest import Bench
from .taken import YEAR

CIRCUITS = ("two-6v6gt-foot", "two-el34-balance", "two-el84-doubler", "two-6v6gta-direct")


def taken(model: SectionModel, service: Service, *faults: Fault, seed: int = 1,
          nominal: bool = False, ohms: bool = True) -> list[Reading]:  # fmt: skip
    """What a technician reads on a made-up chassis."""
    plan = voltages(model.predictor) + (resistances(model.section) if ohms else [])
    errors = NO_ERRORS if nominal else Errors()
    return Chassis(model.section, faults, seed, service, errors=errors).readings(plan)


def compared(model: SectionModel, service: Service, *faults: Fault, seed: int = 1) -> Comparison:
    return compare(model, taken(model, service, *faults, seed=seed), YEAR)


@pytest.mark.parametrize("name", CIRCUITS)
def test_the_chassis_as_drawn_reads_as_predicted(name: str, bench: Bench, service: Service) -> None:
    """Simulated and wired apart from the program: each reading is its prediction."""
    model = bench(name)
    # What lies behind a supply that is off is not drawn: no two would guess it alike.
    is_known = not any(model.section.circuit.of(Supply))
    found = compare(model, taken(model, service, nominal=True, ohms=is_known), YEAR)
    assert found.verdict is Verdict.CONSISTENT
    for one in found.found:
        assert one.predicted is not None
        if one.reading.kind is Kind.DC:
            # The search for the steady state ends within 0.1 mV + 1e-5 of a capacitor's voltage.
            assert one.predicted == pytest.approx(one.reading.nominal, abs=5e-3)
        elif one.reading.nominal not in (0.0, OVERLOAD):
            assert one.predicted == pytest.approx(one.reading.nominal, rel=2e-3, abs=2e-3)


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("name", CIRCUITS)
def test_sound_chassis_are_consistent(name: str, seed: int, bench: Bench, service: Service) -> None:
    found = compared(bench(name), service, seed=seed)
    assert found.verdict is Verdict.CONSISTENT
    assert not found.carriers
    assert found.joint.chance > 0.005
    # Of some 30 readings on 8 chassis none is beyond 4.5 s.d. but once in 600 such runs.
    assert all(abs(one.deviation or 0.0) < 4.5 for one in found.found)
    assert all(abs(one.apart or 0.0) < 4.5 for one in found.found)


def test_a_strapped_foot_resistor_is_carried_by_what_it_moves(
    bench: Bench, service: Service
) -> None:
    """82k across the foot resistor: its own resistance tells most, then the nodes on it."""
    found = compared(bench("two-6v6gt-foot"), service, Fault("R3", "strapped", 82e3))
    assert found.verdict is Verdict.NOT_CONSISTENT
    assert found.carriers[0].reading.part == "R3"
    assert found.carriers[0].share == pytest.approx(82 / (82 + 27) - 1, abs=0.05)
    moved = {one.reading.plus for one in found.carriers}
    assert "foot" in moved
    assert not moved & {"raw", "tap", "feed"}


def test_a_reading_with_its_point_misplaced_is_the_one_that_is_far_out(
    bench: Bench, service: Service
) -> None:
    model = bench("two-6v6gt-foot")
    readings = taken(model, service)
    k = next(k for k, r in enumerate(readings) if r.kind is Kind.DC and r.plus == "head")
    readings[k] = replace(readings[k], nominal=readings[k].nominal / 10.0)
    found = compare(model, readings, YEAR)
    assert found.verdict is Verdict.NOT_CONSISTENT
    (worst,) = found.carriers
    assert worst.reading is readings[k]
    assert found.rest_agrees
    # With it left aside the others are not far from each other.
    assert all(abs(one.apart or 0.0) < 4.5 for one in found.found if one is not worst)


def test_a_small_slip_shows_by_what_the_other_readings_say(bench: Bench, service: Service) -> None:
    """A reading within its own band that the readings around it do not allow."""
    model = bench("two-6v6gt-foot")
    readings = taken(model, service, nominal=True)
    k = next(k for k, r in enumerate(readings) if r.kind is Kind.DC and r.plus == "head")
    readings[k] = replace(readings[k], nominal=readings[k].nominal + 2.0)
    found = compare(model, readings, YEAR)
    worst = found.found[k]
    assert abs(worst.deviation or 0.0) < 2.0
    assert not worst.is_outside
    assert (worst.apart or 0.0) > 5.0
    assert found.verdict is Verdict.NOT_CONSISTENT
    assert found.carriers[0] is worst


def test_low_mains_that_was_not_read_is_told_from_a_part(bench: Bench, service: Service) -> None:
    model = bench("two-6v6gt-foot")
    items = [i for i in voltages(model.predictor) if i.kind is Kind.DC]
    chassis = Chassis(model.section, [Fault(MAINS, "off", 0.8)], 1, service, errors=NO_ERRORS)
    readings = chassis.readings(items)
    found = compare(model, readings, YEAR)
    (pattern,) = found.together
    assert pattern.kind is Kind.DC
    # The diode's drop does not shrink with the mains: a little more than a fifth is missing.
    assert pattern.share == pytest.approx(-0.2, abs=0.02)
    assert found.verdict is Verdict.NOT_CONSISTENT
    mains = next(i for i in voltages(model.predictor) if i.kind is Kind.MAINS)
    read = compare(model, [*chassis.readings([mains]), *readings], YEAR)
    assert read.verdict is Verdict.CONSISTENT  # now it is known, and explains everything
    assert not read.together
    assert read.mains is not None
    assert read.mains.is_read
    assert read.mains.v == pytest.approx(184.0)


def test_one_part_off_is_no_common_proportion(bench: Bench, service: Service) -> None:
    found = compared(bench("two-6v6gt-foot"), service, Fault("R2", "off", 9e3))
    assert found.verdict is Verdict.NOT_CONSISTENT
    assert not found.together


def test_an_error_of_the_ohmmeter_is_seen_in_all_resistances(
    bench: Bench, service: Service
) -> None:
    model = bench("two-6v6gt-foot")
    readings = [
        replace(r, nominal=1.15 * r.nominal) if r.kind is Kind.OHMS else r
        for r in taken(model, service, nominal=True)
    ]
    found = compare(model, readings, YEAR)
    (pattern,) = found.together
    assert pattern.kind is Kind.OHMS
    assert pattern.share == pytest.approx(0.15, abs=0.01)


def test_a_misread_sign_is_not_hidden(bench: Bench, service: Service) -> None:
    model = bench("two-el34-balance")
    found = compared(model, service, Fault(READING, "misread", -1.0, 0.5))
    assert found.verdict is Verdict.NOT_CONSISTENT
    worst = found.carriers[0]
    assert worst.reading.kind is Kind.DC
    assert worst.reading.nominal > 0.0


def test_positions_that_nobody_wrote_down_widen_the_band(bench: Bench) -> None:
    model = bench("two-6v6gt-foot")
    state = settings(model.predictor)[0]
    grid = Reading(Kind.DC, -41.0, 0.1, state, DMM, "grid1", "ground")
    known = compare(model, [grid], YEAR)
    unknown = compare(model, [replace(grid, state=replace(state, pots={}))], YEAR)
    assert known.unknown_pots == ()
    assert unknown.unknown_pots == ("RV1",)
    assert _width(unknown) > 1.3 * _width(known)
    raw = replace(grid, plus="R1", part="R1", minus="", kind=Kind.LIFTED, nominal=470.0)
    assert compare(model, [replace(raw, state=replace(state, pots={}))], YEAR).unknown_pots == ()


def _width(found: Comparison) -> float:
    band = found.found[0].band
    assert band is not None
    return band[1] - band[0]
