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
        Node voltages against ground. [V]
    i : mapping of element name to array, shape (n,)
        Currents through the sources, from a to b inside the source. [A]
    """

    t: Floats
    v: Mapping[str, Floats]
    i: Mapping[str, Floats] = field(default_factory=dict)

    def mean(self, values: Floats) -> float:
        """Mean over time of `values` given at `t`, by the trapezoid rule."""
        return float(np.trapezoid(values, self.t) / (self.t[-1] - self.t[0]))


@dataclass(frozen=True, slots=True)
class SteadyState:
    """One period of the periodic steady state.

    Parameters
    ----------
    waves : Waveforms
        The period; a circuit with no sine source has a single time point or a period of
        constant values.
    converged : bool
        False when it had to be waited for and was still moving.
    residual : float
        Largest change of a capacitor voltage over the period. [V]
    cycles : int
        Periods simulated to find it. [count]
    start : mapping of capacitance name to float
        Capacitor voltages at the start of the period: a good guess for a circuit nearby. [V]
    """

    waves: Waveforms
    converged: bool
    residual: float
    cycles: int
    start: Mapping[str, float]


Elements = Sequence[Element]
