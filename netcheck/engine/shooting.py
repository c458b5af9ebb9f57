"""The periodic steady state, found by shooting on the capacitor voltages.

A state is sought that one period of the mains leads back to itself: the root of
"voltages after the period minus voltages before it". Newton's method with one Jacobian
by finite differences, kept up to date by Broyden's formula, finds it in some nine
periods where waiting takes hundreds to many thousands.

Progress and accuracy are judged by the step that the Jacobian predicts, not by the change
over a period: behind 470 uF and 220 kilohm a change of 0.1 mV per period can mean half a
volt still to go.

References
----------
P. Deuflhard, "Newton Methods for Nonlinear Problems", Springer 2004, section 2.1: the
natural monotonicity test for damping; and 2.1.4 for Broyden's updates judged by it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

import numpy as np

from .elements import Elements, Floats, SineSource, Slope, SteadyState, Waveforms
from .states import States

TOLERANCE = (1e-4, 1e-5)
"""Largest change over the period: absolute [V], and as a fraction of the voltage [1]."""

STEP_TOLERANCE = (5e-4, 1e-5)
"""Largest predicted distance from the steady state, likewise: [V] and [1]."""

DOUBT = 0.1
"""The share of that distance that needs no proof: with a slope found out here, but for a state
some way off, it is too short by no more than some ten times. [1]"""

PROVED = 0.25
"""What a step may leave of the distance to show that the slope is right: within a third then,
and the distance that it predicts too. [1]"""

_FAR = (0.5, 1.0)
# A step beyond half of the largest voltage, and a volt, is no correction any more: the slope is
# of another circuit altogether, and ngspice might fail at where it leads. [1], [V]

MOST_CYCLES = 150
"""Periods spent on the search before it is given up for plain waiting. [count]"""

FEW_CYCLES = 80
"""The same where nothing is waited for. [count]"""

WAIT = (100, 30)
"""Plain waiting: periods in one run, and number of runs. [count]"""

_NEAREST = 5e-3  # what a voltage is shifted by at the least for a slope [V]

_V_CLIP = 100e3
"""No capacitor in a circuit of at most 10 kV sources gets there; a wild step might. [V]"""


class Circuit(Protocol):
    """What an engine has to offer for one circuit."""

    def transient(
        self,
        start: Mapping[str, float],
        nodes: Mapping[str, float],
        duration: float,
        step: float,
        begin: float = 0.0,
    ) -> Waveforms:
        """Run from given voltages of capacitances and nodes, at phase zero of the sine."""

    def operating_point(self) -> Waveforms:
        """The state of rest, as two equal points of time."""


def find(
    circuit: Circuit,
    elements: Elements,
    frequency: float | None,
    start: Mapping[str, float],
    steps_per_cycle: int,
    *,
    patient: bool = True,
    slope: Slope | None = None,
    slope_wanted: bool = False,
) -> SteadyState:
    """Find the periodic steady state, or the state of rest where nothing alternates.

    Parameters
    ----------
    circuit : Circuit
        The engine's hold on the circuit.
    elements : sequence of Element
        The circuit, which passed the preflight.
    frequency : float or None
        Frequency of the sine sources; None for a state of rest. [Hz]
    start : mapping of capacitance name to float
        Capacitor voltages to begin the search at; 0 V where it says nothing. [V]
    steps_per_cycle : int
        The largest time step is the period divided by this. [count]
    patient : bool
        Whether to wait for it where the search does not find it.
    slope : Slope or None
        A guess of the Jacobian: it is corrected, or found anew, where it does not serve.
    slope_wanted : bool
        Whether to find out the Jacobian at the state that is found.

    Returns
    -------
    SteadyState
        Its period begins at phase zero of the sine.
    """
    states = States(elements)
    if frequency is None or not any(isinstance(element, SineSource) for element in elements):
        waves = circuit.operating_point()
        voltages = {e.name: float(waves.across(e.a, e.b)[-1]) for e in states.all}
        return SteadyState(waves, converged=True, residual=0.0, cycles=0, start=voltages)
    search = _Search(circuit, states, frequency, start, steps_per_cycle)
    return search.run(patient, slope, slope_wanted)


class _Search:
    """One search. The point reached is `x`, what one period adds to it is `change`. [V]"""

    def __init__(
        self,
        circuit: Circuit,
        states: States,
        frequency: float,
        start: Mapping[str, float],
        steps_per_cycle: int,
    ) -> None:
        self._circuit = circuit
        self._states = states
        self._period = 1.0 / frequency
        self._step = self._period / steps_per_cycle
        self._nodes: dict[str, float] = {}
        self._cycles = 0
        self._names = tuple(capacitance.name for capacitance in states.free)
        self._move_to(states.vector(start))

    def run(self, patient: bool, slope: Slope | None, slope_wanted: bool) -> SteadyState:
        """Search, and if that does not lead there, wait."""
        if not self._states.free:
            # Only the charge of the junctions is left to settle.
            self._move_to(self._x)
            return self._answer(converged=True)
        if self._shoot(MOST_CYCLES if patient else FEW_CYCLES, slope):
            return self._answer(converged=True, slope_wanted=slope_wanted)
        if not patient:
            return self._answer(converged=False)
        return self._answer(converged=self._wait())

    def _shoot(self, most: int, slope: Slope | None) -> bool:
        """Newton's method; False when it does not get there."""
        jacobian = self._guessed(slope)
        fresh = own = jacobian is None
        proved = False
        if jacobian is None:
            jacobian = self._jacobian()
        while self._cycles < most:
            step = _solve(jacobian, -self._change)
            if self._is_there(step) and (proved or (own and self._is_slight(step))):
                return True
            fraction, left, trial = self._try(jacobian, step, damped=fresh)
            contraction = _largest(left) / _largest(step)
            if contraction <= 1 - fraction / 4 or fresh:
                jacobian = _broyden(jacobian, trial[0] - self._x, trial[1] - self._change)
                self._accept(*trial)
                fresh, proved = False, self._is_proved(fraction * step, left)
            # The curve has bent away from its tangent: a new tangent.
            if contraction > 0.5:
                jacobian = self._jacobian(np.abs(step))
                fresh, own, proved = True, True, False
        return False

    def _guessed(self, slope: Slope | None) -> Floats | None:
        """A slope that may serve here; None if it is of other capacitors, or leads far away."""
        if slope is None or slope.names != self._names:
            return None
        step = _solve(slope.matrix, -self._change)
        near = _largest(step) <= _FAR[0] * _largest(self._x) + _FAR[1]
        return slope.matrix if near else None

    def _try(
        self, jacobian: Floats, step: Floats, *, damped: bool
    ) -> tuple[float, Floats, tuple[Floats, Floats, Waveforms]]:
        """Go along `step`, and less far as long as that leads further away.

        Returns
        -------
        fraction : float
            The part of the step that was taken. [1]
        left : array
            The step that is predicted now. [V]
        trial : tuple
            The new point, the change over a period there, and the waveforms.
        """
        length = _largest(step)
        fraction = min(1.0, _V_CLIP / length)
        while True:
            x = np.clip(self._x + fraction * step, -_V_CLIP, _V_CLIP)
            change, waves = self._cycle(x)
            left = _solve(jacobian, -change)
            good = _largest(left) / length <= 1 - fraction / 4
            if good or not damped or fraction < 0.1 or self._cycles >= MOST_CYCLES:
                return fraction, left, (x, change, waves)
            fraction /= 2

    def _is_there(self, step: Floats) -> bool:
        return self._is_small(self._change, TOLERANCE) and self._is_small(step, STEP_TOLERANCE)

    def _is_proved(self, step: Floats, left: Floats) -> bool:
        """Whether a step has come so much nearer, in each voltage, as a right slope would.

        One that is far too steep, as that of a heavier load or across the knee of a diode,
        sees the end in any small change.
        """
        contracts = np.abs(left) <= PROVED * np.abs(step)
        return self._is_slight(np.where(contracts, 0.0, left))

    def _is_slight(self, step: Floats) -> bool:
        """Whether a predicted distance needs no proof, being a small share of the allowed one."""
        return self._is_small(step / DOUBT, STEP_TOLERANCE)

    def _is_small(self, difference: Floats, tolerance: tuple[float, float]) -> bool:
        return bool(np.all(np.abs(difference) <= tolerance[0] + tolerance[1] * np.abs(self._x)))

    def _jacobian(self, reach: Floats | float = np.inf) -> Floats:
        """Slope of the change over the voltages, one period for each capacitor. [1]

        Parameters
        ----------
        reach : array
            How far away the state may still be: there it has to be right. [V]
        """
        size = len(self._x)
        slope = np.empty((size, size))
        shifts = np.minimum(np.maximum(0.1, 0.01 * np.abs(self._x)), np.maximum(reach, _NEAREST))
        for k in range(size):
            # Towards zero, into the region where the diodes conduct.
            shift = -np.copysign(shifts[k], self._x[k] or 1.0)
            x = self._x.copy()
            x[k] += shift
            slope[:, k] = (self._cycle(x)[0] - self._change) / shift
        return slope

    def _wait(self) -> bool:
        """Run on as the real circuit does; False when it still moves at the end."""
        cycles, runs = WAIT
        for _ in range(runs):
            before = self._x
            duration = cycles * self._period
            waves = self._circuit.transient(
                self._states.voltages(before),
                self._nodes,
                duration,
                self._step,
                duration - self._period / 2,
            )
            self._cycles += cycles
            self._nodes = _end(waves)
            self._move_to(self._states.ends(waves))
            if self._is_small(self._x - before, TOLERANCE) and self._is_small(
                self._change, TOLERANCE
            ):
                return True
        return False

    def _cycle(self, x: Floats) -> tuple[Floats, Waveforms]:
        """Change of the capacitor voltages over one period, and its waveforms."""
        self._cycles += 1
        waves = self._circuit.transient(
            self._states.voltages(x), self._nodes, self._period, self._step
        )
        return self._states.ends(waves) - x, waves

    def _move_to(self, x: Floats) -> None:
        self._accept(x, *self._cycle(x))

    def _accept(self, x: Floats, change: Floats, waves: Waveforms) -> None:
        self._x, self._change, self._waves = x, change, waves
        self._nodes = _end(waves)

    def _answer(self, *, converged: bool, slope_wanted: bool = False) -> SteadyState:
        slope = Slope(self._names, self._jacobian()) if slope_wanted else None
        return SteadyState(
            waves=_closed(self._waves),
            converged=converged,
            residual=float(np.abs(self._change).max(initial=0.0)),
            cycles=self._cycles,
            start=self._states.voltages(self._x),
            slope=slope,
        )


def _solve(jacobian: Floats, right: Floats) -> Floats:
    try:
        return np.asarray(np.linalg.solve(jacobian, right), dtype=np.float64)
    except np.linalg.LinAlgError:
        # A capacitor that nothing charges or discharges: leave it where it is.
        return np.asarray(np.linalg.lstsq(jacobian, right, rcond=1e-12)[0], dtype=np.float64)


def _largest(step: Floats) -> float:
    return max(float(np.abs(step).max()), 1e-30)


def _broyden(jacobian: Floats, moved: Floats, changed: Floats) -> Floats:
    """The nearest Jacobian that agrees with what the last step has shown."""
    miss = changed - jacobian @ moved
    nearest: Floats = jacobian + np.outer(miss, moved) / max(float(moved @ moved), 1e-60)
    return nearest


def _end(waves: Waveforms) -> dict[str, float]:
    """Node voltages at the end. [V]"""
    return {node: float(v[-1]) for node, v in waves.v.items()}


def _closed(waves: Waveforms) -> Waveforms:
    """A period with its beginning, which is its end, put before the first computed point.

    ngspice computes no point at time zero when it starts from given voltages.
    """
    if waves.t[0] <= 0.0:
        return waves

    def close(values: Floats) -> Floats:
        return np.concatenate((values[-1:], values))

    return Waveforms(
        t=np.concatenate(([0.0], waves.t)),
        v={node: close(v) for node, v in waves.v.items()},
        i={name: close(i) for name, i in waves.i.items()},
    )
