"""Why turning a knob does nothing to the grids."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..engine.elements import Floats
from ..errors import EngineError
from ..netlist import OPEN, Capacitor, Link, Part, Pot, Resistor, Tremolo, Winding
from ..partwork import part_work
from ..predictor import Predictor
from ..quantity import Dimension, show, show_part
from ..roles import Role, roles
from .knob import Knob, Way, state_of, terminals
from .study import FLAT

_ADJECTIVES = (Role.RETURN, Role.BACK_BIAS, Role.SERIES, Role.FOOT, Role.WIPER_SAFETY,
               Role.WIPER_LOAD, Role.FEED)  # fmt: skip
NO_CURRENT = 1e-8
"""A smaller current is none: across a megohm it makes 10 mV. [A]"""

NO_VOLTS = 0.01
"""Fewer are none: the last digit of a bench meter on its 20 V range. [V]"""

_DRASTIC = (0.1, 10.0)
"""What shows whether a part acts at all, as shares of what is fitted. [1]"""
_DRASTIC_ACROSS = 1e3
"""The same across what has no resistance of its own. [ohm]"""


def why_nothing(predictor: Predictor, knob: Knob, swept: Sequence[str]) -> str:
    """Why a part does not act on the grids, as a sentence without its full stop.

    Parameters
    ----------
    predictor : Predictor
        Of the section.
    knob : Knob
        What was turned in vain.
    swept : sequence of str
        The pots that were turned together, the others standing in the middle.

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    part = knob.part
    ends = _ends(predictor, knob)
    said = f"{part.name} does not act on the grids"
    if isinstance(part, Link):
        return f"{said}: it is a link, which shorts a resistor across it"
    if ends[0] == ends[1]:
        return f"{said}: both its ends are on one node"
    if OPEN in ends:
        return f"{said}: its ends are left open"
    if isinstance(part, Tremolo):
        return f"{said}: it alternates, and its mean is zero"
    value, moved = _drastically(predictor, knob, swept)
    if moved > FLAT:
        way = " across it" if knob.way is Way.ACROSS else ""
        return (f"{said} with these values: it takes others, such as "
                f"{show_part(value, knob.dimension)}{way}, which moves one by "
                f"{show(moved, Dimension.VOLT)}")  # fmt: skip
    role = roles(predictor.section).get(part.name, Role.OTHER)
    is_called = f"it is a {_noun(part, role)}; " if role is not Role.OTHER else ""
    return f"{said}: {is_called}{_why(predictor, knob, ends, swept)}"


def _ends(predictor: Predictor, knob: Knob) -> tuple[str, str]:
    """The nodes that a part joins, links seen through."""
    first, last = map(predictor.section.at, terminals(knob.part))
    return first, last


def _drastically(predictor: Predictor, knob: Knob, swept: Sequence[str]) -> tuple[float, float]:
    """A value that would be drastic, and how far it moves a grid. [SI unit], [V]"""
    fitted = knob.fitted
    values = [_DRASTIC_ACROSS] if fitted is None else [share * fitted for share in _DRASTIC]
    if knob.way is Way.ACROSS:
        values = values[:1]
    before = _grids(predictor, knob, None, swept)
    if before is None:
        return values[0], 0.0
    moved = [0.0 if grids is None else float(np.abs(grids - before).max())
             for grids in (_grids(predictor, knob, value, swept) for value in values)]  # fmt: skip
    most = int(np.argmax(moved))
    return values[most], moved[most]


def _grids(predictor: Predictor, knob: Knob, value: float | None, swept: Sequence[str]
           ) -> Floats | None:  # fmt: skip
    """Grid volts at the ends and in the middle of the travel; None if not to be had. [V]"""
    changes, added = state_of(predictor, ((knob, value),))
    places = [predictor.values(dict.fromkeys(swept, at)) for at in (0.0, 0.5, 1.0)]
    answers = predictor.tries([(values | changes, added) for values in places], patient=False)
    whole = [answer for answer in answers if not isinstance(answer, EngineError)]
    if len(whole) < len(answers):
        return None
    return np.array([[one.mean[node] for node in predictor.section.watched] for one in whole])


def _noun(part: Part, role: Role) -> str:
    """A role as a noun: "grid leak", "feed resistor", "wiper smoothing capacitor"."""
    if isinstance(part, Capacitor):
        return f"{role.word} capacitor"
    return f"{role.word} resistor" if role in _ADJECTIVES else role.word


def _why(predictor: Predictor, knob: Knob, ends: tuple[str, str], swept: Sequence[str]) -> str:
    """What the simulation says of a part that could act."""
    part = knob.part
    if isinstance(part, Capacitor) and knob.way is Way.IN_PLACE:
        return ("no direct current flows through it; it acts on ripple and on how fast the bias "
                "comes up, not on the mean")  # fmt: skip
    if isinstance(part, Winding):
        return "its own resistance is small against such a load"
    values = predictor.values()
    state = predictor.whole(values).state
    work = part_work(predictor.section.circuit, values, state.waves)
    if isinstance(part, Resistor | Pot) and work[part.name].i_rms < NO_CURRENT:
        return "no direct current flows in it, so there are no volts across it"
    across = state.rms(*ends)
    if across < NO_VOLTS:
        middle = [pot.name for pot in predictor.pots() if pot.name not in swept]
        stands = f"with {', '.join(middle)} in the middle " if middle else ""
        return f"{stands}there are no volts across it"
    return (f"whatever becomes of the {show(across, Dimension.VOLT)} across it (pots in the "
            "middle) is not felt at a grid")  # fmt: skip
