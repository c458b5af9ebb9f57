"""Ways in words."""

from __future__ import annotations

from collections.abc import Sequence

from ..netlist import Capacitor, Circuit, Pot, Resistor, Supply, Winding, Zener
from ..quantity import Dimension, show_part
from .ways import Kind, Way


def listed(names: Sequence[str]) -> str:
    """Names in one phrase: "R1, R3 and T1"."""
    if not names:
        return ""
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last


def way_words(circuit: Circuit, way: Way, before: Way | None = None) -> str:
    """What is to be done: "strap 100k across R3", "put R3 back to 27k, then ...".

    Parameters
    ----------
    circuit : Circuit
        As drawn: what restores goes back to its values.
    way : Way
        The way.
    before : Way or None
        What is done before it.
    """
    if before is not None:
        return f"{way_words(circuit, before)}, then {way_words(circuit, way)}"
    if way.kind is Kind.RESTORE:
        return restore_words(circuit, way.parts)
    each = "each of " if len(way.parts) > 1 else ""
    return _SAID[way.kind].format(r=show_part(way.r), end=way.end, parts=each + listed(way.parts))


_SAID = {
    Kind.STRAP: "strap {r} across {parts}",
    Kind.STRAP_POT: "strap {r} across the ends of {parts}",
    Kind.SERIES: "fit {r} in series with the {end} of {parts}",
    Kind.RESISTOR: "replace {parts} by {r}",
    Kind.POT: "replace {parts} by a {r} pot",
}
_SHORT = {
    Kind.STRAP: "{r} across {parts}",
    Kind.STRAP_POT: "{r} across ends of {parts}",
    Kind.SERIES: "{r} to {end} of {parts}",
    Kind.RESISTOR: "{parts}: {r}",
    Kind.POT: "{parts}: {r} pot",
}


def restore_words(circuit: Circuit, names: Sequence[str]) -> str:
    """What puts back the drawing: "put R3 back to 27k", "replace C1 (47 uF)"."""
    said = []
    for name in names:
        part = circuit.part(name)
        if isinstance(part, Resistor | Pot):
            said.append(f"put {name} back to {show_part(part.r)}")
        elif isinstance(part, Capacitor):
            said.append(f"replace {name} ({show_part(part.c, Dimension.FARAD)})")
        elif isinstance(part, Winding):
            said.append(f"bring {name} back to {show_part(part.v_rms, Dimension.VOLT_AC)}")
        elif isinstance(part, Supply):
            said.append(f"bring {name} back to {show_part(part.v, Dimension.VOLT)}")
        elif isinstance(part, Zener):
            said.append(f"replace {name} ({show_part(part.v_zener, Dimension.VOLT)})")
        else:
            said.append(f"replace {name}")
    return listed(said)


EFFORTS = {
    Kind.RESTORE: "replaces a part",
    Kind.STRAP: "no unsoldering",
    Kind.STRAP_POT: "no unsoldering",
    Kind.RESISTOR: "replaces a part",
    Kind.SERIES: "frees a lug",
    Kind.POT: "replaces a pot",
}
"""What the work asks for."""


def effort_words(way: Way) -> str:
    """What the work asks for: "no unsoldering, 4 times"."""
    times = len(way.parts)
    return EFFORTS[way.kind] + (f", {times} times" if times > 1 else "")


def short_words(circuit: Circuit, way: Way, before: Way | None = None) -> str:
    """A way for a table: "100k across R3", "R3: 22k"."""
    if before is not None:
        return f"{short_words(circuit, before)}, {short_words(circuit, way)}"
    if way.kind is Kind.RESTORE:
        return restore_words(circuit, way.parts)
    parts = _short_names(way.parts)
    return _SHORT[way.kind].format(r=show_part(way.r), end=way.end, parts=parts)


def _short_names(names: Sequence[str]) -> str:
    return f"each {names[0]}-{names[-1]}" if len(names) > 2 else listed(names)
