"""Fits a curve to the published rows of each valve type.

``python -m netcheck.valves.fit`` writes `fitted.toml` anew from the data files beside it and
prints how well each type is met, its rows left out in turn as well.

A type has a handful of rows, some have one. What the rows do not determine comes from the family:
pentodes and beam tetrodes, or triodes. First all types of a family are fitted together, with one
sharpness and one plate share for all of them. Then each type is fitted alone; to the misfit of
its rows is added the distance of its shape from that of the family, in standard deviations. So a
type with one row takes its shape from the family and its scale from the row.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares

from .curve import Curve, FloatArray
from .table import FITTED, shipped_types
from .valve_type import Kind, Row, Status, ValveType

V_SCATTER = 0.5
"""Grid voltages are believed to so much; sheets round to half a volt. [V]"""

GM_SCATTER = 0.1
"""Mutual conductances are believed to so much, as a fraction. [1]"""

UNSURE_FACTOR = 2.0
"""Rows that are unsure are believed so many times less. [1]"""

MU_SCATTER, SHARPNESS_SCATTER, SHARE_SCATTER = 0.35, 0.3, 0.3
"""Standard deviations within a family of ln(mu), ln(sharpness) and ln(plate share). [1]"""

ENOUGH_ROWS = 2
"""A type with so many rows has a say in the shape of its family. [count]"""


@dataclass(frozen=True, slots=True)
class Prior:
    """The usual shape of a family of valves.

    Parameters
    ----------
    mu : float
        Amplification factor. [1]
    sharpness : float
        Sharpness of the cut-off. [1]
    plate_share : float or None
        Plate share; None for triodes. [1]
    """

    mu: float
    sharpness: float
    plate_share: float | None


FIRST_GUESS = Prior(mu=9.0, sharpness=6.0, plate_share=0.05)
"""Where the search for a family's shape starts; from elsewhere it ends at the same place."""

CONDUCTING = 0.7
"""In the first guess no row's grid is nearer to cut-off than this share of the way. [1]"""


def fit_rows(rows: Sequence[Row], prior: Prior) -> Curve:
    """The curve that meets some rows of one type best.

    Parameters
    ----------
    rows : sequence of Row
        One at least.
    prior : Prior
        The usual shape in the family.

    Returns
    -------
    Curve
        The fitted parameters.
    """
    points = _Points(rows)
    usual = _shape(prior)
    scatter = np.array([MU_SCATTER, SHARPNESS_SCATTER, SHARE_SCATTER][: len(usual)])

    def misfit(parameters: FloatArray) -> FloatArray:
        strangeness = (parameters[1:] - usual) / scatter
        return np.concatenate([points.misfit(_curve(parameters)), strangeness])

    return _curve(least_squares(misfit, points.start(usual), xtol=1e-12, ftol=1e-12).x)


@cache
def family_prior(kind: Kind, without: str | None = None) -> Prior:
    """The shape with which the built-in types of a kind are met best by one shape.

    Each type has its own perveance and mu in this; sharpness and plate share are common.

    Parameters
    ----------
    kind : Kind
        Pentodes and beam tetrodes are one family, triodes another.
    without : str, optional
        A type to leave out, so that its rows have no say in what they are tested with.

    Returns
    -------
    Prior
        The usual shape, with the median of mu.
    """
    triodes = kind is Kind.TRIODE
    family = [
        _Points(valve.rows)
        for valve in shipped_types()
        if (valve.kind is Kind.TRIODE) == triodes and valve.name != without
        if len(valve.rows) >= ENOUGH_ROWS
    ]
    guess = _shape(replace(FIRST_GUESS, plate_share=None) if triodes else FIRST_GUESS)
    common = guess[1:]
    own = [points.start(guess)[:2] for points in family]

    def misfit(parameters: FloatArray) -> FloatArray:
        shape, each = parameters[: len(common)], parameters[len(common) :].reshape(-1, 2)
        curves = (_curve(np.concatenate([one, shape])) for one in each)
        pairs = zip(family, curves, strict=True)
        return np.concatenate([points.misfit(curve) for points, curve in pairs])

    start = np.concatenate([common, np.ravel(own)])
    sparsity = _sparsity(family, len(common))
    found = least_squares(misfit, start, jac_sparsity=sparsity).x
    sharpness, *share = (float(each) for each in np.exp(found[: len(common)]))
    return Prior(
        mu=float(np.exp(np.median(found[len(common) + 1 :: 2]))),
        sharpness=sharpness,
        plate_share=share[0] if share else None,
    )


def _sparsity(family: Sequence[_Points], common: int) -> FloatArray:
    """Which residuals of a family depend on which parameters: all on the common ones."""
    counts = [points.count for points in family]
    sparsity = np.zeros((sum(counts), common + 2 * len(family)))
    sparsity[:, :common] = 1.0
    first = 0
    for member, count in enumerate(counts):
        column = common + 2 * member
        sparsity[first : first + count, column : column + 2] = 1.0
        first += count
    return sparsity


def _shape(prior: Prior) -> FloatArray:
    """Logarithms of the shape parameters; a triode has no plate share."""
    shape = [prior.mu, prior.sharpness]
    return np.log(shape if prior.plate_share is None else [*shape, prior.plate_share])


def _curve(parameters: FloatArray) -> Curve:
    """The curve with these logarithms of perveance, mu, sharpness and plate share."""
    # No valve comes near e^30; rows that no valve can obey would drive the search beyond it.
    within_reach = np.clip(parameters, -30.0, 30.0)
    perveance, mu, sharpness, *share = (float(each) for each in np.exp(within_reach))
    return Curve(perveance, mu, share[0] if share else None, sharpness)


class _Points:
    """Rows as arrays; lacking figures are NaN."""

    def __init__(self, rows: Sequence[Row]) -> None:
        self.v_plate = np.array([row.v_plate for row in rows])
        self.v_screen = np.array([row.v_screen for row in rows], dtype=np.float64)
        self.v_grid = np.array([row.v_grid for row in rows])
        self.i_plate = np.array([row.i_plate for row in rows])
        self.gm = np.array([row.gm for row in rows], dtype=np.float64)
        unsure = [row.origin.status is Status.UNSURE for row in rows]
        self.doubt = np.where(unsure, UNSURE_FACTOR, 1.0)

    @property
    def count(self) -> int:
        """How many residuals `misfit` returns."""
        return len(self.v_grid) + int(np.sum(~np.isnan(self.gm)))

    def start(self, shape: FloatArray) -> FloatArray:
        """Parameters to start a fit from: a shape, changed and scaled to suit the rows."""
        log_mu, *others = shape
        has_screen = len(others) > 1
        cutoff = self.v_screen + np.exp(others[1]) * self.v_plate if has_screen else self.v_plate
        # With too high a mu all rows would be cut off, and no scale would make up for that.
        highest_mu = np.min(CONDUCTING * cutoff / np.maximum(-self.v_grid, 1.0))
        found = np.array([0.0, min(log_mu, np.log(highest_mu)), *others])
        unity = _curve(found).plate_current(self.v_plate, self.v_screen, self.v_grid)
        found[0] = np.log(self.i_plate[0] / unity[0])
        return found

    def misfit(self, curve: Curve) -> FloatArray:
        """How far the curve is from the rows, in standard deviations."""
        v_grid = curve.grid_voltage(self.v_plate, self.v_screen, self.i_plate)
        # At the published current, so that an error in volts is not counted a second time.
        gm = curve.transconductance(self.v_plate, self.v_screen, v_grid)
        in_volts = (v_grid - self.v_grid) / (V_SCATTER * self.doubt)
        in_gm = np.log(gm / self.gm) / (GM_SCATTER * self.doubt)
        return np.concatenate([in_volts, in_gm[~np.isnan(in_gm)]])


def left_out_errors(valve: ValveType) -> list[float]:
    """How far a row is missed by the curve fitted without it, for each row in turn.

    Parameters
    ----------
    valve : ValveType
        A type with two rows or more. It has no say in the family's shape either; relatives
        whose sheets give the same rows have.

    Returns
    -------
    list of float
        Grid voltage at the published plate current, less the published. [V]
    """
    prior = family_prior(valve.kind, without=valve.name)
    errors = []
    for left_out, row in enumerate(valve.rows):
        rest = valve.rows[:left_out] + valve.rows[left_out + 1 :]
        found = fit_rows(rest, prior).grid_voltage(row.v_plate, row.v_screen, row.i_plate)
        errors.append(float(found) - row.v_grid)
    return errors


def fit_all() -> dict[str, Curve]:
    """The curves of all built-in types that have rows, by name."""
    return {
        valve.name: fit_rows(valve.rows, family_prior(valve.kind))
        for valve in shipped_types()
        if valve.rows
    }


def as_toml(curves: dict[str, Curve]) -> str:
    """The text of the file of curves.

    Parameters
    ----------
    curves : dict of str to Curve
        By type name.

    Returns
    -------
    str
        TOML; five digits, a thousand times finer than valves differ.
    """
    lines = ["# Written by `python -m netcheck.valves.fit` from the files in data/: do not edit."]
    for name, curve in curves.items():
        lines += ["", f"[{name}]", f"perveance = {curve.perveance:.5g}", f"mu = {curve.mu:.5g}"]
        if curve.plate_share is not None:
            lines.append(f"plate_share = {curve.plate_share:.5g}")
        lines.append(f"sharpness = {curve.sharpness:.5g}")
    return "\n".join(lines) + "\n"


def main(path: Path = FITTED) -> None:
    """Fit all types, write the file of curves, and print how well the rows are met.

    Parameters
    ----------
    path : Path
        The file to write.
    """
    curves = fit_all()
    path.write_text(as_toml(curves), encoding="utf-8")
    out = sys.stdout
    out.write("worst error of the grid voltage at the published plate current [V]\n")
    out.write(f"{'type':8}{'rows':>5}{'fitted':>8}{'left out':>10}\n")
    for valve in shipped_types():
        if curve := curves.get(valve.name):
            points = _Points(valve.rows)
            found = curve.grid_voltage(points.v_plate, points.v_screen, points.i_plate)
            fitted = np.abs(found - points.v_grid).max()
            several = len(valve.rows) > 1
            left_out = f"{max(map(abs, left_out_errors(valve))):10.2f}" if several else ""
            out.write(f"{valve.name:8}{len(valve.rows):5}{fitted:8.2f}{left_out}\n")


if __name__ == "__main__":
    main()
