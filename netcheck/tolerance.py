"""How far a prediction may be off because every part is a little off.

Two bands: the one that holds in 95 of 100 sound chassis, and the one that none can leave.
"""

from __future__ import annotations

import functools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from .assumed import mains_tolerance
from .engine.elements import Floats
from .graph import Section
from .model import Value, spreads
from .netlist import Capacitor, Zener
from .network import Means, Network
from .port import PortCurve, moved
from .predictor import NEAR, Predictor

Z_95 = 1.959964
"""97.5 % point of the normal distribution. [1]"""
_FEW = 3  # positions at which shifts are simulated where there is no fast path [count]
_ROUNDING = 1e-7  # less is no effect: the rows of a batch are not all rounded alike [V]
_Key: TypeAlias = tuple[tuple[str, float], ...]
"""Shifts of parameters, in the order of their names."""
_FRONT_LOADS = (0.5, 1.8)  # beside the drawn one enough to see how a part in front moves the curve


@dataclass(frozen=True, slots=True)
class Band:
    """Limits around predicted means, each array of shape (positions, watched nodes). [V]

    Parameters
    ----------
    low_95, high_95 : array
        95 of 100 sound chassis lie between these at the mains voltage stated.
    low, high : array
        No sound chassis lies outside of these: every part and the mains at a limit.
    effects : mapping of parameter name to array
        Change of the mean when the parameter goes from nominal to the top of its tolerance.
    """

    low_95: Floats
    high_95: Floats
    low: Floats
    high: Floats
    effects: Mapping[str, Floats]


def tolerances(section: Section, changes: Iterable[str]) -> dict[str, float]:
    """The tolerance of each parameter, the mains among them, as a fraction. [1]

    Parameters that the user fixed (`changes`) keep their tolerance: a new part has one too;
    a mains voltage given by hand counts as measured.
    """
    found = spreads(section.circuit)
    mains = section.circuit.mains
    if mains is not None and section.sources:
        found["mains"] = 0.01 if "mains" in changes else mains_tolerance(mains)
    return found


def half_width_95(parts: Floats) -> Floats:
    """Half the 95 % band of a sum of independent errors, each evenly spread.

    Parameters
    ----------
    parts : array, shape (n, ...)
        Largest error of each contribution, sign ignored.

    Returns
    -------
    array, shape (...)

    Notes
    -----
    Cornish-Fisher expansion with the kurtosis of the sum: an even spread of half-width d has
    the variance d^2/3 and the fourth cumulant -2 d^4/15. A single contribution has 95 % of
    itself within 0.95 d, which also bounds the whole.

    References
    ----------
    M. G. Kendall, A. Stuart, "The Advanced Theory of Statistics", vol. 1, section 6.25
    (from memory).
    """
    parts = np.abs(parts)
    variance = np.sum(parts**2, axis=0) / 3.0
    safe = np.where(variance > 0, variance, 1.0)
    kurtosis = -np.sum(2.0 * parts**4 / 15.0, axis=0) / safe**2
    z = Z_95 + kurtosis * (Z_95**3 - 3.0 * Z_95) / 24.0
    return np.asarray(np.minimum(z * np.sqrt(variance), 0.95 * np.sum(parts, axis=0)))


def parameters_in_front(section: Section, names: Iterable[str]) -> set[str]:
    """Of some parameters those that move a port's curve and not only the network behind it."""
    cut = section.cut
    if cut is None:
        return set(names)
    found = {name for name in names if name in cut.front or name.partition(".")[0] in cut.front}
    at_port = set(cut.ports) | cut.front_nodes
    for capacitor in section.circuit.of(Capacitor):
        ends = {section.joined[node] for _, node in capacitor.terminals}
        if ends & at_port:
            found.add(capacitor.name)
    return found | {"mains"}


def one_at_a_time(values: Mapping[str, Value], shifts: Mapping[str, float],
                  rows: int = 1) -> dict[str, Value]:  # fmt: skip
    """A batch of states as they are, then with one parameter after the other shifted.

    A batch takes hardly longer than a single state.

    Parameters
    ----------
    values : mapping of str to float or array, shape (rows,)
        The states.
    shifts : mapping of str to float
        By which share to raise a parameter. [1]
    rows : int
        Number of states. [count]

    Returns
    -------
    dict of str to float or array, shape ((len(shifts) + 1) * rows,)
    """
    count = len(shifts) + 1
    batch = {name: np.tile(value, count) if np.size(value) > 1 else value
             for name, value in values.items()}  # fmt: skip
    for own, (name, shift) in zip(np.eye(count)[1:], shifts.items(), strict=True):
        batch[name] = batch.get(name, 1.0) * (1.0 + shift * np.repeat(own, rows))
    return batch


class BandFinder:
    """Finds the bands of a section over a list of pot settings.

    Parameters
    ----------
    predictor : Predictor
        Of the section.
    settings : mapping of str to array, shape (positions,)
        The travel parameters ("RV1.travel") that vary.
    watched : sequence of str
        The nodes looked at.
    """

    def __init__(self, predictor: Predictor, settings: Mapping[str, Floats],
                 watched: Sequence[str]) -> None:  # fmt: skip
        self.predictor, self.settings, self.watched = predictor, settings, tuple(watched)
        self.rows = max((np.size(value) for value in settings.values()), default=1)
        self.tolerances = tolerances(predictor.section, predictor.changes)
        self._front = parameters_in_front(predictor.section, self.tolerances)
        self._traced: dict[_Key, Mapping[str, PortCurve]] = {}
        self._known: dict[_Key, tuple[Floats, Floats]] = {}

    def find(self) -> Band:
        """The bands around the means of the fast path.

        Raises
        ------
        EngineError
            If the simulator cannot answer.
        """
        nominal = self._drawn
        effects = self._alone(self.tolerances)
        effects = {name: effect for name, effect in effects.items() if np.any(effect)}
        if not effects:
            return Band(nominal, nominal, nominal, nominal, {})
        middle, half = self._spread(nominal, effects)
        low, high = self._corners(effects)
        return Band(middle - half, middle + half, low, high, effects)

    def _spread(self, nominal: Floats, effects: Mapping[str, Floats]) -> tuple[Floats, Floats]:
        """Middle and half the width of the 95 % band.

        A resistance of wide tolerance does more to one side than to the other: half the
        difference counts for the width, and the mean of what bends shifts the middle.
        """
        middle, parts = nominal.copy(), [np.zeros_like(nominal)]
        behind = [name for name in effects if name not in self._front]
        downward = self._alone({name: -self.tolerances[name] for name in behind})
        for name, up in effects.items():
            if name == "mains":  # it can be measured: the band is for the mains stated
                continue
            down = downward.get(name, -up)
            middle += (up + down) / 6.0
            parts.append((up - down) / 2.0)
        return middle, half_width_95(np.array(parts))

    def _alone(self, shifts: Mapping[str, float]) -> dict[str, Floats]:
        """What each of some parameters does when it is shifted alone, (positions, watched). [V]"""
        front = self._in_front(shifts)
        behind = {name: shift for name, shift in shifts.items() if name not in front}
        self._trace_all([{name: shift} for name, shift in front.items()])
        found = {name: self._means({name: shift}) - self._drawn for name, shift in front.items()}
        if behind:
            batch = one_at_a_time(self._values({}), behind, self.rows)
            means = self._watched(self.predictor.means(batch, (len(behind) + 1) * self.rows))
            first, *rest = means.reshape(len(behind) + 1, self.rows, -1)
            found |= {name: one - first for name, one in zip(behind, rest, strict=True)}
        return {name: np.where(np.abs(found[name]) < _ROUNDING, 0.0, found[name])
                for name in shifts}  # fmt: skip

    def _values(self, shifts: Mapping[str, float | Floats]) -> dict[str, Value]:
        values: dict[str, Value] = dict(self.predictor.values())
        values.update(self.settings)
        for name, shift in shifts.items():
            values[name] = values.get(name, 1.0) * (1.0 + shift)
        return values

    def _means(self, shifts: Mapping[str, float]) -> Floats:
        """Means of the watched nodes with some parameters shifted, (positions, watched). [V]"""
        predictor, network = self.predictor, self.predictor.network
        if network is None:
            return self._means_whole(shifts)
        front = self._in_front(shifts)
        behind = {name: shift for name, shift in shifts.items() if name not in front}
        if not front:
            return self._watched(predictor.means(self._values(behind), self.rows))
        drawn, without = self._as_traced(network, behind)
        # What the shift adds, by curves alike: smoothing capacitors act on both in the same way.
        with_it = self._watched(network.means(self._values(shifts), self._curves(front), self.rows))
        return drawn + with_it - without

    def _as_traced(self, network: Network, behind: Mapping[str, float]) -> tuple[Floats, Floats]:
        """Means with the curves as drawn: what they are, and by the curves alone. [V]"""
        key = _key(behind)
        if key not in self._known:
            values, predictor = self._values(behind), self.predictor
            self._known[key] = (
                self._watched(predictor.means(values, self.rows)),
                self._watched(network.means(values, predictor.curves, self.rows)),
            )
        return self._known[key]

    def _watched(self, means: Means) -> Floats:
        at = self.predictor.section.joined
        return np.stack([means.at(at[node]) for node in self.watched], axis=1)

    def _in_front(self, shifts: Mapping[str, float]) -> dict[str, float]:
        return {name: shift for name, shift in shifts.items() if name in self._front}

    def _curves(self, front: Mapping[str, float]) -> Mapping[str, PortCurve]:
        """The port curves with parameters in front shifted."""
        self._trace_all([front])
        return self._traced[_key(front)]

    def _trace_all(self, fronts: Iterable[Mapping[str, float]]) -> None:
        """Trace what is not known yet of the port curves with parameters in front shifted.

        A shifted curve differs from the one as drawn by a proportion that bends little, so that
        it is enough to know that at a few loads. A zener makes a knee, which a corner may move
        to where it matters: there the curve is traced anew.
        """
        predictor = self.predictor
        new = {_key(front): front for front in fronts if _key(front) not in self._traced}
        if predictor.network is None or not new:
            return
        anew = [key for key, front in new.items() if self._has_knee and len(front) > 1]
        few = [key for key in new if key not in anew]
        self._traced |= zip(anew, predictor.traces(self._shifted(anew), NEAR), strict=True)
        for key, found in zip(few, predictor.traces(self._shifted(few), _FRONT_LOADS,
                                                    refine=False), strict=True):  # fmt: skip
            self._traced[key] = {port: moved(predictor.curves[port], curve)
                                 for port, curve in found.items()}  # fmt: skip

    def _shifted(self, fronts: Iterable[_Key]) -> list[dict[str, Value]]:
        """The states as drawn with parameters shifted."""
        drawn = self.predictor.values()
        return [drawn | {name: drawn.get(name, 1.0) * (1.0 + shift) for name, shift in front}
                for front in fronts]  # fmt: skip

    @functools.cached_property
    def _has_knee(self) -> bool:
        cut = self.predictor.section.cut
        zeners = self.predictor.section.circuit.of(Zener)
        return cut is not None and any(zener.name in cut.front for zener in zeners)

    def _means_whole(self, shifts: Mapping[str, float]) -> Floats:
        """By whole simulation: the means as drawn, and at a few positions what a shift adds."""
        if not shifts:
            return self._simulated({}, range(self.rows))
        few = np.unique(np.linspace(0, self.rows - 1, min(_FEW, self.rows)).astype(int))
        added = self._simulated(shifts, few) - self._drawn[few]
        columns = [np.interp(np.arange(self.rows), few, column) for column in added.T]
        return np.asarray(self._drawn + np.stack(columns, axis=1))

    @functools.cached_property
    def _drawn(self) -> Floats:
        return self._means({})

    def _simulated(self, shifts: Mapping[str, float], positions: Iterable[int]) -> Floats:
        """Simulated means at some of the positions, shape (positions, watched). [V]"""
        values = self._values(shifts)
        states = [({n: float(np.broadcast_to(v, self.rows)[k]) for n, v in values.items()}, ())
                  for k in positions]  # fmt: skip
        answers = self.predictor.wholes(states)
        return np.array([[answer.mean[node] for node in self.watched] for answer in answers])

    def _corners(self, effects: Mapping[str, Floats]) -> tuple[Floats, Floats]:
        """Means with every parameter at the limit that pushes to one side, and to the other.

        Which limit that is may differ from position to position and from grid to grid; states
        with the same limits are solved together.
        """
        names = list(effects)
        signs = np.sign(np.stack([effects[name] for name in names]))
        patterns = signs.reshape(len(names), -1).T
        corners = np.empty((2, *signs.shape[1:]))
        ways = {
            (side, *pattern): {
                name: side * sign * self.tolerances[name]
                for name, sign in zip(names, pattern, strict=True) if sign
            }
            for side in (-1.0, 1.0)
            for pattern in sorted(set(map(tuple, patterns.tolist())))
        }  # fmt: skip
        self._trace_all(filter(None, map(self._in_front, ways.values())))
        for (side, *pattern), shifts in ways.items():
            same = np.all(patterns == pattern, axis=1).reshape(corners.shape[1:])
            corners[int(side > 0.0)][same] = self._means(shifts)[same]
        low, high = corners
        return low, high


def _key(front: Mapping[str, float]) -> _Key:
    return tuple(sorted(front.items()))
