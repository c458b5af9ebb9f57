"""The quiet and the alternating side, and the network of mean voltages, against hand formulas."""

from __future__ import annotations

import pytest

from netcheck.polarity import MeanNetwork, Sign
from netcheck.topology import Topology

from .sections import SOUND, section_of

_SUPPLY = "supply S1 plus ground minus raw 50 V\n"


def _topology(name: str) -> Topology:
    head = 'circuit "invented"\nmains 230 V 50 Hz\n'
    return Topology(section_of(SOUND[name].text.removeprefix(head)))


@pytest.mark.parametrize(
    ("name", "hot", "output"),
    [
        ("half-wave", {"tap"}, "raw"),
        ("surge resistor behind the diode", {"tap", "inner"}, "raw"),
        ("capacitors against spikes", {"tap", "feed"}, "raw"),
        ("bridge", {"a", "b"}, "raw"),
        ("doubler with a capacitor in series", {"ac", "pump"}, "raw"),
        ("doubler with two capacitors", {"a"}, "raw"),
        ("coupled, clamped, through a resistor", {"a", "b", "pump"}, "raw"),
        ("back bias", {"a", "b"}, "raw"),
        ("direct supply, its plus grounded by a link", set(), "raw"),
        ("pot in front of the rectifier", {"tap", "high", "feed", "low"}, "raw"),
    ],
)
def test_what_alternates_and_where_the_rectifier_hands_over(
    name: str, hot: set[str], output: str
) -> None:
    topology = _topology(name)
    assert topology.hot == hot
    assert [(found.node, found.has_reservoir) for found in topology.outputs] == [(output, True)]


def test_a_divider_behind_a_supply() -> None:
    """Unit source through 1 ohm: foot over the sum of all three, as by any handbook."""
    lines = _SUPPLY + "resistor R1 from raw to line 10k\nresistor R2 from line to ground 30k\n"
    network = MeanNetwork(Topology(section_of(lines + "valve V1 EL34 grid line\n")))
    assert network.total("line") == pytest.approx(-30e3 / 40001.0)
    parallel = 1.0 / (1.0 / 10001.0 + 1.0 / 30e3)
    assert network.r_to_ground("line") == pytest.approx(parallel)


@pytest.mark.parametrize("wiper", [0.0, 0.3, 1.0])
def test_a_pot_divides_by_its_wiper(wiper: float) -> None:
    """End resistance of 1 % at either stop; the top is at the full volts behind 1 ohm."""
    lines = _SUPPLY + "pot RV1 top raw wiper line bottom ground 10k end 1%\n"
    topology = Topology(section_of(lines + "valve V1 EL34 grid line\n"))
    found = MeanNetwork(topology, {"RV1": wiper}).total("line")
    assert found == pytest.approx(-(100.0 + 9800.0 * wiper) / 10001.0)


def test_a_lifted_wiper_leaves_the_grid_floating_or_held() -> None:
    topology = _topology("half-wave")
    network = MeanNetwork(topology, lifted=["RV1"])
    assert network.total("sweep") == pytest.approx(network.total("head"))
    bare = section_of(_SUPPLY + "pot RV1 top raw wiper line bottom ground 10k\n"
                      "resistor R4 from line to grid 100k\nvalve V1 EL34 grid grid\n")  # fmt: skip
    floating = MeanNetwork(Topology(bare), lifted=["RV1"])
    assert floating.total("grid") is None
    assert floating.sign("grid") is Sign.FLOATING
    assert floating.r_to_ground("grid") is None


@pytest.mark.parametrize("name", SOUND)
def test_every_grid_of_a_sound_section_is_negative_for_certain(name: str) -> None:
    topology = _topology(name)
    network = MeanNetwork(topology)
    for grid in topology.section.grids:
        assert network.sign(grid) is Sign.NEGATIVE


def test_sources_that_pull_both_ways_leave_a_doubt() -> None:
    lines = _SUPPLY + (
        "supply S2 plus high minus ground 50 V\nresistor R1 from raw to line 10k\n"
        "resistor R2 from high to line 12k\nvalve V1 EL34 grid line\n"
    )
    assert MeanNetwork(Topology(section_of(lines))).sign("line") is Sign.UNCLEAR


def test_the_node_of_a_pump_stands_between_its_output_and_ground() -> None:
    """Both capacitors of a doubler are charged with their plus towards ground."""
    network = MeanNetwork(_topology("doubler with a capacitor in series"))
    assert network.sign("pump") is Sign.NEGATIVE
    assert network.sign("pump", "raw") is Sign.POSITIVE


def test_a_coupled_supply_with_a_resistor_lifts_its_own_node() -> None:
    """The current that the diode takes off the output flows to ground through the resistor."""
    network = MeanNetwork(_topology("coupled, with a resistor to ground"))
    assert network.sign("pump") is Sign.POSITIVE
    assert network.sign("raw") is Sign.NEGATIVE
