"""One line of a circuit file, worded from a template and the answers about it."""

from __future__ import annotations

import functools
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from ..finding import Finding, in_reading_order
from ..netlist import Part
from ..parse import Entry
from ..parse.circuit import build_entry
from ..parse.lines import line_parser
from ..source import Source
from .pieces import OUT, TYPICAL, Answers, Arrangement, Piece, Question

_NAMES = re.compile(r'\s*((?:[^\s:"#]+\s+)*[^\s:"#]+)\s*:(?:\s+|$)')
_NODE = re.compile(r"@(\w+)")
_DIODE_TYPE = re.compile(r"(?:1N|[A-Z]{2,3})[0-9]{2,}", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Scene:
    """For which valve a line is written, and which nodes stand for others.

    Parameters
    ----------
    number : int
        Number of the valve, from 1. [count]
    side : int
        Its side, 1 or 2, of a push-pull stage. [count]
    nodes : mapping of str to str
        The node to write in the place of each that went with a part left out.
    """

    number: int = 1
    side: int = 1
    nodes: Mapping[str, str] = field(default_factory=dict)

    def fill(self, text: str) -> str:
        """The words of a template as they stand in the file."""
        return _NODE.sub(lambda m: self.nodes.get(m[1], m[1]), self.numbered(text))

    def numbered(self, text: str) -> str:
        """The words of a template with the numbers filled in."""
        return text.replace("{n}", str(self.number)).replace("{s}", str(self.side))


@dataclass(frozen=True, slots=True)
class Named:
    """An answer taken apart: names put in front of it, and the rest.

    Parameters
    ----------
    names : tuple of str
        The designators, one for each part.
    start : int
        Where the rest begins in the answer; negative if a word was put in front. [count]
    rest : str
        What goes into the line.
    """

    names: tuple[str, ...]
    start: int
    rest: str


def is_typical(answer: str) -> bool:
    """Whether an answer takes the typical value."""
    return answer.strip().lower() in (TYPICAL, "")


def said(question: Question, answers: Answers) -> str:
    """The answer to a question, the typical one where nothing else was said."""
    answer = answers.get(question.key, TYPICAL).strip()
    return question.typical if is_typical(answer) else answer


def is_left_out(piece: Piece, answers: Answers) -> bool:
    """Whether a part is left out."""
    return said(piece.questions[0], answers) == OUT


def choice(question: Question, answer: str) -> str | None:
    """The choice that was typed, in any case or shortened to what only it begins with."""
    word = answer.strip().lower()
    begun = [known for known in question.choices if known.startswith(word)]
    if word in question.choices:
        return word
    return begun[0] if len(begun) == 1 else None


def valve_count(arrangement: Arrangement, answers: Answers) -> int:
    """The number of valves. [count]"""
    question = arrangement.question("valves")
    assert question is not None
    return int(choice(question, said(question, answers)) or question.typical)


def split(piece: Piece, question: Question, answer: str) -> Named:
    """Take the names off an answer about a part; a name alone goes with the typical value."""
    names: tuple[str, ...] = ()
    start = 0
    if piece.is_part and question is piece.questions[0]:
        match = _NAMES.match(answer)
        if match is not None:
            names, start = tuple(match[1].split()), match.end()
    rest = answer[start:] or question.typical
    if piece.kind == "diode" and _DIODE_TYPE.match(rest):  # as it is printed on the diode
        rest, start = f"type {rest}", start - len("type ")
    return Named(names, start, rest)


def text(piece: Piece, answers: Answers, questions: Sequence[Question], scene: Scene) -> str:
    """A line of the language with the answers to some of a piece's questions."""
    words = [scene.fill(piece.head)]
    joining = [question for question in piece.questions if question.joins]
    for question in (*joining, *(q for q in questions if not q.joins)):
        answer = said(question, answers)
        if question.choices:
            chosen = choice(question, answer) or next(iter(question.choices))
            words.append(scene.fill(question.choices[chosen]))
        elif answer != OUT:
            before, after = around(question, scene)
            words.append(before + split(piece, question, answer).rest + after)
    return " ".join(words)


def asked_about(piece: Piece, answers: Answers) -> list[Question]:
    """The questions about a piece, without those that an earlier answer has settled."""
    asked = [piece.questions[0]]
    for question in piece.questions[1:]:
        if not _filled(piece, question, asked, answers):
            asked.append(question)
    return asked


def _filled(piece: Piece, question: Question, asked: list[Question], answers: Answers) -> bool:
    """Whether the answers to what was asked before say this already."""
    if not question.fills:
        return False
    entry, _ = read_line(text(piece, answers, asked, Scene()))
    return isinstance(entry, Part) and question.fills in entry.marks


def around(question: Question, scene: Scene) -> tuple[str, str]:
    """What the line has before an answer and behind it."""
    before, _, after = question.write.partition("{}")
    return scene.fill(before), scene.fill(after)


@functools.lru_cache(maxsize=512)  # each answer has the lines before it read again
def read_line(line: str) -> tuple[Entry | None, tuple[Finding, ...]]:
    """One line of the language: what it says and what is wrong with it."""
    source = Source("", line)
    parsed, findings = line_parser("circuit.lark").parse(source)
    entry, more = build_entry(source, parsed[0])
    return entry, tuple(in_reading_order([*findings, *more]))
