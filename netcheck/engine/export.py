"""The deck that is run, for anyone to repeat with ngspice alone.

Importing this module imports PySpice: do so only where a deck is exported.
"""

from __future__ import annotations

from collections.abc import Iterable

from .deck import build, number
from .elements import GROUND, Elements, SineSource, SteadyState
from .preflight import check
from .steady import STEPS_PER_CYCLE


def export_deck(
    elements: Elements,
    frequency: float | None,
    steady: SteadyState,
    *,
    heading: Iterable[str] = (),
    steps_per_cycle: int = STEPS_PER_CYCLE,
) -> str:
    """Write the deck of a circuit in its steady state.

    `ngspice -b FILE` then simulates one period and prints the mean voltage of every node;
    where nothing alternates, it prints the state of rest.

    Parameters
    ----------
    elements : sequence of Element
        The circuit.
    frequency : float or None
        Frequency of its sine sources; may be None when there are none. [Hz]
    steady : SteadyState
        Its steady state.
    heading : iterable of str
        Lines of comment for the top, such as the name of the file it came from.
    steps_per_cycle : int
        The largest time step is the period divided by this. [count]

    Returns
    -------
    str
        Plain ASCII.

    Raises
    ------
    EngineError
        When the circuit cannot be simulated, with one sentence saying why.
    """
    check(elements, frequency)
    deck = build(elements, frequency)
    initial = {node: float(v[0]) for node, v in steady.waves.v.items()}
    title, *body, end = deck.text(steady.start, initial).splitlines()
    nodes = {short: node for node, short in deck.nodes.items() if node != GROUND}
    comments = [_comment(line) for line in heading]
    comments += [_comment(f"{short} is node {node}") for short, node in nodes.items()]
    comments += [_comment(f"{short} is {name}") for name, short in deck.elements.items()]
    if frequency is not None and any(isinstance(element, SineSource) for element in elements):
        analysis = _period(1.0 / frequency, steps_per_cycle, list(nodes))
    else:
        analysis = [".op"]
    return "\n".join([title, *comments, *body, *analysis, end, ""])


def _period(period: float, steps_per_cycle: int, nodes: list[str]) -> list[str]:
    """One period from the initial voltages, and the means over it."""
    step = number(period / steps_per_cycle)
    end = number(period)
    run = f".tran {step} {end} 0 {step} uic"
    return [run, *(f".meas tran mean_{n} avg v({n}) from=0 to={end}" for n in nodes)]


def _comment(text: str) -> str:
    """One line of comment out of any text.

    The text begins behind a blank, so that it cannot become a command ("*#"), and holds
    nothing that ends a line.
    """
    plain = "".join(c if c.isprintable() else "?" for c in text[:200])
    return "* " + plain.encode("ascii", "backslashreplace").decode("ascii")
