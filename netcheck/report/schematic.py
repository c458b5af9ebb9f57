"""A section drawn as a schematic, as SVG."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from html import escape

from ..graph import Section
from ..schematic import Box, Drawing, Entry, Mark, Notes, Symbol, Text, layout, lettering
from ..schematic.captions import BADGE
from .schematicshapes import paths
from .schematicstyle import CLASS, Theme, style_sheet

__all__ = ["CLASS", "Entry", "Mark", "Notes", "Theme", "schematic_element", "schematic_svg"]

_MARGIN = 16.0
_LEAST_WIDTH = 560.0  # of the legend and the title [unit]
_ABOVE_LEGEND, _BETWEEN = 22.0, 3.0
_DOT = 2.9


def schematic_svg(section: Section, notes: Notes | None = None, *, theme: Theme = "auto") -> str:
    """A section as a file of its own.

    Parameters
    ----------
    section : Section
        The section.
    notes : Notes, optional
        What is written into the drawing; names and values alone without it.
    theme : str
        "light", "dark", or "auto" to follow the reader's system.

    Returns
    -------
    str
        SVG, the same bytes for the same section and notes.
    """
    element = schematic_element(section, notes, theme=theme)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{element}\n'


def schematic_element(
    section: Section,
    notes: Notes | None = None,
    *,
    theme: Theme = "auto",
    name: str = CLASS,
    is_titled: bool = True,
    folds: bool = True,
) -> str:
    """The picture as an element, to stand within a page.

    Each part is a group with its name as `data-part`, the wires of each node a group with its
    name as `data-node`, and so are the text of its voltage (class `CLASS-volts`) and its
    readings.

    Parameters
    ----------
    section : Section
        The section.
    notes : Notes, optional
        What is written into the drawing.
    theme : str
        As for `schematic_svg`.
    name : str
        What the ids in it begin with: another one for each picture of a page.
    is_titled : bool
        Whether the circuit's title stands above it.
    folds : bool
        Whether a range of volts may be written in two texts where the picture gets too wide;
        not for a page that writes into them.
    """
    notes = notes or Notes()
    drawing = layout(section, notes, folds=folds)
    title = lettering.printable(section.circuit.title)
    width = max(drawing.box.right - drawing.box.left, _LEAST_WIDTH)
    head = list(_heading(title, drawing.box, width)) if is_titled and title else []
    legend = list(_legend(notes.legend, drawing.box, width))
    texts = [*head, *legend]
    box = _frame([drawing.box, *(text.box for text in texts)])
    sides = f"{_n(box.left)} {_n(box.top)} {_n(box.right - box.left)} {_n(box.bottom - box.top)}"
    ident = escape(name)
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{CLASS} {CLASS}-{theme}" role="img" '
        f'viewBox="{sides}" width="{_n(box.right - box.left)}" '
        f'height="{_n(box.bottom - box.top)}" aria-labelledby="{ident}-title {ident}-desc">',
        f'<title id="{ident}-title">{escape(title or "Bias section")}</title>',
        f'<desc id="{ident}-desc">{escape(_description(section, notes))}</desc>',
        f"<style>\n{style_sheet(theme)}\n</style>",
        f'<rect class="{CLASS}-paper" x="{_n(box.left)}" y="{_n(box.top)}" '
        f'width="{_n(box.right - box.left)}" height="{_n(box.bottom - box.top)}"/>',
        *_nets(drawing),
        *_parts(drawing),
        *_labels(drawing),
        *(line for text in texts for line in _text(text)),
        "</svg>",
    ]
    return "\n".join(lines)


def _n(value: float) -> str:
    """A length, short."""
    return f"{round(value, 2) + 0.0:g}"


def _frame(boxes: Sequence[Box]) -> Box:
    return Box(
        min(box.left for box in boxes), min(box.top for box in boxes),
        max(box.right for box in boxes), max(box.bottom for box in boxes),
    ).grown(_MARGIN)  # fmt: skip


def _description(section: Section, notes: Notes) -> str:
    """The picture in words, for those who do not see it."""
    said = [f"Schematic of a bias section of {len(section.circuit.parts)} parts."]
    said += [f"{lettering.printable(node)}: {_said(text, notes.readings.get(node, ()))}."
             for node, text in notes.volts.items()]  # fmt: skip
    said += [entry.text for entry in notes.legend if entry.number is not None]
    return " ".join(lettering.printable(text) for text in said)


def _said(volts: str, readings: Sequence[str]) -> str:
    return "; ".join(" ".join(text.split()) for text in (volts, *readings))


# ------------------------------------------------------------------------- the drawing


def _nets(drawing: Drawing) -> Iterator[str]:
    """The wires and dots of each node."""
    nodes = dict.fromkeys(wire.node for wire in drawing.wires)
    for node in nodes:
        yield f'<g class="{CLASS}-net" data-node="{_attribute(node)}">'
        data = "".join(f"M{_n(w.x1)} {_n(w.y1)}L{_n(w.x2)} {_n(w.y2)}"
                       for w in drawing.wires if w.node == node)  # fmt: skip
        yield f'<path class="{CLASS}-wire" d="{data}"/>'
        for dot in drawing.dots:
            if dot.node == node:
                yield (f'<circle class="{CLASS}-dot" cx="{_n(dot.x)}" cy="{_n(dot.y)}" '
                       f'r="{_n(_DOT)}"/>')  # fmt: skip
        yield "</g>"


def _parts(drawing: Drawing) -> Iterator[str]:
    """Each part with what is written beside it, and its frame if it is marked."""
    for symbol in drawing.symbols:
        if not symbol.part:
            yield from _symbol(symbol)
            continue
        yield f'<g class="{CLASS}-of-part" data-part="{_attribute(symbol.part)}">'
        yield from _symbol(symbol)
        for frame in drawing.frames:
            if frame.part == symbol.part:
                box = frame.box
                yield (f'<rect class="{CLASS}-frame" x="{_n(box.left)}" y="{_n(box.top)}" '
                       f'width="{_n(box.right - box.left)}" '
                       f'height="{_n(box.bottom - box.top)}" rx="5"/>')  # fmt: skip
        for text in drawing.texts:
            if text.part == symbol.part:
                yield from _text(text)
        yield "</g>"


def _symbol(symbol: Symbol) -> Iterator[str]:
    turn = f" rotate({symbol.angle})" if symbol.angle else ""
    mirror = " scale(1 -1)" if symbol.mirror else ""
    place = f"translate({_n(symbol.x)} {_n(symbol.y)}){turn}{mirror}"
    yield f'<g class="{CLASS}-symbol" transform="{place}">'
    for data in paths(symbol):
        solid = f' class="{CLASS}-solid"' if _is_solid(symbol, data) else ""
        yield f'<path{solid} d="{data}"/>'
    yield "</g>"


def _is_solid(symbol: Symbol, data: str) -> bool:
    """Whether an outline is filled: of arrow heads."""
    return data.endswith("Z") and symbol.shape in ("pot", "arrow")


def _labels(drawing: Drawing) -> Iterator[str]:
    for text in drawing.texts:
        if not text.part:
            yield from _text(text)


def _text(text: Text) -> Iterator[str]:
    """A line of text; with its length fixed where a font might be wider than was reckoned."""
    if text.style == "badge":
        box = text.box
        yield (f'<circle class="{CLASS}-disc" cx="{_n((box.left + box.right) / 2)}" '
               f'cy="{_n((box.top + box.bottom) / 2)}" r="{_n(BADGE / 2)}"/>')  # fmt: skip
    node = f' data-node="{_attribute(text.node)}"' if text.node else ""
    anchor = "" if text.anchor == "start" else f' text-anchor="{text.anchor}"'
    fixed = ""
    if not lettering.is_known(text.text):
        length = lettering.width(text.text, text.style)
        fixed = f' textLength="{_n(length)}" lengthAdjust="spacingAndGlyphs"'
    yield (f'<text class="{CLASS}-{text.style}"{node} x="{_n(text.x)}" y="{_n(text.y)}"'
           f"{anchor}{fixed}>{escape(text.text)}</text>")  # fmt: skip


def _attribute(name: str) -> str:
    """A user's name as the value of an attribute."""
    return escape("".join(c for c in name if c.isprintable()))


# ------------------------------------------------------------------- title and legend


def _heading(title: str, box: Box, width: float) -> Iterator[Text]:
    lines = lettering.wrapped(title, "title", width)[:2]
    height = lettering.height("title")
    top = box.top - _ABOVE_LEGEND - height * len(lines)
    for line in lines:
        yield _line(line, "title", box.left, top)
        top += height


def _line(text: str, style: str, left: float, top: float) -> Text:
    size = lettering.SIZES[style]
    base = top + lettering.ASCENT * size
    room = Box(left, top, left + lettering.width(text, style), base + lettering.DESCENT * size)
    return Text(text, style, left, base, "start", room)


def _legend(entries: Iterable[Entry], box: Box, width: float) -> Iterator[Text]:
    """The entries below the drawing, numbered ones with their number on a disc."""
    top = box.bottom + _ABOVE_LEGEND
    for entry in entries:
        style = "remark" if entry.is_remark else "legend"
        indent = 0.0 if entry.number is None else BADGE + 7.0
        height = lettering.height(style)
        if entry.number is not None:
            middle = top + height / 2
            disc = Box(box.left, middle - BADGE / 2, box.left + BADGE, middle + BADGE / 2)
            base = middle + 0.35 * lettering.SIZES["badge"]
            yield Text(str(entry.number), "badge", box.left + BADGE / 2, base, "middle", disc)
        for line in lettering.wrapped(lettering.printable(entry.text), style, width - indent):
            yield _line(line, style, box.left + indent, top)
            top += height
        top += _BETWEEN
