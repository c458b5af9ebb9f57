"""The sheet as it is written during a session: what was typed becomes readings in the file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from ..errors import InputError
from ..finding import Severity
from ..netlist import Pot
from ..parse.entries import Settings, SheetEntry, Taken
from ..quantity import ValueProblem
from ..readings import ANYWHERE, Meter, Reading, Stage, State
from ..sheetlayout import append_reading
from ..source import Span
from .answers import answered, is_value, sentences, told
from .edits import headed, last_taken, spans_on, with_line, without
from .sheetfile import BrokenMeanwhile, ChangedMeanwhile, SheetFile, Version
from .things import same_spot, thing


class Outcome(Enum):
    """What became of an answer."""

    NOTED = "noted"
    """Readings are in the file."""
    SET = "set"
    """A line that is no reading is in the file: conditions, a meter, a remark."""
    TAKEN_BACK = "taken back"
    REFUSED = "refused"
    """Nothing was noted; the text says why."""
    DOUBTED = "doubted"
    """Nothing was noted; the same typed again will be."""
    UNCLEAR = "unclear"
    """Nothing was noted: under which conditions was it read?"""
    OVERTAKEN = "overtaken"
    """Nothing was noted: another program wrote to the file, which has been read again."""


@dataclass(frozen=True, slots=True)
class Reply:
    """What became of an answer.

    Parameters
    ----------
    outcome : Outcome
        What became of it.
    text : str
        What is to be said about it.
    readings : tuple of Reading
        Those noted.
    replaced : tuple of str
        Lines that no longer count because of it, as they stood in the file.
    entry : SheetEntry or None
        The line that was noted, where it is no reading.
    """

    outcome: Outcome
    text: str = ""
    readings: tuple[Reading, ...] = ()
    replaced: tuple[str, ...] = ()
    entry: SheetEntry | None = None


class _Refused(Exception):
    """An answer that is not noted; `reply` says why."""

    def __init__(self, outcome: Outcome, text: str) -> None:
        super().__init__(text)
        self.reply = Reply(outcome, text)


class Notebook:
    """Writes down what is typed.

    Parameters
    ----------
    file : SheetFile
        The sheet on disk.

    Attributes
    ----------
    settled : bool
        Whether the pots are known to stand where the file's last lines put them. They are not
        when a session begins: meanwhile anybody may have turned them.
    """

    def __init__(self, file: SheetFile) -> None:
        self.file = file
        self.section = file.section
        self.settled = not any(True for _ in file.section.circuit.of(Pot))
        self._doubted: tuple[str, Reading | None] | None = None

    # ------------------------------------------------------------------ what is known

    @property
    def stage(self) -> Stage:
        """The stage that the session is at."""
        return self.state.stage

    @property
    def state(self) -> State:
        """The conditions at the end of the file."""
        state = self.file.now.content.conditions.state
        return State() if state is None else state

    @property
    def readings(self) -> list[Reading]:
        """The readings of the stage, nodes filled in."""
        return list(self.file.now.sheet.at(self.stage))

    @property
    def meter(self) -> Meter:
        """The meter that the next reading is taken with."""
        meters = self.file.now.content.sheet.meters
        name = self.file.now.content.conditions.meter
        return next((meter for meter in meters if meter.name == name), meters[0])

    # -------------------------------------------------------------------- what is typed

    def take(self, typed: str, asked: Reading | None = None, under: str | None = None) -> Reply:
        """Note an answer to a question, or a line of a sheet.

        Parameters
        ----------
        typed : str
            What was typed.
        asked : Reading or None
            What was asked for, its value still unknown.
        under : str or None
            After `Outcome.UNCLEAR`: the conditions, as a line of a sheet; empty for those that
            were asked for.

        Returns
        -------
        Reply
            When it says that something was noted, it is on the disk.
        """
        line = " ".join(typed.split())
        try:
            if not line or any(not c.isprintable() or c == "\ufffd" for c in line):
                raise _Refused(Outcome.REFUSED, "There is something in it that cannot be printed: "
                               "type it again.")  # fmt: skip
            if is_value(line) and not self._is_named(line):
                draft = self._with_answer(line, asked)
            else:
                draft = self._with_line(line, asked, under)
            return self._noted(draft, (line, asked))
        except _Refused as refusal:
            return refusal.reply

    def _is_named(self, line: str) -> bool:
        """Whether a line begins with the name of a node or a part, though it has a digit first."""
        first, _, rest = line.partition(" ")
        names = {*self.section.circuit.nodes, *(p.name for p in self.section.circuit.parts)}
        return bool(rest) and first in names

    def _with_answer(self, line: str, asked: Reading | None) -> _Draft:
        if asked is None:
            raise _Refused(Outcome.REFUSED, "Nothing is asked for: begin with what was read, "
                           "such as: grid1 -44.0 V")  # fmt: skip
        try:
            reading = answered(line, asked, self.section)
        except ValueProblem as problem:
            raise _Refused(
                Outcome.REFUSED, sentences(problem.what, problem.expected, problem.fix)
            ) from None
        now = self.file.now
        try:
            text = append_reading(now.text, reading)
        except ValueError as error:
            raise _Refused(Outcome.REFUSED, sentences(str(error))) from None
        return _Draft(text[len(now.text) :], self._tried(text))

    def _with_line(self, line: str, asked: Reading | None, under: str | None) -> _Draft:
        """A line of a sheet, under the conditions that hold or under those that were asked for."""
        if under:
            return self._under(line, under)
        here = self._draft(self.file.now, line)
        if not isinstance(here.entry, Taken) and not here.errors:
            return here
        as_asked = self._as_asked(line, asked)
        if under is not None and as_asked is not None:
            return _usable(as_asked)
        if as_asked is None or as_asked.errors:
            return self._settled(_usable(here))
        if here.errors or _answers(as_asked.readings, asked):
            return as_asked
        if _anywhere(here.readings) or (self.settled and _same_pots(here, as_asked)):
            return here
        raise _Refused(Outcome.UNCLEAR, "")

    def _as_asked(self, line: str, asked: Reading | None) -> _Draft | None:
        """A line under the conditions of the question, None where they hold already."""
        if asked is None:
            return None
        text = headed(self.file.now.text, asked)
        if text == self.file.now.text:
            return None
        return self._draft(self.file.draft(text), line)

    def _under(self, line: str, under: str) -> _Draft:
        first = self._draft(self.file.now, " ".join(under.split()))
        if first.errors or not isinstance(first.entry, Settings):
            raise _Refused(Outcome.REFUSED, "That does not say where the pots stood. The reading "
                           "was not noted.")  # fmt: skip
        return _usable(self._draft(first.version, line))

    def _settled(self, draft: _Draft) -> _Draft:
        if self.settled or not draft.readings or _anywhere(draft.readings):
            return draft
        pot = next(pot.name for pot in self.section.circuit.of(Pot))
        raise _Refused(Outcome.REFUSED, f"Say first where {pot} stands, such as: "
                       f"{pot} at clockwise. Then type the reading again.")  # fmt: skip

    def _draft(self, before: Version, line: str) -> _Draft:
        """One more line behind a text."""
        file = self.file.now.text
        plain = self._tried(with_line(before.content, before.text, line))
        entry = _Draft(plain.text[len(file) :], plain).entry
        text = with_line(before.content, before.text, line, entry)
        if isinstance(entry, Settings):
            self._check_pots(text)
        return _Draft(text[len(file) :], self._tried(text))

    def _check_pots(self, text: str) -> None:
        """Pots are looked for in the circuit where something is read, which may come later."""
        read = self._tried(f"{text}power on\nmains 230 V\n")
        wrong = [finding for finding in read.errors if finding.slug == "unknown-pot"]
        if wrong:
            raise _Refused(Outcome.REFUSED, told(wrong))

    def _tried(self, text: str) -> Version:
        return self.file.draft(text)

    # ------------------------------------------------------------------- into the file

    def _noted(self, draft: _Draft, typed: tuple[str, Reading | None]) -> Reply:
        """Write a draft, unless there is something wrong or doubtful about it."""
        _usable(draft)
        spans = self._corrected(draft)
        final = self._in_place_of(spans, draft)
        if final.doubts and self._doubted != typed:
            self._doubted = typed
            raise _Refused(Outcome.DOUBTED, f"{final.doubts} If it stays so, type it once more.")
        before = self.file.now.content.sheet.source
        text = self._write(final.version)
        self._doubted = None
        if isinstance(draft.entry, Taken):
            replaced = tuple(before.line(n).strip() for n in sorted({s.line for s in spans}))
            readings = tuple(final.readings)
            self.settled = self.settled or not _anywhere(readings)
            return Reply(Outcome.NOTED, text, readings, replaced)
        self.settled = self.settled or isinstance(draft.entry, Settings)
        return Reply(Outcome.SET, text, entry=draft.entry)

    def _corrected(self, draft: _Draft) -> list[Span]:
        """Where the earlier readings stand that the new ones take the place of."""
        new = {thing(r) for r in draft.readings}
        return [r.span for r in self.file.now.sheet.readings if thing(r) in new]

    def _in_place_of(self, spans: Sequence[Span], draft: _Draft) -> _Draft:
        if not spans:
            return draft
        now = self.file.now
        before = without(now.content, now.text, spans)
        return _Draft(draft.added, self._tried(before + draft.added))

    def undo(self) -> Reply:
        """Take the last line of readings back; it stays in the file as a comment."""
        now = self.file.now
        number = last_taken(now.content.lines)
        if number is None:
            return Reply(Outcome.REFUSED, "There is no reading to take back.")
        line = now.content.sheet.source.line(number).strip()
        new = self._tried(without(now.content, now.text, spans_on(now.content, number)))
        try:
            text = self._write(new)
        except _Refused as refusal:
            return refusal.reply
        return Reply(Outcome.TAKEN_BACK, text, replaced=(line,))

    def _write(self, new: Version) -> str:
        """Write the file; what is to be said about that."""
        if new.errors:
            raise _Refused(Outcome.REFUSED, told(new.errors))
        try:
            vanished = self.file.write(new)
        except ChangedMeanwhile:
            self.settled = False
            raise _Refused(
                Outcome.OVERTAKEN,
                f"Nothing was written: another program has changed {self.file.path} meanwhile. "
                "It has been read again; look at the question, and type it anew.",
            ) from None
        except BrokenMeanwhile:
            raise
        except InputError as error:
            raise _Refused(Outcome.REFUSED, f"Not noted: {error}.") from None
        return f"{self.file.path} had vanished; it is there again, whole." if vanished else ""


@dataclass(frozen=True, slots=True)
class _Draft:
    """A text with something new at its end.

    Parameters
    ----------
    added : str
        What is new; a line end at its end.
    version : Version
        All of it.
    """

    added: str
    version: Version

    @property
    def first(self) -> int:
        """Number of the first new line. [count]"""
        return self.version.text.count("\n") - self.added.strip("\n").count("\n")

    @property
    def entry(self) -> SheetEntry | None:
        """What the last line says."""
        lines = self.version.content.lines
        last = self.version.text.count("\n")
        return lines[last - 1].entry if len(lines) >= last else None

    @property
    def errors(self) -> str:
        """What makes the new lines unusable."""
        return told(self.version.errors)

    @property
    def doubts(self) -> str:
        """What a careful technician would look at again in the new lines."""
        return told(
            f
            for f in self.version.findings
            if f.severity is Severity.WARNING and f.span.line >= self.first
        )

    @property
    def readings(self) -> list[Reading]:
        """The new readings."""
        return [r for r in self.version.sheet.readings if r.span.line >= self.first]


def _usable(draft: _Draft) -> _Draft:
    """A draft without errors.

    Raises
    ------
    _Refused
        If it has any.
    """
    if draft.errors:
        raise _Refused(Outcome.REFUSED, draft.errors)
    return draft


def _anywhere(readings: Sequence[Reading]) -> bool:
    """Whether none of the readings hangs on where the pots stand."""
    return all(reading.kind in ANYWHERE for reading in readings)


def _same_pots(a: _Draft, b: _Draft) -> bool:
    """Whether the pots stand alike in both drafts."""
    one, other = ({n: (p.travel, p.by_eye) for n, p in draft.readings[0].state.pots.items()}
                  for draft in (a, b))  # fmt: skip
    return one == other


def _answers(readings: Sequence[Reading], asked: Reading | None) -> bool:
    """Whether a line is what was asked for."""
    return asked is not None and any(same_spot(reading, asked) for reading in readings)
