"""Names made to break out: of a deck, a shell, a folder, a picture, a line of text."""

from __future__ import annotations

from lark import Token

from netcheck.netlist import GROUND, OPEN
from netcheck.parse.lines import line_parser
from netcheck.resources import folder
from netcheck.source import Source

NODES = (
    ".control",
    "*shell",
    "$(touch${IFS}hacked)",
    "`touch${IFS}hacked`",
    "../../hacked",
    "'|touch${IFS}hacked&'",
    "<script>alert(1)</script>",
    "]]>&amp{0}%s%n\\n",
    "n1",  # what the deck's own nodes are called
    "x" * 200,
    "\u0430\u0501raw",  # Cyrillic letters that look like Latin ones
    "/dev/full",
    "~/.spiceinit",
)
"""Names of nodes that the language takes."""

PARTS = (
    "*",
    "$(id)",
    "`id`",
    "../x/..".replace(".", "\u2024"),  # dots that are none
    "'--version",
    "-o",
    "v1)",
    "{}",
    "<b>",
    "\\",
    "r1",  # what the deck's own elements are called
    "y" * 120,
    "%(x)s",
    "$HOME",
    "|sh",
)
"""Names of parts."""

TEXTS = (
    '"$(touch hacked) `touch hacked` .control"',
    '"\u202edesrever \x1b[2J\x1b]0;title\x07 \x9b31m"',
    '"<script>alert(1)</script> ]]> &amp; <!--"',
)
"""Titles and notes: they may hold anything that stands on a line."""


def renamed(name: str = "two-6v6gt-foot") -> tuple[str, dict[str, str], dict[str, str]]:
    """An example with hostile names.

    Parameters
    ----------
    name : str
        Of the example.

    Returns
    -------
    str
        The circuit.
    dict of str to str
        What each node is called now.
    dict of str to str
        What each part is called now.
    """
    text = (folder("circuits") / f"{name}.bias").read_text("utf-8")
    lines = text.split("\n")
    nodes, parts = dict[str, str](), dict[str, str]()
    new = {"NODE": (nodes, iter(NODES)), "NAME": (parts, iter(PARTS))}
    for parsed in line_parser("circuit.lark").parse(Source(name, text))[0]:
        if parsed.tree is None:
            continue
        line = lines[parsed.number - 1]
        tokens = [
            t for t in parsed.tree.scan_values(lambda v: isinstance(v, Token)) if t.type in new
        ]
        for token in tokens:
            known, names = new[token.type]
            if token not in (GROUND, OPEN) and token not in known:
                known[str(token)] = next(names, str(token))
        for token in reversed(tokens):
            known, _ = new[token.type]
            begin = (token.column or 1) - 1
            line = line[:begin] + known.get(token, token) + line[begin + len(token) :]
        lines[parsed.number - 1] = line
    return "\n".join(map(_titled, lines)), nodes, parts


def _titled(line: str) -> str:
    """The line with a hostile text where it can have one."""
    kind = line.partition(" ")[0]
    if kind == "circuit":
        return f"circuit {TEXTS[0]}"
    if kind in ("resistor", "capacitor", "diode", "winding", "pot") and "note" not in line:
        code, sign, comment = line.partition("  #")
        return f"{code} note {TEXTS[1 + len(line) % 2]}{sign}{comment}"
    return line
