"""An output valve type as its data sheet describes it, in SI units.

Everywhere in this package plate, screen and grid volts count from the cathode, and all
currents are those of one valve.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Status(StrEnum):
    """How far a number can be trusted."""

    READ = "read"
    """Read in a copy of the source named."""
    MEMORY = "memory"
    """From memory of the source named, not read again."""
    UNSURE = "unsure"
    """From memory, and it may be wrong."""
    UNSTATED = "not stated"
    """The file does not say; only in a user's own file."""


class Kind(StrEnum):
    """What is inside the bulb."""

    PENTODE = "pentode"
    BEAM_TETRODE = "beam tetrode"
    TRIODE = "triode"


class Rating(StrEnum):
    """What a limit takes account of."""

    DESIGN_CENTRE = "design centre"
    """For an average valve at nominal mains; spread and mains are allowed for in the figure."""
    DESIGN_MAXIMUM = "design maximum"
    """For an average valve; mains and part tolerances must not carry it beyond."""
    ABSOLUTE_MAXIMUM = "absolute maximum"
    """For any valve at any mains."""
    LIMITING = "limiting values"
    """The sheet says no more than that."""


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a number comes from: the source's name, and how it was taken from there."""

    source: str
    status: Status


@dataclass(frozen=True, slots=True)
class GridCircuit:
    """The largest resistance that the sheet allows between grid and cathode.

    Parameters
    ----------
    r_fixed, r_cathode : float or None
        With fixed and with cathode bias; None where the sheet is silent or unknown. [ohm]
    p_up_to : float or None
        Plate and screen dissipation together up to which this holds; None for any. [W]
    """

    r_fixed: float | None
    r_cathode: float | None
    p_up_to: float | None = None


@dataclass(frozen=True, slots=True)
class Limits:
    """One set of limits from a sheet.

    Parameters
    ----------
    rating : Rating
        The rating system.
    p_plate : float
        Plate dissipation. [W]
    p_screen : float or None
        Screen dissipation; None for a triode. [W]
    v_plate : float
        Plate against cathode. [V]
    v_screen : float or None
        Screen against cathode; None for a triode. [V]
    grid_circuit : tuple of GridCircuit
        From the lowest dissipation to the highest; empty where not known.
    origin : Origin
        Where the figures come from.
    """

    rating: Rating
    p_plate: float
    p_screen: float | None
    v_plate: float
    v_screen: float | None
    grid_circuit: tuple[GridCircuit, ...]
    origin: Origin

    def r_grid_circuit(self, *, fixed: bool = True, p_total: float | None = None) -> float | None:
        """The largest resistance allowed between grid and cathode.

        Parameters
        ----------
        fixed : bool
            True for fixed bias, False for cathode bias.
        p_total : float or None
            Plate and screen dissipation together; None when it is not known, which gives
            the figure for the coolest valve: what exceeds that is too much in any case. [W]

        Returns
        -------
        float or None
            None where the limit is not known. [ohm]
        """
        for circuit in self.grid_circuit:
            if p_total is None or circuit.p_up_to is None or p_total <= circuit.p_up_to:
                return circuit.r_fixed if fixed else circuit.r_cathode
        return None


@dataclass(frozen=True, slots=True)
class Row:
    """One operating point from a sheet.

    Parameters
    ----------
    v_plate : float
        Plate. [V]
    v_screen : float or None
        Screen; None for a triode. [V]
    v_grid : float
        Grid, zero or negative. [V]
    i_plate : float
        Plate current. [A]
    i_screen : float or None
        Screen current. [A]
    gm : float or None
        Mutual conductance (transconductance). [A/V]
    origin : Origin
        Where the figures come from.
    """

    v_plate: float
    v_screen: float | None
    v_grid: float
    i_plate: float
    i_screen: float | None
    gm: float | None
    origin: Origin


@dataclass(frozen=True, slots=True)
class ScreenShare:
    """Screen current for each ampere of plate current.

    Parameters
    ----------
    nominal : float
        Median over the rows. [1]
    low, high : float
        Least and greatest of the rows. [1]
    """

    nominal: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class ValveType:
    """A valve type.

    Parameters
    ----------
    name : str
        Type number as the table writes it, such as "6L6GC".
    kind : Kind
        Triode, pentode or beam tetrode.
    limits : Limits
        The limits to work to.
    absolute : Limits or None
        Absolute limits, where the sheet gives them beside the design limits.
    rows : tuple of Row
        Operating points; empty where only limits are known.
    also : tuple of str
        Type numbers with the same electrical data; the base or the heater may differ.
    note : str
        A remark for the reader; may be empty.
    """

    name: str
    kind: Kind
    limits: Limits
    absolute: Limits | None
    rows: tuple[Row, ...]
    also: tuple[str, ...] = ()
    note: str = ""

    @property
    def screen_share(self) -> ScreenShare | None:
        """Published screen current for each ampere of plate current, None if not known."""
        if self.kind is Kind.TRIODE:
            return ScreenShare(0.0, 0.0, 0.0)
        shares = sorted(r.i_screen / r.i_plate for r in self.rows if r.i_screen is not None)
        if not shares:
            return None
        # The median; what the standard library has for it takes longer to load than the table.
        middle = 0.5 * (shares[(len(shares) - 1) // 2] + shares[len(shares) // 2])
        return ScreenShare(middle, shares[0], shares[-1])
