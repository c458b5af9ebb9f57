"""The prediction: grid voltages over the travel of the pot, and what goes with them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from .engine.elements import GROUND, Floats, Resistance
from .graph import Section
from .model import Value
from .montecarlo import Scatter, scatter
from .netlist import Tremolo
from .network import Network
from .partwork import PartWork, largest, part_work
from .predictor import Operating, Predictor
from .sweeping import swept_pots
from .swing import swings
from .switchon import SwitchOn, switch_on
from .tolerance import Band, BandFinder
from .valves.practice import WINDOW
from .valvetravel import ValvesTravel, valves_travel

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
    valves : ValvesTravel
        Idle current and dissipation of the valves.
    swing : mapping of node to array, shape (positions,)
        How far a tremolo moves each watched node either side of its mean; empty without one.
        [V]
    at_peak : ValvesTravel or None
        The valves at the peak of the tremolo; None without one.
    start : SwitchOn or None
        How the bias comes up; None if not asked for.
    fast_gap : float or None
        Largest difference between the fast path and the whole simulation at these positions;
        None for a section that cannot be cut. [V]
    settled : bool
        False if some steady state was still moving when the search for it ended.
    scatter : Scatter or None
        Chassis drawn at random, beside the band; None if not asked for.
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
    valves: ValvesTravel
    swing: Mapping[str, Floats]
    at_peak: ValvesTravel | None
    start: SwitchOn | None
    fast_gap: float | None
    settled: bool
    scatter: Scatter | None = None


def predict(
    predictor: Predictor,
    *,
    travel: Sequence[float] | None = None,
    pots: Sequence[str] = (),
    fixed: Mapping[str, float] | None = None,
    meter: float | None = None,
    window: tuple[float, float] = WINDOW,
    with_start: bool = True,
    samples: int = 0,
    seed: int = 1,
) -> Prediction:
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
    window : (float, float)
        Plate dissipation wanted, as shares of the limit. [1]
    with_start : bool
        Whether to simulate the switch-on as well.
    samples, seed : int
        Chassis to draw at random beside the band, none if 0, and what their random numbers
        start from. [count]

    Raises
    ------
    InputError
        If chassis are to be drawn of a section that cannot be cut.
    EngineError
        If the simulator cannot answer.
    """
    section = predictor.section
    fixed = dict(fixed or {})
    swept = tuple(pots) or tuple(pot for pot in swept_pots(predictor) if pot not in fixed)
    at = np.linspace(0.0, 1.0, STEPS) if travel is None else np.asarray(travel, dtype=float)
    if not swept:
        at = np.array([0.5])
    names = [pot.name for pot in predictor.pots()]
    stands = {name: fixed.get(name, 0.5) for name in names if name not in swept}
    settings: dict[str, Floats] = {f"{name}.travel": at for name in swept}
    settings |= {f"{name}.travel": np.full_like(at, where) for name, where in stands.items()}
    whole = predictor.wholes([(_single(predictor, settings, k), ()) for k in range(at.size)])
    mean = np.array([[op.mean[node] for node in section.watched] for op in whole])
    band = BandFinder(predictor, settings, section.watched).find()
    drawn = scatter(predictor, settings, section.watched, samples, seed) if samples else None
    read, read_band = mean, band
    if meter is not None:
        read, read_band = _metered(predictor, settings, mean, band, meter)
        drawn = None if drawn is None else drawn.scaled(_ratio(read, mean))
    swing = _swing(predictor, settings, at.size)
    nodes = [node for node in whole[0].mean if node != GROUND]
    return Prediction(
        section=section,
        swept=swept,
        fixed=stands,
        travel=at,
        watched=section.watched,
        mean=read,
        ripple=np.array([[op.ripple[node] for node in section.watched] for op in whole]),
        band=read_band,
        nodes={node: np.array([op.mean[node] for op in whole]) for node in nodes},
        node_ripple={node: np.array([op.ripple[node] for op in whole]) for node in nodes},
        outlets=section.cut.ports if section.cut else (),
        work=_work(predictor, settings, whole),
        mains=_mains(predictor),
        meter=meter,
        valves=valves_travel(section, at, mean, band, window),
        swing=swing,
        at_peak=_at_peak(section, at, mean, swing, window),
        start=_start(predictor, settings, whole) if with_start else None,
        fast_gap=_fast_gap(predictor, settings, mean),
        settled=all(op.state.converged for op in whole),
        scatter=drawn,
    )


def _single(predictor: Predictor, settings: Mapping[str, Floats], k: int) -> dict[str, Value]:
    return predictor.values() | {name: float(at[k]) for name, at in settings.items()}


def _work(predictor: Predictor, settings: Mapping[str, Floats],
          whole: Sequence[Operating]) -> dict[str, PartWork]:  # fmt: skip
    circuit = predictor.section.circuit
    return largest([part_work(circuit, _single(predictor, settings, k), op.state.waves)
                    for k, op in enumerate(whole)])  # fmt: skip


def _swing(predictor: Predictor, settings: Mapping[str, Floats], rows: int) -> dict[str, Floats]:
    """What tremolos do to the watched nodes at each position. [V]"""
    section = predictor.section
    if predictor.network is None or not any(section.circuit.of(Tremolo)):
        return {}
    means = predictor.means(predictor.values() | dict(settings), rows)
    found: dict[str, list[float]] = {node: [] for node in section.watched}
    for k in range(rows):
        i_port = {port: float(i[k]) for port, i in means.i_port.items()}
        state = _single(predictor, settings, k)
        for node, v in swings(section, state, predictor.curves, i_port).items():
            found[node].append(v)
    return {node: np.array(values) for node, values in found.items()}


def _at_peak(
    section: Section,
    at: Floats,
    mean: Floats,
    swing: Mapping[str, Floats],
    window: tuple[float, float],
) -> ValvesTravel | None:
    """The valves when the tremolo makes their grids least negative."""
    if not swing:
        return None
    peak = mean + np.stack([swing[node] for node in section.watched], axis=1)
    return valves_travel(section, at, peak, Band(peak, peak, peak, peak, {}), window)


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
    ratio = _ratio(read, mean)
    effects = {name: effect * ratio for name, effect in band.effects.items()}
    scaled = Band(
        band.low_95 * ratio, band.high_95 * ratio, band.low * ratio, band.high * ratio, effects
    )
    return read, scaled


def _ratio(read: Floats, mean: Floats) -> Floats:
    return np.where(mean != 0, read / np.where(mean != 0, mean, 1.0), 1.0)
