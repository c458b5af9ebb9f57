"""Resistive networks against hand formulas, networkx and exact rational arithmetic."""

from __future__ import annotations

import time
from fractions import Fraction

import networkx as nx
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.engine.elements import GROUND, Floats
from netcheck.engine.linear import LinearNetwork
from netcheck.errors import EngineError

# A few roundings per node, nothing more: elimination has no subtraction in it.
EXACT = 1e-12


def divider() -> LinearNetwork:
    return LinearNetwork(["top", "w"], [("top", "w"), ("w", GROUND)])


def test_divider() -> None:
    solution = divider().held([1 / 10e3, 1 / 22e3], ["top"])
    v = solution.voltages([-60.0])
    assert v == pytest.approx(np.array([[-60.0, -60.0 * 22 / 32]]), rel=EXACT)
    assert solution.current([-60.0], 0) == pytest.approx([-60.0 / 32e3], rel=EXACT)
    assert solution.conductance(0) == pytest.approx([1 / 32e3], rel=EXACT)


def test_rows_are_independent() -> None:
    r = np.array([[10e3, 22e3], [4.7e3, 47e3], [1e3, 1e6]])
    v = divider().held(1 / r, ["top"]).voltages(np.array([[-60.0], [-50.0], [-10.0]]))
    expected = np.array([-60.0, -50.0, -10.0]) * r[:, 1] / r.sum(axis=1)
    assert v[:, 1] == pytest.approx(expected, rel=EXACT)


def test_wheatstone_bridge() -> None:
    """Unbalanced, with a detector: solved by Thevenin's theorem."""
    r1, r2, r3, r4, r5 = 1e3, 2e3, 3.3e3, 4.7e3, 560.0
    network = LinearNetwork(
        ["s", "l", "r"], [("s", "l"), ("l", GROUND), ("s", "r"), ("r", GROUND), ("l", "r")]
    )
    v = network.held([1 / r1, 1 / r2, 1 / r3, 1 / r4, 1 / r5], ["s"]).voltages([10.0])[0]
    v_left, v_right = 10 * r2 / (r1 + r2), 10 * r4 / (r3 + r4)
    r_left, r_right = r1 * r2 / (r1 + r2), r3 * r4 / (r3 + r4)
    i_detector = (v_left - v_right) / (r_left + r_right + r5)
    assert v[1] - v[2] == pytest.approx(i_detector * r5, rel=EXACT)
    assert v[1] == pytest.approx(v_left - i_detector * r_left, rel=EXACT)


def test_current_driven_into_a_node() -> None:
    """Superposition: an emf of 10 V and 1 mA into the tap."""
    solution = divider().held([1 / 1e3, 1 / 3e3], ["top"], i_in=[0.0, 1e-3])
    assert solution.voltages([10.0])[0, 1] == pytest.approx(10 * 3 / 4 + 1e-3 * 750, rel=EXACT)
    assert solution.current([10.0], 0) == pytest.approx([10 / 4e3 - 1e-3 * 3 / 4], rel=EXACT)


def test_current_driven_into_a_held_node_comes_out_of_its_source() -> None:
    solution = divider().held([1 / 1e3, 1 / 3e3], ["top"], i_in=[2e-3, 0.0])
    assert solution.current([10.0], 0) == pytest.approx([10 / 4e3 - 2e-3], rel=EXACT)


def test_ground_alone_holds() -> None:
    v = divider().held([1 / 1e3, 1 / 3e3], i_in=[1e-3, 0.0]).voltages()
    assert v == pytest.approx(np.array([[4.0, 3.0]]), rel=EXACT)


def test_two_held_nodes() -> None:
    network = LinearNetwork(
        ["a", "m", "b"], [("a", "m"), ("m", "b"), ("m", GROUND), ("a", GROUND), ("b", GROUND)]
    )
    g = np.array([[1e-3, 2e-3, 5e-4, 1e-4, 3e-4], [2e-3, 1e-4, 1e-5, 0.0, 1e-3]])
    solution = network.held(g, ["a", "b"])
    v_held = np.array([[-40.0, 12.0], [5.0, -3.0]])
    v = solution.voltages(v_held)
    for k in range(2):
        without = v_held.copy()
        without[:, k] = 0.0
        line = solution.current(without, k) + solution.conductance(k) * v_held[:, k]
        assert line == pytest.approx(solution.current(v_held, k), rel=EXACT)
    # Kirchhoff at the middle node.
    into = g[:, 0] * (v[:, 0] - v[:, 1]) + g[:, 1] * (v[:, 2] - v[:, 1]) - g[:, 2] * v[:, 1]
    assert into == pytest.approx(np.zeros(2), abs=1e-16)


def random_network(seed: int) -> tuple[LinearNetwork, Floats, nx.MultiGraph[str]]:
    rng = np.random.default_rng(seed)
    nodes = [f"n{k}" for k in range(int(rng.integers(2, 12)))]
    everything = [*nodes, GROUND]
    ends = [(node, everything[int(rng.integers(k + 1, len(everything)))])
            for k, node in enumerate(nodes)]  # fmt: skip
    for _ in range(int(rng.integers(0, 12))):
        a, b = rng.choice(len(everything), 2)
        ends.append((everything[a], everything[b]))
    g = 10 ** rng.uniform(-6, -2, len(ends))
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    graph.add_nodes_from(everything)
    for (a, b), conductance in zip(ends, g, strict=True):
        if a != b:
            graph.add_edge(a, b, weight=conductance)
    return LinearNetwork(nodes, ends), g, graph


@pytest.mark.parametrize("seed", range(20))
def test_resistance_against_networkx(seed: int) -> None:
    """networkx.resistance_distance, which uses the pseudo-inverse of the Laplacian."""
    network, g, graph = random_network(seed)
    a, b = network.nodes[0], GROUND
    expected = nx.resistance_distance(graph, a, b, weight="weight", invert_weight=False)
    # The pseudo-inverse loses some digits over four decades of conductance.
    assert network.resistance(a, b, g) == pytest.approx([expected], rel=1e-8)
    assert network.resistance(b, a, g) == pytest.approx(network.resistance(a, b, g), rel=EXACT)
    assert 1 / network.held(g, [a]).conductance(0) == pytest.approx([expected], rel=1e-8)


def test_resistance_to_itself_and_to_nothing() -> None:
    network = LinearNetwork(["a", "b", "c"], [("a", GROUND), ("b", "c")])
    assert network.resistance("a", "a", [1.0, 1.0]) == pytest.approx([0.0])
    assert network.resistance("a", "b", [1.0, 1.0]) == pytest.approx([np.inf])
    assert network.resistance("b", "c", [0.0, 1e-3]) == pytest.approx([1e3])


def exact_voltages(g: list[Fraction], n: int, ends: list[tuple[int, int]]) -> list[Fraction]:
    """Gaussian elimination in rational numbers: node 0 at 1 V, the last node is ground."""
    matrix = [[Fraction(0)] * (n + 1) for _ in range(n)]
    for conductance, (a, b) in zip(g, ends, strict=True):
        for i, j in ((a, b), (b, a)):
            if i < n:
                matrix[i][i] += conductance
                if j < n:
                    matrix[i][j] -= conductance
    matrix[0] = [Fraction(1), *[Fraction(0)] * (n - 1), Fraction(1)]
    for k in range(n):
        matrix[k] = [x / matrix[k][k] for x in matrix[k]]
        for i in range(n):
            if i != k:
                factor = matrix[i][k]
                matrix[i] = [x - factor * y for x, y in zip(matrix[i], matrix[k], strict=True)]
    return [row[-1] for row in matrix]


@given(st.lists(st.floats(-12, 3), min_size=10, max_size=10))
def test_fifteen_decades_of_conductance(exponents: list[float]) -> None:
    """A picosiemens and a kilosiemens side by side, against exact rational arithmetic."""
    ends = [(0, 1), (1, 2), (2, 3), (3, 4), (0, 4), (1, 4), (2, 4), (3, 0), (2, 0), (1, 3)]
    g = [10.0**exponent for exponent in exponents]
    names = ["n0", "n1", "n2", "n3", GROUND]
    network = LinearNetwork(names[:4], [(names[a], names[b]) for a, b in ends])
    v = network.held(g, ["n0"]).voltages([1.0])[0]
    expected = exact_voltages([Fraction(x) for x in g], 4, ends)
    for mine, exact in zip(v, expected, strict=True):
        assert mine == pytest.approx(float(exact), rel=1e-13)


def test_two_nodes_strapped_together_and_hardly_tied_down() -> None:
    """The usual matrix would hold 1000.000000000001 and have lost the picosiemens."""
    network = LinearNetwork(["a", "b"], [("a", "b"), ("a", GROUND), ("b", GROUND)])
    v = network.held([1e3, 1e-12, 1e-12], i_in=[1e-12, 0.0]).voltages()
    assert v == pytest.approx(np.array([[0.5, 0.5]]), rel=EXACT)


def test_floating_node_is_named() -> None:
    network = LinearNetwork(["top", "w", "grid"], [("top", "w"), ("w", GROUND), ("w", "grid")])
    with pytest.raises(EngineError, match='"grid" floats'):
        network.held([1e-3, 1e-3, 0.0], ["top"])


def test_floating_island_in_one_row_only() -> None:
    network = LinearNetwork(["top", "a", "b"], [("top", GROUND), ("top", "a"), ("a", "b")])
    g = np.array([[1e-3, 1e-3, 1e-3], [1e-3, 0.0, 1e-3]])
    with pytest.raises(EngineError, match=r'"[ab]" floats'):
        network.held(g, ["top"])
    network.held(g[:1], ["top"])


@pytest.mark.parametrize("bad", [-1e-3, np.nan, np.inf])
def test_impossible_conductance(bad: float) -> None:
    with pytest.raises(EngineError, match="conductance"):
        divider().held([1e-3, bad], ["top"])


def test_misuse() -> None:
    with pytest.raises(ValueError, match="'x'"):
        LinearNetwork(["a"], [("a", "x")])
    with pytest.raises(ValueError, match="2 branches"):
        divider().held([1e-3], ["top"])


def test_part_with_both_ends_at_one_node_does_nothing() -> None:
    network = LinearNetwork(["a"], [("a", GROUND), ("a", "a")])
    assert network.resistance("a", GROUND, [1e-3, 1.0]) == pytest.approx([1e3])


def test_ten_thousand_rows_at_once() -> None:
    """Quick enough for tens of thousands of predictions: 2 ms here, a wide margin kept."""
    nodes = [f"n{k}" for k in range(10)]
    ends = [(f"n{k}", f"n{k + 1}") for k in range(9)] + [(node, GROUND) for node in nodes]
    g = 10 ** np.random.default_rng(7).uniform(-6, -3, (10_000, len(ends)))
    network = LinearNetwork(nodes, ends)
    best = np.inf
    for _ in range(3):
        begun = time.perf_counter()
        v = network.held(g, ["n0"]).voltages([-50.0])
        best = min(best, time.perf_counter() - begun)
    assert best < 0.1
    one = network.held(g[1234], ["n0"]).voltages([-50.0])
    assert v[1234] == pytest.approx(one[0], rel=EXACT)
