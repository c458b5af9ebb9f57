"""Readings written down in a line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from netcheck.readings import Kind, Meter, Position, Reading, State

from ..chassis.chassis import DMM

YEAR = 2020
CLOCKWISE, ANTICLOCKWISE = Position(1.0), Position(0.0)
MIDDLE = Position(0.5, by_eye=True)


def volts(node: str, nominal: float, pots: Mapping[str, Position], turn: int = 0,
          meter: Meter = DMM) -> Reading:  # fmt: skip
    """Direct volts of a node against ground, to 0.1 V."""
    state = State(pots={pot: replace(at, turn=turn) for pot, at in pots.items()}, turn=turn)
    return Reading(Kind.DC, nominal, 0.1, state, meter, node, "ground")


def ohms(plus: str, minus: str, nominal: float, pots: Mapping[str, Position], part: str = "",
         meter: Meter = DMM) -> Reading:  # fmt: skip
    """A resistance with the power off, to 0.1 %."""
    state = State(live=False, pots=pots, turn=9, discharged=True)
    return Reading(Kind.OHMS, nominal, 1e-3 * nominal, state, meter, plus, minus, part)
