"""All failures of a section in the order of their danger, and what makes it safe."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np

from ..engine.elements import Floats
from ..graph import Section
from ..netlist import Capacitor, Pot, Winding
from ..predictor import Predictor
from ..roles import roles
from ..valves.practice import WINDOW
from .bench import Bench, Outcome, Progress, silent
from .catalogue import Failure, Mode, failures_of
from .cure import Doctor, Guard, Proposal
from .danger import Danger, dangers, has_bias, names_at, worst
from .overload import Overload
from .wiring import Wiring, broken, floating


class Undrawn(Enum):
    """Why a failure cannot be judged by the drawing; the value is what is said of it."""

    FAR_END = "the far end is not drawn"
    """What a capacitor lets through stands on a node whose volts are not drawn."""
    FEEDS_MORE = "it feeds something else too"
    """The winding goes on outside the section: to the high tension, which is lost with it."""


@dataclass(frozen=True, slots=True)
class Judged:
    """A failure and what it comes to.

    Parameters
    ----------
    failure : Failure
        The failure.
    outcome : Outcome
        What it does, as far as the section tells.
    dangers : mapping of str to Danger
        For each valve, or for each watched node where none is drawn.
    share : float
        The greatest plate dissipation of those valves, over the limit; 0 where it cannot be
        told. [1]
    v_most : float
        The least negative of their grids; 0 where the simulation could not answer. [V]
    undrawn : Undrawn or None
        Why the drawing does not tell; None if it does.
    """

    failure: Failure
    outcome: Outcome
    dangers: Mapping[str, Danger]
    share: float
    v_most: float
    undrawn: Undrawn | None = None

    @property
    def danger(self) -> Danger:
        """The worst of them."""
        return worst(self.dangers)

    @property
    def hit(self) -> tuple[str, ...]:
        """The valves that the worst happens to."""
        least = self.danger
        return tuple(name for name, danger in self.dangers.items() if danger is least)

    @property
    def order(self) -> tuple[float, ...]:
        """What failures are sorted by, the most dangerous first."""
        return (self.danger.rank, -round(self.share, 2), -round(self.v_most, 1), -len(self.hit))


@dataclass(frozen=True, slots=True)
class Study:
    """The failures of a section.

    Parameters
    ----------
    section : Section
        The section.
    window : (float, float)
        Plate dissipation wanted, as shares of the limit. [1]
    swept : tuple of str
        The pots that set the bias.
    fixed : mapping of pot name to float
        Rotation of the other pots. [1]
    travel : array, shape (positions,)
        Positions of the bias pots, 0 to 1 clockwise. [1]
    now : int
        Which of them is where the pot stands. [count]
    limits : mapping of valve name to float
        Plate dissipation allowed, of the valves whose current can be told. [W]
    sound : Outcome
        While all is well.
    without : tuple of str
        Valves, or nodes, that have no bias as drawn, and are left out; where all are, nothing
        is said of failures.
    failures : tuple of Judged
        The most dangerous first.
    guards : tuple of Guard
        Pots whose lifted wiper loses no valve.
    proposals : tuple of Proposal
        Resistors that make others so.
    helpless : tuple of str
        Pots whose lifted wiper is dangerous and that no resistor makes safe.
    saved : tuple of Judged
        Dangerous failures, lifted wipers among them, that are dangerous no more once the
        resistors proposed are fitted; judged with them fitted.
    """

    section: Section
    window: tuple[float, float]
    swept: tuple[str, ...]
    fixed: Mapping[str, float]
    travel: Floats
    now: int
    limits: Mapping[str, float]
    sound: Outcome
    without: tuple[str, ...]
    failures: tuple[Judged, ...]
    guards: tuple[Guard, ...]
    proposals: tuple[Proposal, ...]
    helpless: tuple[str, ...]
    saved: tuple[Judged, ...]

    @property
    def dangerous(self) -> list[Judged]:
        """The failures to which a valve is lost."""
        return [one for one in self.failures if one.danger.is_dangerous]

    def besides(self, one: Judged) -> list[Overload]:
        """The parts that a failure overloads, and that bear no more than they stand as drawn."""
        already = {over.what for over in self.sound.overloads}
        return [over for over in one.outcome.overloads if over.what not in already]


def study(predictor: Predictor, *, now: float = 0.5, fixed: Mapping[str, float] | None = None,
          window: tuple[float, float] = WINDOW, progress: Progress = silent) -> Study:  # fmt: skip
    """Let every part of a section fail, and see what makes it safe.

    Parameters
    ----------
    predictor : Predictor
        Of the section.
    now : float
        Where the bias pots stand, 0 to 1 clockwise. [1]
    fixed : mapping of pot name to float, optional
        Where other pots stand; at the middle by default. [1]
    window : (float, float)
        Plate dissipation wanted, as shares of the limit. [1]
    progress : callable
        Told how far the work has come.

    Raises
    ------
    EngineError
        If the simulator cannot answer while nothing is broken.
    """
    return study_on(Bench(predictor, now, fixed), window, progress)


def study_on(bench: Bench, window: tuple[float, float] = WINDOW, progress: Progress = silent
             ) -> Study:  # fmt: skip
    """The same of a section that is on the bench already.

    Parameters
    ----------
    bench : Bench
        The bench.
    window : (float, float)
        Plate dissipation wanted, as shares of the limit. [1]
    progress : callable
        Told how far the work has come.

    Raises
    ------
    EngineError
        If the simulator cannot answer while nothing is broken.
    """
    sound = bench.sound()
    judged = _all_judged(bench, sound, window, progress) if _names(bench, sound, True) else []
    ranked = sorted(judged, key=lambda one: one.order)
    progress("looking for what makes it safe", 0, 0)
    guards, proposals, helpless = _examined(bench, sound, judged, window)
    return Study(
        bench.section, window, bench.swept, bench.fixed, bench.travel, bench.now,
        {one.valve.name: one.type.limits.p_plate for one in bench.valves}, sound,
        _names(bench, sound, False), tuple(ranked),
        tuple(guards), tuple(proposals), tuple(helpless),
        tuple(_saved(bench, sound, ranked, proposals, window)),
    )  # fmt: skip


def _names(bench: Bench, sound: Outcome, biased: bool) -> tuple[str, ...]:
    """The valves, or watched nodes, that have bias as drawn, or that have none."""
    return tuple(name for node in bench.section.watched if has_bias(bench, sound, node) is biased
                 for name in names_at(bench, node))  # fmt: skip


def _all_judged(bench: Bench, sound: Outcome, window: tuple[float, float], progress: Progress
                ) -> list[Judged]:  # fmt: skip
    """Every failure, in the order of the file."""
    failures = failures_of(bench.section)
    wirings = [broken(bench.drawn, failure, bench.states[0]) for failure in failures]
    outcomes = bench.try_out(wirings, progress)
    return [_judged(bench, sound, failure, outcome, window)
            for failure, outcome in zip(failures, outcomes, strict=True)]  # fmt: skip


def _judged(bench: Bench, sound: Outcome, failure: Failure, outcome: Outcome,
            window: tuple[float, float]) -> Judged:  # fmt: skip
    found = dangers(bench, sound, outcome, window)
    undrawn = _undrawn(bench, failure)
    if undrawn is not None:
        found = dict.fromkeys(found, Danger.UNKNOWN)
    columns = [k for k, node in enumerate(bench.section.watched)
               if set(found) & set(names_at(bench, node))]  # fmt: skip
    share = max((float(np.max(outcome.of_limit[name])) for name in found
                 if name in outcome.of_limit), default=0.0)  # fmt: skip
    v_most = 0.0 if outcome.trouble else float(np.max(outcome.mean[:, columns]))
    return Judged(failure, outcome, found, share, v_most, undrawn)


def _undrawn(bench: Bench, failure: Failure) -> Undrawn | None:
    """Why the drawing does not tell what a failure does; None if it does."""
    part = bench.section.circuit.part(failure.part)
    if isinstance(part, Winding) and failure.mode is Mode.DEAD:
        goes_on = {node for _, node in part.terminals} & set(bench.section.circuit.elsewhere)
        return Undrawn.FEEDS_MORE if goes_on else None
    if not isinstance(part, Capacitor) or failure.mode not in (Mode.SHORT, Mode.LEAKY):
        return None
    drawn = bench.drawn.elements(bench.states[0])
    far = floating(drawn, [bench.drawn.at(node) for _, node in part.terminals])
    return Undrawn.FAR_END if far else None


def _examined(
    bench: Bench, sound: Outcome, judged: Sequence[Judged], window: tuple[float, float]
) -> tuple[list[Guard], list[Proposal], list[str]]:
    """What each pot has or needs against a lifted wiper; pots whose wiper moves nothing aside."""
    doctor = Doctor(bench, sound, roles(bench.section), window)
    guards: list[Guard] = []
    proposals: list[Proposal] = []
    helpless: list[str] = []
    lifted = {one.failure.part: one.outcome for one in judged
              if one.failure.mode is Mode.WIPER_LIFTED}  # fmt: skip
    for pot in bench.section.circuit.of(Pot):
        if pot.name not in lifted or lifted[pot.name].trouble:
            continue
        found = doctor.examine(pot, lifted[pot.name])
        if isinstance(found, Guard):
            guards.append(found)
        elif found is not None:
            proposals.append(found)
        else:
            helpless.append(pot.name)
    return guards, doctor.together(proposals), helpless


def _saved(
    bench: Bench, sound: Outcome, ranked: Sequence[Judged], proposals: Sequence[Proposal],
    window: tuple[float, float],
) -> list[Judged]:  # fmt: skip
    """The dangerous failures that are dangerous no more with the resistors fitted."""
    due = [one for one in ranked if one.danger.is_dangerous]
    if not proposals or not due:
        return []
    fitted = [_fitted(broken(bench.drawn, one.failure, bench.states[0]), proposals) for one in due]
    found = [_judged(bench, sound, one.failure, outcome, window)
             for one, outcome in zip(due, bench.try_out(fitted), strict=True)]  # fmt: skip
    return [one for one in found if not one.danger.is_dangerous
            and one.danger is not Danger.UNKNOWN]  # fmt: skip


def _fitted(wiring: Wiring, proposals: Sequence[Proposal]) -> Wiring:
    for proposal in proposals:
        wiring = proposal.fitted(wiring)
    return wiring
