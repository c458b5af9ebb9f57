"""A session: what was read, what that says, and what to ask for next."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from ..diagnose.diagnosis import Diagnosis, Verdict, diagnose
from ..diagnose.gain import NextReading
from ..parse.entries import PowerHead
from ..readings import Reading
from ..readout.model import SectionModel
from ..sweeping import swept_pots
from .choice import Place, chosen
from .notebook import Notebook, Outcome, Reply

SURE = 0.95
"""Probability from which on a part is beyond reasonable doubt. [1]"""

WORTH_ASKING = 0.05
"""A reading that is expected to tell less is not asked for. [bit]"""

_WORTH_MORE = 0.005  # the same for who wants to go on [bit]

_PATIENCE = 8
"""After so many readings it is said that nothing fits; with fewer one more often explains them.
[count]"""


class Reached(Enum):
    """Why no more is asked for."""

    SURE = "sure"
    """One part, or that nothing is wrong, is beyond reasonable doubt."""
    NONE_FITS = "none fits"
    """Nothing that is thought of explains the readings."""
    NOTHING_MORE = "nothing more"
    """No reading that is left would tell much."""


@dataclass(frozen=True, slots=True)
class _Weighed:
    """What the readings say, and what could be read next.

    Parameters
    ----------
    diagnosis : Diagnosis
        What they say.
    ranked : list of NextReading
        What could be asked for, the first to ask first; what is skipped is taken out.
    reached : Reached or None
        Whether that is enough.
    """

    diagnosis: Diagnosis
    ranked: list[NextReading]
    reached: Reached | None


class Session:
    """A session at the bench.

    Parameters
    ----------
    model : SectionModel
        The section as drawn.
    notebook : Notebook
        The sheet.
    year : int
        The year. [year]

    Attributes
    ----------
    powered : bool or None
        Whether the amplifier is on; None if that is not known yet.
    """

    def __init__(self, model: SectionModel, notebook: Notebook, year: int) -> None:
        self.model, self.notebook, self.year = model, notebook, year
        self.section = model.section
        self.powered: bool | None = None
        self._pots = swept_pots(model.predictor)
        self._skipped: list[Reading] = []
        self._goes_on = False
        self._stage = notebook.stage
        self._weighed: _Weighed | None = None

    # ------------------------------------------------------------------ what is known

    @property
    def _now(self) -> _Weighed:
        """What the readings say; they are weighed when somebody asks, not while one is noted."""
        if self._weighed is None:
            self._weighed = self._weigh()
        return self._weighed

    @property
    def diagnosis(self) -> Diagnosis:
        """What the readings say."""
        return self._now.diagnosis

    @property
    def question(self) -> NextReading | None:
        """What to ask for; None once the end is reached."""
        least = _WORTH_MORE if self._goes_on else WORTH_ASKING
        return next((n for n in self._now.ranked if n.bits >= least), None)

    @property
    def asked(self) -> Reading | None:
        """The reading that is asked for, its value still unknown."""
        question = self.question
        return None if question is None else question.candidate.reading

    @property
    def reached(self) -> Reached | None:
        """Why nothing is asked for."""
        if self._now.reached is None and self.question is None:
            return Reached.NOTHING_MORE
        return self._now.reached

    @property
    def is_sound(self) -> bool:
        """Whether the session has come to its end, and nothing is wrong."""
        return self.reached is not None and self.diagnosis.verdict is Verdict.SOUND

    def _weigh(self) -> _Weighed:
        """Weigh the readings, and what could be read next."""
        notebook = self.notebook
        if notebook.stage != self._stage:
            self._stage, self._skipped, self._goes_on = notebook.stage, [], False
        readings = notebook.readings
        diagnosis = diagnose(self.model, readings, self.year)
        reached = self._reached(diagnosis)
        if reached is not None:
            return _Weighed(diagnosis, [], reached)
        place = Place(notebook.state, self.powered, notebook.settled, notebook.meter)
        ranked = chosen(self.model, diagnosis, [*readings, *self._skipped], self._pots, place,
                        self.year)  # fmt: skip
        return _Weighed(diagnosis, ranked, None)

    def _reached(self, diagnosis: Diagnosis) -> Reached | None:
        if self._goes_on:
            return None
        sure = diagnosis.suspects[0].probability >= SURE
        if diagnosis.verdict is Verdict.NONE_FITS:
            enough = len(diagnosis.readout.readings) >= _PATIENCE
            return Reached.NONE_FITS if sure or enough else None
        return Reached.SURE if sure else None

    # ------------------------------------------------------------------ what is done

    def take(self, typed: str, under: str | None = None) -> Reply:
        """Note what was typed, see `Notebook.take`."""
        reply = self.notebook.take(typed, self.asked, under)
        if reply.outcome in {Outcome.NOTED, Outcome.SET, Outcome.OVERTAKEN}:
            self._weighed = None
        if reply.outcome is Outcome.NOTED or isinstance(reply.entry, PowerHead):
            self.powered = self.notebook.state.live
        return reply

    def undo(self) -> Reply:
        """Take back the last line of readings."""
        reply = self.notebook.undo()
        if reply.outcome in {Outcome.TAKEN_BACK, Outcome.OVERTAKEN}:
            self._weighed = None
        return reply

    def skip(self) -> Reading | None:
        """Do not ask for this reading again; the reading, None if nothing was asked for."""
        question = self.question
        if question is None:
            return None
        self._skipped.append(question.candidate.reading)
        self._now.ranked.remove(question)
        return question.candidate.reading

    def go_on(self) -> None:
        """Ask for more readings though the end is reached."""
        self._goes_on = True
        self._weighed = None
