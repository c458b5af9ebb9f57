"""A section with the power on, in many conditions: its volts and how they follow the conditions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from ..engine.elements import GROUND, Floats
from ..netlist import Supply, Valve
from .family import PORT, FrontState
from .model import SectionModel
from .nodal import Solved, Wiring

_ITERATIONS = 12
_R_METER = 10e6  # a usual meter [ohm]

Conditions = Mapping[str, Floats]
"""Coordinates by name, each of shape (rows,)."""


class ToCoordinates:
    """Turns derivatives by the logarithms of branches into derivatives by coordinates.

    Parameters
    ----------
    slopes : sequence of (branch, coordinate, array of shape (rows,) or None)
        From `SectionModel.resistances`.
    index : mapping of coordinate name to int
        Where each coordinate stands; "RV1@" for the position of a pot in this state.
    size : int
        Number of coordinates. [count]
    branches : int
        Number of branches. [count]
    """

    def __init__(self, slopes: Sequence[tuple[int, str, Floats | None]],
                 index: Mapping[str, int], size: int, branches: int) -> None:  # fmt: skip
        self.size = size
        self._plain = np.zeros((branches, size))
        self._bent: list[tuple[int, int, Floats]] = []
        for branch, name, slope in slopes:
            if slope is None:
                self._plain[branch, index[name]] = 1.0
            else:
                self._bent.append((branch, index[name], slope))

    def __call__(self, by_branch: Floats) -> Floats:
        """Derivatives of shape (rows, n, branches) as (rows, n, coordinates)."""
        by: Floats = by_branch @ self._plain
        for branch, at, slope in self._bent:
            by[:, :, at] += by_branch[:, :, branch] * slope[:, None]
        return by


class LiveState:
    """A section with the power on, in many conditions.

    Parameters
    ----------
    model : SectionModel
        The section.
    x : mapping of coordinate name to array, shape (rows,)
        The conditions.
    positions : mapping of pot name to coordinate name
        Where the pots stand.
    valves_out : bool
        Whether the output valves are out: then no grid draws current.
    index : mapping of coordinate name to int
        Where each coordinate stands among all.
    front : FrontState, optional
        The rectifier in these conditions, where it is known: it is the same wherever the pots
        stand. See `Front.state`.

    Attributes
    ----------
    log_g : array, shape (rows,)
        Logarithm of the load on the port; 0 without a port.
    """

    def __init__(self, model: SectionModel, x: Conditions, positions: Mapping[str, str],
                 valves_out: bool, index: Mapping[str, int],
                 front: FrontState | None = None) -> None:  # fmt: skip
        self.model, self.x, self.index, self._size = model, x, index, len(index)
        travel = {pot: x[name] for pot, name in positions.items()}
        r, slopes = model.resistances(model.live, x, travel)
        places = {**index, **{f"{pot}@": index[name] for pot, name in positions.items()}}
        self.to_coordinates = ToCoordinates(slopes, places, len(index), r.shape[1])
        self.g = 1.0 / r
        if valves_out:
            self.g[:, model.valve_leaks(model.live)] = 0.0
        wiring = model.live_wiring
        self.z_open = np.asarray(wiring.inverse(self.g), dtype=float)
        self._sources = self._currents(valves_out)
        driven = np.zeros((r.shape[0], len(wiring.nodes)))
        for picked, i, _ in self._sources:
            driven += i[:, None] * picked
        v_open = (self.z_open @ driven[:, :, None])[:, :, 0]
        self.front: FrontState | None = None
        if model.front is None or model.port is None:
            self.solved, self.log_g = Solved(wiring, self.z_open, v_open), np.zeros(self.rows)
        else:
            self.front = front or model.front.state(x, self.rows)
            self._meet_port(wiring, v_open, self.front)
        self._across = self.solved.v @ wiring.incidence.T

    @property
    def rows(self) -> int:
        """Number of conditions. [count]"""
        return int(self.g.shape[0])

    def _currents(self, valves_out: bool) -> list[tuple[Floats, Floats, dict[str, Floats]]]:
        """Currents driven into nodes: where, how much, and how it follows the coordinates."""
        model, x = self.model, self.x
        found = []
        for supply in model.section.circuit.of(Supply):
            if supply.name in model.in_front:
                continue
            mains = x.get("mains", np.zeros(self.rows))
            i = np.exp(x[supply.name] + mains - x[f"{supply.name}.source"])
            by = {supply.name: i, f"{supply.name}.source": -i}
            if "mains" in x:
                by["mains"] = i
            joined = model.section.joined
            picked = model.live_wiring.probe(joined[supply.plus], joined[supply.minus])
            found.append((picked, i, by))
        for valve in model.section.circuit.of(Valve):
            name = f"{valve.name}.grid current"
            i = np.exp(x[name]) * (0.0 if valves_out else 1.0)
            picked = model.live_wiring.probe(model.section.joined[valve.grid])
            found.append((picked, i, {name: i}))
        return found

    def _meet_port(self, wiring: Wiring, v_open: Floats, front: FrontState) -> None:
        """Where the network meets the curve of its port."""
        family, p = self.model.front, wiring.index[str(self.model.port)]
        assert family is not None
        z_pp, v_oc = self.z_open[:, p, p], v_open[:, p]
        log_g = self._load(z_pp, v_oc, (family.log_g[0], family.log_g[-1]))
        self.log_g = log_g
        value, slope = front.at(log_g)
        v = value[0]
        safe = np.where(np.abs(v) < 1e-6, 1e-6, v)
        self._elastic = np.clip(slope[0] / safe, -0.99999, -1e-6)
        r_source = -self._elastic / (np.exp(log_g) * (1.0 + self._elastic))
        self._by_axis = front.by_axis(log_g)
        # Seen from the network the port is a source behind its slope.
        total = r_source + z_pp
        column = self.z_open[:, :, p]
        z = self.z_open - column[:, :, None] * column[:, None, :] / total[:, None, None]
        self.solved = Solved(wiring, z, v_open + column * ((v - v_oc) / z_pp)[:, None])
        self._to_nodes = column / total[:, None]
        self._bend = total - total**2 / (self._chord(log_g, v, r_source) + z_pp)
        self._outputs, self._outputs_by_load = value, slope
        # Without other sources the load is the network's own conductance.
        self._load_by_branch = -self.g * (column @ wiring.incidence.T) ** 2 / z_pp[:, None]

    def _load(self, z_pp: Floats, v_oc: Floats, reach: tuple[float, float]) -> Floats:
        """Logarithm of the load that the network is to the port."""
        assert self.front is not None
        log_g = np.clip(-np.log(z_pp), *reach)
        for _ in range(_ITERATIONS):
            (v,), (by_log_g,) = self.front.at(log_g, PORT)
            safe = np.where(np.abs(v) < 1e-6, 1e-6, v)
            ratio = np.clip(1.0 - v_oc / safe, 1e-6, 1e6)
            new = np.clip(-np.log(z_pp) + np.log(ratio), *reach)
            # Newton on the load: what the open-circuit volts change follows the curve.
            bend = 1.0 - (v_oc / safe) * (by_log_g / safe) / ratio
            step = (new - log_g) / np.clip(bend, 0.3, 5.0)
            log_g = log_g + step
            if np.max(np.abs(step)) < 1e-9:
                break
        return log_g

    def _chord(self, log_g: Floats, v: Floats, r_source: Floats) -> Floats:
        """The port's source resistance as the last meter sees it. [ohm]

        Where hardly any current flows, as with a part open, a meter moves the load so far that
        the curve is not straight over it.
        """
        assert self.front is not None
        g, more = np.exp(log_g), np.exp(log_g) + 1.0 / _R_METER
        (loaded,), _ = self.front.at(np.log(more), PORT)
        drawn = more * loaded - g * v
        chord = (v - loaded) / np.where(np.abs(drawn) < 1e-15, 1e-15, drawn)
        return np.where(chord > 0.0, chord, r_source)

    def volts(self, probes: Sequence[tuple[str, str]]
              ) -> tuple[Floats, Floats, Floats, Floats]:  # fmt: skip
        """Volts between nodes, and the resistance seen there.

        Parameters
        ----------
        probes : sequence of (str, str)
            Plus and minus of each.

        Returns
        -------
        v : array, shape (rows, probes)
            [V]
        v_by : array, shape (rows, probes, coordinates)
            Its derivative.
        r : array, shape (rows, probes)
            Resistance that a meter sees; in front of the rectifier that as drawn. [ohm]
        r_by : array, shape (rows, probes, coordinates)
            Its derivative.
        """
        wiring, g = self.model.live_wiring, self.g[:, None, :]
        behind = np.array([wiring.probe(*(n if n in wiring.index else GROUND for n in probe))
                           for probe in probes])  # fmt: skip
        v = self.solved.v @ behind.T
        along, r = self.solved.transfer(behind)
        v_by = self.to_coordinates(g * along * self._across[:, None, :])
        r_by = self.to_coordinates(g * along**2)
        for picked, _, by in self._sources:
            into = (self.solved.z @ picked) @ behind.T
            for name, slope in by.items():
                v_by[:, :, self.index[name]] += into * slope[:, None]
        if self.front is not None:
            reach = self._to_nodes @ behind.T
            r = r + self._bend[:, None] * reach**2
            # A curve that moves by so much at the same load moves by more at the same current.
            self._add_axes(v_by, 0, reach / (1.0 + self._elastic)[:, None])
            self._add_front(probes, v, v_by, r)
        return v, v_by, r, r_by

    def _add_front(self, probes: Sequence[tuple[str, str]], v: Floats, v_by: Floats,
                   r: Floats) -> None:  # fmt: skip
        """Add the mean volts of nodes in front of the rectifier, and what a meter sees there."""
        assert self.model.front is not None
        for k, probe in enumerate(probes):
            for node, sign in zip(probe, (1.0, -1.0), strict=True):
                at = self.model.front.index.get(("dc", node, ""))
                if at is not None:
                    w, w_by = self.output(at)
                    v[:, k] += sign * w
                    v_by[:, k] += sign * w_by
                    r[:, k] += self.model.front.r_seen.get(("dc", node), 0.0)

    def _add_axes(self, by: Floats, output: int, weight: Floats) -> None:
        """Add what the coordinates in front do to an output, weight of shape (rows, n)."""
        assert self.model.front is not None
        for name, axis in self.model.front.acts.items():
            if name in self.index:
                by[:, :, self.index[name]] += weight * self._by_axis[axis][output][:, None]

    def output(self, k: int) -> tuple[Floats, Floats]:
        """An output of the front, (rows,), with its derivatives, (rows, coordinates)."""
        by_load = self._outputs_by_load[k][:, None] * self._load_by_branch
        by = self.to_coordinates(by_load[:, None, :])
        self._add_axes(by, k, np.ones((self.rows, 1)))
        return self._outputs[k], by[:, 0]
