"""Changes to a circuit typed on the command line: "R3=33k", "RV1=30%", "240"."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from .assumed import comes_with
from .errors import InputError
from .model import nominal_values
from .netlist import Capacitor, Circuit, Part, Pot, Supply, Winding, Zener
from .quantity import Dimension, ValueProblem, read

_SUFFIXES = {
    "esr": Dimension.OHM,
    "leak": Dimension.OHM,
    "source": Dimension.OHM,
    "end": Dimension.OHM,
    "series": Dimension.OHM,
    "drop": Dimension.VOLT,
}
_LIMITS = {
    Dimension.OHM: (1e-3, 1e12),
    Dimension.FARAD: (1e-12, 1.0),
    Dimension.VOLT: (1e-3, 5e3),
    Dimension.VOLT_AC: (1e-3, 5e3),
}


def read_changes(circuit: Circuit, texts: Iterable[str]) -> dict[str, float]:
    """Values that are to differ from what is drawn.

    Parameters
    ----------
    circuit : Circuit
        The circuit.
    texts : iterable of str
        Each a part's name and a value, "R3=33k" or "C1=22u"; or a parameter of a part,
        "C1.leak=100k", "C1.esr=20 ohm", "T1.source=80 ohm".

    Returns
    -------
    dict of parameter name to float
        In SI units.

    Raises
    ------
    InputError
        For a part that does not exist or a value that does not fit.
    """
    known = _parameters(circuit)
    changes: dict[str, float] = {}
    for text in texts:
        name, equals, value = text.partition("=")
        name = name.strip()
        if not equals or not value.strip():
            raise InputError(f'"{text}" is no change; write a name and a value, such as R3=33k')
        if name not in known:
            raise InputError(f'"{text}": {_unknown(circuit, name, known)}')
        changes[name] = _value(text, value.strip(), known[name])
    for part in circuit.parts:
        if part.name in changes:  # unless that was said too
            changes = comes_with(part, changes[part.name]) | changes
    return changes


def _parameters(circuit: Circuit) -> dict[str, Dimension]:
    """Every parameter that may be changed, with its dimension."""
    named = [name for name in nominal_values(circuit) if name != "mains"]
    for capacitor in circuit.of(Capacitor):
        named += [f"{capacitor.name}.leak", f"{capacitor.name}.esr"]
    known: dict[str, Dimension] = {}
    for name in named:
        part = circuit.part(name)
        suffix = name.rpartition(".")[2]
        if part is not None:
            known[name] = _dimension(part)
        elif suffix in _SUFFIXES:
            known[name] = _SUFFIXES[suffix]
    return known


def _dimension(part: Part) -> Dimension:
    if isinstance(part, Capacitor):
        return Dimension.FARAD
    if isinstance(part, Winding):
        return Dimension.VOLT_AC
    return Dimension.VOLT if isinstance(part, Supply | Zener) else Dimension.OHM


def _unknown(circuit: Circuit, name: str, known: Iterable[str]) -> str:
    if circuit.part(name) is not None:
        return f"{name} is a part that has no value to change"
    near = difflib.get_close_matches(name, list(known), n=1, cutoff=0.5)
    hint = f'; did you mean "{near[0]}"?' if near else ""
    return f'there is no part "{name}" in the circuit{hint}'


def _value(text: str, value: str, dimension: Dimension) -> float:
    try:
        quantity = read(value)
        if dimension is Dimension.VOLT_AC and quantity.dimension is Dimension.VOLT:
            return quantity.as_(Dimension.VOLT).nominal
        nominal = quantity.as_(dimension).nominal
    except ValueProblem as problem:
        raise InputError(f'"{text}": {problem}') from None
    low, high = _LIMITS[dimension]
    if not low <= nominal <= high:
        raise InputError(f'"{text}": the value is outside of what a part can have')
    return nominal


def read_positions(circuit: Circuit, texts: Iterable[str]) -> tuple[float | None, dict[str, float]]:
    """Where pots stand: "30%" for those that are swept, "RV2=30%" for one.

    Returns
    -------
    float or None
        The position without a name. [1]
    dict of pot name to float
        Those with one. [1]

    Raises
    ------
    InputError
        For a pot that does not exist or a position off the track.
    """
    bare, named = None, {}
    pots = [pot.name for pot in circuit.of(Pot)]
    for text in texts:
        name, equals, value = text.rpartition("=")
        position = _position(text, value.strip())
        if not equals:
            bare = position
        elif name.strip() in pots:
            named[name.strip()] = position
        else:
            near = difflib.get_close_matches(name.strip(), pots, n=1, cutoff=0.3)
            hint = f'; did you mean "{near[0]}"?' if near else ""
            raise InputError(f'"{text}": there is no pot "{name.strip()}" in the circuit{hint}')
    return bare, named


_POSITIONS = {
    **dict.fromkeys(("clockwise", "cw"), 1.0),
    **dict.fromkeys(("anticlockwise", "acw", "counterclockwise", "ccw"), 0.0),
    **dict.fromkeys(("middle", "mid", "centre", "center"), 0.5),
}
"""The words for a position, those of `grammars/readings.lark`. [1]"""


def _position(text: str, value: str) -> float:
    if (word := value.lower()) in _POSITIONS:
        return _POSITIONS[word]
    try:
        position = read(value).as_(Dimension.PERCENT).nominal
    except ValueProblem as problem:
        raise InputError(f'"{text}": {problem}') from None
    if not 0.0 <= position <= 1.0:
        raise InputError(f'"{text}": the travel of a pot goes from 0% to 100%')
    return position


def read_single(text: str, dimension: Dimension, low: float, high: float, noun: str) -> float:
    """One value for an option, such as the mains voltage.

    Raises
    ------
    InputError
        If it cannot be read, does not fit, or lies outside of `low` to `high`.
    """
    try:
        quantity = read(text)
        if dimension is Dimension.VOLT and quantity.dimension is Dimension.VOLT_AC:
            nominal = quantity.as_(Dimension.VOLT_AC).nominal
        elif quantity.dimension is None and not quantity.prefix:
            nominal = float(quantity.exact)
        else:
            nominal = quantity.as_(dimension).nominal
    except ValueProblem as problem:
        raise InputError(f'"{text}": {problem}') from None
    if not low <= nominal <= high:
        raise InputError(f'"{text}" is no believable {noun}')
    return nominal
