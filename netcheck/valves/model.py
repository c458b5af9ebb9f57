"""Plate current of a valve type, by the curve fitted to its published rows.

Numbers are for an average valve as published; samples differ by `practice.SAMPLE_SPREAD`.
All volts count from the cathode, all currents are of one valve.
"""

from __future__ import annotations

import tomllib
from functools import cache

from numpy.typing import ArrayLike

from ..errors import InputError
from .curve import Curve, FloatArray
from .table import FITTED, lookup
from .valve_type import ValveType


def plate_current(
    valve: ValveType, v_plate: ArrayLike, v_screen: ArrayLike | None, v_grid: ArrayLike
) -> FloatArray:
    """Plate current of an average valve.

    Parameters
    ----------
    valve : ValveType
        The type.
    v_plate, v_screen, v_grid : array_like
        Against the cathode; `v_screen` is not looked at for a triode. [V]

    Returns
    -------
    ndarray
        Shape of the arguments, broadcast. [A]

    Raises
    ------
    InputError
        If no operating row of this type is known.
    """
    return curve_of(valve).plate_current(v_plate, v_screen, v_grid)


def grid_voltage(
    valve: ValveType, v_plate: ArrayLike, v_screen: ArrayLike | None, i_plate: ArrayLike
) -> FloatArray:
    """Grid voltage at which an average valve draws a plate current.

    Parameters
    ----------
    valve : ValveType
        The type.
    v_plate, v_screen : array_like
        Against the cathode; `v_screen` is not looked at for a triode. [V]
    i_plate : array_like
        Plate current, above zero. [A]

    Returns
    -------
    ndarray
        Shape of the arguments, broadcast. [V]

    Raises
    ------
    InputError
        If no operating row of this type is known.
    ValueError
        If a plate voltage or a current is not above zero.
    """
    return curve_of(valve).grid_voltage(v_plate, v_screen, i_plate)


def transconductance(
    valve: ValveType, v_plate: ArrayLike, v_screen: ArrayLike | None, v_grid: ArrayLike
) -> FloatArray:
    """Mutual conductance of an average valve.

    Parameters
    ----------
    valve : ValveType
        The type.
    v_plate, v_screen, v_grid : array_like
        Against the cathode; `v_screen` is not looked at for a triode. [V]

    Returns
    -------
    ndarray
        Shape of the arguments, broadcast. [A/V]

    Raises
    ------
    InputError
        If no operating row of this type is known.
    """
    return curve_of(valve).transconductance(v_plate, v_screen, v_grid)


@cache
def curve_of(valve: ValveType) -> Curve:
    """The curve of a type: stored for the built-in table, fitted here for a user's own type.

    Parameters
    ----------
    valve : ValveType
        The type.

    Returns
    -------
    Curve
        Its parameters.

    Raises
    ------
    InputError
        If no operating row of this type is known.
    """
    if not valve.rows:
        raise InputError(f"only limits are known of valve type {valve.name}, no operating row")
    if lookup(valve.name) == valve:
        return stored_curves()[valve.name]
    # scipy takes a third of a second to import, and only a user's own type needs it.
    from .fit import family_prior, fit_rows  # noqa: PLC0415

    return fit_rows(valve.rows, family_prior(valve.kind))


@cache
def stored_curves() -> dict[str, Curve]:
    """The curves of the built-in types that have operating rows, by name."""
    document = tomllib.loads(FITTED.read_text(encoding="utf-8"))
    return {
        name: Curve(
            perveance=figures["perveance"],
            mu=figures["mu"],
            plate_share=figures.get("plate_share"),
            sharpness=figures["sharpness"],
        )
        for name, figures in document.items()
    }


def row_errors(valve: ValveType) -> list[float]:
    """How far the curve misses each row of the type: its grid voltage less the published one.

    Parameters
    ----------
    valve : ValveType
        The type.

    Returns
    -------
    list of float
        In the order of the rows; empty for a type without rows. [V]
    """
    return [
        float(grid_voltage(valve, row.v_plate, row.v_screen, row.i_plate)) - row.v_grid
        for row in valve.rows
    ]
