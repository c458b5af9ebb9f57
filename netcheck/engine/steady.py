"""Periodic steady states and transients of a circuit: what the rest of the program calls."""

from __future__ import annotations

from collections.abc import Generator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, cast

import numpy as np

from ..errors import EngineError
from .elements import Capacitance, Elements, Floats, Slope, SteadyState, Waveforms
from .jobs import Job, SteadyJob, TransientJob
from .preflight import check, check_start, check_steps
from .service import Service, default_service
from .states import States

STEPS_PER_CYCLE = 200
"""Time steps per period: mean voltages within 0.03 % on supplies of all kinds. [count]"""

Record = Literal["all", "last", "means"]
"""What is kept of a transient: every point, the last period, or the mean of each period."""


@dataclass(frozen=True, slots=True)
class Problem:
    """A circuit whose steady state is wanted.

    Parameters
    ----------
    elements : sequence of Element
        The circuit.
    frequency : float or None
        Frequency of its sine sources; may be None when there are none. [Hz]
    start : mapping of capacitance name to float
        A guess of the capacitor voltages, such as those of a circuit nearby. [V]
    steps_per_cycle : int
        The largest time step is the period divided by this. [count]
    patient : bool
        Whether to wait for a state that is hard to find; else it is given as far as it was
        found.
    slope : Slope or None
        That of a circuit nearby: half of a search is for it.
    slope_wanted : bool
        Whether to find out the slope at the state, for searches nearby.
    """

    elements: Elements
    frequency: float | None
    start: Mapping[str, float] = field(default_factory=dict)
    steps_per_cycle: int = STEPS_PER_CYCLE
    patient: bool = True
    slope: Slope | None = None
    slope_wanted: bool = False


def steady_state(
    elements: Elements,
    frequency: float | None,
    *,
    service: Service | None = None,
    start: Mapping[str, float] | None = None,
    steps_per_cycle: int = STEPS_PER_CYCLE,
) -> SteadyState:
    """Find the periodic steady state of a circuit.

    Parameters
    ----------
    elements : sequence of Element
        The circuit.
    frequency : float or None
        Frequency of its sine sources; may be None when there are none, and then the state
        of rest is found. [Hz]
    service : Service, optional
        Who simulates; the default service if not given.
    start : mapping of capacitance name to float, optional
        A guess of the capacitor voltages, such as those of a circuit nearby. [V]
    steps_per_cycle : int
        The largest time step is the period divided by this. [count]

    Raises
    ------
    EngineError
        When the circuit cannot be simulated, with one sentence saying why.
    EngineMissing
        When there is no ngspice.
    """
    problem = Problem(elements, frequency, start or {}, steps_per_cycle)
    return steady_states([problem], service=service)[0]


def steady_states(
    problems: Sequence[Problem], *, service: Service | None = None
) -> list[SteadyState]:
    """Find many steady states, in parallel where that pays.

    Parameters
    ----------
    problems : sequence of Problem
        The circuits.
    service : Service, optional
        Who simulates; the default service if not given.

    Returns
    -------
    list of SteadyState
        In the order of the problems.

    Raises
    ------
    EngineError
        When any of them cannot be simulated.
    EngineMissing
        When there is no ngspice.
    """
    answers = attempts(problems, service=service, every=True)
    for answer in answers:
        if isinstance(answer, EngineError):
            raise answer
    return cast(list[SteadyState], answers)


def attempts(
    problems: Sequence[Problem], *, service: Service | None = None, every: bool = False
) -> list[SteadyState | EngineError]:
    """Find many steady states, those that cannot be found as the reason why.

    Parameters
    ----------
    problems : sequence of Problem
        The circuits.
    service : Service, optional
        Who simulates; the default service if not given.
    every : bool
        Whether they are of use together only: after one that is not found the rest is not
        looked for.

    Returns
    -------
    list of SteadyState or EngineError
        In the order of the problems.

    Raises
    ------
    EngineError
        When a circuit is refused before it is simulated.
    EngineMissing
        When there is no ngspice.
    """
    jobs: list[Job] = []
    for problem in problems:
        check(problem.elements, problem.frequency)
        start = _known(problem.elements, problem.start)
        check_start(problem.elements, start)
        check_steps(problem.steps_per_cycle)
        jobs.append(
            SteadyJob(
                tuple(problem.elements),
                problem.frequency,
                start,
                int(problem.steps_per_cycle),
                problem.patient,
                problem.slope,
                problem.slope_wanted,
            )
        )
    answers = (service or default_service()).solve(jobs, every=every)
    return cast("list[SteadyState | EngineError]", answers)


def transient(
    elements: Elements,
    frequency: float | None,
    duration: float,
    *,
    service: Service | None = None,
    start: Mapping[str, float] | None = None,
    steps_per_cycle: int = STEPS_PER_CYCLE,
    record: Record = "all",
) -> Waveforms:
    """Simulate from switching on, at phase zero of the sine.

    Parameters
    ----------
    elements : sequence of Element
        The circuit.
    frequency : float or None
        Frequency of its sine sources; None when there are none. [Hz]
    duration : float
        Time to simulate. [s]
    service : Service, optional
        Who simulates; the default service if not given.
    start : mapping of capacitance name to float, optional
        Capacitor voltages at the beginning; 0 V where it says nothing. [V]
    steps_per_cycle : int
        The largest time step is the period (without a frequency: the duration) divided by
        this. [count]
    record : {"all", "last", "means"}
        What is kept: every point; the last period, of one uninterrupted run; or the mean
        over each whole period, at the middle of it. The last two want a frequency.

    Raises
    ------
    EngineError
        When the circuit cannot be simulated, with one sentence saying why.
    EngineMissing
        When there is no ngspice.
    """
    if record == "last":
        return _last_period(elements, frequency, duration, service, start or {}, steps_per_cycle)
    pieces = stretches(
        elements,
        frequency,
        duration,
        service=service,
        start=start,
        steps_per_cycle=steps_per_cycle,
    )
    if record == "means":
        period = _period(frequency, duration)
        return _joined([_means(piece, period) for piece in pieces], shared=0)
    return _joined(list(pieces), shared=1)


def stretches(
    elements: Elements,
    frequency: float | None,
    duration: float,
    *,
    service: Service | None = None,
    start: Mapping[str, float] | None = None,
    steps_per_cycle: int = STEPS_PER_CYCLE,
    cycles: int = 50,
) -> Generator[Waveforms]:
    """Simulate from switching on, piece by piece: to stop when enough has been seen.

    Parameters
    ----------
    elements, frequency, duration, service, start, steps_per_cycle
        As for `transient`.
    cycles : int
        Periods in one piece. [count]

    Yields
    ------
    Waveforms
        One piece; each begins with the last point of the one before.

    Raises
    ------
    EngineError
        When the circuit cannot be simulated, with one sentence saying why.
    EngineMissing
        When there is no ngspice.
    """
    job = _transient_job(elements, frequency, duration, start or {}, steps_per_cycle)
    piece = cycles * _period(frequency, duration)
    capacitances = [e for e in elements if isinstance(e, Capacitance)]
    ends: Mapping[str, float] | None = None
    done = 0
    while (begun := done * piece) < duration * (1 - 1e-9):
        now = TransientJob(
            job.elements,
            job.frequency,
            job.start,
            job.nodes,
            min(piece, duration - begun),
            job.step,
        )
        waves = _run(now, service)
        first = {node: v[0] for node, v in waves.v.items()} if ends is None else ends
        yield _from_zero(waves, first, begun)
        ends = {node: float(v[-1]) for node, v in waves.v.items()}
        charged = {e.name: float(waves.across(e.a, e.b)[-1]) for e in capacitances}
        job = TransientJob(job.elements, job.frequency, charged, ends, job.duration, job.step)
        done += 1


def _transient_job(
    elements: Elements,
    frequency: float | None,
    duration: float,
    start: Mapping[str, float],
    steps_per_cycle: int,
) -> TransientJob:
    """A checked job for the whole duration."""
    check(elements, frequency)
    check_start(elements, start)
    check_steps(steps_per_cycle)
    if not 0.0 < duration < float("inf"):
        raise EngineError("the time to simulate is not above zero")
    states = States(elements)
    voltages = states.voltages(states.vector(start))
    step = _period(frequency, duration) / steps_per_cycle
    return TransientJob(tuple(elements), frequency, voltages, {}, float(duration), step)


def _last_period(
    elements: Elements,
    frequency: float | None,
    duration: float,
    service: Service | None,
    start: Mapping[str, float],
    steps_per_cycle: int,
) -> Waveforms:
    job = _transient_job(elements, frequency, duration, start, steps_per_cycle)
    begin = max(0.0, duration - _period(frequency, duration))
    # ngspice keeps the points behind a time, not the one at it: start a little before.
    early = max(0.0, begin - 3 * job.step)
    waves = _run(
        TransientJob(job.elements, frequency, job.start, {}, duration, job.step, early), service
    )
    kept = waves.t > begin

    def cut(values: Floats) -> Floats:
        return np.concatenate(([np.interp(begin, waves.t, values)], values[kept]))

    return Waveforms(
        t=np.concatenate(([begin], waves.t[kept])),
        v={node: cut(v) for node, v in waves.v.items()},
        i={name: cut(i) for name, i in waves.i.items()},
    )


def _run(job: TransientJob, service: Service | None) -> Waveforms:
    (answer,) = (service or default_service()).solve([job])
    if isinstance(answer, EngineError):
        raise answer
    return cast(Waveforms, answer)


def _period(frequency: float | None, duration: float) -> float:
    return duration if frequency is None else 1.0 / frequency


def _from_zero(waves: Waveforms, first: Mapping[str, float], begun: float) -> Waveforms:
    """A piece with the point at its very beginning, which ngspice does not compute."""
    if waves.t[0] <= 0.0:
        return Waveforms(waves.t + begun, waves.v, waves.i)
    return Waveforms(
        t=np.concatenate(([0.0], waves.t)) + begun,
        v={node: np.concatenate(([first[node]], v)) for node, v in waves.v.items()},
        i={name: np.concatenate((i[:1], i)) for name, i in waves.i.items()},
    )


def _means(waves: Waveforms, period: float) -> Waveforms:
    """Means over each whole period of a piece that begins with one."""
    begun = waves.t[0]
    count = int(round((waves.t[-1] - begun) / period, 6))
    edges = begun + period * np.arange(count + 1)

    def average(values: Floats) -> Floats:
        steps = np.diff(waves.t) * (values[1:] + values[:-1]) / 2
        area = np.concatenate(([0.0], np.cumsum(steps)))
        means: Floats = np.diff(np.interp(edges, waves.t, area)) / period
        return means

    return Waveforms(
        t=(edges[1:] + edges[:-1]) / 2,
        v={node: average(v) for node, v in waves.v.items()},
        i={name: average(i) for name, i in waves.i.items()},
    )


def _joined(pieces: Sequence[Waveforms], shared: int) -> Waveforms:
    """Pieces one behind the other; so many points at the start of each are in the one before."""

    def join(values: list[Floats]) -> Floats:
        return np.concatenate([values[0], *(part[shared:] for part in values[1:])])

    return Waveforms(
        t=join([piece.t for piece in pieces]),
        v={node: join([piece.v[node] for piece in pieces]) for node in pieces[0].v},
        i={name: join([piece.i[name] for piece in pieces]) for name in pieces[0].i},
    )


def _known(elements: Elements, start: Mapping[str, float]) -> dict[str, float]:
    """A guess taken from another circuit may name capacitors that this one has not."""
    names = {element.name for element in elements if isinstance(element, Capacitance)}
    return {name: v for name, v in start.items() if name in names}
