"""Searches that begin where those for circuits nearby have ended.

What makes a circuit near is how many of its values differ, and by how much: a pot that is
turned to its end counts no more than any other value that is quite another one. Where all
sources differ alike, all voltages are guessed to.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from ..errors import EngineError
from .elements import (
    Capacitance,
    DcSource,
    Element,
    Elements,
    Floats,
    Junction,
    Resistance,
    SineSource,
    SteadyState,
)
from .service import Service
from .steady import Problem, attempts

_MOST = 64  # circuits remembered: to look through more takes as long as it saves
_ANOTHER = 1.0  # difference of logarithms that makes a value another one [1]
_LEAST = 1e-30  # of any value [SI]
_ALIKE = 1e-6  # difference between the shares of sources that were turned up together [1]


class Neighbours:
    """Circuits much like each other, of which steady states have been found."""

    def __init__(self) -> None:
        self._found: dict[tuple[Element, ...], SteadyState] = {}
        self._names: dict[str, int] = {}
        self._values = np.empty((0, 0))  # a row for each that was found

    def attempts(
        self,
        circuits: Sequence[Elements],
        frequency: float | None,
        *,
        service: Service,
        patient: bool = True,
        every: bool = False,
    ) -> list[SteadyState | EngineError]:
        """Find steady states; with none known as yet the first alone, to shorten the rest.

        Parameters
        ----------
        circuits : sequence of sequence of Element
            The circuits.
        frequency : float or None
            Frequency of their sine sources. [Hz]
        service : Service
            Who simulates.
        patient : bool
            Whether to wait for those that are hard to find; the first always is waited for.
        every : bool
            Whether they are of use together only, see `steady.attempts`; then after a first one
            that fails there is no other.

        Returns
        -------
        list of SteadyState or EngineError
            In the order of the circuits.

        Raises
        ------
        EngineError
            When a circuit is refused before it is simulated.
        """
        answers: list[SteadyState | EngineError] = []
        if not self._found and circuits:
            answers = self._sought(circuits[:1], frequency, service, patient=True, every=every)
            if every and isinstance(answers[0], EngineError):
                return answers
        rest = circuits[len(answers) :]
        return answers + self._sought(rest, frequency, service, patient=patient, every=every)

    def _sought(self, circuits: Sequence[Elements], frequency: float | None, service: Service,
                *, patient: bool, every: bool) -> list[SteadyState | EngineError]:  # fmt: skip
        """Those that are known, and the others each from the nearest of them."""
        new = [one for one in dict.fromkeys(map(tuple, circuits)) if one not in self._found]
        problems = [self.problem(one, frequency, patient=patient) for one in new]
        found = dict(zip(new, attempts(problems, service=service, every=every), strict=True))
        for circuit, state in found.items():
            if isinstance(state, SteadyState):
                self.note(circuit, state)
        known = {**self._found, **found}
        return [known[tuple(one)] for one in circuits]

    def note(self, circuit: Elements, state: SteadyState) -> None:
        """Remember what was found, if that is settled and there is room."""
        if not state.converged or len(self._found) >= _MOST or tuple(circuit) in self._found:
            return
        row = self._row(circuit)
        wider = np.full((len(self._found), row.size), np.nan)
        wider[:, : self._values.shape[1]] = self._values
        self._values = np.vstack([wider, row])
        self._found[tuple(circuit)] = state

    def problem(self, circuit: Elements, frequency: float | None, *,
                patient: bool = True) -> Problem:  # fmt: skip
        """The search for another one; see `Problem`.

        The first is asked for its slope, which shortens the search for the rest.
        """
        slopes = (state.slope for state in self._found.values() if state.slope is not None)
        slope = next(slopes, None)
        return Problem(circuit, frequency, self._start(circuit), patient=patient,
                       slope=slope, slope_wanted=slope is None)  # fmt: skip

    def _start(self, circuit: Elements) -> Mapping[str, float]:
        """Capacitor voltages of the nearest one, in proportion to the sources. [V]"""
        if not self._found:
            return {}
        row = self._row(circuit)
        known = self._values.shape[1]
        apart = np.abs(self._values - row[:known])
        missing = np.isnan(self._values) != np.isnan(row[:known])
        apart = np.where(missing, _ANOTHER, np.minimum(np.nan_to_num(apart), _ANOTHER))
        nearest = list(self._found)[int(apart.sum(axis=1).argmin())]
        share = _share(_sources(nearest), _sources(circuit))
        return {name: v * share for name, v in self._found[nearest].start.items()}

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
    peaks = {one.name: one.v_peak for one in circuit if isinstance(one, SineSource)}
    return peaks | {one.name: one.v for one in circuit if isinstance(one, DcSource)}
