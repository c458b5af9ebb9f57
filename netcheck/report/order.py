"""The list to order, for the terminal and the shop."""

from __future__ import annotations

from collections.abc import Iterable

from ..order import Line, Order
from ..terminal import CAUTION
from .findings import WIDTH
from .tables import paragraph

_BOX = "[ ]"
_INDENT = " " * 8


def render_order(order: Order) -> str:
    """The list, lines of at most 80 characters."""
    blocks = [_heading(order), *_lines(line for line in order.lines if not line.condition)]
    for condition in dict.fromkeys(line.condition for line in order.lines if line.condition):
        blocks.append(paragraph(f"Only {condition}:"))
        blocks += _lines(line for line in order.lines if line.condition == condition)
    blocks.append([line for text in order.remarks for line in paragraph(text, "  ", "")])
    if order.lines:
        said = ("Values and ratings are those that are usual in the trade: a higher rating of the "
                "same value does as well.")  # fmt: skip
        if any(line.purchase.kind == "electrolytic" for line in order.lines):
            said += " Electrolytics for 105 C last longest beside hot valves (common practice)."
        blocks.append(paragraph(said))
    blocks.append(paragraph(CAUTION))
    return "\n\n".join("\n".join(block) for block in blocks if block)


def bare_list(order: Order) -> list[str]:
    """What it comes to, and the parts without the reasons."""
    lines = paragraph(summary(order))
    for line in order.lines:
        lines += _head_of(line)
    return lines


def summary(order: Order) -> str:
    """What the list comes to, in a sentence."""
    sure = sum(line.count for line in order.lines if not line.condition)
    maybe = sum(line.count for line in order.lines if line.condition)
    if not order.lines:
        return "Nothing to order."
    told = f"{sure} part{'' if sure == 1 else 's'} to order"
    if not sure:
        return f"Nothing to order yet; {maybe} part{'' if maybe == 1 else 's'} may be needed."
    return f"{told}, {maybe} more may be needed." if maybe else f"{told}."


def _heading(order: Order) -> list[str]:
    title = order.section.circuit.title or "(no title)"
    return [*paragraph(summary(order)), *paragraph(title)]


def _lines(lines: Iterable[Line]) -> list[list[str]]:
    return [_line(line) for line in lines]


def purchase_words(line: Line) -> str:
    """What is bought, in a phrase: "2 x resistor 27k 5% 0.5 W (R3, R8)"."""
    return f"{line.count} x {line.purchase.text} ({', '.join(line.parts)})"


def _head_of(line: Line) -> list[str]:
    """What is bought, and in place of which parts."""
    head = f"{_BOX} {line.count} x {line.purchase.text}"
    names = ", ".join(line.parts)
    room = WIDTH - len(head) - 2
    return [f"{head}  {names}"] if len(names) <= room else [head, *paragraph(names, _INDENT)]


def _line(line: Line) -> list[str]:
    text = _head_of(line)
    if line.purchase.bands:
        text.append(f"{_INDENT}bands {' '.join(line.purchase.bands)}")
    for why in line.reasons:
        told = f"{', '.join(why.parts)}: {why.reason.text} ({why.reason.source})."
        text += paragraph(told, _INDENT)
    return text
