"""One input read by the commands, and what is wrong with how they took it.

Each command runs in this very process by `netcheck.cli.run`. What is wrong is a sentence; there
should be none:

- an exit code that the README does not name, or one that does not go with the output;
- an exception, or the trace of one in the output;
- output that a terminal cannot show, or a report wider than its 80 columns;
- a finding whose place is not in the text;
- a time beyond the limit.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import resource
import signal
import sys
import time
import traceback
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from typing import Any
from unittest import mock

from netcheck.cli import run
from netcheck.finding import Finding
from netcheck.report.findings import WIDTH
from netcheck.source import NOWHERE, Source, Span
from netcheck.terminal import CLEAN, FINDINGS, NO_ANSWER, UNUSABLE

from .inputs import Input

LONGEST = 5.0
"""No reading of a file may take longer. [s]"""

LONGEST_SIMULATED = 60.0
"""With the simulation in it: three single runs that were given up. [s]"""

MOST_MEMORY = 500 << 20
"""Of this process and of each simulator. [byte]"""


_COLOUR = re.compile(r"\x1b\[[0-9;]*m")


class Terminal(io.TextIOWrapper):
    """What is written to a terminal."""

    def isatty(self) -> bool:
        return True


class TooLong(BaseException):
    """A command that did not come back; no part of the program may catch it."""


@dataclass
class Called:
    """What a command did.

    Parameters
    ----------
    command : str
        Its name, and the options that matter.
    code : int
        Exit code; -1 where there is none.
    out, err : str
        What it wrote.
    seconds : float
        How long it took. [s]
    made : list of Finding
        Every finding that was made meanwhile, shown or not.
    wrong : list of str
        What is wrong with it.
    shown : bool
        Whether it was called on a terminal.
    """

    command: str
    code: int = -1
    out: str = ""
    err: str = ""
    seconds: float = 0.0
    made: list[Finding] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    shown: bool = False


def judged(one: Input, *, simulated: bool = False) -> list[Called]:
    """Let the commands read an input, in the working folder.

    Parameters
    ----------
    one : Input
        The input; its file is written to the working folder.
    simulated : bool
        Whether to check it with the simulation as well.
    """
    Path(one.name).write_bytes(one.body)
    as_json = one.number % 2 == 0
    checked = called(["check", "--no-simulation", one.name, *(["--json"] if as_json else [])],
                     on=Terminal)  # fmt: skip
    formatted = called(["format", one.name])
    calls = [checked, formatted]
    if formatted.code == CLEAN:
        calls.append(called(["format", one.name], on=Terminal))
        calls += _again(one, checked, formatted)
    if simulated:
        calls.append(called(["check", one.name], on=Terminal, limit=LONGEST_SIMULATED))
    return calls


def _again(one: Input, checked: Called, formatted: Called) -> list[Called]:
    """The canonical form, read in turn: it is its own, and means the same."""
    other = f"again-{one.name}"
    Path(other).write_text(formatted.out, encoding="utf-8")
    twice = called(["format", other])
    if twice.code != CLEAN or twice.out != formatted.out:
        formatted.wrong.append("its canonical form has another canonical form")
    recheck = called(["check", "--no-simulation", "--quiet", other])
    if recheck.code != checked.code:
        formatted.wrong.append(f"checked {checked.code}, its canonical form {recheck.code}")
    return [twice, recheck]


def called(arguments: Sequence[str], *, on: type[io.TextIOWrapper] = io.TextIOWrapper,
           limit: float = LONGEST) -> Called:  # fmt: skip
    """Carry out a command line and look at what it does.

    Parameters
    ----------
    arguments : sequence of str
        What follows the program's name.
    on : type
        What its output leads to: a file, or a `Terminal`.
    limit : float
        Longest time. [s]
    """
    call = Called(" ".join(word for word in arguments if not word.endswith((".bias", ".readings"))),
                  shown=on is Terminal)  # fmt: skip
    out, err = (on(io.BytesIO(), encoding="utf-8") for _ in range(2))
    began = time.perf_counter()
    try:
        with (
            recorded(call.made),
            warnings.catch_warnings(),
            mock.patch.multiple(sys, stdout=out, stderr=err),
            _within(limit),
        ):
            warnings.simplefilter("error")  # a warning of numpy's is nothing for a user
            call.code = run(arguments)
    except TooLong:
        call.wrong.append(f"took longer than {limit:g} s")
    except BaseException:
        call.wrong.append(traceback.format_exc())
    call.seconds = time.perf_counter() - began
    call.out, call.err = (_written(stream) for stream in (out, err))
    call.wrong += _wrong(call)
    return call


def _written(stream: io.TextIOWrapper) -> str:
    stream.flush()
    buffer = stream.buffer
    assert isinstance(buffer, io.BytesIO)
    return buffer.getvalue().decode("utf-8")


@contextlib.contextmanager
def recorded(made: list[Finding]) -> Iterator[None]:
    """While it lasts, every finding that is made is kept."""
    plain = Finding.__init__

    def keep(self: Finding, *arguments: Any, **named: Any) -> None:
        plain(self, *arguments, **named)
        made.append(self)

    with mock.patch.object(Finding, "__init__", keep):
        yield


@contextlib.contextmanager
def _within(limit: float) -> Iterator[None]:
    """Raise `TooLong` after so many seconds. [s]"""

    def give_up(_: int, __: FrameType | None) -> None:
        raise TooLong

    before, began = signal.signal(signal.SIGALRM, give_up), time.monotonic()
    left, _ = signal.setitimer(signal.ITIMER_REAL, limit)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, before)
        if left:  # what runs the tests has a limit of its own
            remains = max(left - (time.monotonic() - began), 0.01)
            signal.setitimer(signal.ITIMER_REAL, remains)


def _wrong(call: Called) -> Iterator[str]:
    """What is wrong with what a command did."""
    yield from _wrong_code(call)
    yield from _breakdowns(call)
    if call.shown:
        yield from _unshowable(call)
    for finding in call.made:
        spans = [finding.span, *(related.span for related in finding.related)]
        if not all(in_text(finding.source, span) for span in spans):
            yield f"a place that is not in the text: {finding}"


def _wrong_code(call: Called) -> Iterator[str]:
    """An exit code that is not named in the README, or does not go with the output."""
    codes = [CLEAN, FINDINGS, UNUSABLE]
    if "--no-simulation" not in call.command and not call.command.startswith("format"):
        codes.append(NO_ANSWER)
    if call.code not in codes:
        yield f"exit code {call.code}"
    if call.code == UNUSABLE and not call.err.strip():
        yield "refused without a word"
    if call.command.startswith("check") and call.code in (CLEAN, FINDINGS):
        if call.err:
            yield f"complained and ended with {call.code}: {call.err[:200]!r}"
        if "--json" in call.command:
            severe = [f["severity"] for one in json.loads(call.out) for f in one["findings"]]
            if (call.code == FINDINGS) != any(severity != "note" for severity in severe):
                yield f"exit code {call.code} with the findings {severe}"


def _breakdowns(call: Called) -> Iterator[str]:
    """What went wrong inside and was caught: it must not have."""
    said = call.out + call.err
    for sign in ("Traceback", "the simulation failed: "):
        if sign in said:
            yield f"{sign!r} in the output"
    for finding in call.made:
        if finding.slug == "rule-failed":
            yield finding.what


def _unshowable(call: Called) -> Iterator[str]:
    """Characters that do something to a terminal, lines that are too long for it."""
    lines = _COLOUR.sub("", call.out + call.err).split("\n")
    odd = sorted({c for line in lines for c in line if not c.isprintable() and c != "\t"})
    if odd:
        yield f"characters that cannot be shown: {odd}"
    if call.command.startswith("check") and "--json" not in call.command:
        long = [line for line in lines if len(line) > WIDTH and " " in line.strip()]
        if long:
            yield f"a line of {len(long[0])} columns: {long[0]!r}"


def in_text(source: Source, span: Span) -> bool:
    """Whether a span is a stretch of the text, its end of a line included, or says nowhere."""
    if span == NOWHERE:
        return True
    if not 1 <= span.line <= len(source.lines):
        return False
    length = len(source.line(span.line))
    return 1 <= span.column <= length + 1 and span.column < span.end <= length + 2


def memory() -> int:
    """The most memory that this process or one of its simulators ever had. [byte]"""
    unit = 1 if sys.platform == "darwin" else 1024
    who = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    return max(resource.getrusage(one).ru_maxrss for one in who) * unit


@contextlib.contextmanager
def in_folder(folder: str) -> Iterator[None]:
    """Work in another folder."""
    before = os.getcwd()  # noqa: PTH109
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(before)
