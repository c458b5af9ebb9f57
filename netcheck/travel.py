"""The prediction: grid voltages over the travel of the pot, and what goes with them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from .engine.elements import GROUND, Floats, Resistance
from .graph import Section
from .model import Value
from .network import Network
from .partwork import PartWork, largest, part_work
from .predictor import Operating, Predictor
from .switchon import SwitchOn, switch_on
from .tolerance import Band, BandFinder

STEPS = 11
"""Positions in the table: every tenth of the travel. [count]"""


@dataclass(frozen=True, slots=True)
class Prediction:
    """What a section gives over the travel of its pots.

    Parameters
    ----------
    section : Section
        The section.
    swept : tuple of str
        The pots that are turned together; the others stand as in `fixed`.
    fixed : mapping of pot name to float
        Rotation of the other pots, 0 to 1 clockwise. [1]
    travel : array, shape (positions,)
        Rotation of the swept pots. [1]
    watched : tuple of str
        The grid nodes, or the wipers where no valve is drawn.
    mean, ripple : array, shape (positions, watched)
        Mean voltage against ground, and ripple peak to peak. [V]
    band : Band
        Tolerance limits around `mean`.
    nodes : mapping of node to array, shape (positions,)
        Mean voltage of every node against ground. [V]
    node_ripple : mapping of node to array, shape (positions,)
        Ripple of every node, peak to peak. [V]
    outlets : tuple of str
        The rectifiers' outputs, the reservoir's nodes.
    work : mapping of part name to PartWork
        Currents, volts and dissipation of the parts: the largest over the positions.
    mains : float or None
        Mains voltage assumed. [V rms]
    meter : float or None
        Resistance of the meter whose reading `mean` is, None for the bare voltage. [ohm]
    start : SwitchOn or None
        How the bias comes up; None if not asked for.
    fast_gap : float or None
        Largest difference between the fast path and the whole simulation at these positions;
        None for a section that cannot be cut. [V]
    settled : bool
        False if some steady state was still moving when the search for it ended.
    """

    section: Section
    swept: tuple[str, ...]
    fixed: Mapping[str, float]
    travel: Floats
    watched: tuple[str, ...]
    mean: Floats
    ripple: Floats
    band: Band
    nodes: Mapping[str, Floats]
    node_ripple: Mapping[str, Floats]
    outlets: tuple[str, ...]
    work: Mapping[str, PartWork]
    mains: float | None
    meter: float | None
    start: SwitchOn | None
    fast_gap: float | None
    settled: bool


def swept_pots(section: Section, effects: Mapping[str, Mapping[str, float]]) -> tuple[str, ...]:
    """The pots that set the bias, as against those that balance the grids.

    Parameters
    ----------
    section : Section
        The section.
    effects : mapping of pot name to mapping of node to float
        Change of each watched node from one end of the pot to the other. [V]

    Notes
    -----
    A balance pot drives some grids up while it drives others down. Where every pot does, all
    are swept.
    """
    bias = [
        pot for pot, moves in effects.items()
        if not (min(moves.values(), default=0.0) < -1e-3 < 1e-3 < max(moves.values(), default=0.0))
    ]  # fmt: skip
    return tuple(bias or effects)


def pot_effects(predictor: Predictor) -> dict[str, dict[str, float]]:
    """Change of each watched node over the travel of each pot, the others at the middle. [V]"""
    section = predictor.section
    found: dict[str, dict[str, float]] = {}
    for pot in predictor.pots():
        values = predictor.values()
        values[f"{pot.name}.travel"] = np.array([0.0, 1.0])
        means = predictor.means(values, 2)
        found[pot.name] = {
            node: float(np.ptp(v) * np.sign(v[1] - v[0]))
            for node in section.watched
            for v in [means.at(section.joined[node])]
        }
    return found


def predict(predictor: Predictor, *, travel: Sequence[float] | None = None,
            pots: Sequence[str] = (), fixed: Mapping[str, float] | None = None,
            meter: float | None = None, with_start: bool = True) -> Prediction:  # fmt: skip
    """Predict a section over the travel of its pots.

    Parameters
    ----------
    predictor : Predictor
        Of the section.
    travel : sequence of float, optional
        Positions of the swept pots, 0 to 1 clockwise; every tenth by default. [1]
    pots : sequence of str
        The pots to turn together; by default those that set the bias.
    fixed : mapping of pot name to float, optional
        Where other pots stand; at the middle by default. [1]
    meter : float, optional
        Predict what a meter of this resistance reads at each watched node. [ohm]
    with_start : bool
        Whether to simulate the switch-on as well.

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    section = predictor.section
    fixed = dict(fixed or {})
    names = [pot.name for pot in predictor.pots()]
    swept = tuple(pots) or tuple(
        pot for pot in swept_pots(section, pot_effects(predictor)) if pot not in fixed
    )
    at = np.linspace(0.0, 1.0, STEPS) if travel is None else np.asarray(travel, dtype=float)
    if not swept:
        at = np.array([0.5])
    stands = {name: fixed.get(name, 0.5) for name in names if name not in swept}
    settings: dict[str, Floats] = {f"{name}.travel": at for name in swept}
    settings |= {f"{name}.travel": np.full_like(at, where) for name, where in stands.items()}
    whole = predictor.wholes([(_single(predictor, settings, k), ()) for k in range(at.size)])
    mean = np.array([[op.mean[node] for node in section.watched] for op in whole])
    band = BandFinder(predictor, settings, section.watched).find()
    gap = _fast_gap(predictor, settings, mean)
    if meter is not None:
        mean, band = _metered(predictor, settings, mean, band, meter)
    return Prediction(
        section, swept, stands, at, section.watched, mean,
        np.array([[op.ripple[node] for node in section.watched] for op in whole]),
        band,
        {n: np.array([op.mean[n] for op in whole]) for n in whole[0].mean if n != GROUND},
        {n: np.array([op.ripple[n] for op in whole]) for n in whole[0].ripple if n != GROUND},
        section.cut.ports if section.cut else (),
        _work(predictor, settings, whole),
        _mains(predictor), meter,
        _start(predictor, settings, whole) if with_start else None,
        gap, all(op.state.converged for op in whole),
    )  # fmt: skip


def _single(predictor: Predictor, settings: Mapping[str, Floats], k: int) -> dict[str, Value]:
    return predictor.values() | {name: float(at[k]) for name, at in settings.items()}


def _work(predictor: Predictor, settings: Mapping[str, Floats],
          whole: Sequence[Operating]) -> dict[str, PartWork]:  # fmt: skip
    circuit = predictor.section.circuit
    return largest([part_work(circuit, _single(predictor, settings, k), op.state.waves)
                    for k, op in enumerate(whole)])  # fmt: skip


def _start(predictor: Predictor, settings: Mapping[str, Floats],
           whole: Sequence[Operating]) -> SwitchOn | None:  # fmt: skip
    k = len(whole) // 2
    final = {node: whole[k].mean[node] for node in predictor.section.watched}
    return switch_on(predictor, _single(predictor, settings, k), final)


def _mains(predictor: Predictor) -> float | None:
    mains = predictor.section.circuit.mains
    if mains is None:
        return None
    share = predictor.values().get("mains", 1.0)
    return float(share) * mains.v_nominal


def _fast_gap(predictor: Predictor, settings: Mapping[str, Floats], mean: Floats) -> float | None:
    """How far the fast path is from the whole simulation at the same positions. [V]"""
    if predictor.network is None:
        return None
    fast = _watched_means(predictor, predictor.network, settings, mean.shape[0])
    return float(np.max(np.abs(fast - mean))) if mean.size else 0.0


def _watched_means(predictor: Predictor, network: Network, settings: Mapping[str, Floats],
                   rows: int) -> Floats:  # fmt: skip
    section = predictor.section
    values: dict[str, Value] = predictor.values() | dict(settings)
    means = network.means(values, predictor.curves, rows)
    return np.stack([means.at(section.joined[node]) for node in section.watched], axis=1)


def _metered(predictor: Predictor, settings: Mapping[str, Floats], mean: Floats, band: Band,
             meter: float) -> tuple[Floats, Band]:  # fmt: skip
    """Means and bands as a meter reads them, put to one watched node after the other."""
    section = predictor.section
    read = np.empty_like(mean)
    for column, node in enumerate(section.watched):
        probe = Resistance("meter", section.joined[node], GROUND, meter)
        whole = predictor.wholes(
            [(_single(predictor, settings, k), (probe,)) for k in range(mean.shape[0])]
        )
        read[:, column] = [op.mean[node] for op in whole]
    # The meter scales what a part's error does in the same proportion as the mean itself.
    ratio = np.where(mean != 0, read / np.where(mean != 0, mean, 1.0), 1.0)
    limits = [edge * ratio for edge in (band.low_95, band.high_95, band.low, band.high)]
    effects = {name: effect * ratio for name, effect in band.effects.items()}
    return read, Band(*limits, effects)
