"""Searches that begin where those for circuits nearby have ended.

What makes a circuit near is how many of its values differ, and by how much: a pot that is
turned to its end counts no more than any other value that is quite another one. Where all
sources differ alike, all voltages are guessed to.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import numpy as np

from .elements import (
    Capacitance,
    DcSource,
    Element,
    Elements,
    Floats,
    Junction,
    Resistance,
    SineSource,
    Slope,
    SteadyState,
)
from .steady import Problem

_MOST = 64  # circuits remembered: to look through more takes as long as it saves
_ANOTHER = 1.0  # difference of logarithms that makes a value another one [1]
_LEAST = 1e-30  # of any value [SI]
_ALIKE = 1e-6  # difference between the shares of sources that were turned up together [1]


class Neighbours:
    """Circuits much like each other, of which steady states have been found."""

    def __init__(self) -> None:
        self._names: dict[str, int] = {}
        self._values = np.empty((0, 0))
        self._found: list[tuple[Mapping[str, float], SteadyState]] = []
        self._known: dict[tuple[Element, ...], SteadyState] = {}
        self._slope: Slope | None = None

    @property
    def any(self) -> bool:
        """Whether a search has been seen to its end."""
        return bool(self._found)

    def note(self, circuit: Elements, state: SteadyState) -> None:
        """Remember what was found."""
        if self._slope is None:
            self._slope = state.slope
        if not state.converged or len(self._found) >= _MOST:
            return
        row = self._row(circuit)
        wider = np.full((len(self._found), row.size), np.nan)
        wider[:, : self._values.shape[1]] = self._values
        self._values = np.vstack([wider, row])
        self._found.append((_sources(circuit), state))
        self._known[tuple(circuit)] = state

    def known(self, circuit: Elements) -> SteadyState | None:
        """What was found for this very circuit."""
        return self._known.get(tuple(circuit))

    def problem(self, circuit: Elements, frequency: float | None, *,
                patient: bool = True) -> Problem:  # fmt: skip
        """The search for another one; see `Problem`.

        The first is asked for its slope, which shortens the search for the rest.
        """
        return Problem(circuit, frequency, self._start(circuit), patient=patient,
                       slope=self._slope, slope_wanted=self._slope is None)  # fmt: skip

    def _start(self, circuit: Elements) -> Mapping[str, float]:
        """Capacitor voltages of the nearest one, in proportion to the sources. [V]"""
        if not self._found:
            return {}
        row = self._row(circuit)
        known = self._values.shape[1]
        apart = np.abs(self._values - row[:known])
        missing = np.isnan(self._values) != np.isnan(row[:known])
        apart = np.where(missing, _ANOTHER, np.minimum(np.nan_to_num(apart), _ANOTHER))
        sources, state = self._found[int(apart.sum(axis=1).argmin())]
        share = _share(sources, _sources(circuit))
        return {name: v * share for name, v in state.start.items()}

    def _row(self, circuit: Elements) -> Floats:
        """Logarithms of a circuit's values, in columns by name."""
        values = dict(_values(circuit))
        for name in values:
            self._names.setdefault(name, len(self._names))
        row = np.full(len(self._names), np.nan)
        for name, value in values.items():
            # What is no value at all is refused later, in words.
            row[self._names[name]] = math.log(max(value, _LEAST))
        return row


def _values(circuit: Elements) -> Iterator[tuple[str, float]]:
    """What the state depends on but the voltages of sources."""
    for one in circuit:
        match one:
            case Resistance():
                yield one.name, one.r
            case Capacitance():
                yield one.name, one.c
            case Junction():
                yield one.name, one.i_s


def _share(before: Mapping[str, float], now: Mapping[str, float]) -> float:
    """By how much all sources differ; 1 where they differ by different shares. [1]"""
    shares = {now[name] / v for name, v in before.items() if v and name in now}
    return max(shares) if shares and max(shares) - min(shares) <= _ALIKE else 1.0


def _sources(circuit: Elements) -> dict[str, float]:
    """Voltage of each source by its name. [V]"""

    def volts(one: Element) -> float | None:
        match one:
            case SineSource():
                return one.v_peak
            case DcSource():
                return one.v
        return None

    return {one.name: v for one in circuit if (v := volts(one)) is not None}
