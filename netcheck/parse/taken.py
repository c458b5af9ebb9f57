"""The lines of a sheet that hold readings, pot positions and other conditions."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal

from lark import Token, Tree

from ..finding import Finding
from ..netlist import GROUND
from ..quantity import Dimension, Quantity
from ..readings import OVERLOAD, Kind, Meter, Position, Reading, State
from ..source import Source, Span
from . import slots
from .entries import (
    Header,
    Measure,
    Place,
    PowerHead,
    Remark,
    Settings,
    SheetEntry,
    StageHead,
    Taken,
    UseMeter,
    ValvesHead,
    Word,
)
from .fields import Fields
from .lines import ParsedLine, token_span, tokens_of, walk
from .meters import meter_line
from .slots import Slot

_LIVE = (slots.VOLTS_READ, slots.AC_READ, slots.RIPPLE_READ)
_DEAD = (slots.OHMS_READ,)
_WORDS: dict[Word, tuple[Slot, ...]] = {
    "ripple": (slots.RIPPLE_READ, slots.AC_READ),
    "lifted": (slots.OHMS_READ, slots.CAPACITANCE_READ),
    "esr": (slots.ESR_READ,),
    "forward": (slots.TEST_READ,),
    "reverse": (slots.TEST_READ,),
    "cathode": (slots.CURRENT_READ, slots.CATHODE_READ),
    "plate": (slots.PLATE_READ,),
    "screen": (slots.SCREEN_READ,),
    "grid": (slots.GRID_READ,),
}
_OF_PARTS = frozenset(_WORDS) - {"ripple"}
_TEST_WORDS = frozenset({"forward", "reverse"})
_POWER_OFF = frozenset({Dimension.OHM, Dimension.FARAD})
_PLACES: dict[str, Place] = {
    "THING": "", "MAINS": "mains", "NODE_WORD": "node", "ACROSS": "part", "PART": "part",
    "FROM": "between",
}  # fmt: skip
_MOST_TESTED = 3  # less is what a meter's diode test may show [V]
_SCOPE_OR_METER = "an oscilloscope shows volts peak to peak, a meter on its a.c. range Vac"


POWER_IS_ON, POWER_IS_OFF = "power-is-on", "power-is-off"
"""Slugs of readings that cannot be taken with the power as it was last said to be."""


def build_line(
    source: Source, line: ParsedLine, live: bool | None
) -> tuple[SheetEntry | None, list[Finding]]:
    """What one line of a sheet says.

    Parameters
    ----------
    source : Source
        The text.
    line : ParsedLine
        The line.
    live : bool or None
        Whether the power is on; None where a broken line may have said so.

    Returns
    -------
    SheetEntry or None
        None for a line that says nothing or cannot be used.
    list of Finding
        What is wrong in it, beyond its syntax.
    """
    if line.tree is None:
        return None, []
    kind = str(line.tree.data)
    if kind == "settings":
        return _settings(source, line, line.tree)
    f = Fields(source, line, line.tree)
    entry = _taken(f, line, live) if kind in ("reading", "mains") else _BUILDERS[kind](f)
    return entry, f.findings


def _header(f: Fields) -> Header:
    return Header(f.words[-1].strip('"'), f.word_spans[-1])


def _stage(f: Fields) -> StageHead:
    return StageHead("as found" if f.words[0].lower() == "found" else "as left")


def _power(f: Fields) -> PowerHead:
    return PowerHead(f.words[0].lower() == "on", len(f.words) > 1)


_BUILDERS: dict[str, Callable[[Fields], SheetEntry]] = {
    "header": _header,
    "remark": lambda f: Remark(f.words[0][1:-1]),
    "meter": meter_line,
    "use": lambda f: UseMeter(f.words[0], f.word_spans[0]),
    "stage": _stage,
    "power": _power,
    "valves": lambda f: ValvesHead(f.words[0].lower() == "out"),
}


# ---------------------------------------------------------------------- pot positions


def _settings(
    source: Source, line: ParsedLine, tree: Tree[Token]
) -> tuple[Settings | None, list[Finding]]:
    pots: dict[str, Position] = {}
    findings: list[Finding] = []
    for setting in walk(tree):
        f = Fields(source, line, setting)
        tokens = tokens_of(setting)
        at = next(k for k, token in enumerate(tokens) if token.type == "AT")
        name, span = str(tokens[at - 1]), token_span(tokens[at - 1], line.number)
        position = _position(f, tokens[at + 1 :], span)
        if name in pots:
            f.doubled(f"the position of {name}", span, pots[name].span)
        if position is not None:
            pots[name] = position
        findings += f.findings
    return (Settings(pots) if pots else None), findings


def _position(f: Fields, words: Sequence[Token], span: Span) -> Position | None:
    if words:
        travel = {"CLOCKWISE": 1.0, "ANTICLOCKWISE": 0.0, "MIDDLE": 0.5}[words[0].type]
        return Position(travel, by_eye=words[0].type == "MIDDLE", span=span)
    tree = f.all("quantity")[0]
    quantity = f.as_read(tree)
    if quantity is not None and quantity.dimension is None and not quantity.prefix:
        f.report("wrong-unit", f.span(tree), f"{quantity.text} has no unit",
                 "a position is a percentage of the rotation, clockwise",
                 f"write {quantity.text}%")  # fmt: skip
        return None
    fitted = None if quantity is None else f.fit(quantity, f.span(tree), slots.POSITION)
    if fitted is None:
        return None
    # At a stop there is nothing to judge, whatever it is called.
    return Position(fitted.nominal, by_eye=0.0 < fitted.nominal < 1.0, span=span)


# -------------------------------------------------------------------------- readings


def _taken(f: Fields, line: ParsedLine, live: bool | None) -> Taken | None:
    tokens = tokens_of(line.tree) if line.tree is not None else []
    names = tuple(str(t) for t in tokens if t.type in ("THING", "NODE", "PART_NAME"))
    reader = _MeasureReader(f, _PLACES[tokens[0].type], names, live)
    trees = [tree for tree in f.fields() if tree.data not in ("with", "note")]
    for tree in trees:
        reader.take(tree)
    if not trees and not f.is_lossy:
        example = "236 V" if reader.place == "mains" else "-52.0 V" if live else "31.2k"
        f.report("missing-field", f.word_spans[-1] if f.words else f.kind_span,
                 "nothing is read here", "a reading has a value with its unit",
                 f"add it, such as {example}")  # fmt: skip
    meter, note = f.word("with"), f.text("note")
    if len(reader.measures) < len(trees) or not trees:
        return None
    return Taken(reader.place, names, tuple(reader.measures), meter, note,
                 f.marks.get("with", f.kind_span))  # fmt: skip


class _MeasureReader:
    """Reads what was measured at one place.

    Parameters
    ----------
    f : Fields
        The line.
    place : str
        How the place is named.
    names : tuple of str
        Its name, or names.
    live : bool or None
        Whether the power is on; None where that is not known.
    """

    def __init__(self, f: Fields, place: Place, names: tuple[str, ...], live: bool | None) -> None:
        self.f = f
        self.place = place
        self.measures: list[Measure] = []
        self._name = names[0] if names else ""
        self._live = live
        self._places: dict[Word, Span] = {}

    def take(self, tree: Tree[Token]) -> None:
        """Read one value."""
        word, span = _word_of(tree), self.f.span(tree)
        if word in self._places:
            self.f.doubled(f'"{word}"' if word else "the reading", span, self._places[word],
                           "; what was read twice takes a line each time")  # fmt: skip
            return
        self._places[word] = span
        if not self._belongs(span, word):
            return
        value = tree if tree.data == "quantity" else next(walk(tree), None)
        measure = self._overload(word, tree) if value is None else self._value(word, value)
        self.measures += [measure] if measure is not None else []

    def _overload(self, word: Word, tree: Tree[Token]) -> Measure | None:
        span = self.f.token_span(tokens_of(tree)[-1])
        if not self._power_fits(word, Dimension.OHM, "OL", span):
            return None
        dimension = Dimension.VOLT if word in _TEST_WORDS else Dimension.OHM
        return Measure(word, OVERLOAD, 0.0, dimension, span)

    def _value(self, word: Word, tree: Tree[Token]) -> Measure | None:
        span, quantity = self.f.span(tree), self.f.as_read(tree)
        if quantity is None:
            return None
        wanted = self._slots(word)
        clear = self._has_unit(word, quantity, span) and self._is_clear(word, quantity, span)
        dimension = self._dimension(word, quantity, wanted)
        if not clear or not self._power_fits(word, dimension, quantity.text, span, quantity.exact):
            return None
        fitted = self.f.fit(quantity, span, *wanted)
        if fitted is None or fitted.dimension is None:
            return None
        is_mains = self.place == "mains"  # nobody writes Vac there
        dimension = Dimension.VOLT if is_mains else fitted.dimension
        return Measure(word, fitted.nominal, float(fitted.last_digit), dimension, span)

    def _slots(self, word: Word) -> tuple[Slot, ...]:
        if word:
            return _WORDS[word]
        if self.place == "mains":
            return (slots.MAINS_READ,)
        if self._live is None:
            return _DEAD + _LIVE
        return _LIVE if self._live else _DEAD

    def _belongs(self, span: Span, word: Word) -> bool:
        """Whether the word before a value goes with the way the place is named."""
        if word not in _OF_PARTS or self.place not in ("node", "between"):
            return True
        self.f.report("misplaced-word", span, f'"{word}" is read at a part',
                      "here nodes are named",
                      f'begin the line with the part, such as "R3 {word}"' if word == "lifted"
                      else f'begin the line with the part, such as "V1 {word}"')  # fmt: skip
        return False

    def _has_unit(self, word: Word, quantity: Quantity, span: Span) -> bool:
        """Whether the unit is there; ohms need none."""
        if quantity.dimension is not None or quantity.prefix:
            return True
        slot = self._slots(word)[0]
        if slot.dimension is Dimension.OHM:
            return True
        unit = slot.example.rpartition(" ")[2]
        self.f.report("wrong-unit", span, f"{quantity.text} has no unit",
                      f"expected: {slot.noun}, such as {slot.example}",
                      f"write {quantity.text} {unit}")  # fmt: skip
        return False

    def _is_clear(self, word: Word, quantity: Quantity, span: Span) -> bool:
        """Whether a value says what it is, and can be measured in place."""
        farads = quantity.dimension is None and quantity.prefix in ("p", "n", "u", "F")
        if word == "ripple" and quantity.dimension is Dimension.VOLT:
            self.f.report("unclear-value", span, f"{quantity.text} of ripple may be two things",
                          "an oscilloscope shows volts peak to peak, a meter effective volts",
                          "write its unit as Vpp, or as Vac")  # fmt: skip
            return False
        if not word and (farads or quantity.dimension is Dimension.FARAD):
            self.f.report("wrong-unit", span, "a capacitor cannot be measured in the circuit",
                          "whatever else is joined to it would be measured too",
                          f"lift one leg, and write {self._name or 'C1'} lifted "
                          f"{quantity.text}")  # fmt: skip
            return False
        return True

    def _dimension(
        self, word: Word, quantity: Quantity, wanted: Sequence[Slot]
    ) -> Dimension | None:
        """What a value will be taken for; None for what does not fit, whatever the power is."""
        if quantity.dimension is None:  # a letter for the point or a prefix says ohms by itself
            return Dimension.OHM
        fitting = next((slot for slot in wanted if slot.takes(quantity.dimension)), None)
        if fitting is not None:
            return fitting.dimension
        other = any(slot.takes(quantity.dimension) for slot in _LIVE + _DEAD)
        return quantity.dimension if other and not word and self.place != "mains" else None

    def _diode(self) -> str:
        """The name of the line if a diode may be called so."""
        return self._name if re.fullmatch(r"[DZ]\w*", self._name, re.IGNORECASE) else "D1"

    def _power_fits(
        self,
        word: Word,
        dimension: Dimension | None,
        text: str,
        span: Span,
        value: Decimal | None = None,
    ) -> bool:
        """Whether such a value can be read with the power as it is."""
        needs_off = dimension in _POWER_OFF or word in _TEST_WORDS
        if self._live is None or dimension is None or needs_off is not self._live:
            return True
        if needs_off:
            self.f.report(POWER_IS_ON, span, f"{text} is read with the power off",
                          "here the power is on: no line says that it was switched off",
                          'put the line "power off" before it'
                          + ("" if word in _TEST_WORDS else ", or correct the unit"))  # fmt: skip
        else:
            hint = 'put the line "power on" before it, or correct the unit'
            if dimension is Dimension.VOLT and value is not None and 0 <= value < _MOST_TESTED:
                diode = f'"{self._diode()} forward {text}"'
                hint = ('put the line "power on" before it; what a diode test shows with the red '
                        f"lead on the anode is written {diode}")  # fmt: skip
            self.f.report(POWER_IS_OFF, span, f"{text} is read with the power on",
                          "a line above says that the power is off", hint)  # fmt: skip
        return False


def _word_of(tree: Tree[Token]) -> Word:
    name = str(tree.data)
    return next((word for word in _WORDS if word == name), "")


# ---------------------------------------------------------------- a reading as such

_KINDS: dict[tuple[str, Dimension], Kind] = {
    ("", Dimension.VOLT): Kind.DC,
    ("", Dimension.VOLT_AC): Kind.AC,
    ("", Dimension.VOLT_PP): Kind.RIPPLE,
    ("", Dimension.OHM): Kind.OHMS,
    ("ripple", Dimension.VOLT_PP): Kind.RIPPLE,
    ("ripple", Dimension.VOLT_AC): Kind.AC,
    ("lifted", Dimension.OHM): Kind.LIFTED,
    ("lifted", Dimension.FARAD): Kind.CAPACITANCE,
    ("esr", Dimension.OHM): Kind.ESR,
    ("forward", Dimension.VOLT): Kind.FORWARD,
    ("reverse", Dimension.VOLT): Kind.REVERSE,
    ("cathode", Dimension.AMPERE): Kind.CURRENT,
    ("cathode", Dimension.VOLT): Kind.CATHODE,
    ("plate", Dimension.VOLT): Kind.PLATE,
    ("screen", Dimension.VOLT): Kind.SCREEN,
    ("grid", Dimension.VOLT): Kind.DC,
}


def readings_of(taken: Taken, state: State, meter: Meter) -> list[Reading]:
    """The readings on one line.

    Parameters
    ----------
    taken : Taken
        What the line says.
    state : State
        The conditions.
    meter : Meter
        What they were taken with.
    """
    return [replace(_placed(taken, measure, state, meter), note=taken.note)
            for measure in taken.measures]  # fmt: skip


def _placed(taken: Taken, measure: Measure, state: State, meter: Meter) -> Reading:
    is_mains = taken.place == "mains"
    kind = Kind.MAINS if is_mains else _KINDS[measure.word, measure.dimension]
    reading = Reading(kind, measure.nominal, measure.last_digit, state, meter, span=measure.span)
    if taken.place == "between":
        return replace(reading, plus=taken.names[0], minus=taken.names[1])
    if taken.place == "node":
        return replace(reading, plus=taken.names[0], minus=GROUND)
    if is_mains:
        return reading
    (name,) = taken.names
    if taken.place == "part" or measure.word in _OF_PARTS:
        return replace(reading, part=name, minus=GROUND if measure.word == "grid" else "")
    if kind is Kind.OHMS:
        return replace(reading, part=name, minus=GROUND)
    return replace(reading, plus=name, minus=GROUND)
