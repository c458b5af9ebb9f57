"""What is wrong with an answer: the language's own complaints, placed in the answer."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

from ..finding import Finding, Severity
from ..netlist import Part
from ..source import Source, Span
from .pieces import OUT, Answers, Arrangement, Piece, Question
from .wording import (
    Scene,
    around,
    asked_about,
    choice,
    is_typical,
    read_line,
    said,
    split,
    text,
    valve_count,
)


def problems(
    arrangement: Arrangement, question: Question, answer: str, answers: Answers
) -> list[Finding]:
    """Everything wrong with an answer, each finding placed in the answer itself.

    Parameters
    ----------
    arrangement : Arrangement
        The arrangement.
    question : Question
        What was asked.
    answer : str
        What was answered.
    answers : mapping of str to str
        The answers to the other questions.
    """
    if any(not char.isprintable() and char != "\t" for char in answer):
        return [_error(question, answer, "unprintable",
                       "there is a character in it that cannot be printed",
                       "an arrow key, perhaps", "type the answer again")]  # fmt: skip
    if is_typical(answer):
        return []
    if answer.strip() == OUT:
        return list(_cannot_leave_out(question, answer))
    if question.choices:
        return list(_no_such_choice(question, answer))
    piece = next(p for p in arrangement.pieces if question in p.questions)
    return [*_name_problems(arrangement, piece, question, answer, answers),
            *_line_problems(piece, question, answer, answers)]  # fmt: skip


def _error(question: Question, answer: str, slug: str, what: str, why: str = "", fix: str = "",
           span: Span | None = None) -> Finding:  # fmt: skip
    source = Source(question.key, answer)
    return Finding(slug, Severity.ERROR, source, span or _whole(answer), what, why, fix)


def _whole(answer: str) -> Span:
    return Span(1, 1, max(len(answer), 1) + 1)


def _cannot_leave_out(question: Question, answer: str) -> Iterator[Finding]:
    if not question.may_be_left_out:
        yield _error(question, answer, "cannot-leave-out", "this cannot be left out",
                     "the arrangement would be another one",
                     "take the typical answer if you do not know it")  # fmt: skip


def _no_such_choice(question: Question, answer: str) -> Iterator[Finding]:
    if choice(question, answer) is None:
        yield _error(question, answer, "no-such-choice",
                     f'"{answer.strip()}" is not among the answers',
                     f"expected: {' or '.join(question.choices)}")  # fmt: skip


def _name_problems(
    arrangement: Arrangement, piece: Piece, question: Question, answer: str, answers: Answers
) -> Iterator[Finding]:
    """Names put in front of an answer: too many of them, too few, or taken."""
    named = split(piece, question, answer)
    if not named.names:
        return
    span = Span(1, 1, max(named.start, 1) + 1)
    count = valve_count(arrangement, answers) if piece.for_each_valve else 1
    if len(named.names) != count:
        several = f"{count} names, with blanks between" if count > 1 else "one name"
        yield _error(question, answer, "wrong-number",
                     f"{len(named.names)} names do not go with {count} "
                     f"part{'s' if count > 1 else ''}",
                     f"expected before the colon: {several}", span=span)  # fmt: skip
    seen = {
        name.lower()
        for other in arrangement.pieces
        if other is not piece
        for name in split(other, other.questions[0], said(other.questions[0], answers)).names
    }
    for name in named.names:
        if name.lower() in seen:
            yield _error(question, answer, "same-name", f'the name "{name}" is taken already',
                         "each part has a name of its own", span=span)  # fmt: skip
        seen.add(name.lower())


def _line_problems(
    piece: Piece, question: Question, answer: str, answers: Answers
) -> Iterator[Finding]:
    """What the language has to say to the line, moved to where it stands in the answer."""
    if not piece.is_part and '"' in answer:
        yield _error(question, answer, "open-quote", "there is a quotation mark in it",
                     fix="leave it out")  # fmt: skip
        return
    if piece.kind != "circuit" and "#" in re.sub('"[^"]*"', "", answer):
        yield _error(question, answer, "misplaced-comment",
                     "a # begins a comment, and hides what follows it",
                     fix='write a remark as note "...", in quotation marks')  # fmt: skip
        return
    asked = asked_about(piece, answers)
    earlier = asked[: asked.index(question)] if question in asked else asked
    before = text(piece, answers, earlier, Scene())
    lead, trail = around(question, Scene())
    named = split(piece, question, answer)
    entry, findings = read_line(f"{before} {lead}{named.rest}{trail}")
    shift = len(before) + 1 + len(lead) - named.start
    for finding in findings:
        yield replace(finding, source=Source(question.key, answer),
                      span=_moved(finding.span, shift, answer), related=())  # fmt: skip
    plain, _ = read_line(f"{before} {lead}{question.typical}{trail}")
    if isinstance(entry, Part) and isinstance(plain, Part) and entry.terminals != plain.terminals:
        yield _error(question, answer, "misplaced-word",
                     "this would join the part to another node than the drawing shows",
                     "the nodes belong to the arrangement",
                     "give the value alone; nodes can be changed in the file")  # fmt: skip


def _moved(span: Span, shift: int, answer: str) -> Span:
    """A place in the line as a place in the answer; all of the answer if it is not in it."""
    start, end = span.column - shift, span.end - shift
    if not 1 <= start <= len(answer):
        return _whole(answer)
    return Span(1, start, max(start + 1, min(end, len(answer) + 1)))
