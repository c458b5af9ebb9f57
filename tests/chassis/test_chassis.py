"""The chassis that a diagnosis is tried on, held against what is known of them otherwise."""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence

import networkx as nx
import numpy as np
import pytest

from netcheck import assumed
from netcheck.engine.elements import Resistance
from netcheck.engine.service import Service
from netcheck.files import read_source
from netcheck.graph import Section
from netcheck.model import wiper_position
from netcheck.netlist import Capacitor, Part, Pot, Resistor, Valve, Winding
from netcheck.parse import parse_circuit
from netcheck.predictor import Predictor
from netcheck.preferred import Series, is_preferred, parallel
from netcheck.readings import OVERLOAD, Kind, Position, Reading, State
from netcheck.resources import folder
from netcheck.valves import lookup
from netcheck.valves.model import plate_current
from netcheck.valves.practice import SAMPLE_SPREAD, screen_share

from .chassis import DMM, NO_ERRORS, Chassis, Errors
from .faults import (
    METER,
    READING,
    STRAY,
    Fault,
    FaultKind,
    draw,
    draw_fault,
    draw_pair,
    draw_stray,
    faults_of,
)
from .plans import (
    Item,
    four_voltages,
    quiet_nodes,
    resistances,
    settings,
    voltages,
    voltages_and_resistances,
)

NAMES = sorted(path.stem for path in folder("circuits").glob("*.bias"))
SHIPPED = pytest.mark.parametrize("name", NAMES)
FOOT = "two-6v6gt-foot"


@functools.cache
def section_of(name: str) -> Section:
    circuit, findings = parse_circuit(read_source(str(folder("circuits") / f"{name}.bias")))
    assert circuit is not None, findings
    return Section(circuit)


def at(**travel: float) -> State:
    return State(pots={name: Position(where) for name, where in travel.items()})


def exact(name: str, service: Service, *faults: Fault) -> Chassis:
    """Every part as marked but for the faults, and a perfect meter."""
    return Chassis(section_of(name), faults, 0, service, errors=NO_ERRORS)


def grid(name: str, service: Service, *faults: Fault, travel: float = 0.5) -> float:
    """The first grid's volts in such a chassis."""
    pots = {pot.name: travel for pot in section_of(name).circuit.of(Pot)}
    item = Item(Kind.DC, section_of(name).watched[0], "ground", state=at(**pots))
    return exact(name, service, *faults).readings([item])[0].nominal


def numbers(readings: Sequence[Reading]) -> list[float]:
    return [reading.nominal for reading in readings]


# ---------------------------------------------------------------- live, against Predictor


@pytest.mark.parametrize("name", [FOOT, "two-7591-bridge", "two-el34-coupled", "two-6v6gta-direct"])
def test_a_perfect_chassis_reads_what_a_whole_simulation_gives(name: str, service: Service) -> None:
    section = section_of(name)
    predictor = Predictor(section, service)
    plan = [i for i in voltages(predictor) if i.kind is Kind.DC and i.state.turn < 2]
    taken = exact(name, service).readings(plan)
    meters = [[Resistance("a meter", i.plus, i.minus, 10e6)] for i in plan]
    travels = [{pot: p.travel for pot, p in i.state.pots.items()} for i in plan]
    whole = predictor.wholes(
        [(predictor.values(t), m) for t, m in zip(travels, meters, strict=True)]
    )
    for item, reading, state in zip(plan, taken, whole, strict=True):
        assert (reading.plus, reading.minus) == (item.plus, item.minus)
        # Both are searched for to within 2 mV.
        assert reading.nominal == pytest.approx(state.mean[item.plus], rel=1e-3, abs=5e-3)


def test_alternating_volts_against_handbook_arithmetic(service: Service) -> None:
    """A winding's r.m.s. volts less what its copper drops; I / (f C) for the ripple."""
    chassis = exact(FOOT, service)
    state = at(RV1=0.5)
    ac, pp, raw, rms = numbers(chassis.readings([
        Item(Kind.AC, "tap", "ground", state=state), Item(Kind.RIPPLE, "raw", "ground", state=state),
        Item(Kind.DC, "raw", "ground", state=state), Item(Kind.AC, "raw", "ground", state=state),
    ]))  # fmt: skip
    assert 0.97 * 48.0 < ac < 48.0
    i = -raw / (18e3 + 10e3 + 27e3)
    # The reservoir is discharged for somewhat less than a whole period.
    assert 0.75 * i / (50.0 * 47e-6) < pp < i / (50.0 * 47e-6)
    # Between a triangle, V / sqrt(12), and a sine, V / sqrt(8).
    assert pp / math.sqrt(12.0) == pytest.approx(rms, rel=0.1)


def test_a_valve_draws_what_its_curve_says(service: Service) -> None:
    state = at(RV1=0.5)
    read = [Item(Kind.CURRENT, part="V1", state=state), Item(Kind.CATHODE, part="V1", state=state)]
    amperes, volts = numbers(exact(FOOT, service).readings(read))
    kind = lookup("6V6GT")
    assert kind is not None
    # The meter is not at the grid while the current is read.
    v_grid = Predictor(section_of(FOOT), service).whole(
        {**Predictor(section_of(FOOT), service).values(0.5)}
    ).mean["grid1"]  # fmt: skip
    plate = float(plate_current(kind, 390.0, 385.0, v_grid))
    assert amperes == pytest.approx(plate * (1.0 + screen_share(kind).nominal), rel=0.01)
    assert volts == pytest.approx(amperes * 1.0)


# ------------------------------------------------------------ power off, against networkx


def drawn_graph(section: Section, travel: dict[str, float]) -> nx.Graph[str]:
    """Conductances as drawn, read off the parts one by one."""
    graph: nx.Graph[str] = nx.Graph()

    def add(a: str, b: str, r: float) -> None:
        a, b = section.joined[a], section.joined[b]
        if a != b:
            before = graph[a][b]["weight"] if graph.has_edge(a, b) else 0.0
            graph.add_edge(a, b, weight=before + 1.0 / r)

    for part in section.circuit.parts:
        if isinstance(part, Resistor):
            add(part.start, part.end, part.r)
        elif isinstance(part, Winding):
            add(part.start, part.end, assumed.r_source(part))
        elif isinstance(part, Pot):
            end = assumed.r_end(part)
            wiper = float(wiper_position(part, travel[part.name]))
            add(part.top, part.wiper, end + (part.r - 2.0 * end) * (1.0 - wiper))
            add(part.wiper, part.bottom, end + (part.r - 2.0 * end) * wiper)
    return graph


@pytest.mark.parametrize(
    "name", [FOOT, "two-el34-balance", "two-7591-bridge", "two-el84-series-rheostat"]
)
def test_resistances_are_those_of_networkx(name: str, service: Service) -> None:
    section = section_of(name)
    plan = resistances(section)
    travel = {pot: p.travel for pot, p in plan[0].state.pots.items()}
    graph = drawn_graph(section, travel)
    for reading in exact(name, service).readings(plan):
        a, b = section.joined[reading.plus], section.joined[reading.minus]
        whole = graph.subgraph(nx.node_connected_component(graph, a))
        expected = nx.resistance_distance(whole, a, b, weight="weight", invert_weight=False)
        assert reading.nominal == pytest.approx(expected, rel=1e-6), reading.part


def test_a_strapped_foot_reads_the_two_in_parallel(service: Service) -> None:
    """1 / (1/a + 1/b), with one leg lifted; and what the diode and the capacitors do not carry."""
    lifted = Item(Kind.LIFTED, part="R3", state=State(live=False))
    strapped = exact(FOOT, service, Fault("R3", "strapped", 82e3)).readings([lifted])
    assert strapped[0].nominal == pytest.approx(1.0 / (1.0 / 27e3 + 1.0 / 82e3))
    across = Item(Kind.OHMS, "raw", "feed", "D1", State(live=False, pots={"RV1": Position(0.0)}))
    # Backwards through the whole network, for the diode does not conduct: R1, the winding, and
    # R2, the pot and R3 from there.
    head = parallel(10e3, 220e3)
    loop = 470.0 + 60.0 + 18e3 + 27e3 + head
    healthy = exact(FOOT, service).readings([across])[0].nominal
    assert healthy == pytest.approx(loop, rel=0.01)
    leaky = exact(FOOT, service, Fault("D1", "leaky", 20e3)).readings([across])[0].nominal
    assert leaky == pytest.approx(parallel(healthy, 20e3))


def test_what_is_open_reads_overload(service: Service) -> None:
    state = State(live=False, pots={"RV1": Position(0.0)})
    plan = [
        Item(Kind.OHMS, "sweep", "grid1", "R4", state),
        Item(Kind.LIFTED, part="R4", state=state),
    ]
    for errors in (NO_ERRORS, Errors()):
        chassis = Chassis(section_of(FOOT), [Fault("R4", "open")], 3, service, errors=errors)
        assert numbers(chassis.readings(plan)) == [OVERLOAD, OVERLOAD]


# --------------------------------------------------------------------------- directions


@pytest.mark.parametrize(
    ("fault", "sign"),
    [
        (Fault("R3", "off", 40e3), -1),  # more foot resistance: more negative
        (Fault("R3", "off", 18e3), +1),
        (Fault("R3", "strapped", 82e3), +1),  # a strap only ever lowers
        (Fault("R3", "open"), -1),
        (Fault("R3", "short"), +1),
        (Fault("R2", "off", 30e3), +1),  # more in series before the pot: the opposite
        (Fault("R2", "off", 10e3), -1),
        (Fault("RV1", "wiper lifted"), -1),  # never to zero
        (Fault("RV1", "bottom open"), -1),
        (Fault("C1", "leaky", 10e3), +1),
        (Fault("C1", "reversed", 1e3), +1),
        (Fault("C1", "dried out", 0.02, 100.0), +1),
        (Fault("C2", "leaky", 30e3), +1),
        (Fault("D1", "open"), +1),
        (Fault("D1", "leaky", 5e3), +1),
        (Fault("T1", "off", 0.8), +1),
        (Fault("mains", "off", 1.2), -1),
        (Fault("V1", "grid current", 5e-6), +1),
        (Fault(METER, "low resistance", 1e6), +1),  # it pulls the grid towards ground
        (Fault(STRAY, "leak", 100e3, nodes=("grid1", "ground")), +1),
        (Fault(STRAY, "leak", 100e3, nodes=("grid1", "raw")), -1),
    ],
)  # fmt: skip
def test_directions_of_common_practice(fault: Fault, sign: int, service: Service) -> None:
    change = grid(FOOT, service, fault) - grid(FOOT, service)
    assert sign * change > 0.1


def test_ends_of_the_pot(service: Service) -> None:
    """Drawn with the bottom clockwise; exchanged ends turn the travel round."""
    exchanged = Fault("RV1", "ends exchanged")
    assert grid(FOOT, service, exchanged, travel=1.0) == pytest.approx(
        grid(FOOT, service, travel=0.0), abs=5e-3
    )
    worn = Fault("RV1", "worn end", 3e3, detail="bottom")
    assert grid(FOOT, service, worn, travel=1.0) < grid(FOOT, service, travel=1.0) - 0.5
    slow = grid(FOOT, service, Fault("RV1", "other taper", detail="audio"))
    # At mid rotation a tenth of an audio track lies behind the wiper, here the top's side.
    assert slow < grid(FOOT, service) - 0.5
    assert grid(FOOT, service, Fault("RV1", "other taper", detail="audio"), travel=1.0) == (
        pytest.approx(grid(FOOT, service, travel=1.0), abs=5e-3)
    )


def test_half_a_winding(service: Service) -> None:
    """Full wave becomes half wave: the volts fall a little, the ripple doubles."""
    name = "two-kt88-full-wave"
    read = [Item(kind, "raw", "ground", state=at(RV1=0.5)) for kind in (Kind.DC, Kind.RIPPLE)]
    v, ripple = numbers(exact(name, service).readings(read))
    for half in ("from", "to"):
        fault = Fault("T1", "half open", detail=half)
        v_half, ripple_half = numbers(exact(name, service, fault).readings(read))
        assert 0.9 * v > v_half > v
        assert 1.7 < ripple_half / ripple < 2.4


# ------------------------------------------------------------------------- every fault


def modes(section: Section) -> list[FaultKind]:
    """Each mode once for each class of part."""
    found: dict[tuple[type[Part | None], str], FaultKind] = {}
    for kind in faults_of(section, mains_is_read=False):
        found.setdefault((type(section.circuit.part(kind.part)), kind.mode), kind)
    return list(found.values())


@pytest.mark.parametrize("name", ["two-el34-zener", "two-kt88-full-wave", "two-6v6gta-direct"])
def test_every_fault_can_be_simulated_and_shows(name: str, service: Service) -> None:
    """The chassis is otherwise the same, so some reading must be another."""
    section = section_of(name)
    predictor = Predictor(section, service)
    middle = settings(predictor)[2]
    plan = [i for i in voltages(predictor) if i.state == middle] + resistances(section)
    errors = Errors(meter=0.0)
    healthy = Chassis(section, (), 5, service, errors=errors)
    before = np.array(numbers(healthy.readings(plan)))
    rng = np.random.default_rng(1)
    for kind in modes(section):
        fault = draw(section, kind, rng)
        assert fault.kind == kind
        chassis = Chassis(section, [fault], 5, service, errors=errors, start=healthy.start)
        after = np.array(numbers(chassis.readings(plan)))
        assert not np.any(np.isnan(after)), fault
        live = np.array([item.state.live for item in plan])
        assert np.all(np.isfinite(after[live])), fault
        moved = ~np.isclose(before, after, rtol=2e-4, atol=5e-3)
        assert np.any(moved), fault


def test_the_modes_are_all_there() -> None:
    found = {(type(section_of(n).circuit.part(k.part)).__name__, k.mode)
             for n in NAMES for k in faults_of(section_of(n), mains_is_read=False)}  # fmt: skip
    assert len(found) == 6 + 7 + 4 + 3 + 3 + 2 + 1 + 1 + 3
    # Mains, meter and reading are no parts.
    assert {mode for kind, mode in found if kind == "NoneType"} == {
        "off", "low resistance", "misread",
    }  # fmt: skip


@SHIPPED
def test_drawn_faults_are_what_they_are_said_to_be(name: str) -> None:
    section, rng = section_of(name), np.random.default_rng(2)
    for fault in (draw_fault(section, rng) for _ in range(150)):
        part = section.circuit.part(fault.part)
        assert fault.kind in faults_of(section)
        if isinstance(part, Resistor) and fault.number is not None:
            assert_wrong(part, fault.mode, fault.number)
        if isinstance(part, Capacitor) and fault.mode == "leaky":
            assert fault.number is not None
            assert 1e3 <= fault.number <= 300e3
        if isinstance(part, Pot) and fault.mode == "other value":
            assert fault.number is not None
            assert 0.4 <= fault.number / part.r <= 2.5
            assert abs(fault.number / part.r - 1.0) > assumed.tolerance(part)
    for first, second in (draw_pair(section, rng) for _ in range(20)):
        assert first.part != second.part
        assert first.mode == second.mode == "off"


def assert_wrong(part: Resistor, mode: str, number: float) -> None:
    ratio = number / part.r
    if mode == "off":
        assert 0.3 <= ratio <= 0.75 or 1.25 <= ratio <= 3.0
    elif mode == "neighbour":
        assert is_preferred(number, Series.E12)
        assert assumed.tolerance(part) < abs(ratio - 1.0) < 0.6
    elif mode == "decade":
        assert ratio in (pytest.approx(0.1), pytest.approx(10.0))
    elif mode == "strapped":
        assert is_preferred(number, Series.E12)
        assert parallel(part.r, number) <= 0.75 * part.r


def test_parts_are_equally_likely() -> None:
    section, rng = section_of(FOOT), np.random.default_rng(4)
    parts = [*dict.fromkeys(kind.part for kind in faults_of(section))]
    drawn = [draw_fault(section, rng).part for _ in range(6000)]
    expected = 6000 / len(parts)
    # Four standard deviations of a count.
    assert all(abs(drawn.count(p) - expected) < 4.0 * math.sqrt(expected) for p in parts)


def test_a_mains_voltage_that_is_read_is_no_fault() -> None:
    section = section_of(FOOT)
    assert FaultKind("mains", "off") not in faults_of(section)
    assert FaultKind("mains", "off") in faults_of(section, mains_is_read=False)


@SHIPPED
def test_a_stray_leak_is_across_no_part_and_matters(name: str, service: Service) -> None:
    section, rng = section_of(name), np.random.default_rng(4)
    for fault in (draw_stray(section, rng) for _ in range(10)):
        assert fault.number is not None
        assert 20e3 <= fault.number <= 1e6
        a, b = fault.nodes
        for part in section.circuit.parts:
            assert not {a, b} <= {section.joined.get(node, node) for _, node in part.terminals}
        state = State(live=False, pots={p.name: Position(0.5) for p in section.circuit.of(Pot)})
        item = [Item(Kind.OHMS, a, b, state=state)]
        before = exact(name, service).readings(item)[0].nominal
        after = exact(name, service, fault).readings(item)[0].nominal
        assert after < 0.95 * before


# ------------------------------------------------------------------- chance, and the meter


def test_equal_seeds_give_equal_readings(service: Service) -> None:
    section = section_of(FOOT)
    plan = voltages_and_resistances(Predictor(section, service))[::3]
    valve = [Item(Kind.CURRENT, part="V1", state=plan[0].state)]
    fault = draw_fault(section, np.random.default_rng(5))
    first, again, other = (
        Chassis(section, [fault], seed, service).readings([*plan, *valve]) for seed in (7, 7, 8)
    )
    assert first == again
    assert first != other
    backwards = Chassis(section, [fault], 7, service).readings([*plan, *valve][::-1])
    assert numbers(backwards)[::-1] == pytest.approx(numbers(first), rel=2e-4)


def test_parts_lie_within_their_tolerance(service: Service) -> None:
    """Evenly: the mean of the square is a third of the tolerance's."""
    section = section_of(FOOT)
    chassis = [Chassis(section, (), seed, service) for seed in range(400)]
    for name, nominal, tolerance in (("R3", 27e3, 0.05), ("RV1", 10e3, 0.20), ("mains", 1, 0.10)):
        off = np.array([c.wiring.values[name] / nominal - 1.0 for c in chassis]) / tolerance
        assert np.all(np.abs(off) <= 1.0)
        # 400 samples: the standard deviation of this mean is 0.015.
        assert float(np.mean(off**2)) == pytest.approx(1.0 / 3.0, abs=0.06)
    twice = [Chassis(section, (), s, service, errors=Errors(tolerances=2.0)) for s in range(50)]
    assert max(abs(c.wiring.values["R3"] / 27e3 - 1.0) for c in twice) > 0.08
    scale = np.array([math.log(c.valves["V1"].shift.scale) for c in chassis])
    assert float(np.std(scale)) == pytest.approx(SAMPLE_SPREAD, rel=0.15)


def test_a_wrong_part_fitted_has_a_tolerance_of_its_own(service: Service) -> None:
    section = section_of(FOOT)
    for seed in range(20):
        healthy = Chassis(section, (), seed, service).wiring.values["R3"]
        wrong = Chassis(section, [Fault("R3", "decade", 2.7e3)], seed, service)
        assert wrong.wiring.values["R3"] == pytest.approx(0.1 * healthy)


def test_the_meter_is_off_as_its_data_sheet_allows(service: Service) -> None:
    """0.8 % and 1 digit of 100 ohm as twice the standard deviation, and rounding."""
    section = section_of(FOOT)
    item = Item(Kind.LIFTED, part="R3", state=State(live=False))
    errors = Errors(tolerances=0.0)
    read = [Chassis(section, (), seed, service, errors=errors).readings([item])[0]
            for seed in range(400)]  # fmt: skip
    assert {reading.last_digit for reading in read} == {100.0}
    shown = np.array(numbers(read))
    assert np.allclose(shown, np.round(shown, -2))
    expected = math.sqrt((0.004 * 27e3) ** 2 + 50.0**2 + 100.0**2 / 12.0)
    # Four standard deviations of the estimate from 400 samples.
    assert float(np.std(shown - 27e3)) == pytest.approx(expected, rel=0.15)
    assert float(np.mean(shown)) == pytest.approx(27e3, abs=4.0 * expected / 20.0)


def test_ranges_and_last_digits(service: Service) -> None:
    chassis = Chassis(section_of(FOOT), (), 1, service)
    raw, mains = chassis.readings(
        [Item(Kind.DC, "raw", "ground", state=at(RV1=0.5)), Item(Kind.MAINS)]
    )
    assert [raw.last_digit, mains.last_digit] == pytest.approx([0.1, 1.0])
    assert raw.meter == mains.meter == DMM


def test_positions(service: Service) -> None:
    """A stop is exact, the middle by eye is 3 % off, and stays so until the pot is turned."""
    section = section_of(FOOT)
    by_eye = State(pots={"RV1": Position(0.5, by_eye=True, turn=1)}, turn=1)
    some = [Chassis(section, (), seed, service) for seed in range(400)]
    stood = np.array([c.positions(by_eye)["RV1"] for c in some])
    assert float(np.std(stood)) == pytest.approx(0.03, rel=0.15)
    assert some[0].positions(by_eye)["RV1"] == stood[0]
    untouched = State(pots=by_eye.pots, turn=2)
    assert some[0].positions(untouched)["RV1"] == stood[0]
    later = State(pots={"RV1": Position(0.5, by_eye=True, turn=2)}, turn=2)
    assert some[0].positions(later)["RV1"] != stood[0]
    assert some[0].positions(at(RV1=1.0))["RV1"] == 1.0
    anywhere = np.array([c.positions(State())["RV1"] for c in some])
    assert np.all((anywhere >= 0.0) & (anywhere <= 1.0))
    assert float(np.std(anywhere)) == pytest.approx(1.0 / math.sqrt(12.0), rel=0.15)


@pytest.mark.parametrize("factor", [10.0, 0.1, -1.0, 0.9])
def test_one_reading_is_misread(factor: float, service: Service) -> None:
    section = section_of("two-6v6gta-direct")
    plan = four_voltages(Predictor(section, service))
    healthy = Chassis(section, (), 2, service).readings(plan)
    wrong = Chassis(section, [Fault(READING, "misread", factor, 0.6)], 2, service)
    struck = wrong.misread(plan)
    assert struck == 2
    for k, (a, b) in enumerate(zip(healthy, wrong.readings(plan), strict=True)):
        expected = a.nominal * (factor if k == struck else 1.0)
        assert b.nominal == pytest.approx(expected, abs=0.51 * a.last_digit)


# -------------------------------------------------------------------------------- plans


@SHIPPED
def test_plans_read_every_node_at_both_ends_and_the_middle(name: str, service: Service) -> None:
    section = section_of(name)
    predictor = Predictor(section, service)
    plan = voltages(predictor)
    turns = {item.state.turn for item in plan}
    assert turns == ({0, 1, 2} if predictor.pots() else {2})
    for turn in turns:
        read = {i.plus for i in plan if i.kind is Kind.DC and i.state.turn == turn}
        assert set(quiet_nodes(section)) <= read
        assert {section.joined[valve.grid] for valve in section.circuit.of(Valve)} <= read
    assert (Kind.MAINS in {i.kind for i in plan}) == (section.circuit.mains is not None)
    assert bool([i for i in plan if i.kind is Kind.AC]) == bool(
        list(section.circuit.of(Winding)) or list(section.circuit.of(Capacitor))
    )
    ohms = resistances(section)
    assert {r.name for r in section.circuit.of(Resistor)} <= {item.part for item in ohms}
    assert not any(p.by_eye for item in ohms for p in item.state.pots.values())
    assert len(four_voltages(predictor)) == 4


def test_a_rheostat_is_read_where_its_whole_track_is_in(service: Service) -> None:
    for name in ("two-el34-foot-rheostat", "two-el84-series-rheostat"):
        item = next(i for i in resistances(section_of(name)) if i.part == "RV1")
        across = exact(name, service).readings([item])[0].nominal
        shorted = {"RV1": Position(1.0 - item.state.pots["RV1"].travel)}
        other = Item(Kind.OHMS, item.plus, item.minus, "RV1", State(live=False, pots=shorted))
        assert across > 10.0 * exact(name, service).readings([other])[0].nominal


@pytest.mark.parametrize(
    ("fault", "expected"),
    [
        (Fault("RV1", "wiper lifted"), 10e3),
        (Fault("RV1", "worn end", 2e3, detail="top"), 12e3),
        (Fault("RV1", "other value", 22e3), 22e3),
        (Fault("RV1", "top open"), OVERLOAD),
    ],
)
def test_a_track_by_itself(fault: Fault, expected: float, service: Service) -> None:
    """A rheostat's strap does not count: the pot is out of the circuit."""
    item = Item(Kind.LIFTED, part="RV1", state=State(live=False))
    read = exact("two-el34-foot-rheostat", service, fault).readings([item])
    assert numbers(read) == pytest.approx([expected])
