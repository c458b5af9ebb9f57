"""Colours and lines of a schematic: light and dark, on paper and on a screen.

Nothing is told by colour alone: readings are slanted, marked parts have a heavy broken frame.
Each colour stands as a plain value too, for renderers that know no custom properties.
"""

from __future__ import annotations

from typing import Literal

from ..schematic import lettering

Theme = Literal["auto", "light", "dark"]

CLASS = "netcheck-schematic"
"""Class of the picture; that of whatever is in it begins with it."""

# Dark blue and vermilion stay apart for all kinds of colour blindness, and as greys.
_LIGHT = {"ink": "#141414", "soft": "#555555", "paper": "#ffffff", "read": "#00487a",
          "mark": "#a63600"}  # fmt: skip
_DARK = {"ink": "#e9e9e9", "soft": "#a8a8a8", "paper": "#17181a", "read": "#8cc8ff",
         "mark": "#ffa968"}  # fmt: skip

_INK = {"part": "ink", "value": "ink", "rating": "soft", "node": "soft", "volts": "ink",
        "read": "read", "mark": "mark", "badge": "paper", "end": "soft", "title": "ink",
        "legend": "ink", "remark": "soft"}  # fmt: skip


def style_sheet(theme: Theme) -> str:
    """The rules of a picture, which hold for pictures of that theme only.

    Parameters
    ----------
    theme : str
        "auto" follows the reader's system; printed, every theme is light.
    """
    root = f".{CLASS}.{CLASS}-{theme}"
    first = _DARK if theme == "dark" else _LIGHT
    rules = [f"{root}{{{_properties(first)}}}"]
    if theme == "auto":
        rules.append(f"@media (prefers-color-scheme:dark){{{root}{{{_properties(_DARK)}}}}}")
    rules.append(f"@media print{{{root}{{{_properties(_LIGHT)}}}}}")
    rules += [f"{root} {rule}" for rule in _rules(first)]
    return "\n".join(rules)


def _properties(colours: dict[str, str]) -> str:
    return "".join(f"--{CLASS}-{name}:{value};" for name, value in colours.items())


def _rules(plain: dict[str, str]) -> list[str]:
    def colour(what: str, name: str) -> str:
        return f"{what}:{plain[name]};{what}:var(--{CLASS}-{name})"

    rules = [
        f".{CLASS}-paper{{{colour('fill', 'paper')}}}",
        f".{CLASS}-wire{{fill:none;{colour('stroke', 'ink')};stroke-width:1.5;"
        "stroke-linecap:round}",
        f".{CLASS}-dot{{{colour('fill', 'ink')}}}",
        f".{CLASS}-symbol{{fill:none;{colour('stroke', 'ink')};stroke-width:1.5;"
        "stroke-linecap:round;stroke-linejoin:round}",
        f".{CLASS}-solid{{{colour('fill', 'ink')}}}",
        f".{CLASS}-frame{{fill:none;{colour('stroke', 'mark')};stroke-width:2.6;"
        "stroke-dasharray:9 5}",
        f".{CLASS}-disc{{{colour('fill', 'mark')}}}",
        'text{font-family:Arial,"Liberation Sans","DejaVu Sans",Helvetica,sans-serif}',
    ]
    for style, size in lettering.SIZES.items():
        weight = ";font-weight:bold" if style in lettering.BOLD else ""
        slant = ";font-style:italic" if style == "read" else ""
        rules.append(f".{CLASS}-{style}{{font-size:{size:g}px{weight}{slant};"
                     f"{colour('fill', _INK[style])}}}")  # fmt: skip
    return rules
