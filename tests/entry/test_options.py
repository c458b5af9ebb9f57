"""`netcheck new` without questions, and the drafts it resumes from."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from netcheck.entry.build import bias_text
from netcheck.entry.command import new
from netcheck.entry.draft import draft_text, read_draft
from netcheck.entry.templates import ARRANGEMENTS, arrangement
from netcheck.errors import InputError

from .terminal import ROOT, longest_line


def run(*arguments: str) -> Result:
    return CliRunner().invoke(new, arguments)


def refused(*arguments: str) -> list[str]:
    """The slugs of what an option is refused for."""
    result = run(*arguments)
    assert isinstance(result.exception, InputError), result.output
    return [finding.slug for finding in result.exception.findings]


def test_options_give_the_same_file_as_answers(tmp_path: Path) -> None:
    path = tmp_path / "a.bias"
    result = run("--arrangement", "foot", "--set", "R1=470", "--set", "VALVE=EL34",
                 "--set", "C2 = -", "-o", str(path))  # fmt: skip
    assert result.exit_code == 0, result.output
    kind = arrangement("foot")
    assert kind is not None
    text = path.read_text("utf-8")
    assert text == bias_text(kind, {"R1": "470", "valve": "EL34", "C2": "-"})
    assert "470 ohm" in text
    assert "EL34" in text


def test_default_name_comes_from_the_title(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert run("--arrangement", "zener", "--set", "title=My amp").exit_code == 0
    assert [path.name for path in tmp_path.iterdir()] == ["my-amp.bias"]
    assert refused("--arrangement", "zener", "--set", "title=My amp") == ["file-exists"]


def test_output_to_the_terminal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    result = run("--arrangement", "bridge", "-o", "-")
    kind = arrangement("bridge")
    assert kind is not None
    assert result.output == bias_text(kind, {})
    assert list(tmp_path.iterdir()) == []


def test_existing_file_is_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "a.bias"
    path.write_text("precious", "utf-8")
    assert refused("--arrangement", "foot", "-o", str(path)) == ["file-exists"]
    assert path.read_text("utf-8") == "precious"


def test_everything_wrong_comes_at_once() -> None:
    settings = ["R1=4,7k", "valve=EL43", "C1=-", "R9=1k", "R2", "R3=1k", "r3=2k"]
    slugs = refused("--arrangement", "foot", *(w for s in settings for w in ("--set", s)))
    assert sorted(slugs) == sorted([
        "unreadable-value", "unknown-valve", "cannot-leave-out", "unknown-key",
        "not-an-answer", "doubled-answer",
    ])  # fmt: skip


def test_answer_that_another_one_has_settled() -> None:
    slugs = refused("--arrangement", "foot", "--set", "RV1=10k audio", "--set", "RV1.taper=linear")
    assert "unused-answer" in slugs


def test_line_break_in_an_answer_cannot_add_a_line() -> None:
    slugs = refused("--arrangement", "foot", "--set", "R1=470\nlink L9 from raw to ground")
    assert slugs == ["unprintable"]


def test_unknown_arrangement_has_the_nearest() -> None:
    result = run("--arrangement", "zenner")
    assert isinstance(result.exception, InputError)
    assert 'did you mean "zener"?' in result.exception.findings[0].fix


@pytest.mark.parametrize(
    "arguments",
    [
        ["--set", "R1=470"],
        ["--resume", "a.answers", "--arrangement", "foot"],
        ["--output", "-"],
        ["--frobnicate"],
    ],
)
def test_options_that_do_not_go_together(arguments: list[str]) -> None:
    assert run(*arguments).exit_code == 2


def test_list_has_every_drawing_and_key() -> None:
    shown = run("--list").output
    for kind in ARRANGEMENTS:
        assert kind.drawing in shown
        assert all(question.key in shown for question in kind.questions)
    assert longest_line(shown) <= 80
    one = run("--list", "--arrangement", "doubler").output
    assert one.count("ground\n") == 1


def test_as_a_program_it_ends_with_2_and_plain_words(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "netcheck", "new", "--arrangement", "foot", "--set", "R1=4,7k"],
        capture_output=True, text=True, cwd=ROOT, check=False, timeout=30,
    )  # fmt: skip
    assert done.returncode == 2
    assert "--set R1" in done.stderr
    assert "4.7k" in done.stderr
    assert "Traceback" not in done.stderr


# -------------------------------------------------------------------------------- drafts


def test_a_draft_reads_back(tmp_path: Path) -> None:
    for kind in ARRANGEMENTS:
        answers = {question.key: question.typical for question in kind.questions}
        path = tmp_path / f"{kind.key}.answers"
        path.write_text(draft_text(kind, answers), "utf-8")
        assert read_draft(str(path)) == (kind, answers)


@pytest.mark.parametrize(
    ("text", "complaints"),
    [
        ("", 1),
        ("R1 = 470\n", 1),
        ("arrangement = nonsense\n", 1),
        ("arrangement = foot\nR1 470\nR99 = 3\n", 2),
        ("arrangement = foot\n\n# a comment\nR1 = 470\n", 0),
        ("R1 = 470\r\narrangement = foot\r\n", 0),
    ],
)
def test_a_spoilt_draft(tmp_path: Path, text: str, complaints: int) -> None:
    path = tmp_path / "a.answers"
    path.write_text(text, "utf-8")
    if complaints:
        with pytest.raises(InputError) as caught:
            read_draft(str(path))
        assert len(caught.value.findings) == complaints
    else:
        assert read_draft(str(path))[1] == {"R1": "470"}


@pytest.mark.parametrize("name", ["no-such.answers", "."])
def test_a_draft_that_is_not_there(name: str) -> None:
    result = run("--resume", name)
    assert isinstance(result.exception, InputError)
