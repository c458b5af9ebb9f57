"""What the rules make of sound sections of many arrangements, and of faults put into them."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.arrangement import arrangement
from netcheck.finding import Finding, Severity
from netcheck.graph import Section
from netcheck.netlist import Circuit
from netcheck.roles import roles
from netcheck.rules import check
from netcheck.rules.rule import Case
from netcheck.rules.values import _look_old
from netcheck.stress import Stress, Stresses

from ..graph.sections import SOUND, parsed
from ..language.strategies import circuits
from .base import BASE, changed


def found(text: str, stresses: Stresses | None = None) -> list[Finding]:
    return check(Section(parsed(text)), stresses)


def spots(text: str, stresses: Stresses | None = None) -> set[tuple[str, str]]:
    """(kind, text under the mark) of all that is more than a note."""
    return {
        (f.slug, f.source.line(f.span.line)[f.span.column - 1 : f.span.end - 1])
        for f in found(text, stresses)
        if f.severity is not Severity.NOTE
    }


@pytest.mark.parametrize("name", SOUND)
def test_a_sound_section_raises_no_alarm(name: str) -> None:
    assert spots(SOUND[name].text) == set()


FAULTS = {
    "a diode of a bridge turned": (
        "bridge", "D1 anode raw cathode a", "D1 anode a cathode raw",
        {("rectifier-turned", "a"), ("winding-shorted", "a")}),
    "another diode of a bridge turned": (
        "bridge", "D3 anode a cathode ground", "D3 anode ground cathode a",
        {("rectifier-turned", "ground"), ("winding-shorted", "b")}),
    "a bridge on a grounded winding": (
        "bridge", "winding T1 from a to b", "link W1 from b to ground\nwinding T1 from a to b",
        {("winding-shorted", "a"), ("part-shorted", "ground")}),
    "a diode of a full-wave pair turned": (
        "full-wave", "D2 anode raw cathode b", "D2 anode b cathode raw",
        {("rectifier-turned", "b"), ("winding-shorted", "b")}),
    "two diodes in series face each other": (
        "two diodes in series, volts shared out", "D2 anode raw cathode inner",
        "D2 anode inner cathode raw", {("rectifier-turned", "inner")}),
    "the clamp of a doubler turned": (
        "doubler with a capacitor in series", "D1 anode pump cathode ground",
        "D1 anode ground cathode pump", {("rectifier-turned", "ground")}),
    "the coupling electrolytic of a doubler turned": (
        "doubler with a capacitor in series", "C7 plus ac minus pump", "C7 plus pump minus ac",
        {("electrolytic-turned", "pump")}),
    "one of two reservoirs in series turned": (
        "two reservoirs in series", "C3 plus middle minus raw", "C3 plus raw minus middle",
        {("electrolytic-turned", "raw")}),
    "an electrolytic on the alternating side of a dropper": (
        "capacitors against spikes", "C8 from feed to ground 10n 400 V",
        "C8 plus ground minus feed 10 uF 100 V", {("electrolytic-alternating", "C8")}),
    "a reservoir of the high tension turned": (
        "beside the high-tension rectifier", "C9 plus ht minus ground", "C9 plus ground minus ht",
        {("electrolytic-turned", "ground")}),
    "one zener of a string turned": (
        "two zeners in series hold the supply", "Z1 anode held cathode inner",
        "Z1 anode inner cathode held", {("zener-turned", "held")}),
    "the diode at the bias line turned": (
        "a diode keeps the line from going positive", "D9 anode sweep cathode ground",
        "D9 anode ground cathode sweep", {("diode-takes-bias", "ground")}),
    "a winding in series turned is no clash": (
        "two windings in series", "T2 from middle to tap", "T2 from tap to middle", set()),
    "a grid leak to ground": (
        "half-wave", "R4 from sweep", "R4 from ground", {("grid-unfed", "grid1")}),
    "a balance pot without a load": (
        "balance fed at its wiper", "resistor R7 from side1 to ground 470k\n"
        "resistor R8 from side2 to ground 470k\n", "", {("pot-without-effect", "RV2")}),
    "no foot": (
        "half-wave", "resistor R3 from foot", "link W1 from foot to ground\nresistor R3 from foot",
        {("bias-lost-at-the-end", "foot"), ("part-shorted", "ground")}),
    "no safety resistor": (
        "half-wave", "resistor R6 from head to sweep 220k\n", "",
        {("bias-lost-when-wiper-lifts", "sweep")}),
    "a safety resistor to the wrong end": (
        "half-wave", "R6 from head to sweep", "R6 from foot to sweep",
        {("bias-lost-when-wiper-lifts", "sweep")}),
    "a level pot down to ground": (
        "pot in front of the rectifier",
        "bottom low 4k7\nresistor R8 from low to ground 10k 1 W\n", "bottom ground 4k7\n",
        {("bias-lost-at-the-end", "ground")}),
    "a level pot without a resistor beside it": (
        "pot in front of the rectifier", "resistor R9 from high to feed 47k\n", "",
        {("bias-lost-when-wiper-lifts", "feed")}),
    "a switch that is closed": (
        "half-wave", "resistor R2", "resistor R7 from raw to raw3 5k6\nlink W1 from raw to raw3\n"
        "resistor R8 from raw3 to ground 100k\nresistor R2", {("part-shorted", "raw3")}),
}  # fmt: skip
"""By what was done: section, what stood there, what stands there now, what is to be found."""


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_is_found_at_its_spot_and_nothing_else(fault: str) -> None:
    name, before, after, expected = FAULTS[fault]
    text = SOUND[name].text
    assert text.count(before) == 1
    assert spots(text.replace(before, after)) == expected


def test_a_switch_that_is_closed_works_and_is_no_error() -> None:
    (finding,) = found(
        changed(["link W1 from grid1 to other", "resistor R9 from grid1 to other 1k"])
    )
    assert (finding.slug, finding.severity) == ("part-shorted", Severity.WARNING)
    assert "links short R9" in finding.what


def test_the_remedy_for_a_lifting_wiper_names_the_negative_end() -> None:
    bad = changed(["pot RV1 top foot wiper sweep bottom head 10k",
                   "resistor R6 from foot to sweep 220k"])  # fmt: skip
    (finding,) = (f for f in found(bad) if f.slug == "bias-lost-when-wiper-lifts")
    assert "its bottom, the more negative end" in finding.fix


def test_bands_that_make_sense_from_the_other_end() -> None:
    """2M27 is in no series at 1 %; turned round the bands say 14k7, which E48 holds."""
    bad = changed(["resistor R2 from raw to head bands red red violet yellow brown"])
    (finding,) = (f for f in found(bad) if f.slug == "unusual-value")
    assert finding.fix == "perhaps 14k7 (the bands read from the other end)"


@pytest.mark.parametrize(("year", "expected"), [(2005, 0), (2026, 0), (2004, 1), (1968, 1)])
def test_an_electrolytic_is_old_past_twenty_years(year: int, expected: int) -> None:
    text = changed([f"capacitor C1 plus ground minus raw 47 uF 100 V year {year}"])
    case = Case(Section(parsed(text)), year=2025)
    assert len(list(_look_old(case))) == expected


# ------------------------------------------------------------- ratings, with stresses by hand


def _judged(line: str, part: str, stress: Stress) -> set[tuple[str, Severity]]:
    findings = found(changed([line]), Stresses({part: stress}, 253.0))
    return {(f.slug, f.severity) for f in findings if f.span.line <= len(BASE.splitlines())}


@pytest.mark.parametrize(
    ("line", "part", "stress", "expected"),
    [
        ("capacitor C1 plus ground minus raw 47 uF 100 V", "C1", Stress(v_forward=90.0), None),
        ("capacitor C1 plus ground minus raw 47 uF 100 V", "C1", Stress(v_forward=90.1),
         ("capacitor-volts", Severity.WARNING)),
        ("capacitor C1 plus ground minus raw 47 uF 100 V", "C1", Stress(v_forward=100.1),
         ("capacitor-volts", Severity.ERROR)),
        ("capacitor C2 plus ground minus sweep 10 uF 63 V", "C2", Stress(v_backward=1.1),
         ("electrolytic-reversed-volts", Severity.ERROR)),
        ("resistor R3 from foot to ground 15k 0.5 W", "R3", Stress(power=0.3), None),
        ("resistor R3 from foot to ground 15k 0.5 W", "R3", Stress(power=0.31),
         ("dissipation", Severity.WARNING)),
        ("resistor R3 from foot to ground 15k 0.5 W", "R3", Stress(power=0.51),
         ("dissipation", Severity.ERROR)),
        ("resistor R3 from foot to ground 15k 0.25 W", "R3", Stress(v_forward=251.0),
         ("working-volts", Severity.WARNING)),
        ("resistor R3 from foot to ground 15k 0.5 W", "R3", Stress(v_forward=251.0), None),
        ("diode D1 anode raw cathode feed 200 V", "D1", Stress(v_forward=160.0), None),
        ("diode D1 anode raw cathode feed 200 V", "D1", Stress(v_forward=161.0),
         ("reverse-volts", Severity.WARNING)),
        ("diode D1 anode raw cathode feed 200 V", "D1", Stress(v_forward=201.0),
         ("reverse-volts", Severity.ERROR)),
    ],
)  # fmt: skip
def test_a_rating_is_held_against_its_stress(
    line: str, part: str, stress: Stress, expected: tuple[str, Severity] | None
) -> None:
    assert _judged(line, part, stress) == ({expected} if expected else set())


def test_a_piece_of_a_track_bears_the_current_of_the_whole() -> None:
    """10 mA through a tenth of 10k is 0.1 W there; the whole track of a 0.5 W pot bears 7 mA."""
    line = "pot RV1 top head wiper sweep bottom foot 10k 0.5 W"
    stress = Stress(power=0.1, i_rms=10e-3)
    assert _judged(line, "RV1", stress) == {("dissipation", Severity.ERROR)}
    assert _judged(line, "RV1", Stress(power=0.1, i_rms=5e-3)) == set()


# ------------------------------------------------------------------------- whatever is drawn


@given(circuit=circuits(), data=st.data())
@settings(max_examples=150)
def test_no_rule_breaks_down_whatever_is_drawn(circuit: Circuit, data: st.DataObject) -> None:
    section = Section(circuit)
    volts = st.floats(0.0, 1e4)
    stresses = Stresses(
        {p.name: Stress(data.draw(volts), data.draw(volts), data.draw(volts), data.draw(volts))
         for p in circuit.parts}, 253.0)  # fmt: skip
    broken = [f.what for f in check(section, stresses) if f.slug == "rule-failed"]
    assert broken == []
    roles(section)
    assert arrangement(section).sentence
