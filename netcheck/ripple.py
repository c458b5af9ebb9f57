"""The curve of a port for what hangs on it besides direct load: smoothing capacitors.

A port is traced with the pots at the middle. A smoothing capacitor that is led closer to the
reservoir, by a wiper or by a wrong value between the two, takes part of its ripple away, and
the mean voltage moves by part of that. Where this could be noticed the port is traced anew.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from .engine.elements import Floats
from .model import Value, Values
from .network import Means, Network
from .port import PortCurve, moved

Complex = npt.NDArray[np.complex128]
Curves = Mapping[str, PortCurve]

_FEW = (0.5, 1.8)  # loads beside the given one, enough to see how the curve moves
_MOST = 60  # curves that are traced for one section [count]
_NOTICED = (20e-3, 1e-3)  # a mean may be off by so much: absolute [V], as a fraction


@dataclass(frozen=True, slots=True)
class Rippling:
    """What a port does in the state that is drawn.

    Parameters
    ----------
    ripple : float
        Peak to peak. [V]
    i : float
        Mean current. [A]
    v : float
        Mean voltage. [V]
    """

    ripple: float
    i: float
    v: float


@dataclass(frozen=True, slots=True)
class _Load:
    """The state around which a port was traced: its alternating and its direct load. [S]"""

    admittance: complex
    conductance: float


@dataclass(frozen=True, slots=True)
class _Traced:
    """Curves, and the loads around which they were traced."""

    loads: Mapping[str, _Load]
    curves: Curves


class RippleLoads:
    """Corrects means for the alternating load of the ports.

    Parameters
    ----------
    network : Network
        What is behind the ports.
    frequency : float
        Of the mains. [Hz]
    drawn : mapping of str to float
        The state in which the ports were traced.
    ports : mapping of port to Rippling
        What they did there.
    trace : callable
        Traces the ports in a state, at some shares of its load.
    """

    def __init__(self, network: Network, frequency: float, drawn: Values,
                 ports: Mapping[str, Rippling],
                 trace: Callable[[Values, tuple[float, ...]], Curves]) -> None:  # fmt: skip
        self._network, self._trace = network, trace
        # At twice the mains' frequency a capacitor behind a full-wave rectifier counts in full,
        # behind a half-wave one for more than it is.
        self._omega = 4.0 * np.pi * frequency
        self._ports = {
            port: p for port, p in ports.items() if p.ripple > _NOTICED[0] and p.i and p.v
        }
        y = network.alternating(drawn, self._omega)
        self._drawn = {port: _Load(complex(y[port][0]), abs(p.i / p.v))
                       for port, p in self._ports.items()}  # fmt: skip
        self._known: list[_Traced] = []
        self._base: Curves | None = None

    def corrected(self, values: Values, means: Means, curves: Curves) -> Means:
        """Means of states, those with another alternating load by curves of their own.

        Parameters
        ----------
        values : mapping of str to float or array, shape (batch,)
            The states.
        means : Means
            Their means by the curves as drawn.
        curves : mapping of port to PortCurve
            The curves as drawn.

        Raises
        ------
        EngineError
            If the simulator cannot answer.
        """
        if not self._ports or not self._network.smooths:
            return means
        if self._base is not curves:
            self._base, self._known = curves, []
        rows = means.v.shape[0]
        here = self._network.alternating(values, self._omega, rows)
        left = self._off(here, self._drawn, means) > 1.0
        for known in self._known:
            means, left = self._by(known, values, here, means, left)
        while np.any(left) and len(self._known) < _MOST:
            k = int(np.argmax(left))
            own = {port: _Load(complex(here[port][k]), float(_conductance(means, port)[k]))
                   for port in self._ports}  # fmt: skip
            known = _Traced(own, self._shifted(_row(values, k, rows), curves))
            self._known.append(known)
            means, left = self._by(known, values, here, means, left)
        return means

    def _off(self, here: Mapping[str, Complex], there: Mapping[str, _Load],
             means: Means) -> Floats:  # fmt: skip
        """How far means may be off when traced around other loads, 1 where it is noticed.

        Half the ripple times the change of the admittance that makes it: never seen to be less
        than the true error, and often several times as much.
        """
        worst = np.zeros(means.v.shape[0])
        for port, drawn in self._ports.items():
            i = np.abs(means.i_port[port])
            # By the ripple of a reservoir: i / (f C) peak to peak, whatever the rectifier.
            whole = 2.0 * np.pi * abs(drawn.i) / drawn.ripple
            ripple = drawn.ripple * i / abs(drawn.i)
            # Lighter loads are traced with all impedances raised, smoothing ones too.
            lighter = np.minimum(_conductance(means, port) / there[port].conductance, 1.0)
            off = 0.5 * ripple * np.abs(here[port] - there[port].admittance * lighter) / whole
            noticed = np.maximum(_NOTICED[0], _NOTICED[1] * np.abs(means.at(port)))
            worst = np.maximum(worst, off / noticed)
        return worst

    def _by(self, known: _Traced, values: Values, here: Mapping[str, Complex], means: Means,
            left: npt.NDArray[np.bool_]) -> tuple[Means, npt.NDArray[np.bool_]]:  # fmt: skip
        """Means with the rows that a traced curve fits put right, and the rows still left."""
        fits = left & (self._off(here, known.loads, means) <= 1.0)
        if not np.any(fits):
            return means, left
        rows = means.v.shape[0]
        better = self._network.means(_rows(values, fits, rows), known.curves, int(fits.sum()))
        v = means.v.copy()
        v[fits] = better.v
        i_port = {port: i.copy() for port, i in means.i_port.items()}
        for port, i in better.i_port.items():
            i_port[port][fits] = i
        return Means(means.nodes, v, i_port), left & ~fits

    def _shifted(self, state: Values, curves: Curves) -> Curves:
        return {port: moved(curves[port], few) for port, few in self._trace(state, _FEW).items()}


def _conductance(means: Means, port: str) -> Floats:
    """The direct load of a port in each state. [S]"""
    v = means.at(port)
    return np.maximum(np.abs(means.i_port[port] / np.where(v == 0.0, np.inf, v)), 1e-12)


def _row(values: Values, k: int, rows: int) -> dict[str, Value]:
    return {name: float(np.broadcast_to(value, rows)[k]) for name, value in values.items()}


def _rows(values: Values, which: npt.NDArray[np.bool_], rows: int) -> dict[str, Value]:
    """Some rows of a batch; what is a single number stays one."""
    return {
        name: np.asarray(value)[which] if np.size(value) == rows > 1 else value
        for name, value in values.items()
    }
