"""Entering a bias section by answering questions."""

from __future__ import annotations

import contextlib
import re
import textwrap
import unicodedata
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TypeVar

import click

from ..errors import InputError
from ..files import write_whole
from ..finding import Finding
from .build import asked, bias_text
from .draft import free_name
from .judge import problems
from .pieces import OUT, TYPICAL, Arrangement, Question, nearest
from .templates import ARRANGEMENTS
from .wording import is_typical, said

WIDTH = 78
"""Columns that the dialog takes. [count]"""
_T = TypeVar("_T")
_ROOM = 58  # a prompt longer than this is broken before its bracket

_BACK = ("<", "back")
_HELP = ("?", "help")
_QUIT = ("quit", "exit")

INTRODUCTION = (
    "Type each value as it stands on the part or the schematic. Enter takes what stands in "
    "brackets. Other answers: - leaves a part out, < goes back, ? explains, quit ends "
    "without writing. Nothing is written before the end."
)
LEGEND = "[R1] resistor   === capacitor   |< rectifier   <- wiper   ) winding"


class Quit(Exception):
    """The user has had enough; nothing is to be written."""


class _Back(Exception):
    """The user wants the question before."""


class Dialog:
    """The questions, and what was answered so far.

    Parameters
    ----------
    kind : Arrangement or None
        The arrangement, if it was chosen already.
    answers : mapping of str to str
        What was answered already.
    target : Path or None
        The file to write; None to ask for its name at the end.
    """

    def __init__(
        self,
        kind: Arrangement | None = None,
        answers: dict[str, str] | None = None,
        target: Path | None = None,
    ) -> None:
        self.kind = kind
        self.answers = dict(answers or {})
        self._target = target
        self._aside: dict[str, dict[str, str]] = {}

    @property
    def path(self) -> Path:
        """The file to write, by the answers so far."""
        return self._target or self._default_path()

    @property
    def kept(self) -> Iterator[tuple[Arrangement, dict[str, str]]]:
        """What was answered, for the arrangement chosen and for those left behind."""
        for kind in ARRANGEMENTS:
            answers = self.answers if kind is self.kind else self._aside.get(kind.key)
            if answers:
                yield kind, answers

    def run(self) -> Path:
        """Ask until a circuit file is written.

        Returns
        -------
        Path
            The file.

        Raises
        ------
        Quit
            When the user ends without writing.
        click.Abort
            When input ends or is interrupted; the answers so far stay in `answers`.
        """
        _say(INTRODUCTION)
        with contextlib.suppress(ImportError):
            import readline  # noqa: F401, PLC0415 - lets the cursor move within an answer
        kind = self.kind or self._choose()
        forced: Question | None = None
        while True:
            order = [question for _, question in asked(kind, self.answers)]
            question = forced or next((q for q in order if q.key not in self.answers), None)
            forced = None
            try:
                if question is not None:
                    self._ask(kind, order.index(question) + 1, question)
                    continue
                forced = self._summary(kind, order)
                if forced is None and (path := self._write(kind)) is not None:
                    return path
            except _Back:
                index = order.index(question) if question is not None else len(order)
                if index == 0:
                    kind = self._choose()
                else:
                    forced = order[index - 1]
            except InputError as error:
                _complain(error.findings)
                forced = _culprit(order, error.findings)

    # ------------------------------------------------------------------ arrangement

    def _choose(self) -> Arrangement:
        """Let the user pick an arrangement from the list."""
        self._list()
        shown: Arrangement | None = None
        while True:
            offer = f" [{ARRANGEMENTS.index(shown) + 1}]" if shown else ""
            try:
                word = _prompt(f"Number of the arrangement{offer}").strip()
            except _Back:
                word = ""
            if word in _HELP:
                self._list()
            elif shown is not None and word in ("", shown.key, str(ARRANGEMENTS.index(shown) + 1)):
                self._take(shown)
                return shown
            elif word:
                shown = _picked(word) or shown
                if _picked(word) is None:
                    _say(f'There is no arrangement "{word}": type its number, 1 to '
                         f"{len(ARRANGEMENTS)}.")  # fmt: skip
                else:
                    self._show(shown)
            else:
                _say("Type the number of the arrangement that looks most like the schematic.")

    def _list(self) -> None:
        click.echo()
        for number, kind in enumerate(ARRANGEMENTS, start=1):
            click.echo(f"  {number:>2}  {kind.title}")
        _say("A number shows the drawing of that arrangement.")

    def _show(self, kind: Arrangement | None) -> None:
        if kind is not None:
            click.echo(f"\n{kind.title}\n{kind.drawing}\n  {LEGEND}\n")
            _say(f"{kind.about} Enter takes it, another number shows another one.")

    def _take(self, kind: Arrangement) -> None:
        """Take an arrangement; what was answered to the same question before is kept."""
        if self.kind is not None and self.kind is not kind:
            self._aside[self.kind.key] = self.answers
            same = {q.key for q in kind.questions if self.kind.question(q.key) == q}
            kept = {key: answer for key, answer in self.answers.items() if key in same}
            self.answers = self._aside.get(kind.key, {}) | kept
        self.kind = kind

    # -------------------------------------------------------------------- questions

    def _ask(self, kind: Arrangement, number: int, question: Question) -> None:
        """Ask one question until the answer can be used."""
        while True:
            earlier = self.answers.get(question.key)
            typed = _prompt(_asking(number, question, earlier))
            word = typed.strip()
            if word.lower() in _HELP:
                _say(_explained(question))
                continue
            answer = word or earlier or TYPICAL
            findings = problems(kind, question, answer, self.answers)
            if not findings:
                self.answers[question.key] = TYPICAL if is_typical(answer) else answer
                return
            _complain(findings)
            if not word:  # the earlier answer no longer fits the others
                self.answers.pop(question.key, None)

    def _summary(self, kind: Arrangement, order: list[Question]) -> Question | None:
        """Show all answers; the question to ask again, or None if they are right."""
        click.echo(f"\n{kind.title}")
        for number, question in enumerate(order, start=1):
            answer = said(question, self.answers)
            shown = "left out" if answer == OUT else answer
            remark = "" if not is_typical(self.answers[question.key]) else "  (typical)"
            click.echo(f"  {number:>2}  {question.key:<13} {shown}{remark}")
        while True:
            word = _prompt("Enter to write the file, or the number of an answer to change").strip()
            if not word:
                return None
            named = (q for q in order if q.key.lower() == word.lower())
            found = _numbered(word, order) or next(named, None)
            if found is not None:
                return found
            _say(f'"{word}" is no number from 1 to {len(order)}.')

    # ------------------------------------------------------------------------- file

    def _default_path(self) -> Path:
        title = "" if self.kind is None else said(self.kind.questions[0], self.answers)
        return Path(file_name(title, "new" if self.kind is None else self.kind.key))

    def _write(self, kind: Arrangement) -> Path | None:
        """Write the file under a name that is free; None to look at the answers again."""
        text = bias_text(kind, self.answers)
        path = self._target
        while True:
            if path is None:
                offer = free_name(self._default_path())
                try:
                    path = _path_of(_prompt(f"File name [{offer}]").strip() or str(offer))
                except _Back:
                    return None
            try:
                write_whole(path, text)
            except InputError as error:
                _complain(error.findings)
                self._target = path = None
            else:
                return path


def file_name(title: str, otherwise: str) -> str:
    """A file name for a circuit of that title: small letters, figures and dashes."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    slug = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].rstrip("-")
    return f"{slug or otherwise}.bias"


def _path_of(word: str) -> Path:
    path = Path(word).expanduser()
    return path if path.suffix else path.with_name(f"{path.name}.bias") if path.name else path


def _picked(word: str) -> Arrangement | None:
    """The arrangement of that number or key."""
    near = nearest(word, (kind.key for kind in ARRANGEMENTS))
    named = (kind for kind in ARRANGEMENTS if kind.key == near)
    return _numbered(word, ARRANGEMENTS) or next(named, None)


def _numbered(word: str, things: Sequence[_T]) -> _T | None:
    """The thing whose number in the list, from 1, was typed."""
    return dict(zip(map(str, range(1, len(things) + 1)), things, strict=True)).get(word)


def _culprit(order: list[Question], findings: tuple[Finding, ...]) -> Question | None:
    """The first question whose answer is complained about."""
    keys = {finding.source.name for finding in findings}
    return next((question for question in order if question.key in keys), order[0])


# ----------------------------------------------------------------------- the terminal


def _asking(number: int, question: Question, earlier: str | None) -> str:
    """The prompt: what is asked, and in brackets what Enter takes."""
    taken = said(question, {} if earlier is None else {question.key: earlier})
    shown = "left out" if taken == OUT else taken
    whose = "as before: " if earlier is not None and not is_typical(earlier) else ""
    return f"{number:>2}. {question.ask} [{whose}{shown}]"


def _explained(question: Question) -> str:
    """The help on a question."""
    text = question.help
    if question.may_be_left_out:
        text += " It may be left out with -."
    if question.choices:
        text += f" Answers: {' or '.join(question.choices)}."
    return f"{text} Enter takes what stands in brackets; {TYPICAL} takes {question.typical}."


def _prompt(text: str) -> str:
    """Ask for a line of text.

    Raises
    ------
    Quit, _Back
        When one of the words for it was typed.
    click.Abort
        At the end of input, or when interrupted.
    """
    lead, bracket, rest = text.rpartition(" [")
    if bracket and len(text) > _ROOM:
        click.echo(lead)
        text = f"    [{rest}"
    while True:
        try:
            word: str = click.prompt(text, default="", show_default=False)
        except UnicodeDecodeError:
            _say("This answer is not UTF-8 text: type it again.")
            continue
        if word.strip().lower() in _QUIT:
            raise Quit
        if word.strip().lower() in _BACK:
            raise _Back
        return word


def _say(text: str) -> None:
    click.echo(textwrap.fill(text, WIDTH, initial_indent="  ", subsequent_indent="  ",
                             break_on_hyphens=False, break_long_words=False))  # fmt: skip


def _complain(findings: tuple[Finding, ...] | list[Finding]) -> None:
    """Say what is wrong with an answer, and what to do."""
    for finding in findings:
        texts = (finding.what, finding.why, finding.fix)
        _say(" ".join(f"{t[0].upper()}{t[1:]}." for t in texts if t).replace("?.", "?"))
