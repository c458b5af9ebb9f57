"""The dialog with its answers from a pipe: what is shown, and how it ends."""

from __future__ import annotations

import io
import itertools
import sys
from pathlib import Path

import pytest

from netcheck.cli import run
from netcheck.engine.service import Service
from netcheck.errors import EngineError
from netcheck.session import dialog as dialog_module
from netcheck.session import session as session_module
from netcheck.session.dialog import Dialog
from netcheck.session.session import Session
from netcheck.session.wording import HELP, LIVE, OFF
from tests.chassis.chassis import Chassis
from tests.chassis.faults import Fault

from .played import Technician


def held(session: Session, monkeypatch: pytest.MonkeyPatch, *answers: str) -> int:
    """Hold a dialog with these answers; its exit code."""
    monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{a}\n" for a in answers)))
    return Dialog(session, "two-6v6gt-foot").run()


def answered_by(session: Session, technician: Technician, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a technician answer every reading that is asked for; the end is left at Enter."""

    def answer(_: str) -> str:
        return "" if session.asked is None else technician.reads(session)

    monkeypatch.setattr(dialog_module, "prompt", answer)


def words(text: str) -> str:
    """The words of a text, wherever it was broken into lines."""
    return " ".join(text.split())


def test_end_of_input_ends_the_session(
    session: Session, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert held(session, monkeypatch) == 1
    text = words(capsys.readouterr().out)
    assert "no reading yet" in text
    assert words(OFF) in text or words(LIVE) in text
    assert "to go on: netcheck bench two-6v6gt-foot" in text


def test_what_is_read_is_acknowledged_with_its_conditions(
    session: Session, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = ("RV1 at clockwise", "grid1 -31.0 V", "list", "grid1 -30.0 V", "undo", "quit")
    assert held(session, monkeypatch, *lines) == 1
    text = capsys.readouterr().out
    assert "now: RV1 fully clockwise" in text
    assert "noted: grid1 -31.0 V  (power on, RV1 fully clockwise)" in text
    assert "  1  grid1 -31.0 V" in text
    assert "in place of: grid1 -31.0 V" in text
    assert "taken back: grid1 -30.0 V" in text
    assert "holds no reading" in text
    assert max(map(len, text.splitlines())) <= 80


def test_every_change_of_the_power_is_warned_of(
    session: Session, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    held(session, monkeypatch, "power off", "power on", "power off", "quit")
    text = words(capsys.readouterr().out)
    assert text.count(words(OFF)) >= 2
    assert text.count(words(LIVE)) >= 1
    assert text.index(words(OFF)) < text.index("[ohm]")


def test_a_wrong_answer_is_refused_and_asked_for_again(
    session: Session, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert session.asked is not None
    assert session.asked.kind.value == "ohms"
    held(session, monkeypatch, "44 V", "skpi", "", "more", "44k", "quit")
    text = words(capsys.readouterr().out)
    assert "a resistance is wanted" in text
    assert 'Did you mean "skip"?' in text
    assert "Type what the meter shows" in text
    assert "There is a question open" in text
    assert "noted: feed to raw" in text


def test_why_and_help(
    session: Session, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    held(session, monkeypatch, "why", "help", "power off discharged", "RV1 at anticlockwise",
         "R3 20.2k", "R2 18.1k", "why", "quit")  # fmt: skip
    text = capsys.readouterr().out
    assert "Nothing has been read yet" in text
    assert words(HELP) in words(text)
    assert "R3" in text.split("as against a sound section")[1]
    assert "20.2k read" in text


def test_an_unclear_line_is_asked_about(
    session: Session, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The question wants another pot position than the one that the sheet ends with."""
    while session.asked is not None and not (session.asked.state.live and session.asked.part == ""):
        session.skip()
    held(session, monkeypatch, "foot -30.5 V", "RV1 at middle", "foot -30.4 V", "quit")
    text = words(capsys.readouterr().out)
    assert "as asked for? Enter if it was" in text
    assert "noted: foot -30.5 V (power on, RV1 at the middle)" in text


def test_a_named_part_ends_it_with_one(
    session: Session,
    service: Service,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    chassis = Chassis(session.section, [Fault("R3", "off", 20.2e3)], 1, service)
    answered_by(session, Technician(chassis), monkeypatch)
    assert Dialog(session, "two-6v6gt-foot").run() == 1
    text = words(capsys.readouterr().out)
    assert "R3 acts as 20.2k" in text
    assert "82k across the 27k drawn" in text
    name = session.notebook.file.path
    assert f"netcheck diagnose two-6v6gt-foot {name}" in text
    assert f"netcheck compare two-6v6gt-foot {name}" in text
    assert "to go on: netcheck bench" not in text


def test_a_healthy_chassis_ends_it_with_nought(
    session: Session,
    service: Service,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    answered_by(session, Technician(Chassis(session.section, [], 1, service)), monkeypatch)
    assert Dialog(session, "two-6v6gt-foot").run() == 0
    text = capsys.readouterr().out
    assert "Nothing wrong" in text
    assert max(map(len, text.splitlines())) <= 80
    states = [(r.state.live, r.state.turn) for r in session.notebook.readings]
    assert len(states) <= 20
    # Power and pots are not changed back and forth: each change pays for itself.
    pairs = list(itertools.pairwise(states))
    assert sum(a[0] is not b[0] for a, b in pairs) <= 4
    assert sum(a[1] != b[1] for a, b in pairs) <= 6


def test_what_is_noted_is_acknowledged_before_it_is_weighed(
    session: Session, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The simulator fails while the answer is weighed: it is in the file, and has been said so."""
    assert session.asked is not None

    def fails(*_: object) -> None:
        raise EngineError("it crashed")

    monkeypatch.setattr(session_module, "diagnose", fails)
    with pytest.raises(EngineError):
        held(session, monkeypatch, "44.1k")
    said = capsys.readouterr()
    assert "noted: feed to raw" in said.out
    assert "to go on: netcheck bench" in words(said.err)
    assert "44.1k" in session.notebook.file.path.read_text("utf-8")


# ---------------------------------------------------------------------------- the command


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    return tmp_path


def test_standard_input_is_for_the_answers(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["bench", "-"]) == 2
    assert run(["bench", "two-6v6gt-foot", "-"]) == 2
    assert "answers" in capsys.readouterr().err
    assert list(here.iterdir()) == []


@pytest.mark.parametrize("typed", ["", "quit\n", "10 ohm\nquit\n"])
@pytest.mark.usefixtures("service")
def test_without_a_meter_nothing_is_written(
    typed: str, here: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
    assert run(["bench", "two-6v6gt-foot"]) == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "Nothing was written" in told
    assert ("cannot be an input resistance" in told) is ("ohm" in typed)
    assert list(here.iterdir()) == []


@pytest.mark.usefixtures("service")
def test_a_sheet_with_errors_is_refused(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = "readings for two-6v6gt-foot.bias\nas found\n  grid9 -44 V\n  grid1 -44\n"
    (here / "two-6v6gt-foot.readings").write_text(text, "utf-8")
    assert run(["bench", "two-6v6gt-foot"]) == 2
    said = capsys.readouterr().err
    assert "unknown-node" in said
    assert "wrong-unit" in said
    assert (here / "two-6v6gt-foot.readings").read_text("utf-8") == text


@pytest.mark.usefixtures("service")
def test_a_circuit_is_no_sheet(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (here / "a.bias").write_text("mains 230 V 50 Hz\n", "utf-8")
    assert run(["bench", "two-6v6gt-foot", "a.bias"]) == 2
    assert run(["bench", "two-6v6gt-foot", "."]) == 2
    assert run(["bench", "no-such-circuit"]) == 2
    assert "Traceback" not in capsys.readouterr().err
