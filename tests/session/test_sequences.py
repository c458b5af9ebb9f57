"""Whatever is typed in whatever order: the file holds exactly what was acknowledged."""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

from hypothesis import Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from netcheck.commands.common import load
from netcheck.crosscheck import cross_check
from netcheck.finding import Severity
from netcheck.graph import Section
from netcheck.parse.sheet import read_sheet
from netcheck.readings import Kind, Position, Reading, State
from netcheck.session.edits import TAKEN_BACK
from netcheck.session.notebook import Notebook, Outcome, Reply
from netcheck.session.sheetfile import SheetFile
from netcheck.source import Source

from .conftest import BALANCE, begun

SECTION = Section(load(BALANCE))
STOPS = {0.0: "anticlockwise", 1.0: "clockwise"}
NODES = ("raw", "head", "grid1", "grid2", "foot")
RESISTORS = {"R2": ("raw", "head"), "R3": ("foot", "ground"), "R5": ("head", "side1")}

Thing = tuple[object, ...]


@dataclass
class Kept:
    """A reading that was acknowledged, and the line that it was typed on."""

    thing: Thing
    nominal: float
    line: int


@dataclass
class Believed:
    """What the bench is believed to be, by what was typed."""

    pots: dict[str, float] = field(default_factory=dict)
    live: bool = True
    kept: list[Kept] = field(default_factory=list)
    struck: int = 0
    lines: int = 0

    def note(self, readings: list[tuple[Thing, float]]) -> None:
        """One line of readings was acknowledged."""
        self.lines += 1
        new = {thing for thing, _ in readings}
        self.strike([k for k in self.kept if k.thing in new])
        self.kept += [Kept(thing, nominal, self.lines) for thing, nominal in readings]

    def strike(self, gone: list[Kept]) -> None:
        """Readings count no longer; each line that they stood on is kept as a comment."""
        self.struck += len({k.line for k in gone})
        self.kept = [k for k in self.kept if k not in gone]
        for line in {k.line for k in gone}:  # what stays of a line is a line of its own
            self.lines += 1
            for k in self.kept:
                k.line = self.lines if k.line == line else k.line

    def thing(self, *what: object) -> Thing:
        """What a reading is of, under the conditions that are believed."""
        return (*what, self.live, *sorted(self.pots.items()))


class Typing(RuleBasedStateMachine):
    """Types at random, and keeps its own books."""

    @initialize()
    def begin(self) -> None:
        self.folder = Path(tempfile.mkdtemp())
        self.notebook = begun(self.folder / "amp.readings", SECTION)
        self.believed = Believed()

    def teardown(self) -> None:
        if hasattr(self, "folder"):
            shutil.rmtree(self.folder)

    def _twice(self, typed: str, asked: Reading | None = None) -> Reply:
        """Type, and once more if it was doubted."""
        reply = self.notebook.take(typed, asked)
        return reply if reply.outcome is not Outcome.DOUBTED else self.notebook.take(typed, asked)

    @rule(
        travel=st.sampled_from([0.0, 1.0]),
        node=st.sampled_from(NODES),
        tenths=st.integers(-600, -5),
    )
    def answer_volts(self, travel: float, node: str, tenths: int) -> None:
        state = State(pots=dict.fromkeys(("RV1", "RV2"), Position(travel, turn=1000)), turn=1000)
        asked = Reading(Kind.DC, 0.0, 0.0, state, self.notebook.meter, node, "ground")
        reply = self._twice(f"{tenths / 10:.1f}", asked)
        assert reply.outcome is Outcome.NOTED
        self.believed.pots, self.believed.live = {"RV1": travel, "RV2": travel}, True
        self.believed.note([(self.believed.thing(Kind.DC, node, "ground"), tenths / 10)])

    @rule(part=st.sampled_from(sorted(RESISTORS)), tens=st.integers(1, 9999))
    def answer_ohms(self, part: str, tens: int) -> None:
        pots = dict.fromkeys(("RV1", "RV2"), Position(0.0, turn=1000))
        state = State(live=False, pots=pots, turn=1000, discharged=True)
        plus, minus = RESISTORS[part]
        asked = Reading(Kind.OHMS, 0.0, 0.0, state, self.notebook.meter, plus, minus, part)
        assert self._twice(f"{tens / 100:.2f}k", asked).outcome is Outcome.NOTED
        self.believed.pots, self.believed.live = {"RV1": 0.0, "RV2": 0.0}, False
        thing = self.believed.thing(Kind.OHMS, *sorted((plus, minus)))
        self.believed.note([(thing, tens * 10.0)])

    @rule(node=st.sampled_from(NODES), tenths=st.integers(-600, -5))
    def line_of_volts(self, node: str, tenths: int) -> None:
        reply = self._twice(f"{node} {tenths / 10:.1f} V")
        known = self.believed.pots and self.believed.live
        assert (reply.outcome is Outcome.NOTED) == bool(known)
        if known:
            self.believed.note([(self.believed.thing(Kind.DC, node, "ground"), tenths / 10)])

    @rule(milliamps=st.integers(1, 60), volts=st.integers(300, 450))
    def line_of_a_valve(self, milliamps: int, volts: int) -> None:
        reply = self._twice(f"V1 cathode {milliamps} mA plate {volts} V")
        known = self.believed.pots and self.believed.live
        assert (reply.outcome is Outcome.NOTED) == bool(known)
        if known:
            self.believed.note([
                (self.believed.thing(Kind.CURRENT, "V1"), milliamps / 1000),
                (self.believed.thing(Kind.PLATE, "V1"), float(volts)),
            ])  # fmt: skip

    @rule(travel=st.sampled_from([0.0, 1.0]))
    def turn_both(self, travel: float) -> None:
        line = f"RV1 at {STOPS[travel]} RV2 at {STOPS[travel]}"
        assert self.notebook.take(line).outcome is Outcome.SET
        self.believed.pots = {"RV1": travel, "RV2": travel}

    @rule(live=st.booleans())
    def switch(self, live: bool) -> None:
        reply = self.notebook.take("power on" if live else "power off discharged")
        assert reply.outcome is Outcome.SET
        self.believed.live = live

    @rule(
        typed=st.sampled_from(
            ["44 Vdcx", "grid9 -44 V", "RV9 at middle", "", "readings for x.bias"]
        )
        | st.text(max_size=12)
    )
    def type_nonsense(self, typed: str) -> None:
        before = self.notebook.file.path.read_bytes()
        reply = self.notebook.take(typed)
        if reply.outcome is Outcome.SET:  # a comment, or "as left" by chance: no reading
            assert not reply.readings
        else:
            assert self.notebook.file.path.read_bytes() == before

    @rule()
    def undo(self) -> None:
        reply = self.notebook.undo()
        kept = self.believed.kept
        assert (reply.outcome is Outcome.TAKEN_BACK) == bool(kept)
        if kept:
            self.believed.strike([k for k in kept if k.line == kept[-1].line])

    @rule()
    def begin_again(self) -> None:
        """The session was killed, or ended, and goes on."""
        self.notebook = Notebook(SheetFile.opened(self.notebook.file.path, SECTION))
        self.notebook.settled = bool(self.believed.pots)

    @invariant()
    def the_file_holds_what_was_acknowledged(self) -> None:
        if not hasattr(self, "notebook"):
            return
        text = read_sheet(Source("sheet", self.notebook.file.path.read_text("utf-8")))
        sheet, found = cross_check(text.sheet, SECTION)
        errors = [f for f in (*text.findings, *found) if f.severity is Severity.ERROR]
        assert not errors
        assert not any(f.slug == "contradicts-itself" for f in found)
        there = [(*_what(r), r.state.live, *sorted((n, p.travel) for n, p in r.state.pots.items()), r.nominal)
                 for r in sheet.readings]  # fmt: skip
        assert there == [(*k.thing, k.nominal) for k in self.believed.kept]
        comments = [line.comment for line in text.lines if line.comment]
        assert sum(comment.startswith(TAKEN_BACK) for comment in comments) == self.believed.struck


def _what(reading: Reading) -> Thing:
    if reading.kind is Kind.DC:
        return reading.kind, reading.plus, reading.minus
    if reading.kind is Kind.OHMS:
        return reading.kind, *sorted((reading.plus, reading.minus))
    return reading.kind, reading.part


TestTyping = Typing.TestCase
# Every step writes to the disk: to shrink a failure would take minutes, and it reads well enough.
TestTyping.settings = settings(max_examples=10, stateful_step_count=20, phases=[Phase.generate])
