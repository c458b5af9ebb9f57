"""Outcomes made up at random: what a report must stand, without a simulator."""

from __future__ import annotations

from collections.abc import Sequence
from types import SimpleNamespace
from typing import Any, cast

import numpy as np

from netcheck.engine.elements import Floats
from netcheck.failures import Bench, Outcome, Overload, Strain
from netcheck.failures.bench import Progress, silent
from netcheck.failures.wiring import Wiring
from netcheck.graph import Section
from netcheck.model import nominal_values
from netcheck.netlist import Pot
from netcheck.predictor import Predictor

VOLTS = (-1234.56, -776.2, -62.04, -45.3, -0.04, 0.0, 3.2, 412.3)


class MadeUp(Bench):
    """A bench on which every wiring does something at random, the extremes of it."""

    def __init__(self, section: Section, seed: int, swept: bool) -> None:
        self.section = section
        # all that is asked of it is which end of a pot is the negative one
        answer = SimpleNamespace(mean=dict.fromkeys(section.circuit.nodes, -1.0),
                                 ripple=dict.fromkeys(section.circuit.nodes, 1.0))  # fmt: skip
        self.predictor = cast(Predictor, SimpleNamespace(whole=lambda _: answer))
        pots = tuple(pot.name for pot in section.circuit.of(Pot))
        self.swept = pots if swept else ()
        self.fixed = {} if swept else dict.fromkeys(pots, 0.5)
        self.travel = np.array([0.0, 0.5, 1.0] if self.swept else [0.5])
        self.now = 1 if self.swept else 0
        values = {name: float(v) for name, v in nominal_values(section.circuit).items()}
        self.states = [values for _ in self.travel]
        self.drawn = Wiring(section.circuit)
        self.valves = self._ready()
        self._random = np.random.default_rng(seed)

    def sound(self) -> Outcome:
        shape = (self.travel.size, len(self.section.watched))
        return self._made(np.linspace(-40.0, -30.0, shape[0])[:, None] * np.ones(shape[1]), 0.9)

    def try_out(self, wirings: Sequence[Wiring], progress: Progress = silent,
                what: str = "") -> list[Outcome]:  # fmt: skip
        return [self._any() for _ in wirings]

    def over_travel(self, wiring: Wiring, pot: str) -> tuple[Floats, Floats] | None:
        shape = (11, len(self.section.watched))
        before = self._random.uniform(-40.0, -30.0, shape)
        return None if self._random.random() < 0.1 else (before, before + 0.0123)

    def _any(self) -> Outcome:
        random, watched = self._random, self.section.watched
        shape = (self.travel.size, len(watched))
        if random.random() < 0.05:
            none = np.full(shape, np.nan)
            trouble = "no convergence " + "after many steps " * int(random.integers(1, 9))
            return Outcome(none, none, frozenset(), {}, {}, (), False, trouble.strip())
        made = self._made(random.choice(VOLTS, shape), 20.0 * random.random())
        parts = self.section.circuit.parts
        picked = random.integers(0, len(parts), int(random.integers(0, 4)))
        overloads = {
            (parts[k].name, strain): Overload(parts[k].name, strain, 1234.5, 0.125)
            for k in picked for strain in (list(Strain)[int(random.integers(5))],)
        }  # fmt: skip
        return Outcome(
            made.mean, made.ripple,
            frozenset(node for node in watched if random.random() < 0.1),
            made.i_cathode, made.of_limit, tuple(overloads.values()), bool(random.random() < 0.9),
        )  # fmt: skip

    def _made(self, mean: Floats, most: float) -> Outcome:
        random, names = self._random, [one.valve.name for one in self.valves]
        many: Any = {name: np.sort(random.uniform(0.0, most, self.travel.size)) for name in names}
        return Outcome(mean, np.abs(random.normal(0.0, 1.0, mean.shape)), frozenset(),
                       {name: share * 0.07 for name, share in many.items()}, many)  # fmt: skip
