"""What becomes of an answer on the disk."""

from __future__ import annotations

import os
import re
from dataclasses import replace
from pathlib import Path

import pytest

from netcheck.commands.common import load
from netcheck.crosscheck import cross_check
from netcheck.errors import InputError
from netcheck.files import SIZE_LIMIT, read_source
from netcheck.graph import Section
from netcheck.parse.sheet import read_sheet
from netcheck.readings import Kind, Position, Reading, State
from netcheck.session.notebook import Notebook, Outcome, Reply
from netcheck.session.sheetfile import SheetFile

from .conftest import begun


def at(travel: float, *, by_eye: bool = False, live: bool = True) -> State:
    """Conditions that a question wants, the pot to be set anew."""
    return State(live=live, pots={"RV1": Position(travel, by_eye, 1000)}, turn=1000, discharged=not live)  # fmt: skip


def grid(notebook: Notebook, travel: float, node: str = "grid1") -> Reading:
    return Reading(Kind.DC, 0.0, 0.0, at(travel), notebook.meter, node, "ground")


def ohms(notebook: Notebook) -> Reading:
    return Reading(Kind.OHMS, 0.0, 0.0, at(0.0, live=False), notebook.meter, "foot", "ground", "R3")


def on_disk(notebook: Notebook) -> list[tuple[object, ...]]:
    """The readings in the file, read anew."""
    text = read_sheet(read_source(str(notebook.file.path)))
    assert not text.findings
    sheet, found = cross_check(text.sheet, notebook.section)
    assert not any(f.slug == "contradicts-itself" for f in found)
    return [(r.kind, r.plus, r.minus, r.nominal, r.state.live,
             {n: p.travel for n, p in r.state.pots.items()}) for r in sheet.readings]  # fmt: skip


def noted(reply: Reply) -> None:
    assert reply.outcome is Outcome.NOTED, reply


def last_line(notebook: Notebook) -> str:
    return notebook.file.path.read_text("utf-8").splitlines()[-1]


# ---------------------------------------------------------------------------- answers


def test_an_answer_is_written_with_its_conditions(notebook: Notebook) -> None:
    noted(notebook.take("-44.0", grid(notebook, 0.0)))
    noted(notebook.take("26.8k", ohms(notebook)))
    assert notebook.file.path.read_text("utf-8").endswith(
        "as found\n  RV1 at anticlockwise\n    grid1  -44.0 V\n"
        "  power off  discharged\n  RV1 at anticlockwise\n    across R3  26.8k\n"
    )
    assert on_disk(notebook) == [
        (Kind.DC, "grid1", "ground", -44.0, True, {"RV1": 0.0}),
        (Kind.OHMS, "foot", "ground", 26800.0, False, {"RV1": 0.0}),
    ]


def test_a_pot_that_is_not_touched_is_not_named_again(notebook: Notebook) -> None:
    noted(notebook.take("-36.0", replace(grid(notebook, 0.5), state=at(0.5, by_eye=True))))
    here = replace(grid(notebook, 0.5, "grid2"), state=notebook.state)
    noted(notebook.take("-36.1", here))
    assert notebook.file.path.read_text("utf-8").count("RV1 at middle") == 1
    first, second = notebook.readings
    assert first.state.pots["RV1"].turn == second.state.pots["RV1"].turn


@pytest.mark.parametrize(
    "typed", ["44 Vac", "27k", "4,7", "-44.0 V -45 V", "9999 V", "\x1b[A", "-44\ufffd", "   "]
)
def test_a_refused_answer_leaves_the_file_alone(notebook: Notebook, typed: str) -> None:
    before = notebook.file.path.read_bytes()
    reply = notebook.take(typed, grid(notebook, 0.0))
    assert reply.outcome is Outcome.REFUSED
    assert reply.text.endswith((".", "?"))
    assert notebook.file.path.read_bytes() == before


def test_a_doubtful_answer_is_noted_when_it_is_typed_once_more(notebook: Notebook) -> None:
    asked = grid(notebook, 0.0)
    reply = notebook.take("44.0", asked)
    assert reply.outcome is Outcome.DOUBTED
    assert "leads swapped" in reply.text
    assert on_disk(notebook) == []
    noted(notebook.take("44.0", asked))
    assert on_disk(notebook)[0][3] == 44.0


def test_the_same_doubtful_value_at_another_question_is_doubted_again(notebook: Notebook) -> None:
    assert notebook.take("44.0", grid(notebook, 0.0)).outcome is Outcome.DOUBTED
    assert notebook.take("44.0", grid(notebook, 1.0)).outcome is Outcome.DOUBTED


# ------------------------------------------------------------------------------- lines


def test_conditions_are_kept_and_hold_for_the_lines_after_them(notebook: Notebook) -> None:
    for line in ("RV1 at clockwise", "raw -61.2 V", "power off discharged", "R2 18.1k",
                 "valves out", 'note "was worked on"', "# by lamp light"):  # fmt: skip
        assert notebook.take(line).outcome in (Outcome.NOTED, Outcome.SET), line
    assert on_disk(notebook) == [
        (Kind.DC, "raw", "ground", -61.2, True, {"RV1": 1.0}),
        (Kind.OHMS, "raw", "head", 18100.0, False, {"RV1": 1.0}),
    ]
    assert notebook.state.valves_out
    assert notebook.file.now.sheet.notes == ("was worked on",)
    assert last_line(notebook).strip() == "# by lamp light"


def test_the_stage_can_be_gone_on_to(notebook: Notebook) -> None:
    notebook.take("RV1 at clockwise")
    notebook.take("raw -61.2 V")
    assert notebook.take("as left").outcome is Outcome.SET
    assert (notebook.stage, notebook.readings) == ("as left", [])


def test_an_unknown_pot_is_refused_with_the_power_off_as_well(notebook: Notebook) -> None:
    notebook.take("power off")
    assert "RV1" in notebook.take("RV9 at middle").text


@pytest.mark.parametrize(
    "line",
    [
        "grid9 -44 V",
        "grid1 -44",
        "readings for other.bias",
        "R3 26.8k",
        "RV7 at middle",
        "grid1",
        "RV1 at 130%",
    ],
)
def test_a_line_that_cannot_be_used_is_refused(notebook: Notebook, line: str) -> None:
    notebook.take("RV1 at clockwise")
    before = notebook.file.path.read_bytes()
    assert notebook.take(line).outcome is Outcome.REFUSED
    assert notebook.file.path.read_bytes() == before


def test_where_the_pot_stood_has_to_be_known(notebook: Notebook) -> None:
    reply = notebook.take("raw -61.2 V")
    assert reply.outcome is Outcome.REFUSED
    assert "RV1 at clockwise" in reply.text
    noted(notebook.take("mains 236 V"))  # hangs on no pot


def test_a_line_beside_a_question_that_turns_the_pot_is_asked_about(notebook: Notebook) -> None:
    notebook.take("RV1 at anticlockwise")
    asked = grid(notebook, 1.0)
    assert notebook.take("raw -61.2 V", asked).outcome is Outcome.UNCLEAR
    noted(notebook.take("raw -61.2 V", asked, under=""))
    assert on_disk(notebook)[-1][-1] == {"RV1": 1.0}
    noted(notebook.take("raw -61.3 V", grid(notebook, 0.0), under="RV1 at middle"))
    assert on_disk(notebook)[-1][-1] == {"RV1": 0.5}
    before = notebook.file.path.read_bytes()
    assert notebook.take("raw -61.3 V", asked, under="no").outcome is Outcome.REFUSED
    assert notebook.take("raw -61.3 V", asked, under="raw -61 V").outcome is Outcome.REFUSED
    assert notebook.file.path.read_bytes() == before


def test_what_was_asked_for_may_be_answered_with_a_line(notebook: Notebook) -> None:
    notebook.take("RV1 at anticlockwise")
    noted(notebook.take("grid1 -30.0 V", grid(notebook, 1.0)))
    assert on_disk(notebook)[-1][-1] == {"RV1": 1.0}


def test_power_off_again_is_no_other_place_for_the_pots(notebook: Notebook) -> None:
    notebook.take("RV1 at anticlockwise")
    notebook.take("power off")  # not said to be discharged; the question wants that
    noted(notebook.take("R2 18.1k", ohms(notebook)))


def test_a_bare_value_needs_a_question(notebook: Notebook) -> None:
    assert "Nothing is asked for" in notebook.take("-44.0").text


def test_the_unit_tells_whether_the_power_was_off(notebook: Notebook) -> None:
    notebook.take("RV1 at anticlockwise")
    noted(notebook.take("R2 18.1k", ohms(notebook)))
    assert not notebook.state.live


def test_a_node_whose_name_begins_with_a_figure(tmp_path: Path) -> None:
    text = Path(load("two-6v6gt-foot").source.name).read_text("utf-8")
    text = re.sub(r"\braw\b", "60v", text)
    path = tmp_path / "amp.bias"
    path.write_text(text, "utf-8")
    notebook = begun(tmp_path / "amp.readings", Section(load(str(path))))
    notebook.take("RV1 at clockwise")
    noted(notebook.take("60v -61.2 V", replace(grid(notebook, 1.0), state=notebook.state)))
    assert on_disk(notebook)[0][1] == "60v"


# ----------------------------------------------------------------- corrections and undo


def test_a_correction_takes_the_place_of_the_earlier_reading(notebook: Notebook) -> None:
    notebook.take("RV1 at clockwise")
    notebook.take("grid1 -44.0 V")
    notebook.take("raw -61.2 V")
    reply = notebook.take("grid1 -40.0 V")
    noted(reply)
    assert reply.replaced == ("grid1 -44.0 V",)
    assert [r[3] for r in on_disk(notebook)] == [-61.2, -40.0]
    assert "# taken back: grid1 -44.0 V" in notebook.file.path.read_text("utf-8")


def test_the_leads_the_other_way_round_correct_as_well(notebook: Notebook) -> None:
    notebook.take("RV1 at clockwise")
    notebook.take("from head to raw 15.2 V")
    assert notebook.take("from raw to head -15.0 V").replaced == ("from head to raw 15.2 V",)


def test_under_other_conditions_it_is_another_reading(notebook: Notebook) -> None:
    notebook.take("RV1 at clockwise")
    notebook.take("grid1 -30.0 V")
    notebook.take("RV1 at anticlockwise")
    assert notebook.take("grid1 -44.0 V").replaced == ()
    notebook.take("RV1 at clockwise")
    assert notebook.take("grid1 -30.1 V").replaced == ("grid1 -30.0 V",)


def test_the_middle_by_eye_is_another_place_each_time(notebook: Notebook) -> None:
    notebook.take("RV1 at middle")
    notebook.take("grid1 -36.0 V")
    assert notebook.take("grid1 -36.1 V").replaced == ("grid1 -36.0 V",)
    notebook.take("RV1 at clockwise")
    notebook.take("grid1 -30.0 V")
    notebook.take("RV1 at middle")
    assert notebook.take("grid1 -35.0 V").replaced == ()


def test_half_of_a_line_can_be_corrected(notebook: Notebook) -> None:
    notebook.take("RV1 at clockwise")
    notebook.take('V1 cathode 11.5 mA plate 402 V note "warm"')
    reply = notebook.take("V1 cathode 12.5 mA")
    noted(reply)
    assert [(r[0], r[3]) for r in on_disk(notebook)] == [
        (Kind.PLATE, 402.0),
        (Kind.CURRENT, 0.0125),
    ]
    assert notebook.readings[0].note == "warm"


def test_undo_takes_the_last_line_back_and_keeps_it_as_a_comment(notebook: Notebook) -> None:
    notebook.take("RV1 at clockwise")
    notebook.take("grid1 -30.0 V")
    notebook.take("V1 cathode 11.5 mA plate 402 V")
    assert notebook.undo().replaced == ("V1 cathode 11.5 mA plate 402 V",)
    assert [r[3] for r in on_disk(notebook)] == [-30.0]
    assert notebook.undo().outcome is Outcome.TAKEN_BACK
    assert notebook.undo().outcome is Outcome.REFUSED
    assert notebook.file.path.read_text("utf-8").count("# taken back: ") == 2


# ----------------------------------------------------------------- others at the same file


def test_what_another_program_wrote_is_not_lost(notebook: Notebook) -> None:
    path = notebook.file.path
    other = Notebook(SheetFile.opened(path, notebook.section))
    other.take("mains 236 V")
    reply = notebook.take("-44.0", grid(notebook, 0.0))
    assert reply.outcome is Outcome.OVERTAKEN
    assert "another program" in reply.text
    assert [r[3] for r in on_disk(notebook)] == [236.0]
    noted(notebook.take("-44.0", grid(notebook, 0.0)))
    assert [r[3] for r in on_disk(notebook)] == [236.0, -44.0]
    assert other.undo().outcome is Outcome.OVERTAKEN
    assert len(on_disk(notebook)) == 2


def test_errors_that_another_program_left_end_the_session(notebook: Notebook) -> None:
    path = notebook.file.path
    path.write_text(path.read_text("utf-8") + "grid9 -44 V\n", "utf-8")
    broken = path.read_bytes()
    with pytest.raises(InputError) as raised:
        notebook.take("mains 236 V")
    assert raised.value.findings
    assert path.read_bytes() == broken


def test_a_file_that_vanished_is_written_again_whole(notebook: Notebook) -> None:
    notebook.take("mains 236 V")
    notebook.file.path.unlink()
    reply = notebook.take("-44.0", grid(notebook, 0.0))
    noted(reply)
    assert "vanished" in reply.text
    assert [r[3] for r in on_disk(notebook)] == [236.0, -44.0]


def test_what_cannot_be_written_is_not_noted(
    notebook: Notebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", full)
        reply = notebook.take("mains 236 V")
    assert reply.outcome is Outcome.REFUSED
    assert "No space left" in reply.text
    assert on_disk(notebook) == []
    noted(notebook.take("mains 236 V"))
    assert [path.name for path in notebook.file.path.parent.iterdir()] == ["amp.readings"]


def test_a_sheet_that_is_full_is_not_written_to_what_cannot_be_read_again(
    notebook: Notebook,
) -> None:
    path = notebook.file.path
    begun_with = path.read_text("utf-8")
    path.write_text(f"{begun_with}# {'x' * (SIZE_LIMIT - len(begun_with) - 10)}\n", "utf-8")
    full = Notebook(SheetFile.opened(path, notebook.section))
    reply = full.take("mains 236 V")
    assert reply.outcome is Outcome.REFUSED
    assert "kB" in reply.text
    assert on_disk(full) == []


# ------------------------------------------------------------------------ files that exist


def test_a_file_with_errors_is_refused_and_left_alone(notebook: Notebook) -> None:
    path = notebook.file.path
    path.write_text("readings for x.bias\ngrid1 -44\n", "utf-8")
    before = path.read_bytes()
    with pytest.raises(InputError) as raised:
        SheetFile.opened(path, notebook.section)
    assert {f.slug for f in raised.value.findings} == {"wrong-unit", "other-circuit"}
    assert path.read_bytes() == before


def test_a_sheet_of_another_circuit_is_refused(notebook: Notebook) -> None:
    path = notebook.file.path
    path.write_text("readings for two-el34-across.bias\nas found\n", "utf-8")
    with pytest.raises(InputError) as raised:
        SheetFile.opened(path, notebook.section)
    assert [f.slug for f in raised.value.findings] == ["other-circuit"]


@pytest.mark.parametrize("text", [
    "readings for two-6v6gt-foot.bias",
    "\ufeffreadings for two-6v6gt-foot.bias\r\nas found\r\n  RV1 at clockwise",
    "readings for two-6v6gt-foot.bias\nas found\nRV1 at clockwise\nraw -61.2 V  # dropped",
])  # fmt: skip
def test_files_as_others_write_them_are_gone_on_with(notebook: Notebook, text: str) -> None:
    path = notebook.file.path
    path.write_bytes(text.encode())
    other = Notebook(SheetFile.opened(path, notebook.section))
    before = len(on_disk(other))
    noted(other.take("-44.0", grid(other, 0.0)))
    noted(other.take("mains 236 V"))
    assert [r[3] for r in on_disk(other)][before:] == [-44.0, 236.0]
    assert "dropped" in path.read_text("utf-8") or "dropped" not in text


def test_a_link_stays_a_link(notebook: Notebook, tmp_path: Path) -> None:
    link = tmp_path / "link.readings"
    link.symlink_to(notebook.file.path.resolve())
    noted(Notebook(SheetFile.opened(link, notebook.section)).take("mains 236 V"))
    assert link.is_symlink()
    assert len(on_disk(notebook)) == 1
