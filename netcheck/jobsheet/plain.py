"""Parts and what is wrong with them, in words for who knows nothing of circuits."""

from __future__ import annotations

from collections.abc import Sequence

from ..diagnose.suspects import Suspect
from ..diagnose.words import listed
from ..netlist import Circuit, Part
from ..readout.model import is_undrawn
from .tables import capital

PLAIN = {
    "resistor": "resistor",
    "pot": "adjusting control",
    "capacitor": "capacitor",
    "electrolytic": "capacitor",
    "diode": "diode",
    "zener": "diode",
    "winding": "transformer winding",
    "supply": "supply",
    "valve": "output valve",
    "link": "connection",
}
_HOW = {
    ("resistor", "low"): "has less than its proper value",
    ("resistor", "high"): "has more than its proper value",
    ("resistor", "open"): "is broken",
    ("resistor", "short"): "is bridged",
    ("resistor", "bad contact"): "makes bad contact",
    ("capacitor", "leaky"): "leaks current",
    ("capacitor", "short"): "has broken down",
    ("capacitor", "broken down"): "has broken down",
    ("capacitor", "dried out"): "has dried out",
    ("capacitor", "reversed"): "is fitted the wrong way round",
    ("pot", "wired the other way"): "is wired the wrong way round",
    ("pot", "wiper lifted"): "makes no contact any more",
    ("pot", "low"): "is not of the proper value",
    ("pot", "high"): "is not of the proper value",
    ("diode", "leaky"): "leaks current",
    ("diode", "short"): "has broken down",
    ("diode", "broken down"): "has broken down",
    ("diode", "open"): "is broken",
    ("winding", "low"): "gives less than it should",
    ("winding", "high"): "gives more than it should",
    ("winding", "no volts"): "gives nothing",
    ("winding", "open"): "is broken",
    ("valve", "draws grid current"): "is worn, or something beside it leaks",
}
SET = "the part of the amplifier that sets how hard its output valves work"
"""What the bias section is called."""


def kind_of(part: Part | None) -> str:
    """What a part is: "resistor"."""
    return "part" if part is None else PLAIN.get(part.kind, part.kind)


def named(part: Part | None, name: str) -> str:
    """A part with what it is: "the resistor R3"."""
    if part is not None:
        return f"the {kind_of(part)} {name}"
    if name == "mains":
        return "the mains voltage"
    if is_undrawn(name):
        return "a leak between two points that should not be connected"
    return f"the {name}" if name.startswith("meter ") else name


def suspected(circuit: Circuit, suspect: Suspect) -> str:
    """What may be at fault: "the resistor R3"."""
    return parts_words(circuit, suspect.parts)


def parts_words(circuit: Circuit, parts: Sequence[str]) -> str:
    """Parts with what they are: "the resistor R3 and the pot RV1"."""
    return listed([named(circuit.part(name), name) for name in parts])


def fault_words(circuit: Circuit, suspect: Suspect) -> str:
    """What is wrong, a sentence.

    Parameters
    ----------
    circuit : Circuit
        As drawn.
    suspect : Suspect
        What is at fault for certain.
    """
    hypothesis = suspect.mode.hypothesis
    if hypothesis.reading is not None:
        return f"Nothing seems wrong in {SET}; one measurement has to be taken again."
    if len(suspect.parts) > 1:
        return f"{capital(suspected(circuit, suspect))} are not of their proper value."
    (name,) = suspect.parts
    part = circuit.part(name)
    if is_undrawn(name):
        return ("Current leaks between two points that should not be connected, as dirt, damp or "
                "heat make it.")  # fmt: skip
    if part is None:
        return f"{capital(named(None, name))} is not as it should be."
    how = _HOW.get((part.kind, hypothesis.mode), "is worn or of the wrong kind")
    return f"{capital(named(part, name))} {how}."
