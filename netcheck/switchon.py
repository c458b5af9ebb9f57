"""How long the bias takes to come up after switching on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from .engine.elements import Floats, Waveforms
from .engine.steady import stretches
from .model import Values, elements
from .predictor import Predictor

LONGEST = 20.0
"""Simulated at the most; a bias that is slower is said to be slower than this. [s]"""
SHARE = 0.9
"""The bias counts as there when it has come this far. [1]"""
_PIECE = 10  # periods simulated before it is looked at: many a bias is up after no more [count]
_STEPS_PER_CYCLE = 60  # the envelope is wanted, not the shape of the current pulses


@dataclass(frozen=True, slots=True)
class SwitchOn:
    """The rise of the bias, output valves and high tension aside.

    Parameters
    ----------
    times : mapping of node to float or None
        When the node first comes to `SHARE` of its final mean; None if later than
        `LONGEST`. [s]
    """

    times: Mapping[str, float | None]


def switch_on(predictor: Predictor, values: Values, final: Mapping[str, float]) -> SwitchOn | None:
    """Simulate the switch-on of a section, all capacitors discharged.

    Parameters
    ----------
    predictor : Predictor
        Of the section.
    values : mapping of str to float
        The state.
    final : mapping of node to float
        The watched nodes and the means they settle at. [V]

    Returns
    -------
    SwitchOn or None
        None for a section without mains, whose supply is not drawn.

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    frequency = predictor.frequency
    if frequency is None or not final:
        return None
    at = predictor.section.joined
    waiting = {node: v for node, v in final.items() if abs(v) > 1e-3}
    times: dict[str, float | None] = dict.fromkeys(final)
    for waves in stretches(elements(predictor.section.circuit, values), frequency, LONGEST,
                           service=predictor.service, steps_per_cycle=_STEPS_PER_CYCLE,
                           cycles=_PIECE):  # fmt: skip
        for node in list(waiting):
            reached = _reached(waves, waves.v[at[node]], waiting[node])
            if reached is not None:
                times[node] = reached
                del waiting[node]
        if not waiting:
            break
    return SwitchOn(times)


def _reached(waves: Waveforms, wave: Floats, final: float) -> float | None:
    """When a wave first comes to `SHARE` of its final mean. [s]"""
    there = np.nonzero(wave * np.sign(final) >= SHARE * abs(final))[0]
    return float(waves.t[there[0]]) if there.size else None
