"""Broken sections put to the test: grids and valves, simulated whole by ngspice."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..engine.elements import Elements, Floats, SteadyState
from ..engine.neighbours import Neighbours
from ..engine.preflight import check
from ..errors import EngineError
from ..idling import IdlingValve, idle, idling_valve
from ..model import Values
from ..netlist import Valve
from ..predictor import Predictor
from ..sweeping import swept_pots
from ..valves import lookup
from .overload import Overload, overloads
from .wiring import Wiring, anchored, floating, held

Progress = Callable[[str, int, int], None]
_AT_ONCE = 24  # states simulated between two reports of progress [count]
_TRAVEL = tuple(k / 10 for k in range(11))  # where a pot is looked at [1]


def silent(what: str, done: int, total: int) -> None:
    """Say nothing of how far the work has come."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a wiring does, over the positions of the pots.

    Parameters
    ----------
    mean, ripple : array, shape (positions, watched)
        Mean voltage against ground, and ripple peak to peak; no numbers where `trouble` says
        why. A node that floats stands at 0 V. [V]
    floats : frozenset of str
        The watched nodes that nothing holds.
    i_cathode : mapping of valve name to array, shape (positions,)
        Plate and screen current together. [A]
    of_limit : mapping of valve name to array, shape (positions,)
        Plate dissipation as a share of the limit. [1]
    overloads : tuple of Overload
        Parts that bear more than they stand.
    settled : bool
        False if some steady state was still moving when the search for it ended.
    trouble : str
        Why the simulation could not answer; empty if it did.
    """

    mean: Floats
    ripple: Floats
    floats: frozenset[str]
    i_cathode: Mapping[str, Floats]
    of_limit: Mapping[str, Floats]
    overloads: tuple[Overload, ...] = ()
    settled: bool = True
    trouble: str = ""


class Bench:
    """A section on the bench, its pots at both ends and where they stand now.

    Parameters
    ----------
    predictor : Predictor
        Of the section.
    now : float
        Where the bias pots stand, 0 to 1 clockwise. [1]
    fixed : mapping of pot name to float, optional
        Where other pots stand; at the middle by default. [1]
    """

    def __init__(self, predictor: Predictor, now: float = 0.5,
                 fixed: Mapping[str, float] | None = None) -> None:  # fmt: skip
        self.predictor, self.section = predictor, predictor.section
        fixed = dict(fixed or {})
        self.swept = tuple(pot for pot in swept_pots(predictor) if pot not in fixed)
        self.fixed = {pot.name: fixed.get(pot.name, 0.5) for pot in predictor.pots()
                      if pot.name not in self.swept}  # fmt: skip
        travel = sorted({0.0, now, 1.0}) if self.swept else [0.5]
        self.travel = np.array(travel)
        self.now = travel.index(now) if self.swept else 0
        self.states = [
            {n: float(v) for n, v in predictor.values(
                {**self.fixed, **dict.fromkeys(self.swept, at)}).items()}
            for at in travel
        ]  # fmt: skip
        self.drawn = Wiring(self.section.circuit)
        self.valves = self._ready()
        sound = held(self.drawn.elements(self.states[0]))
        self._held = sound | {n for n in self.section.circuit.nodes if self.drawn.at(n) in sound}
        self._neighbours = Neighbours()
        self._travels: dict[str, Floats] = {}

    def _ready(self) -> list[IdlingValve]:
        """The valves whose current can be told."""
        circuit, found = self.section.circuit, []
        for valve in circuit.of(Valve):
            kind = lookup(valve.type, circuit.own_types)
            one = None if kind is None else idling_valve(valve, kind, circuit.high_tension)
            if one is not None:
                found.append(one)
        return found

    def try_out(self, wirings: Sequence[Wiring], progress: Progress = silent,
                what: str = "breaking parts") -> list[Outcome]:  # fmt: skip
        """What some wirings do.

        Parameters
        ----------
        wirings : sequence of Wiring
            The wirings.
        progress : callable
            Told how far the work has come.
        what : str
            What the work is called.
        """
        answers = self._answers(wirings, self.states, progress, what)
        return [
            self._outcome(wiring, found) for wiring, found in zip(wirings, answers, strict=True)
        ]

    def over_travel(self, wiring: Wiring, pot: str) -> tuple[Floats, Floats] | None:
        """What a wiring that breaks nothing makes of the grids over the travel of one pot.

        Parameters
        ----------
        wiring : Wiring
            The wiring.
        pot : str
            The pot; all others stay where they stand.

        Returns
        -------
        (array, array) or None
            Mean volts as drawn and with the wiring at every tenth of the travel, each of shape
            (positions, watched); None where the simulation could not answer. [V]
        """
        states = [{**self.states[self.now], f"{pot}.travel": at} for at in _TRAVEL]
        if pot not in self._travels:
            self._travels[pot] = self._means(self.drawn, states)
        volts = self._travels[pot], self._means(wiring, states)
        return volts if np.all(np.isfinite(volts)) else None

    def _means(self, wiring: Wiring, states: Sequence[Values]) -> Floats:
        """Mean volts of the watched nodes; no numbers where there is no answer. [V]"""
        (found,) = self._answers([wiring], states)
        nodes = [wiring.at(node) for node in self.section.watched]
        return np.array([[np.nan if isinstance(one, EngineError) else _mean(one, node)
                          for node in nodes] for one in found])  # fmt: skip

    def _answers(self, wirings: Sequence[Wiring], states: Sequence[Values],
                 progress: Progress = silent, what: str = ""
                 ) -> list[list[SteadyState | EngineError]]:  # fmt: skip
        """What each wiring does in each state."""
        frequency = self.predictor.frequency
        answers: list[list[SteadyState | EngineError]] = [[] for _ in wirings]
        due: list[tuple[int, Elements]] = []
        for k, wiring in enumerate(wirings):
            for state in states:
                elements = anchored(wiring.elements(state), self._held)
                try:
                    check(elements, frequency)
                except EngineError as error:
                    answers[k].append(error)
                else:
                    due.append((k, elements))
        for begun in range(0, len(due), _AT_ONCE):
            progress(what, begun, len(due))
            part = due[begun : begun + _AT_ONCE]
            found = self._neighbours.attempts(
                [elements for _, elements in part], frequency,
                service=self.predictor.service, patient=False,
            )  # fmt: skip
            for (k, _), answer in zip(part, found, strict=True):
                answers[k].append(answer)
        return answers

    def sound(self) -> Outcome:
        """The section as it is drawn; its capacitors' volts shorten what follows.

        Raises
        ------
        EngineError
            If the simulator cannot answer.
        """
        found = self._neighbours.attempts(
            [self.drawn.elements(state) for state in self.states], self.predictor.frequency,
            service=self.predictor.service, every=True,
        )  # fmt: skip
        for answer in found:
            if isinstance(answer, EngineError):
                raise answer
        return self._outcome(self.drawn, found)

    def _outcome(self, wiring: Wiring, answers: Sequence[SteadyState | EngineError]) -> Outcome:
        watched = self.section.watched
        found: list[SteadyState] = []
        for answer in answers:
            if isinstance(answer, EngineError):
                none = np.full((len(self.states), len(watched)), np.nan)
                return Outcome(none, none, frozenset(), {}, {}, (), False, str(answer))
            found.append(answer)
        nodes = {node: wiring.at(node) for node in watched}
        lost = floating(wiring.elements(self.states[0]), nodes.values())
        floats = frozenset(node for node, at in nodes.items() if at in lost)
        mean = np.array([[_mean(s, nodes[n]) for n in watched] for s in found])
        mean[:, [k for k, node in enumerate(watched) if node in floats]] = 0.0
        ripple = np.array([[_ripple(s, nodes[n]) for n in watched] for s in found])
        idles = dict(zip((one.valve.name for one in self.valves), self._idle(mean), strict=True))
        limits = {one.valve.name: one.type.limits.p_plate for one in self.valves}
        return Outcome(
            mean,
            ripple,
            floats,
            {name: i for name, (i, _) in idles.items()},
            {name: p / limits[name] for name, (_, p) in idles.items()},
            overloads(wiring, self.states, found),
            all(s.converged for s in found),
        )

    def _idle(self, mean: Floats) -> list[tuple[Floats, Floats]]:
        """Cathode current and plate dissipation of each valve. [A], [W]

        A grid that is led above its cathode is held near it by its own current, in front of
        its leak: the valve draws what it draws at 0 V.
        """
        if not self.valves:
            return []
        watched = self.section.watched
        grids = [np.minimum(mean[:, watched.index(one.valve.grid)], 0.0) for one in self.valves]
        supply = self.section.circuit.high_tension
        return [(one.i_cathode, one.p_plate) for one in idle(self.valves, grids, supply)]


def _mean(state: SteadyState, node: str) -> float:
    return state.mean(node) if node in state.waves.v else 0.0


def _ripple(state: SteadyState, node: str) -> float:
    return state.ripple(node) if node in state.waves.v else 0.0
