"""Every arrangement gives a file that reads back, whatever is taken or left out."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator

import pytest

from netcheck.entry.build import asked, bias_text
from netcheck.entry.judge import problems
from netcheck.entry.pieces import OUT, TYPICAL, Arrangement, Question
from netcheck.entry.templates import ARRANGEMENTS, arrangement
from netcheck.layout import format_lines
from netcheck.netlist import GROUND, Circuit, Part, Valve
from netcheck.parse import parse_circuit, parse_lines
from netcheck.source import Source

EVERY = pytest.mark.parametrize("kind", ARRANGEMENTS, ids=lambda kind: kind.key)


def built(kind: Arrangement, **answers: str) -> Circuit:
    """The circuit from these answers; keys with a point are written with "__"."""
    text = bias_text(kind, {key.replace("__", "."): said for key, said in answers.items()})
    circuit, findings = parse_circuit(Source("built", text))
    assert circuit is not None
    assert not findings
    return circuit


def part(circuit: Circuit, name: str) -> Part:
    found = circuit.part(name)
    assert found is not None, f"no {name} in {[p.name for p in circuit.parts]}"
    return found


def nodes(circuit: Circuit, name: str) -> list[str]:
    return [node for _, node in part(circuit, name).terminals]


def known(key: str) -> Arrangement:
    found = arrangement(key)
    assert found is not None
    return found


def test_enough_arrangements_with_keys_of_their_own() -> None:
    keys = [kind.key for kind in ARRANGEMENTS]
    assert len(set(keys)) == len(keys) >= 10


@EVERY
def test_drawing_is_plain_and_narrow(kind: Arrangement) -> None:
    assert kind.drawing.isascii()
    assert max(map(len, kind.drawing.split("\n"))) <= 76
    assert "\t" not in kind.drawing


@EVERY
def test_drawing_names_every_part(kind: Arrangement) -> None:
    words = set(re.findall(r"[A-Z]+[0-9]+", kind.drawing))
    names = {piece.head.split()[1].replace("{n}", "1") for piece in kind.pieces if piece.is_part}
    assert names <= words


@EVERY
def test_keys_differ_and_are_no_words_of_the_dialog(kind: Arrangement) -> None:
    keys = [question.key.lower() for question in kind.questions]
    assert len(set(keys)) == len(keys)
    assert not set(keys) & {"back", "quit", "exit", "help", "<", "?", "-", "typical"}


@EVERY
def test_every_typical_answer_can_be_typed(kind: Arrangement) -> None:
    for question in kind.questions:
        assert problems(kind, question, question.typical, {}) == [], question.key
        assert question.help.strip().endswith((".", '"')), question.key


@EVERY
def test_typical_values_give_a_canonical_file(kind: Arrangement) -> None:
    text = bias_text(kind, {})
    lines, findings = parse_lines(Source("typical", text))
    assert not findings
    assert format_lines(lines) == text
    assert text.startswith("# ")


@EVERY
def test_comment_says_what_was_taken_as_typical(kind: Arrangement) -> None:
    comment = " ".join(
        line.removeprefix("# ") for line in bias_text(kind, {"valve": "EL34"}).split("\n")
        if line.startswith("#")
    )  # fmt: skip
    listed = comment.partition("taken for ")[2].rstrip(".").split(", ")
    assert "plate" in listed
    assert "valve" not in listed
    assert "R4" not in listed  # typically left out, so nothing was taken


def in_series(kind: Arrangement) -> list[Question]:
    return [p.questions[0] for p in kind.pieces if p.joined and p.questions[0].may_be_left_out]


def combinations(kind: Arrangement) -> Iterator[dict[str, str]]:
    """All ways to leave out what joins two nodes, with all else there and with all else out."""
    series = [question.key for question in in_series(kind)]
    others = [q.key for q in kind.questions if q.may_be_left_out and q.key not in series]
    present = {q.key: "1k" for q in kind.questions if q.key in others and q.typical == OUT}
    present = {key: "22 uF" if key.startswith("C") else value for key, value in present.items()}
    for rest in (present, dict.fromkeys(others, OUT)):
        for count in range(len(series) + 1):
            for out in itertools.combinations(series, count):
                yield rest | dict.fromkeys(out, OUT)


@EVERY
def test_every_combination_of_parts_left_out_reads_back(kind: Arrangement) -> None:
    for answers in combinations(kind):
        text = bias_text(kind, answers)  # raises if it does not read back
        circuit, _ = parse_circuit(Source("combination", text))
        assert circuit is not None, answers
        gone = {key for key, answer in answers.items() if answer == OUT}
        assert not gone & {p.name for p in circuit.parts}
        assert len(list(circuit.of(Valve))) == 2


@EVERY
def test_each_left_out_alone_reads_back(kind: Arrangement) -> None:
    for question in kind.questions:
        if question.may_be_left_out:
            assert bias_text(kind, {question.key: OUT})


@EVERY
def test_choices_all_read_back(kind: Arrangement) -> None:
    for question in kind.questions:
        for choice in question.choices:
            circuit = built(kind, **{question.key.replace(".", "__"): choice})
            if question.key == "valves":
                assert len(list(circuit.of(Valve))) == int(choice)


def test_left_out_in_series_joins_its_nodes() -> None:
    circuit = built(known("foot"), R1=OUT, stopper=OUT)
    assert nodes(circuit, "D1") == ["raw", "tap"]
    assert nodes(circuit, "R11") == ["sweep", "grid1"]
    assert nodes(circuit, "V1") == ["grid1"]


def test_foot_left_out_grounds_the_pot() -> None:
    assert nodes(built(known("foot"), R3=OUT), "RV1") == ["head", "sweep", GROUND]
    assert nodes(built(known("foot-rheostat"), R3=OUT), "RV1") == ["bias", GROUND, GROUND]


def test_leaks_and_stoppers_left_out_join_all_grids_to_the_wiper() -> None:
    circuit = built(known("foot"), leak=OUT, stopper=OUT, valves="3")
    wiper = nodes(circuit, "RV1")[1]
    assert [nodes(circuit, f"V{n}") for n in (1, 2, 3)] == [[wiper]] * 3


def test_sides_of_a_push_pull_stage() -> None:
    circuit = built(known("balance"), valves="4")
    assert [nodes(circuit, f"R1{n}")[0] for n in (1, 2, 3, 4)] == [
        "side1", "side1", "side2", "side2",
    ]  # fmt: skip


def test_pot_per_valve_has_one_for_each() -> None:
    circuit = built(known("pot-per-valve"), valves="4", pot="22k")
    assert [nodes(circuit, f"RV{n}")[1] for n in (1, 2, 3, 4)] == [f"sweep{n}" for n in range(1, 5)]


def test_open_end_of_a_rheostat() -> None:
    assert nodes(built(known("foot-rheostat"), RV1__strap="open"), "RV1")[2] == "open"


def test_names_of_the_schematic_are_used_and_the_others_make_way() -> None:
    circuit = built(known("foot"), R1="R2: 1k", leak="R47 R48: 100k", valve="V3 V4: EL34")
    assert nodes(circuit, "R2") == ["tap", "feed"]
    assert nodes(circuit, "R101") == ["raw", "head"]
    assert [p.name for p in circuit.of(Valve)] == ["V3", "V4"]
    assert nodes(circuit, "R48") == ["sweep", "drive2"]


def test_name_alone_goes_with_the_typical_value() -> None:
    circuit = built(known("foot"), R3="R9:")
    plain = built(known("foot"))
    assert getattr(part(circuit, "R9"), "r", 0) == getattr(part(plain, "R3"), "r", 1)


def test_field_given_early_is_not_asked_again() -> None:
    kind = known("foot")
    answers = {"RV1": "10k audio mid 15% clockwise top", "T1": "48 Vac source 33 ohm"}
    keys = {question.key for _, question in asked(kind, answers)}
    assert not keys & {"RV1.taper", "RV1.clockwise", "T1.source"}
    pot = part(built(kind, **answers), "RV1")
    assert getattr(pot, "taper", "") == "audio"
    assert getattr(pot, "clockwise", "") == "top"


def test_diode_by_its_printed_type() -> None:
    circuit = built(known("foot"), D1="1n4004")
    assert getattr(part(circuit, "D1"), "type", None) == "1n4004"


@pytest.mark.parametrize(
    ("key", "answer", "slug", "marked"),
    [
        ("R1", "4,7k", "unreadable-value", "4,7k"),
        ("R1", "47 uF", "wrong-unit", "47 uF"),
        ("R1", "470 ohm 10% 1 W 2 W", "doubled-field", "2 W"),
        ("R1", "470 from raw", "doubled-field", "from raw"),
        ("R1", "470 # note", "misplaced-comment", "470 # note"),
        ("R1", "470 ohm\x1b[A", "unprintable", "470 ohm\x1b[A"),
        ("R1", "R47 R48: 470", "wrong-number", "R47 R48: "),
        ("R1", "banana", "unknown-word", "banana"),
        ("C1", "-", "cannot-leave-out", "-"),
        ("T1", "48 Vac tap x 20 Vac", "misplaced-word", "48 Vac tap x 20 Vac"),
        ("T1.source", "60 V", "wrong-unit", "60 V"),
        ("D1", "1N4007 xx", "unknown-word", "xx"),
        ("RV1", "10k wobbly", "unknown-word", "wobbly"),
        ("RV1.clockwise", "left", "no-such-choice", "left"),
        ("valves", "9", "no-such-choice", "9"),
        ("valve", "EL43", "unknown-valve", "EL43"),
        ("valve", "V1: EL34", "wrong-number", "V1: "),
        ("plate", "5 V", "absurd-value", "5 V"),
        ("title", 'the "best"', "open-quote", 'the "best"'),
        ("mains", "230 V", "missing-field", "230 V"),
    ],
)
def test_answer_that_cannot_be_used(key: str, answer: str, slug: str, marked: str) -> None:
    kind = known("foot")
    question = kind.question(key)
    assert question is not None
    findings = problems(kind, question, answer, {})
    assert slug in [finding.slug for finding in findings]
    finding = next(f for f in findings if f.slug == slug)
    assert answer[finding.span.column - 1 : finding.span.end - 1] == marked
    assert finding.source.text == answer


def test_name_that_another_answer_took() -> None:
    kind = known("foot")
    question = kind.question("R3")
    assert question is not None
    findings = problems(kind, question, "r47: 27k", {"R1": "R47: 470"})
    assert [finding.slug for finding in findings] == ["same-name"]
    assert problems(kind, question, TYPICAL, {"R1": "R47: 470"}) == []
