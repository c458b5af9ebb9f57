"""Which ways there are: preferred values, parts that act, and the circuits that they make."""

from __future__ import annotations

import eseries
import numpy as np
import pytest

from netcheck.commands.common import load
from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.netlist import Circuit, Pot, Resistor
from netcheck.predictor import Predictor
from netcheck.preferred import parallel
from netcheck.remedy.fitted import fit
from netcheck.remedy.ways import Kind, Way, acting, candidates, changes, pot_values, scaffold

from .sections import circuit_of, divider, of


def ways_of(circuit: Circuit, service: Service) -> list[Way]:
    predictor = Predictor(Section(circuit), service)
    return candidates(predictor, circuit, of(predictor))


def test_every_value_is_preferred(service: Service) -> None:
    ways = ways_of(divider(), service)
    for way in ways:
        if way.kind is not Kind.POT:
            assert way.is_e12 is _is_of(eseries.E12, way.r)
            assert _is_of(eseries.E24, way.r)


def _is_of(series: eseries.ESeries, r: float) -> bool:
    """Whether a value is of a series that another package lists."""
    return bool(np.isclose(eseries.find_nearest(series, r), r, rtol=1e-9))


def test_every_value_in_the_range_is_tried(service: Service) -> None:
    """Straps from a tenth to thirty times, replacements ten times either way."""
    ways = ways_of(divider(), service)
    straps = {w.r for w in ways if w.kind is Kind.STRAP and w.parts == ("R2",)}
    known = eseries.erange(eseries.E24, 2.7e3, 810e3)
    assert sorted(straps) == pytest.approx(sorted(known))
    others = {w.r for w in ways if w.kind is Kind.RESISTOR and w.parts == ("R2",)}
    known = [r for r in eseries.erange(eseries.E24, 2.7e3, 270e3) if abs(r / 27e3 - 1) > 1e-9]
    assert sorted(others) == pytest.approx(sorted(known))


def test_grid_leaks_and_what_carries_no_current_are_not_offered(service: Service) -> None:
    circuit = load("two-6v6gt-foot")
    predictor = Predictor(Section(circuit), service)
    assert set(acting(predictor)) == {("R1",), ("R2",), ("R3",)}


def test_what_holds_the_grid_when_the_wiper_lifts_is_not_weakened(service: Service) -> None:
    circuit = load("two-el34-across")
    safety = [w for w in ways_of(circuit, service) if w.parts == ("R4",)]
    assert {w.kind for w in safety} == {Kind.STRAP, Kind.RESISTOR}
    assert all(w.kind is Kind.STRAP or w.r < 100e3 for w in safety)


def test_parts_of_several_grids_are_changed_together(service: Service) -> None:
    circuit = load("four-6l6gc-pot-per-valve")
    ways = ways_of(circuit, service)
    groups = {w.parts for w in ways}
    assert ("R51", "R52", "R53", "R54") in groups
    assert {w.parts for w in ways if w.kind is Kind.POT} == {("RV1", "RV2", "RV3", "RV4")}
    assert not any(set(parts) < {"R51", "R52", "R53", "R54"} for parts in groups)
    # the pots lie side by side: one strap is across all of them
    assert {w.parts for w in ways if w.kind is Kind.STRAP_POT} == {("RV1",)}


def test_the_two_sides_of_a_balance_belong_together(service: Service) -> None:
    predictor = Predictor(Section(load("two-el34-balance")), service)
    assert ("R5", "R6") in acting(predictor)


def test_usual_pots() -> None:
    assert pot_values(900.0, 11e3) == [1e3, 2e3, 2.2e3, 2.5e3, 4.7e3, 5e3, 10e3]


# ------------------------------------------------------------------- the circuits they make


@pytest.mark.parametrize("kind", [Kind.STRAP, Kind.STRAP_POT, Kind.SERIES, Kind.RESISTOR, Kind.POT])
def test_the_scaffold_says_what_the_circuit_says(kind: Kind, service: Service) -> None:
    """A change of values on the scaffold and the soldered circuit have equal grids.

    1 mV is for the wires of the scaffold, some hundredths of an ohm.
    """
    circuit = divider()
    part = {Kind.STRAP: "R2", Kind.RESISTOR: "R2"}.get(kind, "RV1")
    way = Way(kind, (part,), 22e3, "top" if kind is Kind.SERIES else "")
    at = {"RV1.travel": np.linspace(0.0, 1.0, 5)}
    on = Predictor(Section(scaffold(circuit, ["RV1"])), service)
    soldered = Predictor(Section(fit(circuit, way).circuit), service)
    changed = on.means(on.values() | at | changes(circuit, way), 5).at("grid1")
    real = soldered.means(soldered.values() | at, 5).at("grid1")
    untouched = on.means(on.values() | at, 5).at("grid1")
    assert changed == pytest.approx(real, abs=1e-3)
    assert np.max(np.abs(changed - untouched)) > 0.5


def test_a_strap_is_one_over_the_sum_of_conductances() -> None:
    circuit = divider()
    (r,) = changes(circuit, Way(Kind.STRAP, ("R2",), 100e3)).values()
    assert r == pytest.approx(1.0 / (1.0 / 27e3 + 1.0 / 100e3), rel=1e-12)
    assert parallel(27e3, 82e3) < 27e3


def test_new_parts_have_names_and_nodes_of_their_own() -> None:
    circuit = divider()
    fitted = fit(circuit, Way(Kind.SERIES, ("RV1",), 3.3e3, "bottom"))
    assert fitted.new == ("R5",)
    new, pot = fitted.circuit.part("R5"), fitted.circuit.part("RV1")
    assert isinstance(new, Resistor)
    assert isinstance(pot, Pot)
    assert (new.start, new.end, pot.bottom) == ("foot", "foot2", "foot2")
    assert new.note == "added: in series with the bottom of RV1"
    before = {node for p in circuit.parts for _, node in p.terminals}
    assert "foot2" not in before


def test_pots_that_are_wired_in_another_manner_are_changed_apart(service: Service) -> None:
    circuit = circuit_of(
        "supply S1 plus ground minus raw 42 V source 100 ohm\n"
        "pot RV1 top raw wiper head bottom head 10k\n"
        "pot RV2 top head wiper sweep bottom foot 10k\n"
        "resistor R1 from foot to ground 27k\n"
        "resistor R2 from sweep to grid1 68k\n"
        "valve V1 6V6GTA grid grid1 plate 345 V screen 310 V\n"
    )
    ends = {(w.parts, w.end) for w in ways_of(circuit, service) if w.kind is Kind.SERIES}
    assert ends == {(("RV1",), "top"), (("RV2",), "top"), (("RV2",), "bottom")}


def test_a_rheostat_has_one_end_to_be_in_series_with(service: Service) -> None:
    circuit = circuit_of(
        "supply S1 plus ground minus raw 40 V source 100 ohm\n"
        "resistor R1 from raw to bias 12k\n"
        "pot RV1 top bias wiper foot bottom foot 10k clockwise top\n"
        "resistor R3 from foot to ground 18k\n"
        "resistor R4 from bias to grid1 220k\n"
        "valve V1 EL34 grid grid1 plate 420 V screen 415 V\n"
    )
    ends = {w.end for w in ways_of(circuit, service) if w.kind is Kind.SERIES}
    assert ends == {"top"}
