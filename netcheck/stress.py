"""What the parts have to bear at the worst corner of mains and tolerances, as numbers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Stress:
    """The worst that one part meets over the whole travel.

    Parameters
    ----------
    v_forward : float
        Largest voltage the right way round: plus against minus, start against end, cathode
        against anode (reverse volts of a diode); ripple peaks included. [V]
    v_backward : float
        Largest voltage the other way round, as a positive number. [V]
    power : float
        Largest mean dissipation. [W]
    i_rms : float
        Largest current. [A rms]
    """

    v_forward: float = 0.0
    v_backward: float = 0.0
    power: float = 0.0
    i_rms: float = 0.0

    @property
    def v_peak(self) -> float:
        """Largest voltage across the part, either way round. [V]"""
        return max(self.v_forward, self.v_backward)


@dataclass(frozen=True, slots=True)
class ValveRange:
    """What the travel of the pot makes of one valve, at nominal values.

    Parameters
    ----------
    share_least, share_most : float
        Least and greatest plate dissipation over the travel, of the limit. [1]
    i_least, i_most : float
        The cathode currents there. [A]
    at_least, at_most : float
        The positions. [1]
    window : (float, float)
        The dissipation wanted, of the limit. [1]
    covered : bool
        Whether some position gives a dissipation in the window.
    p_total : float
        Plate and screen dissipation in the middle of the window. [W]
    """

    share_least: float
    share_most: float
    i_least: float
    i_most: float
    at_least: float
    at_most: float
    window: tuple[float, float]
    covered: bool
    p_total: float


@dataclass(frozen=True, slots=True)
class Stresses:
    """What the simulation found at the worst corner.

    Parameters
    ----------
    parts : mapping of part name to Stress
        For resistors, pots (the whole track), capacitors, diodes, zeners.
    mains : float
        The mains voltage of that corner. [V rms]
    v_grid_most : mapping of grid node to float
        Nominal circuit: the most negative mean voltage over the travel. [V]
    valves : mapping of valve name to ValveRange
        Idle dissipation over the travel, of the valves that can be modelled.
    t_bias : mapping of grid node to float or None
        When the bias is at 90 % after switching on; None if it takes too long to wait for.
        Empty where nothing asks for it. [s]
    """

    parts: Mapping[str, Stress]
    mains: float
    v_grid_most: Mapping[str, float] = field(default_factory=dict)
    valves: Mapping[str, ValveRange] = field(default_factory=dict)
    t_bias: Mapping[str, float | None] = field(default_factory=dict)
