"""The part of the first remedy."""

from __future__ import annotations

from collections.abc import Iterator

from ..netlist import Pot, Resistor
from ..remedy.study import Remedies
from ..remedy.ways import Kind
from ..remedy.words import way_words
from .found import ONCE_FOUND
from .needs import Need, Reason
from .purchase import of_resistance


def remedied_needs(found: Remedies) -> Iterator[Need]:
    """What the first remedy takes, where one is needed.

    Parameters
    ----------
    found : Remedies
        All that could be done.
    """
    if not found.is_needed or not found.options:
        return
    best = found.options[0]
    assert best.way is not None
    if best.way.kind is Kind.RESTORE:
        return  # the part is named by the diagnosis
    told = way_words(found.start.drawn, best.way, best.before)
    middle = best.figures.middle
    if middle is not None:
        told += f"; the middle of the window then falls at {middle * 100:.0f} % of the travel"
    why = Reason(told, "simulation")
    condition = "" if found.start.is_certain else ONCE_FOUND
    for bought in best.buys:
        part = best.circuit.part(bought.name)
        if isinstance(part, Resistor | Pot):
            yield Need(bought.name, of_resistance(bought, part), why, condition,
                       is_own_value=True)  # fmt: skip


def remedied_remarks(found: Remedies) -> Iterator[str]:
    """What there is to say where no part helps."""
    if found.is_needed and not found.options:
        yield from found.obstacle or ("No single part brings the idle current wanted into the "
                                      "travel: see netcheck remedy.",)  # fmt: skip
