"""Which way each part moves the grids: computed, part by part.

What lies behind the rectifier takes the fast path; the rest is simulated whole.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeAlias

from .model import Value
from .netlist import Pot, Resistor, Supply, Winding, Zener
from .predictor import Predictor
from .tolerance import one_at_a_time, parameters_in_front

_Moves: TypeAlias = dict[str, dict[str, float]]

STEP = 0.10
"""Each value is raised by this share. [1]"""


def effects(predictor: Predictor) -> dict[str, dict[str, float]]:
    """Change of each watched node when the value of a part is raised by `STEP`.

    Parameters
    ----------
    predictor : Predictor
        Of the section; the pots stand at the middle.

    Returns
    -------
    dict of part name to dict of node to float
        For every resistor, pot, winding, supply and zener. Negative where the node goes more
        negative. [V]

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    section, base = predictor.section, predictor.values()
    parts = [part.name for part in section.circuit.parts
             if isinstance(part, Resistor | Pot | Winding | Supply | Zener)]  # fmt: skip
    front = parameters_in_front(section, parts) & set(parts)
    found = _by_simulation(predictor, base, [name for name in parts if name in front])
    found |= _behind(predictor, base, [name for name in parts if name not in front])
    return {name: found[name] for name in parts}


def _by_simulation(predictor: Predictor, base: Mapping[str, Value], parts: Sequence[str]) -> _Moves:
    """What the parts in front of the rectifiers' ports do: simulated whole."""
    if not parts:
        return {}
    raised = [{**base, name: base[name] * (1.0 + STEP)} for name in parts]
    first, *rest = predictor.wholes([(values, ()) for values in [base, *raised]])
    return {
        name: {node: answer.mean[node] - first.mean[node] for node in predictor.section.watched}
        for name, answer in zip(parts, rest, strict=True)
    }


def _behind(predictor: Predictor, base: Mapping[str, Value], parts: Sequence[str]) -> _Moves:
    """What the parts behind them do: by the fast path, which lets the port's voltage give way."""
    if not parts:
        return {}
    raised = one_at_a_time(base, dict.fromkeys(parts, STEP))
    means = predictor.means(raised, len(parts) + 1)
    watched = {node: means.at(predictor.section.joined[node]) for node in predictor.section.watched}
    return {
        name: {node: float(v[k] - v[0]) for node, v in watched.items()}
        for k, name in enumerate(parts, start=1)
    }
