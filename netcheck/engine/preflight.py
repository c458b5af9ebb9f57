"""What a simulator would answer with nonsense, a crash or a hang, refused beforehand.

Every refusal is one sentence that names the element or node as the user typed it.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping

from ..errors import EngineError
from .elements import (
    GROUND,
    Capacitance,
    CurrentSource,
    DcSource,
    Element,
    Elements,
    Junction,
    Resistance,
    SineSource,
    terminals,
)
from .forest import Forest

MOST_ELEMENTS = 1000
"""More than any bias section has by far; keeps the memory of a run bounded. [count]"""

STEPS_PER_CYCLE = (20, 20_000)
"""Bounds of the time steps per period. [count]"""

FREQUENCY = (1.0, 100e3)
"""Bounds of the frequency. [Hz]"""

V_MOST = 10e3
"""Largest source or capacitor voltage. [V]"""

# (field, least, most, words for the bounds); ngspice turns 0 ohm into 1 milliohm without a
# word, so nothing below that may reach it.
_BOUNDS: dict[type, tuple[tuple[str, float, float, str], ...]] = {
    Resistance: (("r", 1e-3, 1e12, "0.001 ohm to 1 Tohm"),),
    Capacitance: (("c", 1e-15, 1.0, "1 fF to 1 F"),),
    SineSource: (("v_peak", -V_MOST, V_MOST, "-10 kV to 10 kV"),),
    DcSource: (("v", -V_MOST, V_MOST, "-10 kV to 10 kV"),),
    CurrentSource: (("i", -1e3, 1e3, "-1 kA to 1 kA"),),
    Junction: (
        ("i_s", 1e-30, 1.0, "1e-30 A to 1 A"),
        ("n", 1e-3, 1e3, "0.001 to 1000"),
        ("r_s", 0.0, 1e9, "0 ohm to 1 Gohm"),
        ("c_j", 0.0, 1e-3, "0 F to 1 mF"),
    ),
}

_FIELDS = {
    "r": "resistance",
    "c": "capacitance",
    "v_peak": "peak voltage",
    "v": "voltage",
    "i": "current",
    "i_s": "saturation current",
    "n": "emission coefficient",
    "r_s": "series resistance",
    "c_j": "junction capacitance",
}


def shown(name: str) -> str:
    """A name as typed, in quotes, fit for a message: one line, printable, not too long."""
    text = "".join(c if c.isprintable() else "?" for c in str(name))
    return f'"{text if len(text) <= 60 else text[:57] + "..."}"'


def check(elements: Elements, frequency: float | None) -> None:
    """Refuse what must not reach a simulator.

    Parameters
    ----------
    elements : sequence of Element
        The circuit.
    frequency : float or None
        Frequency of its sine sources; may be None when there are none. [Hz]

    Raises
    ------
    EngineError
        With one sentence naming the element or node at fault.
    """
    if not elements:
        raise EngineError("there is nothing to simulate: no part joins two different nodes")
    if len(elements) > MOST_ELEMENTS:
        raise EngineError(f"a circuit of {len(elements)} elements is too large to simulate")
    _check_names(elements)
    for element in elements:
        _check_bounds(element)
    _check_frequency(elements, frequency)
    _check_sources(elements)
    _check_ground(elements)


def check_start(elements: Elements, start: Mapping[str, float]) -> None:
    """Refuse initial capacitor voltages that are no voltages or belong to no capacitor.

    Parameters
    ----------
    elements : sequence of Element
        The circuit, already checked.
    start : mapping of capacitance name to float
        Capacitor voltages to start from. [V]

    Raises
    ------
    EngineError
        With one sentence naming the capacitor.
    """
    known = {element.name for element in elements if isinstance(element, Capacitance)}
    for name, v in start.items():
        if name not in known:
            raise EngineError(f"there is no capacitor {shown(name)} to start from")
        _within(v, -V_MOST, V_MOST, f"the starting voltage of {shown(name)}", "-10 kV to 10 kV")


def check_steps(steps_per_cycle: int) -> None:
    """Refuse a time step that is absurd.

    Parameters
    ----------
    steps_per_cycle : int
        Largest time step, as a fraction of the period: one part in so many. [count]

    Raises
    ------
    EngineError
        When it is out of bounds.
    """
    least, most = STEPS_PER_CYCLE
    _within(steps_per_cycle, least, most, "the number of time steps", f"{least} to {most}")


def _check_names(elements: Elements) -> None:
    for name, count in Counter(element.name for element in elements).items():
        if count > 1:
            raise EngineError(f"the name {shown(name)} is used for {count} parts")


def _check_bounds(element: Element) -> None:
    for field, least, most, words in _BOUNDS[type(element)]:
        what = f"the {_FIELDS[field]} of {shown(element.name)}"
        _within(getattr(element, field), least, most, what, words)


def _within(value: object, least: float, most: float, what: str, words: str) -> None:
    """Refuse what is no number, not finite or out of bounds."""
    try:
        # Text that looks like a number is none; numpy's numbers are.
        number = float("x" if isinstance(value, str | bytes) else value)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        raise EngineError(f"{what} is not a number") from None
    if not math.isfinite(number):
        raise EngineError(f"{what} is not a finite number")
    if not least <= number <= most:
        raise EngineError(f"{what} is {number:.6g}; what can be simulated is {words}")


def _check_frequency(elements: Elements, frequency: float | None) -> None:
    if frequency is None:
        for element in elements:
            if isinstance(element, SineSource):
                raise EngineError(f"the frequency of {shown(element.name)} is not given")
        return
    _within(frequency, *FREQUENCY, "the frequency", "1 Hz to 100 kHz")


def _check_sources(elements: Elements) -> None:
    """Ideal sources in a loop have no answer, or any current for one."""
    forest = Forest()
    for element in elements:
        if isinstance(element, SineSource | DcSource):
            if element.a == element.b:
                raise EngineError(
                    f"both ends of the source {shown(element.name)} are at node {shown(element.a)}"
                )
            if not forest.join(element.a, element.b):
                raise EngineError(
                    f"the source {shown(element.name)} is in parallel with another source, "
                    "or closes a loop of sources, with no resistance between"
                )


def _check_ground(elements: Elements) -> None:
    """Every node must have a way for direct current to ground."""
    forest = Forest()
    nodes: dict[str, None] = {}
    for element in elements:
        a, b = terminals(element)
        nodes.update({a: None, b: None})
        if not isinstance(element, Capacitance | CurrentSource):
            forest.join(a, b)
    if GROUND not in nodes:
        raise EngineError(f"no part is connected to {shown(GROUND)}")
    for node in nodes:
        if forest.root(node) != forest.root(GROUND):
            raise EngineError(
                f"node {shown(node)} floats: no path for direct current leads from it to ground"
            )
