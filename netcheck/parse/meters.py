"""The lines about meters, and the meters that they describe together."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from itertools import zip_longest

from lark import Token, Tree

from ..finding import Finding, Related, Severity
from ..quantity import Dimension, Quantity, write_exact
from ..readings import Accuracy, Function, Meter, Range
from ..source import Source, Span
from . import slots
from .entries import MeterLine
from .fields import Fields
from .lines import tokens_of, walk
from .slots import Slot

_RANGES = {
    Function.DC_VOLTS: Slot("range", Dimension.VOLT, 1e-3, 50e3, "200 V"),
    Function.AC_VOLTS: Slot("range", Dimension.VOLT_AC, 1e-3, 50e3, "200 V"),
    Function.CURRENT: Slot("range", Dimension.AMPERE, 1e-6, 100.0, "200 mA"),
    Function.OHMS: Slot("range", Dimension.OHM, 0.1, 1e12, "20k"),
    Function.CAPACITANCE: Slot("range", Dimension.FARAD, 1e-12, 1.0, "200 uF"),
}
_LAST_DIGIT = {
    Function.DC_VOLTS: "0.1 V",
    Function.AC_VOLTS: "0.1 V",
    Function.CURRENT: "0.1 mA",
    Function.OHMS: "10 ohm",
    Function.CAPACITANCE: "0.1 uF",
}
_RESOLUTIONS = {
    function: replace(slot, noun="resolution", low=1e-15, example=_LAST_DIGIT[function])
    for function, slot in _RANGES.items()
}
_COARSEST = 0.1  # of a range that its last digit can be worth


@dataclass(slots=True)
class _Stated:
    """A function of a meter, while its line is read."""

    share: float
    span: Span
    digits: float | None = None
    full_scale: bool = False
    ranges: list[Range] = field(default_factory=list)


class _MeterLineReader:
    """Reads the fields of a meter line from left to right; what follows belongs to what stood."""

    def __init__(self, f: Fields) -> None:
        self.f = f
        self.functions: dict[Function, _Stated] = {}
        self.r_input: float | None = None
        self.per_volt: float | None = None
        self.v_test: float | None = None
        self._current: _Stated | None = None
        self._function: Function | None = None
        self._lost = False  # the function was there and could not be read
        self._fresh_range = False
        self._quantity: Tree[Token] | None = None

    def read(self) -> None:
        fields = self.f.fields()
        for tree, following in zip_longest(fields, fields[1:]):
            name = str(tree.data)
            if name == "quantity":
                self._input(tree, following is not None and following.data == "per_volt")
            elif name == "per_volt":
                self._per_volt(tree)
            else:
                _FIELDS[name](self, tree)
            self._fresh_range = name == "range"
            self._quantity = tree if name == "quantity" else None

    # ------------------------------------------------------------- of the whole meter

    def _once(self, mark: str, called: str, span: Span) -> bool:
        if mark in self.f.marks:
            self.f.doubled(called, span, self.f.marks[mark])
            return False
        self.f.marks[mark] = span
        return True

    def _input(self, tree: Tree[Token], per_volt: bool) -> None:
        span, (text, *_) = self.f.span(tree), tokens_of(tree)
        if text.endswith("%"):
            self._of(tree, "this accuracy", f"dcv {text}")
            self._current, self._lost = None, True  # what follows belongs to it
            return
        if not self._once("input", "the input resistance", span):
            return
        r, slash, volt = text.partition("/")
        if slash and volt.lower() in ("v", "volt"):
            self.f.report("unreadable-value", span, f'"{text}" is not written with a stroke', "",
                          f"write {r} per volt")  # fmt: skip
            return
        quantity = self.f.quantity(tree, slots.PER_VOLT if per_volt else slots.METER_INPUT)
        if quantity is not None and per_volt:
            self.per_volt = quantity.nominal
        elif quantity is not None:
            self.r_input = quantity.nominal

    def _per_volt(self, tree: Tree[Token]) -> None:
        if self._quantity is None and not self.f.is_lossy:
            self.f.report("value-missing", self.f.span(tree), "a resistance is missing here",
                          "a pointer instrument is stated in ohm for each volt of its range",
                          "write, for instance, 20k per volt")  # fmt: skip

    def _test(self, tree: Tree[Token]) -> None:
        if not self._once("test", '"test"', self.f.span(tree)):
            return
        quantity = self.f.quantity(next(walk(tree)), slots.TEST_VOLTS)
        self.v_test = None if quantity is None else quantity.nominal

    # ------------------------------------------------------------------ of a function

    def _function_begins(self, tree: Tree[Token]) -> None:
        (word,) = tokens_of(tree)
        function = Function(word.lower())
        quantity = self._accuracy(next(walk(tree)))
        self._current, self._lost, self._function = None, quantity is None, function
        if not self._once(function.value, f'"{word}"', self.f.span(tree)):
            self._lost = True
        elif quantity is not None:
            self._current = _Stated(quantity.nominal, self.f.span(tree))
            self.functions[function] = self._current

    def _accuracy(self, tree: Tree[Token]) -> Quantity | None:
        text, span = str(tokens_of(tree)[0]), self.f.span(tree)
        share, plus, digits = text.partition("+")
        if plus and share and share[-1:] == "%":
            self.f.report("unreadable-value", span, f'"{text}" is written together',
                          "the percentage and the digits are two values",
                          f"write {share} + {digits or 2} digits")  # fmt: skip
            return None
        quantity = self.f.as_read(tree)
        if quantity is not None and quantity.dimension is None and not quantity.prefix:
            self.f.report("wrong-unit", span, f"{quantity.text} has no unit",
                          "the accuracy of a meter is a percentage, and digits",
                          f"write {quantity.text}%")  # fmt: skip
            return None
        if quantity is None or (self.f.is_lossy and quantity.dimension is not Dimension.PERCENT):
            return None  # what stands here may belong to a word that was left out
        return self.f.fit(quantity, span, slots.ACCURACY)

    def _of(self, tree: Tree[Token], what: str, example: str) -> _Stated | None:
        """The function that a field belongs to; none is an error."""
        if self._current is None and not self._lost and not self.f.is_lossy:
            self.f.report("misplaced-word", self.f.span(tree),
                          f"there is no function before {what}",
                          "what a meter is switched to comes first: dcv, acv, ohms, amps or "
                          "capacitance", f"write, for instance, {example}")  # fmt: skip
        return self._current

    def _digits(self, tree: Tree[Token]) -> None:
        stated = self._of(tree, "these digits", "dcv 0.5% + 2 digits")
        value = next(token for token in tokens_of(tree) if token.type == "VALUE")
        digits = value.lstrip("+")
        is_count = digits.isascii() and digits.replace(".", "", 1).isdigit() and len(digits) < 6
        if not is_count:
            self.f.report("unreadable-value", self.f.span(tree), f'"{value}" is no count of digits',
                          "steps of the last digit are counted",
                          "write, for instance, + 2 digits")  # fmt: skip
        elif stated is not None and stated.digits is not None:
            self.f.doubled("the count of digits", self.f.span(tree), stated.span)
        elif stated is not None:
            stated.digits = float(digits)

    def _full_scale(self, tree: Tree[Token]) -> None:
        stated = self._of(tree, '"of full scale"', "dcv 3% of full scale")
        if stated is not None:
            stated.full_scale = True

    def _range(self, tree: Tree[Token]) -> None:
        stated = self._of(tree, "this range", "dcv 0.5% + 2 digits range 200 V")
        if stated is None or self._function is None:
            return
        value = next(walk(tree))
        quantity = self.f.quantity(value, _RANGES[self._function])
        if quantity is None:
            return
        if any(other.full == quantity.nominal for other in stated.ranges):
            self.f.doubled("this range", self.f.span(value), stated.span)
        stated.ranges.append(Range(quantity.nominal))

    def _resolution(self, tree: Tree[Token]) -> None:
        stated = self._of(tree, "this resolution", "dcv 0.5% + 2 digits range 200 V "
                                                   "resolution 0.1 V")  # fmt: skip
        if stated is None or self._function is None:
            return
        if not self._fresh_range:
            if not self.f.is_lossy:
                self.f.report("misplaced-word", self.f.span(tree),
                              "a resolution belongs to the range in front of it",
                              "each range has its own last digit",
                              "write, for instance, range 200 V resolution 0.1 V")  # fmt: skip
            return
        value = next(walk(tree))
        quantity = self.f.quantity(value, _RESOLUTIONS[self._function])
        if quantity is None or not stated.ranges:
            return
        full = stated.ranges[-1].full
        if quantity.nominal > _COARSEST * full:
            self.f.report("absurd-value", self.f.span(value),
                          "the last digit cannot be worth that much of its range",
                          f"the range is {write_exact(full, _RANGES[self._function].dimension)}",
                          "look for a slip in the figures or the unit")  # fmt: skip
            return
        stated.ranges[-1] = Range(full, quantity.nominal)


_FIELDS: dict[str, Callable[[_MeterLineReader, Tree[Token]], None]] = {
    "function": _MeterLineReader._function_begins,
    "digits": _MeterLineReader._digits,
    "full_scale": _MeterLineReader._full_scale,
    "range": _MeterLineReader._range,
    "resolution": _MeterLineReader._resolution,
    "test": _MeterLineReader._test,
}


def meter_line(f: Fields) -> MeterLine:
    """What one line says of a meter."""
    reader = _MeterLineReader(f)
    reader.read()
    accuracy = {
        function: Accuracy(
            stated.share,
            stated.digits or 0.0,
            tuple(sorted(stated.ranges, key=lambda one: one.full)),
            stated.full_scale,
        )
        for function, stated in reader.functions.items()
    }
    return MeterLine(f.words[0], reader.r_input, reader.per_volt, accuracy, reader.v_test,
                     f.word_spans[0], f.marks)  # fmt: skip


_CALLED = {"input": "the input resistance", "test": '"test"'}


def meters_of(
    source: Source, lines: Iterable[MeterLine]
) -> tuple[tuple[Meter, ...], list[Finding]]:
    """The meters that some lines describe together, and what is said twice of one of them."""
    meters: dict[str, Meter] = {}
    marks: dict[str, dict[str, Span]] = {}
    findings = []
    for line in lines:
        known = meters.get(line.name.lower(), Meter(line.name, span=line.span))
        told = marks.setdefault(line.name.lower(), {})
        for mark in told.keys() & line.marks.keys():
            called = _CALLED.get(mark, f'"{mark}"')
            findings.append(Finding(
                "doubled-field", Severity.ERROR, source, line.marks[mark],
                f"{called} of {line.name} is given twice", "one of the two is wrong",
                "keep the right one", (Related(told[mark], "it was given here first"),),
            ))  # fmt: skip
        told.update(line.marks)
        meters[line.name.lower()] = replace(
            known,
            r_input=known.r_input if line.r_input is None else line.r_input,
            ohm_per_volt=known.ohm_per_volt if line.ohm_per_volt is None else line.ohm_per_volt,
            accuracy={**known.accuracy, **line.accuracy},
            v_test=known.v_test if line.v_test is None else line.v_test,
        )
    return tuple(meters.values()), findings
