"""Answers turned into a circuit file."""

from __future__ import annotations

import itertools
import textwrap
from collections.abc import Iterator
from dataclasses import replace

from ..errors import InputError
from ..layout import format_lines
from ..netlist import GROUND
from ..parse import Elsewhere, Line, parse_lines
from ..source import Source
from .judge import problems
from .pieces import OUT, TYPICAL, Answers, Arrangement, Piece, Question
from .wording import (
    Scene,
    asked_about,
    is_left_out,
    is_typical,
    read_line,
    said,
    split,
    text,
    valve_count,
)

_WIDTH = 76  # columns of the comment at the head of the file


def asked(arrangement: Arrangement, answers: Answers) -> Iterator[tuple[Piece, Question]]:
    """The questions to ask, in their order: what an answer has said already is not asked."""
    for piece in arrangement.pieces:
        for question in asked_about(piece, answers):
            yield piece, question


def bias_text(arrangement: Arrangement, answers: Answers) -> str:
    """The circuit file that the answers describe, in canonical form.

    Parameters
    ----------
    arrangement : Arrangement
        The arrangement.
    answers : mapping of str to str
        By key of the question; the typical answer is taken to what is missing.

    Raises
    ------
    InputError
        With everything that is wrong with the answers.
    """
    wrong = [
        finding
        for _, question in asked(arrangement, answers)
        for finding in problems(arrangement, question, answers.get(question.key, ""), answers)
    ]
    if wrong:
        raise InputError("not every answer can be used", wrong)
    made = format_lines(_lines(arrangement, answers))
    _, findings = parse_lines(Source("(the file from these answers)", made))
    if findings:
        raise InputError("the answers do not go together", findings)
    return made


def _lines(arrangement: Arrangement, answers: Answers) -> list[Line]:
    general: list[Line] = []
    parts: list[Line] = []
    for piece in arrangement.pieces:
        (parts if piece.is_part else general).extend(_piece_lines(arrangement, piece, answers))
    if arrangement.outside:
        general.append(Line(Elsewhere(arrangement.outside), "these go on outside the section"))
    return [*_heading(arrangement, answers), Line(None), *general, Line(None), *parts]


def _piece_lines(arrangement: Arrangement, piece: Piece, answers: Answers) -> Iterator[Line]:
    """The lines of one piece; none if it was left out."""
    if not piece.head or is_left_out(piece, answers):
        return
    kept = asked_about(piece, answers)
    scenes = _scenes(arrangement, answers)
    for scene in scenes if piece.for_each_valve else scenes[:1]:
        line = text(piece, answers, kept, scene)
        if piece.is_part:
            kind, drawn, rest = line.split(" ", 2)
            line = f"{kind} {_names(arrangement, answers)[drawn]} {rest}"
        yield Line(read_line(line)[0], piece.comment or None)


def _heading(arrangement: Arrangement, answers: Answers) -> Iterator[Line]:
    """The comment at the head of the file."""
    typical = [
        question.key
        for piece, question in asked(arrangement, answers)
        if piece.is_part and question.typical != OUT
        and is_typical(answers.get(question.key, TYPICAL))
    ]  # fmt: skip
    blocks = [f"{arrangement.title}. {arrangement.about}"]
    if typical:
        blocks.append(
            "Typical values, to be compared with the amplifier, were taken for "
            f"{', '.join(typical)}."
        )
    for block in blocks:
        for line in textwrap.wrap(block, _WIDTH, break_on_hyphens=False):
            yield Line(None, line)


def _scenes(arrangement: Arrangement, answers: Answers) -> list[Scene]:
    """One scene for each valve, in which the nodes of parts left out are joined."""
    count = valve_count(arrangement, answers)
    plain = [Scene(n, 1 if 2 * n <= count else 2) for n in range(1, count + 1)]
    stands: dict[str, str] = {}

    def root(node: str) -> str:
        while node in stands:
            node = stands[node]
        return node

    for piece in arrangement.pieces:
        if piece.joined is None or not is_left_out(piece, answers):
            continue
        for scene in plain if piece.for_each_valve else plain[:1]:
            gone, left = (root(scene.numbered(node)) for node in piece.joined)
            if gone == GROUND:
                gone, left = left, gone
            if gone != left:
                stands[gone] = left
    return [replace(scene, nodes={node: root(node) for node in stands}) for scene in plain]


def _names(arrangement: Arrangement, answers: Answers) -> dict[str, str]:
    """For each designator of the drawing the one to write: as given, or else one that is free."""
    given: dict[str, str] = {}
    drawn: list[str] = []
    for piece in arrangement.pieces:
        if not piece.is_part or is_left_out(piece, answers):
            continue
        count = valve_count(arrangement, answers) if piece.for_each_valve else 1
        defaults = [Scene(n).numbered(piece.head.split()[1]) for n in range(1, count + 1)]
        first = piece.questions[0]
        given.update(zip(defaults, split(piece, first, said(first, answers)).names, strict=False))
        drawn += defaults
    taken = {name.lower() for name in given.values()}
    names = {}
    for name in drawn:
        names[name] = given.get(name, name)
        if name not in given and name.lower() in taken:
            names[name] = _next_free(name, taken | {other.lower() for other in drawn})
            taken.add(names[name].lower())
    return names


def _next_free(name: str, taken: set[str]) -> str:
    """The next free designator with the same letters; from 101 on, to be told from the drawing."""
    letters = name.rstrip("0123456789")
    return next(
        f"{letters}{number}"
        for number in itertools.count(101)
        if f"{letters}{number}".lower() not in taken
    )
