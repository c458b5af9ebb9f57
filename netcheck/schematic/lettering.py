"""Texts in a drawing: their sizes, and the room they take in any usual font.

The widths are those of the wider of two free families, DejaVu Sans and Liberation Sans (which has
the metrics of the sans-serif of most systems), read from their font files: so that a text fits
wherever the drawing is looked at, without asking a browser. Letters that are not in the table
count as a full square; the writer then fixes the length of the text.
"""

from __future__ import annotations

import functools
import math

_PLAIN = {
    28: "'ijl",
    30: "I",
    32: " ,.",
    34: "/:;\\|",
    36: "f",
    37: "-",
    40: "()[]t",
    41: "!",
    42: "r",
    46: '"',
    50: "*J`\u00b0",
    53: "sz",
    55: "c",
    56: "?L_\u2013",
    58: "k",
    60: "vxy",
    62: "FTaeo",
    64: "$0123456789bdghnpqu{}\u00b5",
    67: "EKPSY",
    69: "ABVXZ",
    73: "CR",
    74: "U",
    75: "N",
    76: "H",
    77: "\u03a9",
    78: "&DG",
    79: "OQ",
    82: "w",
    84: "#+<=>^~\u00b1",
    87: "M",
    96: "%",
    98: "m",
    99: "W",
    102: "@",
}
_BOLD = {
    31: "'",
    35: " ijl",
    37: "/\\|",
    38: ",.I",
    40: ":;",
    42: "-",
    44: "f",
    46: "!()[]",
    48: "t",
    50: "`r\u00b0",
    53: '"*',
    56: "J_\u2013",
    59: "z",
    60: "cs",
    62: "?",
    64: "L",
    65: "x",
    66: "vy",
    67: "k",
    68: "ae",
    69: "EFTo",
    70: "$0123456789",
    72: "bdghnpqu{}",
    73: "SYZ",
    74: "CP\u00b5",
    77: "B",
    78: "AKRVX",
    82: "U",
    83: "G",
    84: "#+<=>DHN^~\u00b1",
    86: "OQ\u03a9",
    88: "&",
    93: "w",
    100: "@M",
    101: "%",
    105: "m",
    111: "W",
}
"""Letters by their width in hundredths of the size of the font."""

_UNKNOWN = 100
"""Width of a letter that is not in the table, in hundredths of the size of the font."""

SIZES = {
    "part": 12.0,
    "value": 12.0,
    "rating": 10.0,
    "node": 10.0,
    "volts": 12.0,
    "read": 11.0,
    "mark": 12.0,
    "badge": 10.0,
    "end": 9.0,
    "title": 15.0,
    "legend": 12.0,
    "remark": 10.0,
}
"""Size of the font of each style. [unit]"""

BOLD = frozenset({"part", "mark", "badge", "title"})
"""The styles that are set bold."""

ASCENT, DESCENT = 0.93, 0.24
"""How far letters reach above and below the base line, as shares of the size. [1]"""


@functools.cache
def _widths(is_bold: bool) -> dict[str, int]:
    table = _BOLD if is_bold else _PLAIN
    return {letter: width for width, letters in table.items() for letter in letters}


def width(text: str, style: str) -> float:
    """Room that a line takes from left to right. [unit]"""
    widths = _widths(style in BOLD)
    hundredths = sum(widths.get(letter, _UNKNOWN) for letter in text)
    return hundredths / 100 * SIZES[style]


def is_known(text: str) -> bool:
    """Whether the width of every letter is known, so that the text needs no fixed length."""
    return all(letter in _widths(False) for letter in text)


def height(style: str) -> float:
    """Room that a line takes from top to bottom, in whole units. [unit]"""
    return math.ceil((ASCENT + DESCENT) * SIZES[style])


def printable(text: str) -> str:
    """A text without what cannot be drawn: control characters and halves of characters."""
    return "".join(letter if letter.isprintable() else " " for letter in text).strip()


def wrapped(text: str, style: str, room: float) -> list[str]:
    """A text in lines that fit, broken between words, or within one that is too long for a line.

    Parameters
    ----------
    text : str
        The text.
    style : str
        One of `SIZES`.
    room : float
        Width of a line. [unit]
    """
    lines: list[str] = []
    line = ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if width(longer, style) <= room:
            line = longer
            continue
        if line:
            lines.append(line)
        *full, line = _pieces(word, style, room)
        lines += full
    return [*lines, line] if line else lines


def _pieces(word: str, style: str, room: float) -> list[str]:
    """A word in pieces of which each fits; at least one letter in each."""
    pieces, piece = [], ""
    for letter in word:
        if piece and width(piece + letter, style) > room:
            pieces.append(piece)
            piece = ""
        piece += letter
    return [*pieces, piece]


def shortened(text: str, style: str, room: float) -> str:
    """A text cut to the room there is, with dots where something was left out. [unit]"""
    if width(text, style) <= room:
        return text
    while text and width(text + "...", style) > room:
        text = text[:-1]
    return text.rstrip() + "..."
