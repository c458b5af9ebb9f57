"""Resistances read in the circuit, by hand and against networkx; junctions that conduct."""

from __future__ import annotations

import math
from dataclasses import replace

import networkx as nx
import pytest

from netcheck.assumed import r_end
from netcheck.compare import Verdict, compare
from netcheck.model import wiper_position
from netcheck.netlist import OPEN, Pot, Resistor
from netcheck.readings import OVERLOAD, Accuracy, Function, Kind, Range, Reading, State
from netcheck.readout.junctions import v_begin
from netcheck.readout.model import SectionModel

from ..chassis.chassis import DMM
from ..chassis.plans import resistances
from .conftest import Bench
from .taken import ANTICLOCKWISE, YEAR, ohms

AT = {"RV1": ANTICLOCKWISE}


def predicted(model: SectionModel, reading: Reading) -> float:
    value = compare(model, [reading], YEAR).found[0].predicted
    assert value is not None
    return value


def test_a_strapped_foot_resistor_is_one_over_the_sum_of_conductances(bench: Bench) -> None:
    drawn = bench("two-6v6gt-foot", "resistor R9 from foot to ground 82k 5% 0.5 W")
    reading = ohms("foot", "ground", 20.3e3, AT, "R3")
    # Nothing else leads from the foot to ground: the diode blocks, capacitors do not leak.
    assert predicted(drawn, reading) == pytest.approx(1 / (1 / 27e3 + 1 / 82e3), rel=1e-5)


def test_a_pot_reads_its_track_beside_what_is_across_it(bench: Bench) -> None:
    """R6 lies from the head to the wiper: across the upper half of the track."""
    end, between = 100.0, 10e3 - 200.0
    half = end + 0.5 * between
    state = {"RV1": type(ANTICLOCKWISE)(0.5)}
    reading = ohms("head", "foot", 10e3, state, "RV1")
    by_hand = 1 / (1 / half + 1 / 220e3) + half
    # The wiper's own contact has 50 mohm.
    assert predicted(bench("two-6v6gt-foot"), reading) == pytest.approx(by_hand, rel=1e-4)


def graph(model: SectionModel, travel: dict[str, float]) -> nx.MultiGraph[str]:
    """Resistors and tracks of a section between its nodes."""
    at = model.section.joined
    found: nx.MultiGraph[str] = nx.MultiGraph()
    for part in model.section.circuit.parts:
        if isinstance(part, Resistor):
            found.add_edge(at[part.start], at[part.end], ohm=part.r)
        elif isinstance(part, Pot):
            end = r_end(part)
            wiper = float(wiper_position(part, travel[part.name]))
            for node, share in ((part.top, 1.0 - wiper), (part.bottom, wiper)):
                if node != OPEN:
                    r = end + (part.r - 2.0 * end) * share
                    found.add_edge(at[node], at[part.wiper], ohm=r)
    return found


@pytest.mark.parametrize("name", ["two-6v6gt-foot", "two-el34-across", "two-el34-balance"])
def test_two_point_resistance_is_that_of_networkx(name: str, bench: Bench) -> None:
    """Against networkx.resistance_distance, which inverts the Laplacian of the whole graph."""
    model = bench(name)
    readings = [ohms(item.plus, item.minus, 1e4, item.state.pots, item.part)
                for item in resistances(model.section)]  # fmt: skip
    count = 0
    for one in compare(model, readings, YEAR).found:
        travel = {pot: at.travel for pot, at in one.reading.state.pots.items()}
        whole = graph(model, travel)
        a, b = (model.section.joined[node] for node in (one.reading.plus, one.reading.minus))
        part = whole.subgraph(nx.node_connected_component(whole, a))
        if a != b and b in part:
            distance = nx.resistance_distance(part, a, b, weight="ohm", invert_weight=True)
            # Wipers have 50 mohm, and nodes that go on elsewhere 1 Gohm to ground.
            assert one.predicted == pytest.approx(distance, rel=3e-4)
            count += 1
    assert count >= 5


def test_overload_agrees_with_what_is_beyond_the_meter(bench: Bench) -> None:
    model = bench("two-6v6gt-foot")
    # A capacitor that has settled; between the wiper and grid 1 there are 68k.
    small = Accuracy(0.01, 1, (Range(50e3, 10.0),))
    meter = replace(DMM, accuracy={**DMM.accuracy, Function.OHMS: small})
    state = State(live=False, pots=AT, discharged=True)
    grid = Reading(Kind.OHMS, OVERLOAD, 0.0, state, meter, "sweep", "grid1", "R4")
    foot = replace(grid, plus="foot", minus="ground", part="R3")
    found = compare(model, [grid, foot], YEAR)
    assert found.found[0].predicted == OVERLOAD
    assert found.found[0].difference is None
    assert abs(found.found[0].deviation or 0.0) < 1.0
    assert found.carriers[0].reading is foot  # 27k would have been shown
    assert found.verdict is Verdict.NOT_CONSISTENT


@pytest.mark.parametrize("part", ["D1", "T1"])
def test_what_a_lifted_part_shows_that_the_drawing_does_not_tell_is_no_disagreement(
    part: str, bench: Bench
) -> None:
    state = State(live=False, discharged=True)
    lifted = Reading(Kind.LIFTED, OVERLOAD, 0.0, state, DMM, part=part)
    known = replace(lifted, nominal=26.8e3, last_digit=100.0, part="R3")
    found = compare(bench("two-6v6gt-foot"), [lifted, known], YEAR)
    assert found.verdict is Verdict.CONSISTENT
    assert found.joint.count == 1
    assert found.found[0].predicted is None
    # A resistor alone is its drawn value, 5 % either way, and the meter.
    assert found.found[1].predicted == pytest.approx(27e3, rel=1e-6)
    assert found.found[1].band == pytest.approx((27e3 * 0.9525, 27e3 * 1.0475), rel=3e-3)


# --------------------------------------------------------------------- junctions


def test_a_junction_begins_to_conduct_where_the_exponential_law_says() -> None:
    """1.8 kT/q for each factor e: two decades below 10 mA is 0.70 V - 1.8 x 25.86 mV x ln 100."""
    assert v_begin(0.7) == pytest.approx(0.7 - 1.8 * 0.025865 * math.log(100), abs=1e-4)


def test_a_diode_that_the_meter_makes_conduct(bench: Bench) -> None:
    """Red on the reservoir: D1, R1 and the winding's copper lie across the rest."""
    model, volts = bench("two-6v6gt-foot"), 2.0
    meter = replace(DMM, v_test=volts)
    reading = ohms("raw", "ground", 700.0, AT, meter=meter)
    one = compare(model, [reading], YEAR).found[0]
    blocked = one.predicted or 0.0
    # R2, the track with R6 across part of it, R3: some 55k with the diode blocked.
    assert blocked == pytest.approx(18e3 + 10e3 + 27e3, rel=0.05)
    (way,) = one.conduction
    assert (way.junctions, way.red) == (("D1",), "raw")
    # Of the winding's 60 ohm a meter sees 0.2 to 1.25: in the middle of the logarithms.
    branch = 470.0 + 60.0 * math.sqrt(0.2 * 1.25) + 1.0
    i = volts / blocked + (volts - v_begin(0.7)) / branch
    assert way.r == pytest.approx(volts / i, rel=2e-3)
    assert one.explained
    other = compare(model, [replace(reading, plus="ground", minus="raw")], YEAR).found[0]
    assert other.conduction == ()
    assert not other.explained


def test_a_conducting_diode_is_no_fault_but_a_low_resistor_is(bench: Bench) -> None:
    model = bench("two-6v6gt-foot")
    strong, unsaid = replace(DMM, v_test=2.0), DMM
    low = ohms("raw", "ground", 700.0, AT, meter=strong)
    sound = ohms("foot", "ground", 27e3, AT, "R3", meter=strong)
    found = compare(model, [low, sound], YEAR)
    assert found.verdict is Verdict.CONSISTENT
    assert found.joint.count == 1
    # Below what a conducting diode leaves there is something else wrong.
    shorted = compare(model, [replace(low, nominal=20.0, last_digit=0.1), sound], YEAR)
    assert shorted.verdict is Verdict.NOT_CONSISTENT
    # Where no test volts are stated nothing conducts; that it may is said.
    doubtful = compare(model, [replace(low, meter=unsaid)], YEAR)
    assert doubtful.verdict is Verdict.NOT_CONSISTENT
    (way,) = doubtful.found[0].conduction
    assert way.junctions == ("D1",)
    assert not doubtful.found[0].explained
    # And what reads as predicted is not doubted.
    right = compare(model, [ohms("raw", "ground", 55e3, AT)], YEAR)
    assert right.found[0].conduction == ()


def test_of_a_part_read_across_both_ways_round_are_looked_at(bench: Bench) -> None:
    model = bench("two-6v6gt-foot")
    meter = replace(DMM, v_test=2.0)
    between = compare(model, [ohms("raw", "head", 18e3, AT, meter=meter)], YEAR).found[0]
    swapped = compare(model, [ohms("head", "raw", 18e3, AT, meter=meter)], YEAR).found[0]
    across = compare(model, [ohms("head", "raw", 18e3, AT, "R2", meter=meter)], YEAR).found[0]
    assert [way.red for way in between.conduction] == ["raw"]
    assert swapped.conduction == ()
    assert across.conduction == between.conduction


def test_a_cold_valve_rectifier_never_conducts(bench: Bench) -> None:
    model = bench("two-5881-vacuum-rectifier")
    (diode,) = (p for p in model.section.circuit.parts if p.kind == "diode")
    meter = replace(DMM, v_test=3.0)
    terminals = dict(diode.terminals)
    reading = ohms(terminals["anode"], terminals["cathode"], 1e4, {}, meter=meter)
    assert compare(model, [reading], YEAR).found[0].conduction == ()


def test_a_meter_below_the_junctions_drop_measures_past_it(bench: Bench) -> None:
    model = bench("two-6v6gt-foot")
    reading = ohms("raw", "ground", 700.0, AT, meter=replace(DMM, v_test=0.4))
    found = compare(model, [reading], YEAR)
    assert found.found[0].conduction == ()
    assert found.verdict is Verdict.NOT_CONSISTENT
