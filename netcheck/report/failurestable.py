"""Tables of failing parts for the terminal: those that come to the same in one row."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from ..failures import Danger, Judged, Outcome, Study
from ..netlist import Valve
from ..quantity import Dimension, show
from .findings import WIDTH
from .sweep import milli, percent, volts
from .tables import paragraph, table

V, AMPERE = Dimension.VOLT, Dimension.AMPERE
BURNS = "*"
"""Marks failures that overload another part, which fails in turn."""
_LONGEST = 30  # characters of the names of failures that are alike, in one row
_NAME = 16  # characters of one name [count]
_WHO = 12  # characters of the names of the valves that are hit [count]
_V_NOTHING = 0.05  # what tables show as 0.0 [V]
_FIGURES = ["grid V", "mA", "%"]
_UNIT = re.compile(r"(?<=\d) (?=(?:[munpkM]?(?:Vpp|Vac|V|A|W|F|ohm)\b|%))")


# --------------------------------------------------------------------------------- words


def wrapped(text: str, indent: str = "", first: str | None = None) -> list[str]:
    """A text broken into lines, no number parted from its unit."""
    lines = paragraph(_UNIT.sub("\N{NO-BREAK SPACE}", text), indent, first)
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines]


def short(name: str) -> str:
    """A name of a part or a node as far as it is shown."""
    return name if len(name) <= _NAME else f"{name[: _NAME - 3]}..."


def listed(names: Iterable[str]) -> str:
    """Names, one after the other."""
    return ", ".join(short(name) for name in names)


def valves(s: Study) -> list[str]:
    """The valves, or the watched nodes where none is drawn; without those that have no bias."""
    every = [valve.name for valve in s.section.circuit.of(Valve)] or list(s.section.watched)
    return [name for name in every if name not in s.without]


def column(s: Study, name: str) -> int:
    """The column of a valve's grid, or of a watched node."""
    part = s.section.circuit.part(name)
    node = part.grid if isinstance(part, Valve) else name
    return s.section.watched.index(node)


def floats(s: Study, outcome: Outcome, name: str) -> bool:
    """Whether nothing holds the grid of a valve."""
    return s.section.watched[column(s, name)] in outcome.floats


def victim(s: Study, outcome: Outcome, names: Iterable[str]) -> str:
    """The one of some valves that is worst off."""

    def heat(name: str) -> tuple[float, float]:
        share = outcome.of_limit.get(name)
        return (0.0 if share is None else round(float(share.max()), 4),
                round(float(outcome.mean[:, column(s, name)].max()), 3))  # fmt: skip

    return max(names, key=heat)  # the first of those alike


def hottest(s: Study, outcome: Outcome, name: str) -> int:
    """The position at which a valve is worst off; where the pot stands, if it is all one."""
    heat = outcome.of_limit.get(name, outcome.mean[:, column(s, name)])
    worst = int(np.argmax(heat))
    return s.now if np.isclose(heat[worst], heat[s.now], rtol=1e-3, atol=1e-6) else worst


def state(s: Study, outcome: Outcome, name: str, n: int) -> str:
    """Grid, current and dissipation of a valve at one position."""
    if floats(s, outcome, name):
        return "a floating grid"
    v = float(outcome.mean[n, column(s, name)])
    said = show(v if abs(v) >= _V_NOTHING else 0.0, V)
    if name not in outcome.i_cathode:
        return said
    share = float(outcome.of_limit[name][n])
    return f"{said}, {show(float(outcome.i_cathode[name][n]), AMPERE)}, {percent(share)}"


# ----------------------------------------------------------------------- what is alike


def merged(s: Study, found: Iterable[Judged]) -> Iterator[tuple[str, list[Judged]]]:
    """Failures that come to the same, together: ("R4, R5 open", those two)."""
    groups: list[tuple[object, list[Judged]]] = []
    for one in found:
        key = _sort(s, one), _course(s, one)
        for other, group in groups:
            if key == other and len(_text(s, [*group, one])) <= _LONGEST:
                group.append(one)
                break
        else:
            groups.append((key, [one]))
    for _, group in groups:
        yield _text(s, group), group


def all_named(s: Study, found: Iterable[Judged]) -> str:
    """Failures in one sentence."""
    return "; ".join(text for text, _ in merged(s, found))


def words(s: Study, one: Judged) -> str:
    """What is said of one failure."""
    return _text(s, [one])


def _text(s: Study, group: Sequence[Judged]) -> str:
    mode = group[0].failure.mode.value
    mark = BURNS if is_marked(s, group[0]) else ""
    return f"{listed(one.failure.part for one in group)} {mode}{mark}"


def is_marked(s: Study, one: Judged) -> bool:
    """Whether a failure that loses no valve by itself overloads another part."""
    return bool(s.besides(one)) and not one.danger.is_dangerous


def _sort(s: Study, one: Judged) -> tuple[object, ...]:
    """What failures must have in common to be named together."""
    part = s.section.circuit.part(one.failure.part)
    return (one.failure.mode, type(part), one.danger, one.undrawn, len(one.hit),
            is_marked(s, one), one.outcome.trouble)  # fmt: skip


def _course(s: Study, one: Judged) -> list[list[str]]:
    """What the valve that is worst off has at each position."""
    if one.outcome.trouble:
        return []
    name = victim(s, one.outcome, one.hit)
    return [_figures(s, one.outcome, name, n) for n in range(s.travel.size)]


# ------------------------------------------------------------------------------- tables


def failure_table(s: Study, danger: Danger) -> list[str]:
    """The failures of one degree of danger, without a heading; empty if there is none."""
    found = [one for one in s.failures if one.danger is danger]
    if not found:
        return []
    rows = [_row(s, text, group) for text, group in merged(s, found)]
    cells = _in_columns(s, [row[2] for row in rows])
    who = [short(row[1]) for row in rows]
    room = WIDTH - max(len(name) for name in [*who, "who"]) - len(cells[0]) - 4
    names = [_clipped(row[0], room) for row in rows]
    first = max(len(name) for name in [*names, "failure"])
    lines = table(["failure", "who", cells[1]],
                  [list(row) for row in zip(names, who, cells[2:], strict=True)], 2)  # fmt: skip
    above = " " * (len(lines[0]) - len(cells[1])) + cells[0]
    return [above, *lines] if cells[0].strip() and first else lines


def _in_columns(s: Study, figures: list[list[list[str]]]) -> list[str]:
    """Figures at one position or two as lines of one width: positions, heads, and the rows."""
    count = 3 if s.limits else 1
    blocks = [[row[k][:count] for row in figures] for k in range(len(figures[0]))]
    positions = [f"at {percent(float(s.travel[s.now]))}", "at worst"]
    lines: list[list[str]] = [[] for _ in range(len(figures) + 2)]
    for block, position in zip(blocks, positions, strict=False):
        columns = list(zip(_FIGURES[:count], *block, strict=True))
        widths = [max(len(text) for text in texts) for texts in columns]
        made = [" ".join(text.rjust(width) for text, width in zip(row, widths, strict=True))
                for row in zip(*columns, strict=True)]  # fmt: skip
        head = position if len(blocks) > 1 else ""
        width = max(len(head), len(made[0]))
        for line, text in zip(lines, [head, *made], strict=True):
            line.append(text.rjust(width))
    return ["  ".join(line) for line in lines]


def _clipped(text: str, room: int) -> str:
    return text if len(text) <= room else f"{text[: room - 3]}..."


def _row(s: Study, text: str, group: Sequence[Judged]) -> tuple[str, str, list[list[str]]]:
    one = group[0]
    name = victim(s, one.outcome, one.hit)
    figures = [_figures(s, one.outcome, name, s.now)]
    if s.travel.size > 1:
        figures.append(_figures(s, one.outcome, name, hottest(s, one.outcome, name)))
    return text, _who(s, group), figures


def _who(s: Study, group: Sequence[Judged]) -> str:
    hit = group[0].hit
    if len(hit) == len(valves(s)) > 1:
        return "all"
    if len({one.hit for one in group}) > 1:
        return f"{len(hit)} each"
    names = ", ".join(hit)
    return f"{len(hit)} valves" if len(names) > _WHO and len(hit) > 1 else names


def _figures(s: Study, outcome: Outcome, name: str, n: int) -> list[str]:
    v = "floats" if floats(s, outcome, name) else volts(float(outcome.mean[n, column(s, name)]))
    if name not in outcome.i_cathode:
        return [v, "", ""]
    return [v, milli(float(outcome.i_cathode[name][n])),
            f"{outcome.of_limit[name][n] * 100:.0f}"]  # fmt: skip
