"""A user's own file of types: read exactly, or complained about at the right spot."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.finding import Finding, Severity
from netcheck.source import NOWHERE, Source
from netcheck.valves import GridCircuit, Kind, Origin, Rating, Status, ValveType, read_types
from netcheck.valves.toml_table import LONGEST_TEXT

from .own_types import OWN, source


def read(text: str) -> tuple[list[ValveType], list[Finding]]:
    return read_types(source(text))


def marked(finding: Finding) -> str:
    """The text under the mark."""
    span = finding.span
    return finding.source.line(span.line)[span.column - 1 : span.end - 1]


def test_all_of_a_type_is_read() -> None:
    (valve,), findings = read(OWN)
    assert findings == []
    origin = Origin("maker's leaflet", Status.READ)
    assert (valve.name, valve.kind, valve.also) == ("MY-34", Kind.PENTODE, ("MY-34B",))
    assert valve.note == "from the drawer"
    assert valve.absolute is None
    limits = valve.limits
    assert (limits.p_plate, limits.p_screen) == (25.0, 8.0)
    assert (limits.v_plate, limits.v_screen) == (800.0, 500.0)
    assert (limits.rating, limits.origin) == (Rating.DESIGN_CENTRE, origin)
    first, second = valve.rows
    assert (first.v_plate, first.v_screen, first.v_grid) == (250.0, 265.0, -13.5)
    assert (first.i_plate, first.i_screen, first.gm) == (0.1, 0.0149, None)
    assert (second.gm, second.i_screen) == (0.005, None)
    assert first.origin == origin
    assert second.origin == Origin("maker's leaflet", Status.UNSURE)


def test_grid_circuit_entries_are_put_in_order() -> None:
    (valve,), _ = read(OWN)
    hot, cool = GridCircuit(100e3, None), GridCircuit(470e3, 1e6, 20.0)
    assert valve.limits.grid_circuit == (cool, hot)
    assert valve.limits.r_grid_circuit(p_total=20.0) == 470e3
    assert valve.limits.r_grid_circuit(p_total=20.1) == 100e3
    assert valve.limits.r_grid_circuit(fixed=False, p_total=30.0) is None


def test_anode_is_understood() -> None:
    assert read(OWN.replace("plate_", "anode_")) == read(OWN)


def test_origin_may_be_left_out() -> None:
    lines = OWN.splitlines(keepends=True)
    kept = "".join(line for line in lines if not line.startswith(("source", "status")))
    (valve,), findings = read(kept)
    assert findings == []
    assert valve.limits.origin == Origin("own.toml", Status.UNSTATED)


def test_limits_alone_are_a_type() -> None:
    rows = OWN[OWN.index("rows = [") : OWN.index("[MY-34.limits]")]
    (valve,), findings = read(OWN.replace(rows, ""))
    assert findings == []
    assert valve.rows == ()


def test_a_triode_needs_no_screen() -> None:
    text = """
        [MYTRIODE]
        kind = "triode"
        rows = [{ plate_V = 250, grid_V = -45, plate_mA = 60 }]
        [MYTRIODE.limits]
        plate_W = 15
        plate_V = 300
    """
    (valve,), findings = read(text)
    assert findings == []
    assert (valve.limits.p_screen, valve.limits.v_screen) == (None, None)
    assert valve.rows[0].v_screen is None


# Each case spoils OWN in one way: what is replaced, by what, the slug, the text under the mark,
# and a piece of the message.
SPOILT = [
    ("plate_W = 25", "plate_w = 25", "types-unknown-word", "plate_w", 'did you mean "plate_W"?'),
    ("plate_W = 25\n", "", "types-missing", "limits", "plate dissipation in W"),
    ("plate_W = 25", 'plate_W = "25 W"', "types-value", "plate_W", "without the unit"),
    ("plate_W = 25", "plate_W = true", "types-value", "plate_W", "must be a number"),
    ("plate_W = 25", "plate_W = 25000", "types-value", "plate_W", "0.5 to 1000 W"),
    ("plate_W = 25", "plate_W = -25", "types-value", "plate_W", "cannot be right"),
    ("plate_W = 25", "plate_W = inf", "types-value", "plate_W", "cannot be right"),
    ("plate_W = 25", "plate_W = nan", "types-value", "plate_W", "cannot be right"),
    ("plate_W = 25", f"plate_W = 1{'0' * 400}", "types-value", "plate_W", "more than 1e300 W"),
    ("plate_W = 25", "plate_W = 1979-05-27", "types-value", "plate_W", "must be a number"),
    ("plate_V = 800", "plate_V = 800\nanode_V = 800", "types-twice", "anode_V", "both are given"),
    ("grid_V = -13.5", "grid_V = 13.5", "types-value", "grid_V", "write the minus sign"),
    ("grid_V = -13.5, ", "", "types-missing", None, "MY-34 rows no. 1"),
    ("plate_mA = 100", "plate_mA = 0", "types-value", "plate_mA", "0.1 to 2000 mA"),
    ('"pentode"', '"pentagrid"', "types-value", "kind", '"beam tetrode"'),
    ('"pentode"', "5", "types-value", "kind", "text between quotes"),
    ('kind = "pentode"\n', "", "types-missing", "MY-34", "kind of valve"),
    ('"read"', '"guessed"', "types-value", "status", '"unsure"'),
    ('"design center"', '"generous"', "types-value", "rating", '"design maximum"'),
    ('["MY-34B"]', '"MY-34B"', "types-value", "also", "list of texts"),
    ('["MY-34B"]', '["MY/34"]', "types-value", "also", "no type number"),
    ('["MY-34B"]', '["my34"]', "types-twice", "also", "capitals do not count"),
    ("{ fixed_kohm = 100 }", "{ }", "types-missing", "{ }", "fixed_kohm"),
    ("{ up_to_W = 20, ", "{ ", "types-twice", "grid_circuit", "same dissipation"),
    ("{ fixed_kohm = 100 }", "100", "types-value", "100", "table of values"),
    ("[MY-34.limits]", "[MY-34.limit]", "types-missing", "MY-34", "[MY-34.limits]"),
    ("plate_mA = 30", "plate_mA = 300", "types-doubtful", None, "120.0 W on the plate"),
    ("screen_W = 8", "screen_W = 80", "types-doubtful", "screen_W", "interchanged"),
]


@pytest.mark.parametrize(("good", "bad", "slug", "mark", "piece"), SPOILT)
def test_one_mistake(good: str, bad: str, slug: str, mark: str | None, piece: str) -> None:
    assert OWN.count(good) >= 1
    types, findings = read(OWN.replace(good, bad, 1))
    finding = next(each for each in findings if each.slug == slug)
    assert piece in f"{finding.what} {finding.why} {finding.fix}"
    if mark is None:
        # A row is marked as a whole, from brace to brace.
        assert marked(finding).startswith("{ plate_V")
        assert marked(finding).endswith("}")
    else:
        assert marked(finding) == mark
    is_error = finding.severity is Severity.ERROR
    assert is_error == (slug != "types-doubtful")
    assert [valve.name for valve in types] == ([] if is_error else ["MY-34"])


def test_all_mistakes_of_a_file_come_in_one_run() -> None:
    text = OWN.replace("plate_W", "plat_W").replace('"pentode"', '"tube"').replace("-36", "36")
    _, findings = read(text)
    assert {finding.slug for finding in findings} == {
        "types-unknown-word",
        "types-missing",
        "types-value",
    }
    assert len(findings) == 4


def test_a_faulty_type_does_not_take_the_others_with_it() -> None:
    good = OWN.replace("MY-34", "MY-35")
    types, findings = read(OWN.replace("plate_W = 25", "plate_W = 0") + good)
    assert [valve.name for valve in types] == ["MY-35"]
    assert [finding.slug for finding in findings] == ["types-value"]


def test_a_figure_above_the_first_heading() -> None:
    _, (finding,) = read("plate_W = 25\n" + OWN)
    assert marked(finding) == "plate_W"
    assert "below a heading" in finding.fix


@pytest.mark.parametrize(
    ("line", "mark"),
    [
        ("rows = 3", "rows"),
        ("rows = [3]", "3"),
        ("limits = 3", "limits"),
        ("absolute = []", "absolute"),
    ],
)
def test_not_a_table(line: str, mark: str) -> None:
    """One complaint: what the table would have to hold is not asked for as well."""
    text = f'[T]\nkind = "triode"\n{line}\n'
    if not line.startswith("limits"):
        text += "[T.limits]\nplate_W = 15\nplate_V = 300\n"
    types, (finding,) = read(text)
    assert types == []
    assert (finding.slug, marked(finding)) == ("types-value", mark)


def test_one_row_may_stand_under_a_heading() -> None:
    text = """
        [T]
        kind = "triode"
        limits = { plate_W = 15, plate_V = 300 }
        [T.rows]
        plate_V = 250
        grid_V = -45
        plate_mA = 60
    """
    (valve,), findings = read(text)
    assert findings == []
    assert len(valve.rows) == 1


def test_absolute_limits_below_the_others_are_doubted() -> None:
    absolute = "\n[MY-34.absolute]\nplate_W = 20\nscreen_W = 8\nplate_V = 800\nscreen_V = 500\n"
    (valve,), (finding,) = read(OWN + absolute)
    assert (finding.slug, finding.severity) == ("types-doubtful", Severity.WARNING)
    assert finding.span.line == OWN.count("\n") + 3
    assert valve.absolute is not None


@pytest.mark.parametrize(
    ("text", "line", "column", "piece"),
    [
        ('[EL34]\nkind = "pentode"\nplate_W = 25 W\n', 3, 14, "without a unit"),
        ("[EL34]\nplate_W = 0,5\n", 2, 12, "decimal point"),
        ('[EL34]\nkind = "pentode\n', 2, 16, "quotes"),
        ("[EL34", 1, 5, "end of the file"),
        ("[EL34]\n[EL34]\n", 2, 6, "twice"),
        ("[EL 34]\n", 1, 5, "heading"),
        ("\ufeff[EL34]\n", 1, 1, "heading"),
        ("[EL34]\nkind = 'a\0b'\n", 2, 10, "heading"),
    ],
)
def test_toml_that_cannot_be_read(text: str, line: int, column: int, piece: str) -> None:
    types, (finding,) = read(text)
    assert types == []
    assert (finding.slug, finding.severity) == ("types-syntax", Severity.ERROR)
    assert (finding.span.line, finding.span.column) == (line, column)
    assert finding.span.end > column
    assert piece in f"{finding.what} {finding.why} {finding.fix}"


def test_a_message_of_the_parser_without_a_place(monkeypatch: pytest.MonkeyPatch) -> None:
    """Another Python may word its messages in another way."""

    def refuse(text: str) -> None:
        raise tomllib.TOMLDecodeError("no good")

    monkeypatch.setattr(tomllib, "loads", refuse)
    _, (finding,) = read("x = 1")
    assert finding.span == NOWHERE
    assert finding.what.endswith("no good")


@pytest.mark.parametrize(
    ("text", "slug"),
    [
        ("", "types-missing"),
        ("# nothing\n\n", "types-missing"),
        ("x = " + "[" * 100_000, "types-syntax"),
        ("x = " + "{a=" * 60_000, "types-syntax"),
        (f"x = {'1' * 5000}", "types-syntax"),
        ("a = 2026-02-31", "types-syntax"),
        ("#" * (LONGEST_TEXT + 1), "types-syntax"),
    ],
)
def test_hostile_files(text: str, slug: str) -> None:
    types, (finding,) = read(text)
    assert types == []
    assert finding.slug == slug


def test_lists_nested_as_deep_as_the_parser_allows() -> None:
    """The walk for places must not fail where the parser still gets through."""
    for depth in range(50, 500, 10):
        _, (finding,) = read("x = " + "[" * depth + "]" * depth)
        assert finding.slug in ("types-syntax", "types-value")


def test_thousands_of_mistakes_are_no_matter_of_minutes() -> None:
    text = "".join(f"[T{i}]\nx = 1\n" for i in range(9000))
    assert len(text) < LONGEST_TEXT
    types, findings = read(text)
    assert types == []
    assert len(findings) == 3 * 9000


def test_control_characters_do_not_reach_a_message() -> None:
    _, findings = read(OWN + '"\\u001b[31m" = 1\n["a\\u0007"]\n')
    text = "".join(f.what + f.why + f.fix for f in findings)
    assert findings
    assert text.isprintable()


PIECES = st.sampled_from(
    [
        *("[EL34]", "[EL34.limits]", "[[EL34.rows]]", "kind", "rows", "plate_W", "plate_V", "also"),
        *("=", ".", ",", "[", "]", "{", "}", '"pentode"', "'x'", '"""', "'''", "-13.5", "25"),
        *("nan", "true", "#", "\n", "\n", " ", "\\", "é", "\0", "1979-05-27"),
    ]
)


@settings(deadline=None)
@given(st.lists(PIECES, max_size=40).map("".join))
def test_no_text_leads_to_an_exception(text: str) -> None:
    types, findings = read(text)
    assert types or findings
    for finding in findings:
        assert finding.span == NOWHERE or 1 <= finding.span.line <= len(finding.source.lines)


@settings(deadline=None)
@given(st.integers(0, len(OWN)), st.integers(0, 12), PIECES)
def test_no_slip_of_the_hand_leads_to_an_exception(at: int, length: int, piece: str) -> None:
    types, findings = read(OWN[:at] + piece + OWN[at + length :])
    assert types or findings


def test_every_example_in_the_reader_is_readable() -> None:
    """The layout shown in the reader's docstring is what a user copies."""
    from netcheck.valves import reader  # noqa: PLC0415  only its text is wanted

    assert reader.__doc__ is not None
    block = reader.__doc__.split("::\n", 1)[1].split("\n`gm_mA_V`", 1)[0]
    text = "\n".join(line.removeprefix("    ") for line in block.splitlines())
    assert list(tomllib.loads(text)) == ["EL34"]
    types, findings = read_types(Source("example.toml", text.replace("EL34", "XYZ34")))
    assert [finding.slug for finding in findings] == ["types-own"]  # it names 6CA7 as an equivalent
    assert len(types[0].rows) == 2
