"""What all readings of one section share: its front, its networks, the branches of them."""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from .. import assumed
from ..engine.elements import GROUND, Floats
from ..errors import EngineError
from ..graph import Section
from ..idling import IdlingValve, idle, idling_valve
from ..model import R_ELSEWHERE, audio_law, stretches
from ..netlist import (
    OPEN,
    Capacitor,
    Diode,
    Link,
    Pot,
    Resistor,
    Supply,
    Tremolo,
    Valve,
    Winding,
    Zener,
)
from ..predictor import Predictor
from ..valves import lookup
from .coordinates import R_SHORT
from .front import Front, Progress
from .links import with_links_as_parts
from .nodal import Wiring

_R_LOW, _R_HIGH = 0.02, 1e12
_LEAK = "leak "
_TABLE = np.linspace(-160.0, 20.0, 361)  # grid volts at which valves are asked beforehand


@dataclass(frozen=True, slots=True)
class Branch:
    """A resistance between two nodes.

    Parameters
    ----------
    a, b : str
        Nodes, those that links join under one name.
    coordinate : str
        The coordinate that is the logarithm of its ohms; for a half of a pot's track the
        pot's name.
    half : str
        "top" or "bottom" for a half of a track, else empty.
    share : float
        The branch is this share of the coordinate's resistance. [1]
    broken : str
        The coordinate of what a break in it adds; empty if it cannot break.
    """

    a: str
    b: str
    coordinate: str
    half: str = ""
    share: float = 1.0
    broken: str = ""


def undrawn_leak(a: str, b: str) -> str:
    """The name of a leak that is not drawn; no part is called so, for it has blanks."""
    return f"{_LEAK}{a} to {b}"


def is_undrawn(name: str) -> bool:
    """Whether a name is that of a leak that is not drawn."""
    return name.startswith(_LEAK)


class SectionModel:
    """What all readings of one section share.

    Parameters
    ----------
    predictor : Predictor
        Of the section as drawn.
    progress : Progress, optional
        Told now and then how far the simulation is.

    Attributes
    ----------
    undrawn : tuple of str
        The coordinates of leaks that are not drawn; none unless asked for.

    Raises
    ------
    EngineError
        If the section cannot be cut at one port, or the simulator cannot answer.
    """

    undrawn: tuple[str, ...] = ()

    def __init__(self, predictor: Predictor, progress: Progress | None = None) -> None:
        self.predictor = _unlinked(predictor)
        self.section = section = self.predictor.section
        cut = section.cut
        if cut is None or len(cut.ports) > 1:
            raise EngineError("the rectifier of this section cannot be told apart from the rest")
        self.port = cut.ports[0] if cut.ports else None
        self.front = None if self.port is None else Front(self.predictor, self.port, progress)
        self.in_front = cut.front
        self.front_nodes = cut.front_nodes
        self.live = list(self._live_branches())
        self.off = list(self._off_branches())
        nodes = [n for n in dict.fromkeys(section.joined.values())
                 if n != GROUND and n not in cut.front_nodes]  # fmt: skip
        self.live_wiring = Wiring([(b.a, b.b) for b in self.live], nodes)
        everywhere = [n for n in dict.fromkeys(section.joined.values()) if n != GROUND]
        self.off_wiring = Wiring([(b.a, b.b) for b in self.off], everywhere)
        self._currents: dict[str, Floats] = {}
        self.valves = {valve.name: table for valve in section.circuit.of(Valve)
                       if (table := self._table_of(valve)) is not None}  # fmt: skip

    def with_undrawn_leaks(self, among: Sequence[str]) -> SectionModel:
        """The same with a leak between any two nodes behind the rectifier that no part joins.

        Parameters
        ----------
        among : sequence of str
            Only between these, and from them to ground.
        """
        parts = [{self._at(node) for _, node in part.terminals if node != OPEN}
                 for part in self.section.circuit.parts if not isinstance(part, Valve)]  # fmt: skip
        behind = set(self.live_wiring.nodes) & set(among)
        nodes = [*(node for node in self.off_wiring.nodes if node in behind), GROUND]
        leaks = [Branch(a, b, undrawn_leak(a, b)) for a, b in combinations(nodes, 2)
                 if not any({a, b} <= joined for joined in parts)]  # fmt: skip
        found = copy.copy(self)
        found.undrawn = tuple(leak.coordinate for leak in leaks)
        found.live, found.off = [*self.live, *leaks], [*self.off, *leaks]
        found.live_wiring = Wiring([(b.a, b.b) for b in found.live], self.live_wiring.nodes)
        found.off_wiring = Wiring([(b.a, b.b) for b in found.off], self.off_wiring.nodes)
        return found

    def _at(self, node: str) -> str:
        return self.section.at(node)

    def _pot_branches(self, pot: Pot) -> list[Branch]:
        inner = f"{pot.name} wiper"
        found = [Branch(inner, self._at(pot.wiper), f"{pot.name}.wiper")]
        for half, node in (("top", pot.top), ("bottom", pot.bottom)):
            if node != OPEN:
                found.append(Branch(inner, self._at(node), pot.name, half))
        return found

    def _common_branches(self) -> list[Branch]:
        """The branches that are the same with the power on and off."""
        at = self._at
        found = [Branch(at(node), GROUND, "elsewhere") for node in self.section.circuit.elsewhere
                 if at(node) != GROUND]  # fmt: skip
        for part in self.section.circuit.parts:
            if isinstance(part, Resistor):
                found.append(Branch(at(part.start), at(part.end), part.name))
            elif isinstance(part, Pot):
                found += self._pot_branches(part)
            elif isinstance(part, Capacitor):
                found.append(Branch(at(part.start), at(part.end), f"{part.name}.leak"))
            elif isinstance(part, Tremolo):
                found.append(Branch(at(part.start), at(part.end), f"{part.name}.source"))
            elif isinstance(part, Valve):
                found.append(Branch(at(part.grid), GROUND, f"{part.name}.leak"))
        return [b for b in found if b.a != b.b]

    def _live_branches(self) -> list[Branch]:
        """What hangs behind the rectifier."""
        found = list(self._common_branches())
        for supply in self.section.circuit.of(Supply):
            if supply.name not in self.in_front:
                found.append(Branch(self._at(supply.plus), self._at(supply.minus),
                                    f"{supply.name}.source"))  # fmt: skip
        return [b for b in found if not {b.a, b.b} & self.front_nodes]

    def _off_branches(self) -> list[Branch]:
        """All that carries a meter's current with the power off."""
        at, found = self._at, list(self._common_branches())
        for part in self.section.circuit.parts:
            if isinstance(part, Diode | Zener):
                found.append(Branch(at(part.anode), at(part.cathode), f"{part.name}.leak"))
            elif isinstance(part, Supply):
                found.append(Branch(at(part.plus), at(part.minus), f"{part.name}.off"))
            elif isinstance(part, Winding):
                found += self._copper(part)
        return [b for b in found if b.a != b.b]

    def _copper(self, winding: Winding) -> list[Branch]:
        name, halves = winding.name, 1 if winding.centre is None else 2
        return [Branch(self._at(one.a), self._at(one.b), f"{name}.copper", share=one.share,
                       broken=f"{name}.break {k}" if k < halves else "")
                for k, one in enumerate(stretches(winding))]  # fmt: skip

    def resistances(self, branches: Sequence[Branch], x: Mapping[str, Floats],
                    travel: Mapping[str, Floats]
                    ) -> tuple[Floats, list[tuple[int, str, Floats | None]]]:  # fmt: skip
        """Resistances of branches, and how they follow the coordinates.

        Parameters
        ----------
        branches : sequence of Branch
            The branches.
        x : mapping of coordinate name to array, shape (rows,)
            The coordinates.
        travel : mapping of pot name to array, shape (rows,)
            Positions. [1]

        Returns
        -------
        r : array, shape (rows, branches)
            [ohm]
        slopes : list of (branch, coordinate, array of shape (rows,) or None)
            Derivative of the logarithm of a branch by a coordinate, None for 1; "RV1@" stands
            for the position of a pot.
        """
        rows = np.size(next(iter(x.values())))
        r = np.empty((rows, len(branches)))
        slopes: list[tuple[int, str, Floats | None]] = []
        for k, branch in enumerate(branches):
            name = branch.coordinate
            if name == "elsewhere":
                r[:, k] = R_ELSEWHERE
            elif branch.half:
                pot = self.section.circuit.part(name)
                assert isinstance(pot, Pot)
                r[:, k], by = _half(pot, branch.half, x, travel[name])
                slopes += [(k, coordinate, slope) for coordinate, slope in by.items()]
            elif name.endswith(".copper"):
                source = name.replace(".copper", ".source")
                copper = np.exp(x[name] + x[source]) * branch.share
                added = np.exp(x[branch.broken]) - R_SHORT if branch.broken else np.zeros(rows)
                r[:, k] = copper + added
                slopes += [(k, name, copper / r[:, k]), (k, source, copper / r[:, k])]
            else:
                r[:, k] = np.exp(x[name]) * branch.share
                slopes.append((k, name, None))
        return np.clip(r, _R_LOW, _R_HIGH), slopes

    def valve_leaks(self, branches: Sequence[Branch]) -> list[int]:
        """Places of the branches that go with the valves when these are out. [count]"""
        names = {f"{valve.name}.leak" for valve in self.section.circuit.of(Valve)}
        return [k for k, branch in enumerate(branches) if branch.coordinate in names]

    def _table_of(self, valve: Valve) -> IdlingValve | None:
        circuit = self.section.circuit
        kind = lookup(valve.type, circuit.own_types)
        return None if kind is None else idling_valve(valve, kind, circuit.high_tension)

    def current_table(self, ready: IdlingValve) -> tuple[Floats, Floats]:
        """Cathode current over grid volts, all valves alike, (knots,) each. [V], [A]"""
        if ready.valve.name not in self._currents:
            same = [v for v in self.valves.values() if v.type == ready.type] or [ready]
            drawn = idle(same, [_TABLE] * len(same), self.section.circuit.high_tension)
            for valve, one in zip(same, drawn, strict=True):
                self._currents[valve.valve.name] = one.i_cathode
        return _TABLE, self._currents[ready.valve.name]


def _unlinked(predictor: Predictor) -> Predictor:
    """The same with links as parts of their own, which may fail like others."""
    circuit = predictor.section.circuit
    if not any(circuit.of(Link)):
        return predictor
    return Predictor(Section(with_links_as_parts(circuit)), predictor.service, predictor.changes)


def _half(pot: Pot, half: str, x: Mapping[str, Floats], travel: Floats
          ) -> tuple[Floats, dict[str, Floats]]:  # fmt: skip
    """Resistance of one half of a track with its end, and its logarithmic derivatives."""
    track, top, bottom = (np.exp(x[f"{pot.name}{of}"]) for of in ("", ".top end", ".bottom end"))
    at = np.clip(travel, 0.0, 1.0)
    share, slope = _share(pot, x[f"{pot.name}.taper"], x[f"{pot.name}.turned"], at)
    # A sound end is part of the track; what wear or a break adds comes on top.
    between = track * (1.0 - 2.0 * assumed.r_end(pot) / pot.r)
    own, end, sign = (1.0 - share, top, -1.0) if half == "top" else (share, bottom, 1.0)
    r = np.maximum(end + between * own, _R_LOW)
    by = {
        pot.name: between * own / r,
        f"{pot.name}.{half} end": end / r,
        f"{pot.name}@": sign * between * slope / r * ((travel >= 0.0) & (travel <= 1.0)),
    }
    return r, by


_LAWS: tuple[Callable[[Floats, float], Floats], ...] = (
    lambda t, mid: t,
    lambda t, mid: np.asarray(audio_law(t, mid)),
    lambda t, mid: np.asarray(1.0 - audio_law(1.0 - t, mid)),
)
TAPERS = ("linear", "audio", "reverse audio")
"""The tapers, in the order of the values 1, 2, 3 of the coordinate "RV1.taper"; 0 is as drawn."""


def _share(pot: Pot, taper: Floats, turned: Floats, travel: Floats) -> tuple[Floats, Floats]:
    """Where the wiper stands, 0 at the bottom, and its derivative by the travel."""
    mid = assumed.AUDIO_MID if pot.mid is None else pot.mid
    drawn = TAPERS.index(pot.taper)
    law = np.where(taper > 0.5, np.rint(taper) - 1, drawn).astype(int)
    share, slope = np.empty_like(travel), np.empty_like(travel)
    step = 1e-4
    for k, of in enumerate(_LAWS):
        here = law == k
        if np.any(here):
            t = np.clip(travel[here], step, 1.0 - step)
            share[here] = of(travel[here], mid)
            slope[here] = (of(t + step, mid) - of(t - step, mid)) / (2.0 * step)
    up = (pot.clockwise == "top") ^ (turned > 0.5)
    return np.where(up, share, 1.0 - share), np.where(up, slope, -slope)


def log_current(table: tuple[Floats, Floats], v_grid: Floats) -> tuple[Floats, Floats]:
    """Logarithm of the cathode current at grid volts, and its derivative. [ln A], [1/V]"""
    v, i = table
    at = np.clip((v_grid - v[0]) / (v[1] - v[0]), 0.0, v.size - 1.001)
    k = at.astype(int)
    log_i = np.log(np.maximum(i, 1e-9))
    slope = (log_i[k + 1] - log_i[k]) / (v[1] - v[0])
    return log_i[k] + slope * (np.clip(v_grid, v[0], v[-1]) - v[k]), slope
