"""All that a job sheet tells, found by the functions that the commands use, each thing once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from ..compare import Outcome, Repair, compare, curves, repair
from ..compare import Verdict as Agreement
from ..diagnose.account import Account, account
from ..diagnose.diagnosis import Verdict
from ..engine.service import Service
from ..errors import InputError
from ..graph import Section
from ..idle import Verdict as IdleVerdict
from ..order import Order, order
from ..order.shopping import Evidence
from ..predictor import Predictor
from ..readings import Reading, Stage
from ..readout.model import SectionModel
from ..remedy.aim import aim
from ..remedy.faulty import NoCircuit, faulty
from ..remedy.start import Start, as_diagnosed, as_drawn
from ..remedy.study import Remedies, remedies
from ..report.comparison import StageComparison
from ..survey import Survey, survey
from ..travel import Prediction, predict
from ..valves.practice import WINDOW
from .changed import Changed, changed
from .idles import IdleFound, IdleRead, idle_readings, in_the_middle
from .request import Missing, Request, tried
from .turned import Turned, turned

Progress = Callable[[str, int, int], None]


class Wanted(NamedTuple):
    """What a valve wants at its grid.

    Parameters
    ----------
    cold, hot : float
        The ends of its window. [V]
    limit : float or None
        Where it dissipates what it may; None where that is not reached. [V]
    """

    cold: float
    hot: float
    limit: float | None


@dataclass(frozen=True)
class StageFound:
    """What the readings of one stage gave.

    Parameters
    ----------
    stage : str
        "as found" or "as left".
    comparison : StageComparison or Missing
        Each reading beside what it should be.
    idle : tuple of IdleRead
        The idle currents among them.
    """

    stage: Stage
    comparison: StageComparison | Missing
    idle: tuple[IdleRead, ...]


@dataclass(frozen=True)
class Job:
    """All that the sheet tells. What could not be found out is `Missing`; None was not asked.

    Parameters
    ----------
    request : Request
        What it is made of.
    survey : Survey
        The check of the circuit.
    prediction : Prediction or Missing
        The circuit over the travel of its pot.
    wanted : tuple of (Wanted or None)
        What each valve of the prediction wants at its grid.
    turned : Turned or Missing
        What the live panel shows.
    stages : tuple of StageFound
        The readings.
    account : Account, Missing or None
        The diagnosis.
    remedies : Remedies, Missing or None
        What to do; None where the circuit before the repair was stated.
    repair : Repair, Missing or None
        Whether the repair did what it was to do; None without readings as left.
    came_in : mapping of valve name to IdleFound
        What the valves must have drawn as it came in; empty where nothing is known of that.
    changed : tuple of Changed
        What differs from the circuit before the repair that was stated.
    order : Order or Missing
        The parts to order.
    """

    request: Request
    survey: Survey
    prediction: Prediction | Missing
    wanted: tuple[Wanted | None, ...]
    turned: Turned | Missing
    stages: tuple[StageFound, ...]
    account: Account | Missing | None
    remedies: Remedies | Missing | None
    repair: Repair | Missing | None
    came_in: Mapping[str, IdleFound]
    changed: tuple[Changed, ...]
    order: Order | Missing

    @property
    def section(self) -> Section:
        """The section as drawn; after a repair as it was left."""
        return self.survey.section

    @property
    def is_done(self) -> bool:
        """Whether the work has been done: it was stated, or readings as left were taken."""
        return self.request.before is not None or "as left" in self.request.sheets

    @property
    def is_wrong(self) -> bool:
        """Whether anything was found wrong that is not put right."""
        if self.survey.matters or self._runs_over:
            return True
        if isinstance(self.repair, Repair):
            return self.repair.outcome is not Outcome.CLOSED
        if self._is_diagnosed:
            return True
        if any(isinstance(one.comparison, StageComparison)
               and one.comparison.comparison.verdict is Agreement.NOT_CONSISTENT
               for one in self.stages[-1:]):  # fmt: skip
            return True
        found = self.remedies
        return isinstance(found, Remedies) and (found.is_needed or not found.is_solved)

    @property
    def _is_diagnosed(self) -> bool:
        """Whether readings of the circuit as it is leave anything that may be wrong."""
        found = self.account
        if not isinstance(found, Account):
            return False
        is_past = self.request.before is not None and found.stage == "as found"
        return found.diagnosis.verdict is not Verdict.SOUND and not is_past

    @property
    def _runs_over(self) -> bool:
        """Whether a valve was read beyond its limit when it was read last."""
        return any(read.judged.verdict is IdleVerdict.BEYOND
                   for one in self.stages[-1:] for read in one.idle)  # fmt: skip

    @property
    def is_unanswered(self) -> bool:
        """Whether the simulation could not answer somewhere."""
        parts = (self.prediction, self.turned, self.account, self.remedies, self.repair, self.order,
                 *(one.comparison for one in self.stages))  # fmt: skip
        return bool(self.survey.unanswered) or any(
            isinstance(part, Missing) and part.is_unanswered for part in parts)  # fmt: skip


def gather(request: Request, service: Service, progress: Progress, *, panel: bool = True) -> Job:
    """Find out all that the sheet tells.

    Parameters
    ----------
    request : Request
        What is asked for.
    service : Service
        The running simulator.
    progress : callable
        Told what is done, how much of it, of how much.
    panel : bool
        Whether the live panel is wanted, whose values take a while.

    Raises
    ------
    EngineMissing
        If there is no simulator.
    """
    return _Gatherer(request, service, progress).job(panel)


class _Gatherer:
    """The work on one job."""

    def __init__(self, request: Request, service: Service, progress: Progress) -> None:
        self._request, self._service, self._progress = request, service, progress
        self._window = request.window or WINDOW
        self._section = Section(request.circuit)
        self._first = self._section if request.before is None else Section(request.before)
        self._predictor = Predictor(self._section, service)
        self._models: dict[int, SectionModel] = {}

    def job(self, panel: bool) -> Job:
        request = self._request
        self._progress("checking the section", 0, 0)
        checked = survey(request.circuit, request.name, self._service)
        self._progress("predicting", 0, 0)
        prediction = tried(self._predicted)
        values: Turned | Missing = Missing("it was not asked for")
        if panel and not isinstance(prediction, Missing):
            self._progress("turning the box", 0, 0)
            values = tried(lambda: turned(self._predictor, prediction))
        elif isinstance(prediction, Missing):
            values = prediction
        stages = tuple(self._stage(stage) for stage in request.sheets)
        diagnosis = tried(self._account) if request.sheets else None
        start = self._start(diagnosis)
        ways = None
        if request.before is None:  # else it has been done, as was stated
            ways = tried(lambda: self._remedies(start))
        return Job(
            request=request,
            survey=checked,
            prediction=prediction,
            wanted=self._wanted(prediction),
            turned=values,
            stages=stages,
            account=diagnosis,
            remedies=ways,
            repair=self._repair(stages, diagnosis),
            came_in=self._came_in(start),
            changed=() if request.before is None else tuple(changed(request.before,
                                                                    request.circuit)),
            order=tried(lambda: self._order(diagnosis, ways)),
        )  # fmt: skip

    def _predicted(self) -> Prediction:
        if not self._section.watched:
            raise InputError("there is neither a valve nor a pot whose bias to predict")
        return predict(self._predictor, window=self._window)

    def _wanted(self, prediction: Prediction | Missing) -> tuple[Wanted | None, ...]:
        """Grid volts at which each valve of a prediction is in its window."""
        if isinstance(prediction, Missing):
            return ()
        try:
            marks = aim(self._section, self._window).marks
        except InputError:
            return (None,) * len(prediction.valves.valves)
        known = {
            mark.name: Wanted(mark.v_cold, mark.v_hot,
                              None if mark.law is None else mark.law.grid_for(1.0))
            for mark in marks
        }  # fmt: skip
        return tuple(known.get(one.valve.name) for one in prediction.valves.valves)

    # ------------------------------------------------------------------------ readings

    def _of(self, stage: Stage) -> list[Reading]:
        sheet = self._request.sheets.get(stage)
        return [] if sheet is None else list(sheet.at(stage))

    def _stage(self, stage: Stage) -> StageFound:
        section = self._first if stage == "as found" else self._section
        own = self._of(stage)
        self._progress("comparing", 0, 0)
        read = tuple(idle_readings(section.circuit, own, self._request.window))
        return StageFound(stage, tried(lambda: self._compared(section, stage, own)), read)

    def _compared(self, section: Section, stage: Stage, own: Sequence[Reading]) -> StageComparison:
        model, year = self._model(section), self._request.year
        return StageComparison(stage, compare(model, own, year), tuple(curves(model, own, year)))

    def _model(self, section: Section) -> SectionModel:
        """The model of a section, made when it is first asked for."""
        if id(section) not in self._models:
            predictor = Predictor(section, self._service)
            self._models[id(section)] = SectionModel(predictor, self._progress)
        return self._models[id(section)]

    def _account(self) -> Account:
        """What the readings as found say; as left where there are none."""
        stage = next(iter(self._request.sheets))
        section = self._first if stage == "as found" else self._section
        model = self._model(section)
        self._progress("weighing what may be wrong", 0, 0)
        return account(model, self._of(stage), self._request.sheets[stage].meters[0],
                       self._request.year)  # fmt: skip

    # --------------------------------------------------------------------- what to do

    def _start(self, diagnosis: Account | Missing | None) -> Start:
        """The circuit as it came in: as stated or as diagnosed, its valves as measured."""
        circuit = self._first.circuit
        is_of_it = isinstance(diagnosis, Account) and (
            self._request.before is None or diagnosis.stage == "as found"
        )
        if not isinstance(diagnosis, Account) or not is_of_it:
            return as_drawn(circuit)
        own = self._of(diagnosis.stage)
        start = tried(lambda: as_diagnosed(circuit, self._service, diagnosis.diagnosis, own))
        return as_drawn(circuit) if isinstance(start, Missing) else start

    def _came_in(self, start: Start) -> Mapping[str, IdleFound]:
        """What the valves drew as it came in, where something is known of that."""
        is_known = self._request.before is not None or "as found" in self._request.sheets
        if not is_known or (self._request.before is None and not start.faults):
            return {}
        found = tried(lambda: in_the_middle(start.circuit, self._service))
        return {} if isinstance(found, Missing) else found

    def _remedies(self, start: Start) -> Remedies:
        if not self._section.sources:
            raise InputError("there is no winding and no supply that could feed the section")
        return remedies(start, self._service, self._progress, window=self._window)

    def _repair(self, stages: Sequence[StageFound], diagnosis: Account | Missing | None
                ) -> Repair | Missing | None:  # fmt: skip
        """What was done held against what it was to do, where there are readings as left."""
        left = next((one for one in stages if one.stage == "as left"), None)
        first = self._before_repair(diagnosis)
        if left is None or first is None:
            return None
        comparison = left.comparison
        if isinstance(comparison, Missing):
            return comparison
        self._progress("comparing before and after", 0, 0)
        return tried(lambda: repair(
            self._model(first), self._model(self._section), self._of("as found"),
            self._of("as left"), comparison.comparison, self._request.year, self._request.window,
        ))  # fmt: skip

    def _before_repair(self, diagnosis: Account | Missing | None) -> Section | None:
        """The section before the repair: as stated, or as diagnosed beyond doubt."""
        if self._request.before is not None:
            return self._first
        if not isinstance(diagnosis, Account) or diagnosis.diagnosis.verdict is not Verdict.NAMED:
            return None
        try:
            return Section(faulty(self._request.circuit, diagnosis.diagnosis.group[0]).circuit)
        except NoCircuit:  # such as a reading that was written down wrong
            return None

    def _order(self, diagnosis: Account | Missing | None, ways: Remedies | Missing | None) -> Order:
        self._progress("making the list", 0, 0)
        evidence = Evidence()
        if self._request.before is None:
            found = diagnosis.diagnosis if isinstance(diagnosis, Account) else None
            own = self._of(diagnosis.stage) if isinstance(diagnosis, Account) else []
            evidence = Evidence(own, found, ways if isinstance(ways, Remedies) else None,
                                ways.why if isinstance(ways, Missing) else "")  # fmt: skip
        return order(self._section, self._service, evidence, self._request.year,
                     window=self._window)  # fmt: skip
