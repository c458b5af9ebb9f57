"""`netcheck new` with questions, on a pseudo-terminal."""

from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from netcheck.entry.build import bias_text
from netcheck.entry.command import new
from netcheck.entry.dialog import file_name
from netcheck.entry.pieces import Arrangement
from netcheck.entry.templates import ARRANGEMENTS, arrangement

from .terminal import ROOT, Terminal, longest_line

FOOT_FILE = "two-6v6gt-trimmer-above-a-foot-resistor.bias"


def expected(key: str, **answers: str) -> str:
    kind = arrangement(key)
    assert kind is not None
    return bias_text(kind, {k.replace("__", "."): answer for k, answer in answers.items()})


def only_file(folder: Path) -> Path:
    """The one file in a folder: nothing else was left behind."""
    (path,) = folder.iterdir()
    return path


# ------------------------------------------------------------------------ the happy path


def test_enter_takes_the_typical_values(tmp_path: Path) -> None:
    dialog = Terminal(tmp_path)
    dialog.choose("1")
    dialog.enter_until("File name")
    dialog.child.sendline("")
    code, last = dialog.ended()
    assert code == 0
    assert f"netcheck check {FOOT_FILE}" in last
    assert only_file(tmp_path).name == FOOT_FILE
    assert only_file(tmp_path).read_text("utf-8") == expected("foot")


def test_nothing_is_wider_than_the_terminal(tmp_path: Path) -> None:
    dialog = Terminal(tmp_path)
    for number in range(1, len(ARRANGEMENTS) + 1):
        dialog.type(str(number))
    dialog.type("1", "")
    for _ in range(8):
        dialog.type("?", "")
    dialog.type("banana")
    dialog.asked()
    assert longest_line(dialog.text) <= 80


def test_values_names_and_parts_left_out(tmp_path: Path) -> None:
    dialog = Terminal(tmp_path)
    dialog.choose("foot")
    dialog.type("My amplifier", "240 V 50 Hz", "50 Vac", "-", "R47: 1k 5%", "BY127")
    dialog.enter_until("C3, ")
    dialog.child.sendline("-")
    dialog.type("4", "100k", "-", "el34")
    dialog.enter_until("File name")
    dialog.child.sendline("amp.bias")
    assert dialog.ended()[0] == 0
    assert only_file(tmp_path).read_text("utf-8") == expected(
        "foot", title="My amplifier", mains="240 V 50 Hz", T1="50 Vac", T1__source="-",
        R1="R47: 1k 5%", D1="BY127", C3="-", valves="4", leak="100k", stopper="-", valve="el34",
    )  # fmt: skip


def test_a_name_without_ending_gets_one(tmp_path: Path) -> None:
    dialog = Terminal(tmp_path)
    dialog.choose("7")
    dialog.enter_until("File name")
    dialog.child.sendline("amp")
    assert dialog.ended()[0] == 0
    assert only_file(tmp_path).name == "amp.bias"


# ---------------------------------------------------------------------------- corrections


@pytest.mark.parametrize("word", ["<", "back", "BACK"])
def test_back_corrects_an_earlier_answer(tmp_path: Path, word: str) -> None:
    dialog = Terminal(tmp_path)
    dialog.choose("1")
    dialog.type("A", "", "50 Vac", word)
    assert "[as before: 50 Vac]" in dialog.asked()
    dialog.child.sendline(word)
    assert "230 V 50 Hz" in dialog.asked()
    dialog.child.sendline("120 V 60 Hz")
    assert "Source resistance" in dialog.asked()  # what lay between stays answered
    dialog.child.sendline("")
    dialog.enter_until("File name")
    dialog.child.sendline("a")
    assert dialog.ended()[0] == 0
    text = only_file(tmp_path).read_text("utf-8")
    assert text == expected("foot", title="A", mains="120 V 60 Hz", T1="50 Vac")


def test_back_to_another_arrangement_keeps_what_was_asked_alike(tmp_path: Path) -> None:
    dialog = Terminal(tmp_path)
    dialog.choose("1")
    dialog.type("", "120 V 60 Hz", "50 Vac", "<", "<", "<", "<")
    dialog.choose("10")
    assert "Title" in dialog.asked()  # the typical title is another one
    dialog.child.sendline("Mine")
    assert "T1, high-tension winding" in dialog.asked()  # the mains is asked alike: kept
    dialog.child.sendline("quit")
    assert dialog.ended()[0] == 0


def test_back_to_the_first_arrangement_finds_its_answers(tmp_path: Path) -> None:
    dialog = Terminal(tmp_path)
    dialog.choose("1")
    dialog.type("Mine", "", "50 Vac", "<", "<", "<", "<")
    dialog.choose("15")
    dialog.type("<")
    dialog.choose("1")
    assert "Source resistance of T1" in dialog.asked()  # what was answered before is there
    dialog.child.sendline("")
    dialog.enter_until("File name")
    dialog.child.sendline("a")
    assert dialog.ended()[0] == 0
    assert only_file(tmp_path).read_text("utf-8") == expected("foot", title="Mine", T1="50 Vac")


def test_the_summary_takes_a_number_or_a_key(tmp_path: Path) -> None:
    dialog = Terminal(tmp_path)
    dialog.choose("1")
    summary = dialog.enter_until("to change")
    assert "470 ohm 10% 1 W  (typical)" in summary
    assert "left out" in summary
    dialog.child.sendline("5")
    dialog.type("680 ohm", "c1", "100 uF 100 V", "99", "00051", "0")
    assert "no number from 1 to 23" in dialog.asked()
    dialog.child.sendline("")
    dialog.type("a")
    assert dialog.ended()[0] == 0
    text = only_file(tmp_path).read_text("utf-8")
    assert text == expected("foot", R1="680 ohm", C1="100 uF 100 V")


def test_back_from_the_file_name_and_the_summary(tmp_path: Path) -> None:
    dialog = Terminal(tmp_path)
    dialog.choose("1")
    dialog.enter_until("File name")
    dialog.child.sendline("<")
    assert "to change" in dialog.asked()
    dialog.child.sendline("<")
    assert "Cathode resistor" in dialog.asked()
    dialog.child.sendline("10 ohm")
    dialog.enter_until("File name")
    dialog.child.sendline("a")
    assert dialog.ended()[0] == 0
    assert only_file(tmp_path).read_text("utf-8") == expected("foot", cathode="10 ohm")


@pytest.mark.parametrize(
    ("answer", "reason"),
    [
        ("4,7k", "4.7k"),
        ("banana", "not understood"),
        ("47 uF", "does not fit"),
        ("2000 Mohm", "cannot be a resistance"),
        ("470 # from memory", "note"),
    ],
)
def test_invalid_value_is_asked_again_with_the_reason(
    tmp_path: Path, answer: str, reason: str
) -> None:
    dialog = Terminal(tmp_path)
    dialog.choose("1")
    dialog.type("", "", "", "", answer)
    shown = dialog.asked()
    assert reason in shown
    assert "5. R1, dropper" in shown
    dialog.child.sendline("quit")
    assert dialog.ended()[0] == 0


def test_more_valves_after_names_for_two(tmp_path: Path) -> None:
    dialog = Terminal(tmp_path)
    dialog.choose("7")
    dialog.enter_until("Output valves")
    dialog.child.sendline("")
    dialog.type("R8 R9: 220k")
    dialog.enter_until("to change")
    dialog.child.sendline("valves")
    dialog.type("3", "")
    shown = dialog.asked()  # instead of a file: the answer that no longer fits
    assert "2 names do not go with 3 parts" in shown
    assert "as before: R8 R9: 220k" in shown
    dialog.child.sendline("R8 R9 R10: 220k")
    dialog.type("", "a")
    assert dialog.ended()[0] == 0
    text = only_file(tmp_path).read_text("utf-8")
    assert text == expected("fixed", valves="3", leak="R8 R9 R10: 220k")


def test_help_explains_the_question(tmp_path: Path) -> None:
    dialog = Terminal(tmp_path)
    dialog.choose("1")
    dialog.type("", "", "", "?")
    shown = dialog.asked()
    assert "Measure across the winding" in shown
    assert "left out with -" in shown


def test_the_list_refuses_what_is_no_arrangement(tmp_path: Path) -> None:
    dialog = Terminal(tmp_path)
    dialog.type("", "99", "zzz", "?", "12")
    shown = dialog.asked()
    assert "Bridge from a floating winding" in shown
    assert 'no arrangement "99"' in dialog.text
    assert 'no arrangement "zzz"' in dialog.text


# ------------------------------------------------------------------- ends without a file


def test_quit_writes_nothing(tmp_path: Path) -> None:
    dialog = Terminal(tmp_path)
    dialog.choose("1")
    dialog.type("A", "quit")
    code, last = dialog.ended()
    assert (code, "Nothing was written" in last) == (0, True)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("term", ["dumb", "xterm"])
@pytest.mark.parametrize("how", ["eof", "interrupt", "hang up", "terminate"])
def test_cut_off_keeps_the_answers(tmp_path: Path, how: str, term: str) -> None:
    dialog = Terminal(tmp_path, term=term)
    dialog.choose("1")
    dialog.type("My amp", "", "51 Vac")
    dialog.asked()
    if how == "eof":
        dialog.child.sendeof()
    elif how == "interrupt":
        dialog.child.sendintr()
    else:
        dialog.child.kill(signal.SIGHUP if how == "hang up" else signal.SIGTERM)
    code, last = dialog.ended()
    assert code == 2
    assert "netcheck new --resume my-amp.answers" in last
    assert "Traceback" not in last

    again = Terminal(tmp_path, "--resume", "my-amp.answers")
    assert "4. Source resistance" in again.asked()
    again.child.sendline("")
    again.enter_until("File name")
    again.child.sendline("")
    code, last = again.ended()
    assert code == 0
    assert "my-amp.answers" in last
    assert (tmp_path / "my-amp.bias").read_text("utf-8") == expected(
        "foot", title="My amp", T1="51 Vac"
    )


def test_cut_off_before_any_answer_leaves_nothing(tmp_path: Path) -> None:
    dialog = Terminal(tmp_path)
    dialog.asked()
    dialog.child.sendintr()
    code, last = dialog.ended()
    assert code == 2
    assert "No circuit file was written" in last
    assert list(tmp_path.iterdir()) == []


def test_cut_off_where_nothing_can_be_written_shows_the_answers(tmp_path: Path) -> None:
    target = str(tmp_path / "no-such-folder" / "a.bias")
    result = CliRunner().invoke(new, ["-o", target], input="1\n\nMy amp\n")
    assert result.exit_code == 2
    assert "title = My amp" in result.output


def test_nothing_typed_is_lost_wherever_it_is_cut_off(tmp_path: Path) -> None:
    """Cut off behind each answer and resumed, the file is the one of an undisturbed run."""
    kind = arrangement("foot")
    assert kind is not None
    typed = {q.key: q.typical for q in kind.questions}
    typed |= {"R1": "R47: 560R", "C2": "33 uF 63 V", "leak": "-", "title": "= it's 50 % # odd ="}
    answers = list(typed.values())
    whole = bias_text(kind, typed)
    runner = CliRunner()
    for cut in range(1, len(answers) + 1):
        path = tmp_path / f"{cut}.bias"
        first = runner.invoke(new, ["-o", str(path)],
                              input="\n".join(["1", "", *answers[:cut], ""]))  # fmt: skip
        assert first.exit_code == 2, first.output
        assert not path.exists()
        rest = "\n".join([*answers[cut:], "", ""])
        draft = str(path.with_suffix(".answers"))
        second = runner.invoke(new, ["--resume", draft, "-o", str(path)], input=rest)
        assert second.exit_code == 0, second.output
        assert path.read_text("utf-8") == whole


def test_answers_left_behind_with_another_arrangement_are_kept_too(tmp_path: Path) -> None:
    dialog = Terminal(tmp_path)
    dialog.choose("1")
    dialog.type("Mine", "", "50 Vac", "<", "<", "<", "<")
    dialog.choose("15")
    dialog.type("", "61 V")
    dialog.asked()
    dialog.child.sendintr()
    assert dialog.ended()[0] == 2
    texts = [path.read_text("utf-8") for path in sorted(tmp_path.iterdir())]
    assert len(texts) == 2
    assert any("arrangement = foot" in text and "T1 = 50 Vac" in text for text in texts)
    assert any("arrangement = direct" in text and "S1 = 61 V" in text for text in texts)


def test_a_draft_is_never_overwritten(tmp_path: Path) -> None:
    (tmp_path / "my-amp.answers").write_text("precious", "utf-8")
    dialog = Terminal(tmp_path)
    dialog.choose("1")
    dialog.type("My amp")
    dialog.asked()
    dialog.child.sendintr()
    assert "my-amp-2.answers" in dialog.ended()[1]
    assert (tmp_path / "my-amp.answers").read_text("utf-8") == "precious"


# -------------------------------------------------------------------------- files there


def test_existing_file_is_never_overwritten_and_another_name_offered(tmp_path: Path) -> None:
    taken = tmp_path / "a.bias"
    taken.write_text("precious", "utf-8")
    dialog = Terminal(tmp_path)
    dialog.choose("1")
    dialog.type("A")
    assert "[a-2.bias]" in dialog.enter_until("File name")
    dialog.child.sendline("a.bias")
    assert "exists already" in dialog.asked()
    dialog.child.sendline("no/such/folder/a.bias")
    assert "cannot be written" in dialog.asked()
    dialog.child.sendline("")
    assert dialog.ended()[0] == 0
    assert taken.read_text("utf-8") == "precious"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a-2.bias", "a.bias"]


def test_existing_target_is_told_before_the_questions(tmp_path: Path) -> None:
    taken = tmp_path / "a.bias"
    taken.write_text("precious", "utf-8")
    run = subprocess.run(
        [sys.executable, "-m", "netcheck", "new", "-o", str(taken)],
        input="", capture_output=True, text=True, cwd=ROOT, check=False, timeout=30,
    )  # fmt: skip
    assert run.returncode == 2
    assert "exists already" in run.stderr
    assert "Traceback" not in run.stderr
    assert run.stdout == ""
    assert taken.read_text("utf-8") == "precious"


# ------------------------------------------------------------------------------- piped


@pytest.mark.parametrize("kind", ARRANGEMENTS, ids=lambda kind: kind.key)
def test_piped_enter_gives_the_typical_file(kind: Arrangement, tmp_path: Path) -> None:
    path = tmp_path / "a.bias"
    result = CliRunner().invoke(new, ["-o", str(path)], input=f"{kind.key}\n" + "\n" * 60)
    assert result.exit_code == 0, result.output
    assert path.read_text("utf-8") == bias_text(kind, {})


def test_bytes_that_are_no_text_are_asked_again(tmp_path: Path) -> None:
    run = subprocess.run(
        [sys.executable, "-X", "utf8", "-c", "from netcheck.entry.command import new; new()"],
        input=b"1\n\n\xff\xfe\nquit\n", capture_output=True, cwd=tmp_path, check=False, timeout=30,
        env={"PYTHONPATH": str(ROOT), "PATH": "/usr/bin"},
    )  # fmt: skip
    assert b"Traceback" not in run.stderr
    assert run.returncode in (0, 2)


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Two 6V6GT, trimmer", "two-6v6gt-trimmer.bias"),
        ("Verst\u00e4rker \u03a9", "verstarker.bias"),
        ("../../etc/passwd", "etc-passwd.bias"),
        ("\u03a9", "foot.bias"),
        ("x" * 300, f"{'x' * 60}.bias"),
    ],
)
def test_file_name_from_the_title(title: str, name: str) -> None:
    assert file_name(title, "foot") == name
