"""The dialog of a session: the terminal on one side, the session on the other."""

from __future__ import annotations

import contextlib
import io
import re
import shlex
import sys
import textwrap
from collections.abc import Iterable

from ..diagnose.diagnosis import Diagnosis
from ..diagnose.words import subject
from ..errors import EngineError
from ..finding import Severity
from ..parse.entries import MeterLine, PowerHead
from ..parse.sheet import read_sheet
from ..source import Source
from ..terminal import CLEAN, FINDINGS, complain, emit
from .answers import Word, mistyped, told, unit_asked, word
from .edits import TAKEN_BACK, USUAL_METER
from .notebook import Outcome, Reply
from .session import Session
from .wording import (
    HELP,
    LIVE,
    OFF,
    asking,
    conditions,
    counted,
    listing,
    noted,
    reason,
    standing,
    verdict,
    was_set,
    why,
)

WIDTH = 78
"""Columns that the dialog takes. [count]"""


class EndOfInput(Exception):
    """There is nobody to answer any more."""


def steady_input() -> None:
    """Make answers survive what is no UTF-8, before the first of them: it is asked for again."""
    if isinstance(sys.stdin, io.TextIOWrapper):
        sys.stdin.reconfigure(errors="replace")


def prompt(text: str) -> str:
    """Ask for a line.

    Raises
    ------
    EndOfInput
        At the end of input, or when the terminal is gone.
    """
    if sys.stdin is None:
        raise EndOfInput
    try:
        if sys.stdin.isatty() and sys.stdout is not None and sys.stdout.isatty():
            with contextlib.suppress(ImportError):
                import readline  # noqa: F401, PLC0415 - lets the cursor move within an answer
            return input(text)
        if sys.stdout is not None:
            sys.stdout.write(text)
            sys.stdout.flush()
        line = sys.stdin.readline()
        emit(line.rstrip("\n"))  # what is typed on a terminal stands behind its prompt
    except (EOFError, OSError):
        line = ""
    if not line:
        raise EndOfInput
    return line


def say(text: str, indent: str = "  ", hang: str | None = None) -> None:
    """Show a paragraph; a number is not torn from its unit."""
    held = re.sub(r"(?<=[0-9]) (?=[A-Za-z])", "\u00a0", text)
    broken = textwrap.fill(held, WIDTH, initial_indent=indent, subsequent_indent=hang or indent,
                           break_on_hyphens=False, break_long_words=False)  # fmt: skip
    emit(broken.replace("\u00a0", " "))


def say_each(texts: Iterable[str]) -> None:
    """Show paragraphs, those that are moved in with their further lines moved in as well."""
    for text in texts:
        lead = text[: len(text) - len(text.lstrip())]
        say(text.strip(), f"  {lead}", f"  {lead}  " if lead else "  ")


def asked_meter() -> MeterLine:
    """Ask which meter is at hand.

    Raises
    ------
    EndOfInput
        If there is no answer, or none is wanted.
    """
    say("Which meter? Its input resistance and accuracy, such as: 10 Mohm dcv 0.5% + 2 digits "
        "ohms 0.8% + 1 digit. Enter takes a usual digital one (10 Mohm, volts 0.5% + 2 digits, "
        "ohms 1% + 2 digits).")  # fmt: skip
    while True:
        typed = " ".join(prompt("  meter: ").split())
        if not typed:
            return USUAL_METER
        if word(typed) is Word.QUIT:
            raise EndOfInput
        line = typed if typed.lower().startswith("meter ") else f"meter dmm {typed}"
        text = read_sheet(Source("meter", f"readings for it\n{line}\n"))
        entry = text.lines[1].entry if len(text.lines) > 1 else None
        if isinstance(entry, MeterLine) and not text.findings:
            return entry
        say(told(text.findings) or "That is no meter.")


class Dialog:
    """The dialog of a session.

    Parameters
    ----------
    session : Session
        The session.
    circuit : str
        The circuit, as the user named it.
    """

    def __init__(self, session: Session, circuit: str) -> None:
        self.session = session
        self._path = session.notebook.file.path
        self._circuit = circuit
        self._warned: bool | None = None  # the state of the power that was warned of last
        self._told: Diagnosis | None = None  # what was shown last

    def run(self) -> int:
        """Ask until the user has had enough; the exit code.

        Raises
        ------
        KeyboardInterrupt
            When interrupted; it has been said how to go on.
        InputError
            If another program has left errors in the file.
        EngineError
            If the simulator cannot answer; how to go on has been said as well.
        """
        self._greet()
        try:
            while self._turn():
                pass
        except EndOfInput:
            emit("")
        except (KeyboardInterrupt, EngineError):
            complain(f"\n{self._how_to_go_on()}")
            raise
        self._part()
        return CLEAN if self.session.is_sound else FINDINGS

    # ------------------------------------------------------------------------ a question

    def _turn(self) -> bool:
        """Show how things stand and ask once; whether to go on."""
        diagnosis = self.session.diagnosis
        if self.session.notebook.readings and diagnosis is not self._told:
            emit("")
            say_each(standing(diagnosis))
        self._told = diagnosis
        if self.session.reached is not None:
            return self._end()
        self._ask()
        return self._answers(self._prompt())

    def _ask(self) -> None:
        question, notebook = self.session.question, self.session.notebook
        assert question is not None
        self._warn(question.candidate.reading.state.live)
        emit("")
        number = f"{len(notebook.readings) + 1}. "
        say(asking(self.session.section, question), f"  {number}", "  " + " " * len(number))
        say(reason(question, self.session.diagnosis), "  " + " " * len(number))

    def _warn(self, live: bool) -> None:
        """The caution that goes with the power, each time that it changes."""
        if self._warned is not live:
            self._warned = live
            emit("")
            say(LIVE if live else OFF, "! ", "  ")

    def _prompt(self) -> str:
        asked = self.session.asked
        if asked is None:
            return "  more, a line, or Enter to end: "
        return f"  {subject(asked)} [{unit_asked(asked, self.session.section)}]: "

    def _answers(self, text: str) -> bool:
        """Take answers until the question is another one; whether to go on after that."""
        while True:
            typed = prompt(text)
            command = word(typed)
            if command is Word.QUIT:
                return False
            if not typed.strip():
                if self.session.asked is None:
                    return False
                say("Type what the meter shows, or skip, undo, list, why, help, quit.")
            elif command is not None:
                if self._command(command):
                    return True
            elif (hint := mistyped(typed)) is not None:
                say(hint)
            elif self._said(self._take(typed)):
                return True

    def _take(self, typed: str) -> Reply:
        reply = self.session.take(typed)
        if reply.outcome is not Outcome.UNCLEAR:
            return reply
        asked = self.session.asked
        assert asked is not None
        pot = next(iter(asked.state.pots))
        say(f"Was that with {conditions(asked.state)}, as asked for? Enter if it was; else say "
            f"where it stood, such as: {pot} at middle")  # fmt: skip
        return self.session.take(typed, prompt("  conditions: ").strip())

    def _said(self, reply: Reply) -> bool:
        """Say what became of an answer; whether the question is another one now."""
        if reply.text:
            say(reply.text)
        if reply.outcome is Outcome.NOTED:
            say(f"noted: {noted(reply.readings)}", hang="    ")
            for line in reply.replaced:
                say(f"in place of: {line}", hang="    ")
        elif reply.outcome is Outcome.SET:
            state = self.session.notebook.state
            say(was_set(reply.entry, state), hang="    ")
            if isinstance(reply.entry, PowerHead):
                self._warn(state.live)
        elif reply.outcome is Outcome.TAKEN_BACK:
            say(f"{TAKEN_BACK}{reply.replaced[0]}", hang="    ")
        return reply.outcome in {Outcome.NOTED, Outcome.SET, Outcome.TAKEN_BACK,
                                 Outcome.OVERTAKEN}  # fmt: skip

    def _command(self, command: Word) -> bool:
        """Do what was asked of the program; whether the question is another one now."""
        session = self.session
        if command is Word.UNDO:
            return self._said(session.undo())
        if command is Word.SKIP:
            return self._skip()
        if command is Word.MORE and session.reached is not None:
            session.go_on()
            return True
        if command is Word.LIST:
            say_each(listing(session.notebook.readings))
        elif command is Word.WHY:
            say_each(why(session.diagnosis))
        elif command is Word.HELP:
            emit(textwrap.indent(HELP, "  "))
        else:
            say("There is a question open: answer it, or skip it.")
        return False

    def _skip(self) -> bool:
        skipped = self.session.skip()
        if skipped is None:
            say("Nothing is asked for.")
            return False
        say(f"skipped: {subject(skipped)}; it is not asked for again in this session")
        return True

    # --------------------------------------------------------------------- start and end

    def _greet(self) -> None:
        notebook = self.session.notebook
        count = len(notebook.readings)
        if count:
            say(f"{self._path}: {counted(count)} so far, {notebook.stage}. Every reading is "
                "written there before the next is asked for.")  # fmt: skip
            if any(f.severity is Severity.WARNING for f in notebook.file.now.findings):
                say("Some of them should be looked at again: netcheck check "
                    f"{shlex.quote(str(self._path))}")  # fmt: skip
        else:
            say(f"{self._path}: no reading yet. Every reading is written there before the next "
                "is asked for; help explains.")  # fmt: skip

    def _end(self) -> bool:
        """Say what the readings come to, and offer to go on; whether to."""
        session = self.session
        assert session.reached is not None
        emit("")
        say_each(verdict(session.diagnosis, session.section, session.reached))
        emit("")
        return self._answers(self._prompt())

    def _part(self) -> None:
        readings = len(self.session.notebook.readings)
        emit("")
        say(f"{self._path} holds {counted(readings)}.", hang="    ")
        if self.session.reached is None:
            say(self._how_to_go_on(), hang="    ")
        if readings:
            names = f"{shlex.quote(self._circuit)} {shlex.quote(str(self._path))}"
            emit(f"  Next: netcheck diagnose {names}\n        netcheck compare {names}")

    def _how_to_go_on(self) -> str:
        names = f"{shlex.quote(self._circuit)} {shlex.quote(str(self._path))}"
        return f"What was noted is kept; to go on: netcheck bench {names}"
