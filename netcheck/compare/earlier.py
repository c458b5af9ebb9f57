"""The circuit as it was before a repair, from the one after it and the values that were off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ..changes import read_changes
from ..errors import InputError
from ..netlist import Capacitor, Circuit, Part, Pot, Resistor, Supply, Winding, Zener

R_OPEN = 1e9
"""What stands for a resistor that is open; the bias section knows nothing larger. [ohm]"""


def earlier(circuit: Circuit, texts: Sequence[str]) -> Circuit:
    """A circuit with the values that its parts had before.

    Parameters
    ----------
    circuit : Circuit
        After the repair.
    texts : sequence of str
        Each a part and what it was: "R3=20.2k", "R6=open".

    Raises
    ------
    InputError
        For a part that does not exist, and a value that does not fit.
    """
    for text in texts:
        name, _, value = text.partition("=")
        part = circuit.part(name.strip())
        if isinstance(part, Resistor) and value.strip().lower() == "open":
            circuit = _with(circuit, _valued(part, R_OPEN))
            continue
        for parameter, x in read_changes(circuit, [text]).items():
            part = circuit.part(parameter)
            if part is None:
                raise InputError(f'"{text}": only the values of parts can be given here; write the '
                                 "circuit as it was into a file, for --before")  # fmt: skip
            circuit = _with(circuit, _valued(part, x))
    return circuit


def _with(circuit: Circuit, part: Part) -> Circuit:
    return replace(circuit, parts=tuple(part if p.name == part.name else p for p in circuit.parts))


def _valued(part: Part, x: float) -> Part:
    match part:
        case Resistor():
            return replace(part, r=x, bands=())
        case Pot():
            return replace(part, r=x)
        case Capacitor():
            return replace(part, c=x)
        case Winding():
            return replace(part, v_rms=x)
        case Supply():
            return replace(part, v=x)
        case Zener():
            return replace(part, v_zener=x)
    raise InputError(f"{part.name} is a part that has no value to change")
