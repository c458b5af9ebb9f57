"""`netcheck new`: a circuit file from answers to questions, or from options."""

from __future__ import annotations

import contextlib
import shlex
import signal
import textwrap
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import FrameType

import click

from ..errors import InputError
from ..files import write_whole
from ..finding import Finding, Severity
from ..source import Source, Span
from .build import asked, bias_text
from .dialog import LEGEND, WIDTH, Dialog, Quit, file_name
from .draft import draft_text, keep, read_draft, unknown_arrangement, unknown_key
from .judge import problems
from .pieces import Arrangement
from .templates import ARRANGEMENTS, arrangement
from .wording import said

INTERRUPTED = 2
"""Exit code when the questions were not answered to their end."""


@click.command("new")
@click.option("--arrangement", "key", metavar="KEY",
              help="Ask nothing: this arrangement, with typical values.")  # fmt: skip
@click.option("--set", "settings", multiple=True, metavar="KEY=ANSWER",
              help="With --arrangement: an answer, such as R1=470 or C2=- (left out).")  # fmt: skip
@click.option("-o", "--output", metavar="FILE",
              help='The file to write, "-" for the terminal; it must not exist.')  # fmt: skip
@click.option("--resume", metavar="DRAFT", help="Go on with answers that were kept.")
@click.option("--list", "list_", is_flag=True,
              help="Show the arrangements, their drawings and keys.")  # fmt: skip
@click.pass_context
def new(
    ctx: click.Context,
    key: str | None,
    settings: tuple[str, ...],
    output: str | None,
    resume: str | None,
    list_: bool,
) -> None:
    """Write a circuit file from answers to questions.

    The arrangement is chosen from a list; its values are asked in the order in which they
    are read off a schematic. A file that exists is never overwritten.
    """
    if settings and key is None:
        raise click.UsageError("--set goes with --arrangement")
    if resume is not None and key is not None:
        raise click.UsageError("--resume has its arrangement in the draft")
    chosen = None if key is None else _arrangement(key)
    if list_:
        _list(ARRANGEMENTS if chosen is None else (chosen,))
    elif chosen is not None:
        _without_questions(chosen, settings, output)
    else:
        ctx.exit(_with_questions(output, resume))


def _arrangement(key: str) -> Arrangement:
    found = arrangement(key)
    if found is None:
        raise InputError(" ".join(unknown_arrangement(key)), [_at_option(
            "--arrangement", key, "no-such-arrangement", *unknown_arrangement(key))])  # fmt: skip
    return found


def _at_option(option: str, text: str, slug: str, what: str, fix: str) -> Finding:
    span = Span(1, 1, max(len(text), 1) + 1)
    return Finding(slug, Severity.ERROR, Source(option, text), span, what, "", fix)


def _list(kinds: tuple[Arrangement, ...]) -> None:
    blocks = []
    for kind in kinds:
        keys = [
            textwrap.fill(f"{q.key:<13} {q.ask} [{q.typical}]", WIDTH, initial_indent="  ",
                          subsequent_indent=" " * 16)
            for q in kind.questions
        ]  # fmt: skip
        blocks.append("\n".join([f"{kind.key}: {kind.title}", kind.drawing, *keys, ""]))
    _emit("\n".join([*blocks, f"  {LEGEND}"]))


# ---------------------------------------------------------------------- by options


def _without_questions(kind: Arrangement, settings: tuple[str, ...], output: str | None) -> None:
    answers = _answers(kind, settings)
    text = bias_text(kind, answers)
    if output == "-":
        _emit(text)
        return
    path = Path(output or file_name(said(kind.questions[0], answers), kind.key))
    write_whole(path, text)
    _emit(_written(path))


def _answers(kind: Arrangement, settings: tuple[str, ...]) -> dict[str, str]:
    """The answers given by options.

    Raises
    ------
    InputError
        With everything wrong with any of them.
    """
    answers: dict[str, str] = {}
    findings: list[Finding] = []
    for setting in settings:
        key, equals, answer = (word.strip() for word in setting.partition("="))
        question = kind.question(key)
        if not equals:
            findings.append(_at_option("--set", setting, "not-an-answer",
                                       "there is no = in it", "write KEY=ANSWER"))  # fmt: skip
        elif question is None:
            findings.append(_at_option("--set", setting, "unknown-key",
                                       *unknown_key(kind, key)))  # fmt: skip
        elif question.key in answers:
            findings.append(_at_option("--set", setting, "doubled-answer",
                                       f"{question.key} is set twice", "keep one"))  # fmt: skip
        else:
            answers[question.key] = answer
    known = {question.key for _, question in asked(kind, answers)} if not findings else set(answers)
    for question in kind.questions:
        if question.key not in answers:
            continue
        if question.key not in known:
            findings.append(_at_option(
                "--set", f"{question.key}={answers[question.key]}", "unused-answer",
                "this is not asked, after the other answers", "leave it out"))  # fmt: skip
        for finding in problems(kind, question, answers[question.key], answers):
            source = Source(f"--set {question.key}", finding.source.text)
            findings.append(replace(finding, source=source))
    if findings:
        raise InputError("not every --set can be used", findings)
    return answers


# -------------------------------------------------------------------- by questions


def _with_questions(output: str | None, resume: str | None) -> int:
    """Hold the dialog; the exit code."""
    if output == "-":
        raise click.UsageError("-o - goes with --arrangement")
    target = None if output is None else Path(output)
    if target is not None and target.exists():
        write_whole(target, "")  # raises: better now than after all the questions
    kind, answers = (None, {}) if resume is None else read_draft(resume)
    dialog = Dialog(kind, answers, target)
    try:
        with _hang_up_is_interrupt():
            path = dialog.run()
    except Quit:
        click.echo("Nothing was written.")
        return 0
    except (click.Abort, KeyboardInterrupt, OSError):  # a terminal that is gone raises OSError
        _keep(dialog)
        return INTERRUPTED
    click.echo(_written(path))
    if resume is not None:
        click.echo(f"The answers kept in {resume} are in it; that file can go.")
    return 0


def _keep(dialog: Dialog) -> None:
    """Keep the answers of a dialog that was cut off, so that nothing typed is lost."""
    _say_if_possible("\nInterrupted. No circuit file was written.")
    for kind, answers in dialog.kept:
        try:
            path = keep(kind, answers, dialog.path)
        except InputError as error:
            _say_if_possible(f"The answers could not be kept: {error}")
            _say_if_possible(draft_text(kind, answers))
        else:
            _say_if_possible(f"Your answers are kept ({kind.key}); to go on:\n"
                             f"  netcheck new --resume {shlex.quote(str(path))}")  # fmt: skip


def _say_if_possible(text: str) -> None:
    with contextlib.suppress(OSError):
        click.echo(text, err=True)


@contextlib.contextmanager
def _hang_up_is_interrupt() -> Iterator[None]:
    """Treat a closed terminal and a request to end like Ctrl-C, so that answers are kept."""

    def interrupt(_: int, __: FrameType | None) -> None:
        raise KeyboardInterrupt

    before = {}
    for name in ("SIGHUP", "SIGTERM"):
        number = getattr(signal, name, None)
        if number is not None:
            with contextlib.suppress(ValueError):  # not in the main thread
                before[number] = signal.signal(number, interrupt)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _written(path: Path) -> str:
    name = shlex.quote(str(path))
    return f"Written: {path}\nNext: netcheck check {name}\n      netcheck predict {name}"


def _emit(text: str) -> None:
    from ..terminal import emit  # noqa: PLC0415 - the commands import this module

    emit(text)
