"""Answers kept in a file when the questions were interrupted, and taken up again."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from pathlib import Path

from ..errors import InputError
from ..files import read_source, write_whole
from ..finding import Finding, Severity, in_reading_order
from ..source import NOWHERE, Source, Span
from .pieces import Answers, Arrangement, nearest
from .templates import ARRANGEMENTS, arrangement

SUFFIX = ".answers"
_ARRANGEMENT = "arrangement"


def keep(kind: Arrangement, answers: Answers, beside: Path) -> Path:
    """Write answers to a new file.

    Parameters
    ----------
    kind : Arrangement
        The arrangement that was chosen.
    answers : mapping of str to str
        What was answered.
    beside : Path
        The circuit file that was to be written; the draft takes its place and name.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    InputError
        If it cannot be written.
    """
    path = free_name(beside.with_suffix(SUFFIX))
    write_whole(path, draft_text(kind, answers))
    return path


def draft_text(kind: Arrangement, answers: Answers) -> str:
    """Answers as text, one a line."""
    lines = [
        '# Answers to "netcheck new" that was interrupted; "netcheck new --resume" goes on.',
        f"{_ARRANGEMENT} = {kind.key}",
    ]
    lines += [f"{q.key} = {answers[q.key]}" for q in kind.questions if q.key in answers]
    return "\n".join(lines) + "\n"


def free_name(path: Path) -> Path:
    """The path itself, or the first of path-2, path-3, ... that does not exist."""
    if not path.exists():
        return path
    return next(
        other
        for number in itertools.count(2)
        if not (other := path.with_stem(f"{path.stem}-{number}")).exists()
    )


def read_draft(name: str) -> tuple[Arrangement, dict[str, str]]:
    """Read answers that were kept.

    Raises
    ------
    InputError
        If the file cannot be read, or with every line of it that is no answer.
    """
    source = read_source(name)
    findings: list[Finding] = []
    pairs = list(_pairs(source, findings))
    number, _, key = next((pair for pair in pairs if pair[1] == _ARRANGEMENT), (0, "", ""))
    kind = arrangement(key)
    if not number:
        findings.append(_wrong(source, 0, "the arrangement is missing",
                               'write "arrangement = foot", say, above the answers'))  # fmt: skip
    elif kind is None:
        findings.append(_wrong(source, number, *unknown_arrangement(key)))
    answers: dict[str, str] = {}
    if kind is not None:
        for number, key, answer in pairs:
            question = kind.question(key)
            if question is not None:
                answers[question.key] = answer
            elif key != _ARRANGEMENT:
                findings.append(_wrong(source, number, *unknown_key(kind, key)))
    if kind is None or findings:
        raise InputError(f"{name}: the answers cannot be used", in_reading_order(findings))
    return kind, answers


def _pairs(source: Source, findings: list[Finding]) -> Iterator[tuple[int, str, str]]:
    """Line number, key and answer of each line; what is neither is complained about."""
    for number, line in enumerate(source.lines, start=1):
        key, equals, answer = (word.strip() for word in line.partition("="))
        if not line.strip() or line.startswith("#"):
            continue
        if equals:
            yield number, key, answer
        else:
            findings.append(_wrong(source, number, "this line is no answer", "write KEY = ANSWER"))


def _wrong(source: Source, number: int, what: str, fix: str) -> Finding:
    span = Span(number, 1, max(len(source.line(number)), 1) + 1) if number else NOWHERE
    return Finding("not-an-answer", Severity.ERROR, source, span, what, "", fix)


def unknown_arrangement(key: str) -> tuple[str, str]:
    """What is wrong with the key of an arrangement, and the likely fix."""
    near = nearest(key, (a.key for a in ARRANGEMENTS))
    listed = '"netcheck new --list" shows them all'
    return f'there is no arrangement "{key}"', f'did you mean "{near}"?' if near else listed


def unknown_key(kind: Arrangement, key: str) -> tuple[str, str]:
    """What is wrong with the key of a question, and the likely fix."""
    near = nearest(key, (question.key for question in kind.questions))
    keys = ", ".join(question.key for question in kind.questions)
    what = f'nothing called "{key}" is asked in the arrangement "{kind.key}"'
    return what, f'did you mean "{near}"?' if near else f"the keys are {keys}"
