"""What is written into a drawing: voltages as predicted, readings as taken, marks as found."""

from __future__ import annotations

import re

import pytest

from netcheck.crosscheck import cross_check
from netcheck.diagnose.diagnosis import Verdict
from netcheck.engine.service import Service
from netcheck.finding import Finding, Severity
from netcheck.graph import Section
from netcheck.netlist import GROUND
from netcheck.parse import parse_circuit
from netcheck.parse.sheet import read_sheet
from netcheck.predictor import Predictor
from netcheck.quantity import read as read_value
from netcheck.readings import Reading
from netcheck.report.schematicnotes import Volts, marked, noted, predicted, written
from netcheck.resources import folder
from netcheck.rules import check
from netcheck.schematic import Entry, Mark
from netcheck.source import Source, Span
from netcheck.survey import survey
from netcheck.travel import predict

from ..suspected import account_of
from .examples import circuit_of, example, section

DIVIDER = """\
circuit "A divider on a supply"
supply S1 plus ground minus raw 40 V
resistor R1 from raw to head 10k
pot RV1 top head wiper sweep bottom foot 10k linear clockwise bottom
resistor R2 from foot to ground 20k
resistor R3 from sweep to grid1 100k
valve V1 EL84 grid grid1
"""
"""Ten, ten and twenty kilohms on 40 V: 10 V for each ten, by Ohm's law."""

_ENDS = 0.15
"""What is left of a track at its stop is taken for granted, up to 1 % of it. [V]"""


def figures(text: str) -> list[float]:
    """The voltages in a text such as "-40.8 to -30.2 V". [V]"""
    words = text.replace("\n", " ").replace(" Vac", " V").replace(" to ", " V ").split(" V")
    return [read_value(f"{word.strip()} V").exact.__float__() for word in words if word.strip()]


# ---------------------------------------------------------------------------- voltages


def test_a_divider_by_ohms_law(service: Service) -> None:
    volts = predicted(Predictor(Section(circuit_of(DIVIDER)), service))
    assert figures(volts.texts["raw"]) == pytest.approx([-40.0], abs=0.05)
    assert figures(volts.texts["head"]) == pytest.approx([-30.0], abs=0.05)
    assert figures(volts.texts["foot"]) == pytest.approx([-20.0], abs=0.05)
    assert figures(volts.texts["sweep"]) == pytest.approx([-30.0, -20.0], abs=_ENDS)
    assert volts.texts["grid1"] == volts.texts["sweep"]
    assert volts.moved == {"sweep", "grid1"}
    assert GROUND not in volts.texts
    assert "RV1" in volts.remark


def test_at_one_position(service: Service) -> None:
    """Clockwise is the bottom: at 25 % the wiper is a quarter of the way to the foot."""
    predictor = Predictor(Section(circuit_of(DIVIDER)), service)
    volts = predicted(predictor, at=0.25)
    assert figures(volts.texts["sweep"]) == pytest.approx([-27.5], abs=_ENDS)
    assert not volts.moved
    assert "RV1 at 25 %" in volts.remark
    fixed = predicted(predictor, fixed={"RV1": 1.0})
    assert figures(fixed.texts["sweep"]) == pytest.approx([-20.0], abs=_ENDS)
    assert "RV1 at 100 %" in fixed.remark


def test_as_the_prediction_has_it(service: Service) -> None:
    predictor = Predictor(section("two-6v6gt-foot"), service)
    volts = predicted(predictor)
    table = predict(predictor, with_start=False)
    for node in ("sweep", "grid1", "raw", "foot"):
        low, high = min(table.nodes[node]), max(table.nodes[node])
        told = figures(volts.texts[node])
        assert told[0] == pytest.approx(low, rel=0.01)
        assert told[-1] == pytest.approx(high, rel=0.01)
    assert len(figures(volts.texts["raw"])) == 1
    assert len(figures(volts.texts["grid1"])) == 2


def test_in_front_of_the_rectifier_alternating_volts(service: Service) -> None:
    """The winding gives its 48 V less what its own resistance takes."""
    volts = predicted(Predictor(section("two-6v6gt-foot"), service))
    assert volts.texts["tap"].endswith("Vac")
    assert figures(volts.texts["tap"])[0] == pytest.approx(48.0, rel=0.01)
    assert "Vac" in volts.texts["feed"]
    assert "Vac" not in volts.texts["raw"]
    assert "r.m.s." in volts.remark


def test_where_a_clamp_shifts_it_the_mean_too(service: Service) -> None:
    """A doubler's pump swings by the winding's volts around about minus its peak."""
    volts = predicted(Predictor(section("two-el84-doubler"), service))
    alternating, mean = figures(volts.texts["pump"])
    assert alternating == pytest.approx(12.6, rel=0.05)
    assert mean == pytest.approx(-12.6 * 2**0.5 + 0.7, abs=0.7)


def test_without_a_pot_one_figure_each(service: Service) -> None:
    volts = predicted(Predictor(section("two-el84-fixed"), service))
    assert not volts.moved
    assert not any(" to " in text for text in volts.texts.values())


# ---------------------------------------------------------------------------- readings

_HEAD = "readings for x\nmeter dmm 10M dcv 0.5% range 200 V resolution 0.1 V\nas found\n"


def taken(one: Section, lines: str) -> list[Reading]:
    text = read_sheet(Source("x.readings", _HEAD + lines))
    assert not text.findings, [f.what for f in text.findings]
    return list(cross_check(text.sheet, one)[0].readings)


def test_position_where_it_matters() -> None:
    one = section("two-6v6gt-foot")
    lines = ("RV1 at clockwise\n grid1 -26.1 V\n raw -61.8 V\nRV1 at anticlockwise\n"
             " grid1 -37.8 V\n raw -61.9 V\nRV1 at 30%\n grid1 -34.5 V\n")  # fmt: skip
    nodes, parts, remarks = written(one, taken(one, lines), frozenset({"grid1"}))
    assert nodes["grid1"] == ["read -26.1 V cw", "read -37.8 V acw", "read -34.5 V 30 %"]
    assert nodes["raw"] == ["read -61.9 to -61.8 V"]
    assert not parts
    assert not remarks


def test_one_reading_of_what_stands_still() -> None:
    one = section("two-6v6gt-foot")
    nodes, _, _ = written(one, taken(one, "RV1 at clockwise\n foot -26.1 V\n"), frozenset())
    assert nodes == {"foot": ["read -26.1 V"]}


def test_position_where_the_readings_differ_against_expectation() -> None:
    one = section("two-6v6gt-foot")
    lines = "RV1 at clockwise\n raw -50.0 V\nRV1 at anticlockwise\n raw -61.9 V\n"
    nodes, _, _ = written(one, taken(one, lines), frozenset())
    assert nodes["raw"] == ["read -50.0 V cw", "read -61.9 V acw"]


def test_more_pots_are_named() -> None:
    one = section("two-el34-balance")
    lines = "RV1 at clockwise  RV2 at middle\n grid1 -35.6 V\n"
    nodes, _, _ = written(one, taken(one, lines), frozenset({"grid1"}))
    assert nodes["grid1"] == ["read -35.6 V\nRV1 cw, RV2 middle"]


def test_other_readings_stand_at_their_part_or_node() -> None:
    one = section("two-6v6gt-foot")
    lines = (
        "mains 236 V\ntap 49.0 Vac\nraw ripple 0.5 Vpp\nRV1 at anticlockwise\n"
        "V1 cathode 15.2 mV plate 402 V\npower off discharged\nR3 20.2k\nR2 lifted 18.4k\n"
        "from foot to ground 20.1k\nC1 lifted 41 uF\n"
    )
    nodes, parts, remarks = written(one, taken(one, lines), frozenset())
    assert nodes["tap"] == ["read 49.0 Vac"]
    assert nodes["raw"] == ["read 0.5 Vpp ripple"]
    assert nodes["foot"] == ["read 20.1k to ground"]
    assert parts["V1"] == ["read 15.2 mV cathode acw", "read 402 V plate"]
    assert parts["R3"] == ["read 20.2k in place"]
    assert parts["R2"] == ["read 18.4k lifted"]
    assert parts["C1"] == ["read 41 uF lifted"]
    assert remarks == ["Mains as read: 236 V."]


# ------------------------------------------------------------------------------- marks


def found(one: Section, part: str, what: str, severity: Severity = Severity.ERROR) -> Finding:
    owner = one.circuit.part(part)
    span = Span(0, 0, 0) if owner is None else owner.span
    return Finding("a-rule", severity, one.circuit.source, span, what)


def test_findings_mark_their_part_and_notes_do_not() -> None:
    one = section("two-6v6gt-foot")
    marks, legend = marked(one, [
        found(one, "R3", "R3 is odd"),
        found(one, "C1", "C1 is old", Severity.NOTE),
        found(one, "R3", "R3 is hot", Severity.WARNING),
        found(one, "", "nothing feeds it"),
    ])  # fmt: skip
    assert marks == {"R3": Mark((1, 2), "")}
    assert legend == [Entry("Error: R3 is odd.", 1), Entry("Warning: R3 is hot.", 2),
                      Entry("Error: nothing feeds it.")]  # fmt: skip


def test_a_finding_about_several_valves_marks_them_all(service: Service) -> None:
    """A foot of 1k makes all of them too hot, which the check says once."""
    text = (folder("circuits") / "four-el34-foot.bias").read_text("utf-8")
    text, count = re.subn(r"(resistor +R3 .*? )\d+k", r"\g<1>1k", text)
    assert count == 1
    circuit, errors = parse_circuit(Source("hot.bias", text))
    assert circuit is not None, errors
    found = [f for f in survey(circuit, "hot.bias", service).findings if f.slug == "window-missed"]
    marks, legend = marked(Section(circuit), found)
    assert marks == {name: Mark((1,)) for name in ("V1", "V2", "V3", "V4")}
    assert [entry.number for entry in legend] == [1]


def test_a_finding_of_another_file_marks_nothing() -> None:
    one = section("two-6v6gt-foot")
    other = Finding("x", Severity.ERROR, Source("sheet", "a\n"), Span(10, 1, 2), "no")
    marks, legend = marked(one, [other])
    assert not marks
    assert legend[0].number is None


def test_very_many_findings_are_counted() -> None:
    one = section("two-6v6gt-foot")
    marks, legend = marked(one, [found(one, "R3", f"number {k}") for k in range(40)])
    assert len(legend) < 20
    assert "24 more" in legend[-1].text
    assert max(marks["R3"].numbers) == 16


@pytest.mark.parametrize(
    ("name", "part"),
    [("electrolytic-turned", "C1"), ("zener-turned", "Z1"), ("winding-shorted", "D3"),
     ("part-shorted", "R9"), ("unusual-value", "R2")],
)  # fmt: skip
def test_what_the_rules_find_is_marked(name: str, part: str) -> None:
    """The comment in each of these files says on which line the finding stands."""
    one = Section(example(name))
    marks, _ = marked(one, check(one))
    notes_only = all(f.severity is Severity.NOTE for f in check(one) if f.slug == name)
    assert (part in marks) != notes_only


def test_all_together() -> None:
    notes = noted(
        Volts({"raw": "-60.8 V"}, frozenset(), "Predicted."),
        ({"raw": ["read -61.8 V"]}, {}, ["Mains as read: 236 V."]),
        ({"R3": Mark((1,))}, [Entry("R3 is odd.", 1)]),
        ["Caution."],
        "as found",
    )
    assert [entry.text for entry in notes.legend] == [
        "R3 is odd.", "Predicted.",
        "Slanted: readings as found; cw: fully clockwise, acw: fully anticlockwise. "
        "Mains as read: 236 V.", "Caution.",
    ]  # fmt: skip
    assert [entry.is_remark for entry in notes.legend] == [False, True, True, True]
    assert notes.volts == {"raw": "-60.8 V"}
    assert not noted(Volts(), ({}, {}, []), ({}, []), []).legend


# --------------------------------------------------------------------------- diagnoses


def test_a_named_part_is_marked_with_its_chance() -> None:
    one = section("two-6v6gt-foot")
    marks, legend = marked(one, [], account_of(one, Verdict.NAMED, ("R3", 0.97)))
    assert marks == {"R3": Mark((1,), "97 %")}
    assert legend == [Entry("R3 is open (97 % sure).", 1)]


def test_all_of_a_group_are_marked_and_the_rules_go_on_counting() -> None:
    one = section("two-6v6gt-foot")
    account = account_of(one, Verdict.GROUP, ("R3", 0.6), ("R2", 0.35))
    marks, legend = marked(one, [found(one, "R2", "R2 is hot")], account)
    assert marks == {"R3": Mark((1,), "60 %"), "R2": Mark((2, 3), "35 %")}
    assert "cannot tell them apart" in legend[0].text
    assert [entry.number for entry in legend] == [None, 1, 2, 3]


def test_where_nothing_may_be_wrong_small_chances_are_not_pointed_at() -> None:
    one = section("two-6v6gt-foot")
    account = account_of(one, Verdict.UNDETERMINED, ("", 0.7), ("R3", 0.2), ("R2", 0.04))
    marks, legend = marked(one, [], account)
    assert marks == {"R3": Mark((1,), "20 %")}
    assert "Probably nothing is wrong" in legend[0].text


@pytest.mark.parametrize("verdict", [Verdict.SOUND, Verdict.NONE_FITS])
def test_no_part_is_marked_where_none_is_named(verdict: Verdict) -> None:
    one = section("two-6v6gt-foot")
    name = "" if verdict is Verdict.SOUND else "R3"
    marks, legend = marked(one, [], account_of(one, verdict, (name, 0.95)))
    assert not marks
    assert len(legend) == 1
    assert legend[0].number is None


def test_the_mains_are_no_part() -> None:
    one = section("two-6v6gt-foot")
    marks, legend = marked(one, [], account_of(one, Verdict.NAMED, ("mains", 0.95)))
    assert not marks
    assert "95 %" in legend[0].text
