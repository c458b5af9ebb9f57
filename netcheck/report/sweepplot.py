"""Grid volts over the values of a substitution box, drawn with characters."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..engine.elements import Floats
from ..substitution import Substitution, Way
from .plot import HEIGHT, WIDTH, framed, round_limits, rows
from .sweepwords import items, label
from .tables import paragraph

SIGNS = {0.0: "a", 0.5: "m", 1.0: "c"}
"""What a curve is drawn with, by the position of the pot."""

_MARGIN = 10  # characters left of the field
_BETWEEN = 8  # characters from one label of the axis to the next, or more


def sweep_plot(s: Substitution, nodes: Sequence[str], wanted: tuple[float, float] | None
               ) -> list[str]:  # fmt: skip
    """Grid volts over the values, one curve for each end and one for the middle of the travel.

    Parameters
    ----------
    s : Substitution
        The sweep.
    nodes : sequence of str
        Grids that do the same.
    wanted : (float, float) or None
        Grid volts that give the dissipation wanted, the more negative first. [V]

    Returns
    -------
    list of str
        Lines of at most 80 characters.
    """
    curves = _curves(s, s.section.watched.index(nodes[0]))
    steps = np.arange(len(s.answered), dtype=float)
    at = np.linspace(0.0, steps[-1], WIDTH)
    every = np.concatenate([*curves.values(), np.array(wanted or ())])
    low, high, step = round_limits(float(every.min()), float(every.max()))
    field = [[" "] * WIDTH for _ in range(HEIGHT)]
    if wanted is not None:
        bottom, top = rows(np.array(wanted), low, high)
        for row in range(top, bottom + 1):
            field[row] = [":"] * WIDTH
    for sign, volts in curves.items():
        for place, row in enumerate(rows(np.interp(at, steps, volts), low, high)):
            field[row][place] = sign
    *lines, _, _ = framed(field, (low, high, step), ("", ""), "")
    return [
        *paragraph(f"{', '.join(nodes)}: V against ground"),
        *items(_legend(s) + ([": wanted"] if wanted is not None else [])),
        *lines,
        *_axis([label(s.knob, one.values[0]) for one in s.answered]),
        *paragraph(_along(s), " " * _MARGIN),
    ]


def _curves(s: Substitution, column: int) -> dict[str, Floats]:
    means = np.array([one.mean[:, column] for one in s.answered])
    return {SIGNS[round(float(at), 9)]: means[:, n]
            for n, at in enumerate(s.travel) if round(float(at), 9) in SIGNS}  # fmt: skip


def _legend(s: Substitution) -> list[str]:
    if s.travel.size == 1:
        return []
    return ["a anticlockwise", "m middle", "c clockwise"]


def _along(s: Substitution) -> str:
    way = "across" if s.knob.way is Way.ACROSS else "in place of"
    return f"{way} {s.knob.part.name}"


def _axis(labels: list[str]) -> list[str]:
    """The axis, as many of the values named as there is room for, the first and last always."""
    last = len(labels) - 1
    places = [round(n * (WIDTH - 1) / last) for n in range(last + 1)]
    end = WIDTH - len(labels[-1])
    line, text = ["-"] * WIDTH, " " * WIDTH
    free = 0
    for n, (place, name) in enumerate(zip(places, labels, strict=True)):
        start = end if n == last else place
        if n not in (0, last) and (place < free or place + len(name) + 2 > end):
            continue
        line[place] = "+"
        text = text[:start] + name + text[start + len(name) :]
        free = start + max(_BETWEEN, len(name) + 2)
    margin = " " * (_MARGIN - 1)
    return [f"{margin}+{''.join(line)}", f"{margin} {text}".rstrip()]
