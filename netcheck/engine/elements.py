"""The primitive elements an engine understands, and what it answers.

Node names and element names are any strings, `GROUND` is the reference; what goes into
a simulator's deck is generated from them and never contains them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

GROUND = "ground"
"""Name of the reference node."""

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Resistance:
    """A linear resistance between two nodes. [ohm]"""

    name: str
    a: str
    b: str
    r: float


@dataclass(frozen=True, slots=True)
class Capacitance:
    """A linear capacitance between two nodes. [F]"""

    name: str
    a: str
    b: str
    c: float


@dataclass(frozen=True, slots=True)
class SineSource:
    """An ideal source, v(a) - v(b) = v_peak sin(2 pi f t). [V]

    All sine sources of a circuit have the same frequency.
    """

    name: str
    a: str
    b: str
    v_peak: float


@dataclass(frozen=True, slots=True)
class DcSource:
    """An ideal source, v(a) - v(b) = v. [V]"""

    name: str
    a: str
    b: str
    v: float


@dataclass(frozen=True, slots=True)
class CurrentSource:
    """An ideal source that drives the current i through itself from a to b. [A]"""

    name: str
    a: str
    b: str
    i: float


@dataclass(frozen=True, slots=True)
class Junction:
    """A diode: i = i_s (exp(v / (n V_T)) - 1) behind r_s, with a junction capacitance.

    Parameters
    ----------
    i_s : float
        Saturation current. [A]
    n : float
        Emission coefficient. [1]
    r_s : float
        Series resistance. [ohm]
    c_j : float
        Zero-bias junction capacitance. [F]
    """

    name: str
    anode: str
    cathode: str
    i_s: float
    n: float
    r_s: float
    c_j: float = 15e-12


Element = Resistance | Capacitance | SineSource | DcSource | CurrentSource | Junction


@dataclass(frozen=True, slots=True)
class Waveforms:
    """A stretch of time as simulated.

    Parameters
    ----------
    t : array, shape (n,)
        Time points, rising, not equally spaced. [s]
    v : mapping of node name to array, shape (n,)
        Node voltages against ground, which is among them. [V]
    i : mapping of element name to array, shape (n,)
        Currents through the voltage sources, from a to b inside the source, and through the
        junctions, from anode to cathode. [A]
    """

    t: Floats
    v: Mapping[str, Floats]
    i: Mapping[str, Floats] = field(default_factory=dict)

    def across(self, a: str, b: str = GROUND) -> Floats:
        """Voltage of node `a` against node `b`, shape (n,). [V]"""
        return self.v[a] - self.v[b]

    def mean(self, values: Floats) -> float:
        """Mean over time of `values` given at `t`, by the trapezoid rule."""
        # Written out: numpy renamed its own trapezoid rule at version 2.
        area = np.dot(values[1:] + values[:-1], np.diff(self.t)) / 2
        return float(area / (self.t[-1] - self.t[0]))

    def rms(self, values: Floats) -> float:
        """Root of the mean square over time of `values` given at `t`."""
        return float(np.sqrt(self.mean(np.square(values))))


@dataclass(frozen=True, slots=True)
class Slope:
    """How the change over a period depends on the voltages at its beginning.

    Parameters
    ----------
    names : tuple of str
        The capacitances, in the order of rows and columns.
    matrix : array, shape (n, n)
        Derivative of what a period adds to each, row, by the voltage of each, column. [1]
    """

    names: tuple[str, ...]
    matrix: Floats


@dataclass(frozen=True, slots=True)
class SteadyState:
    """One period of the periodic steady state.

    Parameters
    ----------
    waves : Waveforms
        The period, both ends included; a circuit with no sine source has a period of
        constant values.
    converged : bool
        False when it had to be waited for and was still moving.
    residual : float
        Largest change of a capacitor voltage over the period. [V]
    cycles : int
        Periods simulated to find it. [count]
    start : mapping of capacitance name to float
        Capacitor voltages at the start of the period: a good guess for a circuit nearby. [V]
    slope : Slope or None
        At this state, where it was asked for: as good a guess.
    """

    waves: Waveforms
    converged: bool
    residual: float
    cycles: int
    start: Mapping[str, float]
    slope: Slope | None = None

    def mean(self, a: str, b: str = GROUND) -> float:
        """Mean voltage of node `a` against node `b`. [V]"""
        return self.waves.mean(self.waves.across(a, b))

    def rms(self, a: str, b: str = GROUND) -> float:
        """Root-mean-square voltage of node `a` against node `b`, its mean included. [V rms]"""
        return self.waves.rms(self.waves.across(a, b))

    def minimum(self, a: str, b: str = GROUND) -> float:
        """Lowest voltage of node `a` against node `b`. [V]"""
        return float(self.waves.across(a, b).min())

    def maximum(self, a: str, b: str = GROUND) -> float:
        """Highest voltage of node `a` against node `b`. [V]"""
        return float(self.waves.across(a, b).max())

    def ripple(self, a: str, b: str = GROUND) -> float:
        """Peak-to-peak ripple of node `a` against node `b`. [V]"""
        return float(np.ptp(self.waves.across(a, b)))

    def power(self, resistance: Resistance) -> float:
        """Mean power in a resistance. [W]"""
        return self.rms(resistance.a, resistance.b) ** 2 / resistance.r

    def mean_current(self, name: str) -> float:
        """Mean current through a voltage source or a junction, by its name. [A]"""
        return self.waves.mean(self.waves.i[name])


Elements = Sequence[Element]


def terminals(element: Element) -> tuple[str, str]:
    """The two nodes of an element, in the order in which its voltage counts."""
    if isinstance(element, Junction):
        return element.anode, element.cathode
    return element.a, element.b
