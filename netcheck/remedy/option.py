"""A way that was simulated as a whole: the numbers that are shown."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..engine.elements import Floats
from ..engine.service import Service
from ..graph import Section
from ..model import Value
from ..netlist import Circuit, Pot, Resistor, Supply, Winding
from ..partwork import largest, part_work
from ..predictor import Predictor
from ..stress import Stress
from ..tolerance import BandFinder, tolerances
from .aim import Aim
from .figures import POSITIONS, Figures, figures
from .fitted import with_power
from .ratings import Buy, buy
from .score import Score, score, serves
from .search import hot, worst_shares
from .ways import Kind, Way

_STRESSED_AT = (0.0, 0.5, 1.0)


@dataclass(frozen=True)
class Option:
    """A circuit that one could have, with what it does.

    Parameters
    ----------
    way : Way or None
        What makes it; None for the circuit as it is.
    before : Way or None
        What is done before that.
    circuit : Circuit
        All of it, the ratings to buy stated.
    travel : array, shape (positions,)
        Positions of the pots that set the bias. [1]
    v_grids : array, shape (positions, watched)
        Mean grid voltages there, by ngspice. [V]
    figures : Figures
        Where the window falls.
    score : Score
        What it is worth.
    buys : tuple of Buy
        New parts.
    stress : mapping of part name to Stress
        What the parts bear with mains and windings at the top of their tolerance.
    """

    way: Way | None
    before: Way | None
    circuit: Circuit
    travel: Floats
    v_grids: Floats
    figures: Figures
    score: Score
    buys: tuple[Buy, ...]
    stress: Mapping[str, Stress]

    @property
    def rank(self) -> tuple[bool, float]:
        """To sort by: what cannot over-run a valve first, then the score."""
        return self.figures.over_runs, -self.score.total

    @property
    def serves(self) -> bool:
        """Whether the idle current wanted can be set with it."""
        return serves(self.figures)


@dataclass(frozen=True)
class Bench:
    """What all options of one section have in common.

    Parameters
    ----------
    service : Service
        The running simulator.
    goal : Aim
        What is wanted.
    pots : tuple of str
        The pots that set the bias.
    shared : sequence of sequence of int
        Marks that one pot sets together.
    signs : sequence of mapping of parameter name to float
        For each watched node the limit of every tolerance, as a sign, that makes it least
        negative at the hot end of the travel. [1]
    """

    service: Service
    goal: Aim
    pots: tuple[str, ...]
    shared: Sequence[Sequence[int]]
    signs: Sequence[Mapping[str, float]]

    def simulate(self, circuit: Circuit, way: Way | None = None, new: Sequence[str] = (),
                 before: Way | None = None) -> Option:  # fmt: skip
        """Simulate a circuit as a whole and judge it.

        Parameters
        ----------
        circuit : Circuit
            With the remedy in it.
        way, before : Way or None
            See `Option`.
        new : sequence of str
            The parts that were bought for it.

        Raises
        ------
        EngineError
            If the simulator cannot answer.
        """
        predictor = Predictor(Section(circuit), self.service)
        at = np.linspace(0.0, 1.0, POSITIONS) if self.pots else np.array([0.5])
        states = [_state(predictor, self.pots, float(where)) for where in at]
        watched = predictor.section.watched
        answers = predictor.wholes([(state, ()) for state in states])
        v = np.array([[answer.mean[node] for node in watched] for answer in answers])
        high = hot(predictor, self.goal)
        worst = self._worst(high, at, v, [name for name in new if name not in self.signs[0]])
        (found,) = figures(self.goal, v[None], self.shared, [worst])
        stress = _stress(high, self.pots)
        parts = [part for name in new if isinstance(part := circuit.part(name), Resistor | Pot)]
        restores = way is not None and way.kind is Kind.RESTORE
        buys = tuple(buy(part, stress[part.name], as_drawn=restores) for part in parts)
        if not restores:
            for one in buys:
                circuit = with_power(circuit, [one.name], one.power)
        return Option(way, before, circuit, at, v, found, score(found, way, before), buys, stress)

    def _worst(self, high: Predictor, at: Floats, v: Floats, added: Sequence[str]
               ) -> float | None:  # fmt: skip
        """Greatest dissipation at the hot end in the worst case, of the limit; simulated."""
        known = [mark for mark in self.goal.marks if mark.law is not None]
        if not known:
            return None
        shares = [float(mark.law.shares_high(v[:, mark.column]).max())
                  for mark in known if mark.law is not None]  # fmt: skip
        mark = known[int(np.argmax(shares))]
        state = _state(high, self.pots, float(at[v[:, mark.column].argmax()]))
        states = []
        for side in (-1.0, 1.0) if added else (1.0,):  # of what is added both limits are tried
            signs = {**self.signs[mark.column], **dict.fromkeys(added, side)}
            states.append(shifted(high, state, signs))
        answers = high.wholes([(state, ()) for state in states])
        watched = high.section.watched
        corner = np.array([[[a.mean[node] for node in watched] for a in answers]])
        return worst_shares(self.goal, corner)[0]


def shifted(predictor: Predictor, state: Mapping[str, Value], signs: Mapping[str, float]
            ) -> dict[str, Value]:  # fmt: skip
    """A state with every tolerance at one of its limits."""
    found = dict(state)
    for name, tolerance in tolerances(predictor.section, predictor.changes).items():
        if signs.get(name):
            found[name] = found.get(name, 1.0) * (1.0 + signs[name] * tolerance)
    return found


def corner_signs(high: Predictor, pots: Sequence[str]) -> list[dict[str, float]]:
    """Which limit of each tolerance makes each watched node least negative at the hot end.

    Parameters
    ----------
    high : Predictor
        Of the section, the mains high.
    pots : sequence of str
        The pots that set the bias.

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    ends = np.array([0.0, 1.0]) if pots else np.array([0.5])
    settings = {f"{pot}.travel": ends for pot in pots}
    band = BandFinder(high, settings, high.section.watched).find()
    middle = 0.5 * (band.low + band.high)
    return [
        {name: float(np.sign(effect[middle[:, k].argmax(), k]))
         for name, effect in band.effects.items()}
        for k in range(middle.shape[1])
    ]  # fmt: skip


def _state(predictor: Predictor, pots: Sequence[str], at: float) -> dict[str, Value]:
    return predictor.values(dict.fromkeys(pots, at))


def _stress(high: Predictor, pots: Sequence[str]) -> dict[str, Stress]:
    """What the parts bear with mains and windings at the top of their tolerance."""
    circuit = high.section.circuit
    sources = {part.name for part in circuit.parts if isinstance(part, Winding | Supply)}
    states = [_state(high, pots, at) for at in (_STRESSED_AT if pots else (0.5,))]
    for name, tolerance in tolerances(high.section, high.changes).items():
        if name in sources:
            for state in states:
                state[name] *= 1.0 + tolerance
    answers = high.wholes([(state, ()) for state in states])
    work = largest([
        part_work(circuit, state, answer.state.waves)
        for state, answer in zip(states, answers, strict=True)
    ])  # fmt: skip
    return {
        name: Stress(max(w.v_high, 0.0), max(-w.v_low, 0.0), w.power, w.i_rms)
        for name, w in work.items()
    }
