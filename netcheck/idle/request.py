"""What the user typed for a judgement of idle currents: understood, or refused with reasons."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from ..errors import InputError
from ..files import read_source
from ..finding import Finding, Severity
from ..quantity import Dimension, Quantity, ValueProblem, read, show_part
from ..source import NOWHERE, Source
from ..valves import Kind, ValveType, lookup, nearest, read_types
from ..valves.names import LONGEST_NAME
from ..window import read_window
from .matching import MOST_VALVES
from .stage import Stage

LONGEST_VALVE = 8
"""More characters of a valve's name find no room in a table. [count]"""


_MOST_DROP = 0.5
"""A cathode resistor takes less than this share of the plate and of the screen volts. [1]"""


class Believable(NamedTuple):
    """Bounds of what is believed, and what to do about a figure outside of them."""

    noun: str
    dimension: Dimension
    low: float
    high: float
    too_low: str
    too_high: str


_PLATE = Believable(
    "the plate voltage of an output valve", Dimension.VOLT, 60.0, 2000.0,
    "measure at the plate, with the high tension on", "is a decimal point or a k out of place?",
)  # fmt: skip
_SCREEN = Believable(
    "the screen voltage of an output valve", Dimension.VOLT, 60.0, 1000.0,
    "measure at the screen, with the high tension on", "is a decimal point or a k out of place?",
)  # fmt: skip
_GRID = Believable(
    "the grid voltage of an output valve", Dimension.VOLT, -300.0, 0.0,
    "is a decimal point or a k out of place?",
    "the grid is negative against ground, else the valve draws all the current it can; "
    "write a minus sign before the volts",
)  # fmt: skip
_CATHODE = Believable(
    "the cathode current of an output valve", Dimension.AMPERE, 0.1e-3, 1.0,
    "is uA written for mA? write 0 mA for a valve that draws nothing",
    "is A written for mA, or a decimal point out of place?",
)  # fmt: skip
_RESISTOR = Believable(
    "a cathode resistor", Dimension.OHM, 0.01, 2000.0,
    "leave --resistor out where there is none", "name the resistor between cathode and ground",
)  # fmt: skip


class Typed(NamedTuple):
    """The words of the command line."""

    type_name: str
    plate: str
    cathodes: Sequence[str] = ()
    screen: str | None = None
    grid: str | None = None
    window: str | None = None
    resistor: str | None = None
    absolute: bool = False
    types_file: str | None = None


@dataclass(frozen=True)
class Request:
    """What was understood.

    Parameters
    ----------
    stage : Stage
        The valves.
    readings : tuple of tuple
        Name and cathode current of each valve. [A]
    remarks : tuple of Finding
        On the user's file of types; no errors.
    """

    stage: Stage
    readings: tuple[tuple[str, float], ...]
    remarks: tuple[Finding, ...]


@dataclass
class _Problems:
    """What is wrong with the call so far."""

    found: list[Finding] = field(default_factory=list)

    def add(self, about: str, what: str, why: str = "", fix: str = "") -> None:
        slug = f"idle-{about.lstrip('-').lower()}"
        finding = Finding(slug, Severity.ERROR, Source(about, ""), NOWHERE, what, why, fix)
        self.found.append(finding)


def understand(typed: Typed) -> Request:
    """Make sense of a call.

    Parameters
    ----------
    typed : Typed
        As typed.

    Returns
    -------
    Request
        Fit for a judgement.

    Raises
    ------
    InputError
        With every problem of the call.
    """
    problems = _Problems()
    own, remarks = _own_types(problems, typed.types_file)
    valve = _valve(problems, typed.type_name, own, typed.types_file)
    v_plate = _value(problems, "--plate", typed.plate, _PLATE)
    v_screen = _value(problems, "--screen", typed.screen, _SCREEN)
    v_grid = _value(problems, "--grid", typed.grid, _GRID)
    window = None if typed.window is None else _window(problems, typed.window)
    r_cathode = _value(problems, "--resistor", typed.resistor, _RESISTOR)
    readings = _readings(problems, typed.cathodes, r_cathode, typed.resistor is not None)
    if valve is not None:
        _check_type(problems, valve, typed)
    if problems.found or valve is None or v_plate is None:
        raise InputError("the call cannot be understood", problems.found)
    stage = Stage(valve, v_plate, v_screen, v_grid, r_cathode or 0.0, window, typed.absolute)
    _check_drop(problems, stage, readings)
    if problems.found:
        raise InputError("the call cannot be understood", problems.found)
    return Request(stage, tuple(readings), tuple(remarks))


# --------------------------------------------------------------------- the valve type


def _own_types(problems: _Problems, name: str | None) -> tuple[list[ValveType], list[Finding]]:
    if name is None:
        return [], []
    try:
        types, findings = read_types(read_source(name))
    except InputError as error:
        problems.found += error.findings
        return [], []
    errors = [finding for finding in findings if finding.severity is Severity.ERROR]
    problems.found += errors
    return types, [finding for finding in findings if finding not in errors]


def _valve(
    problems: _Problems, name: str, own: Sequence[ValveType], types_file: str | None
) -> ValveType | None:
    valve = lookup(name, own)
    if valve is not None:
        return valve
    if types_file is not None and problems.found:
        return None  # it may stand in that file, behind a mistake that is complained about
    short = name if len(name) <= LONGEST_NAME else f"{name[:LONGEST_NAME]}..."
    near = nearest(name, own)
    why = f"nearest known types: {', '.join(near)}" if near else '"netcheck valves" lists all types'
    fix = ("to add it, write its figures into a text file and name that with --types; "
           '"netcheck idle --help" shows what it looks like')  # fmt: skip
    problems.add("TYPE", f'the valve type "{short}" is not known', why, fix)
    return None


def _check_type(problems: _Problems, valve: ValveType, typed: Typed) -> None:
    """Whether the options go with the type."""
    triode = valve.kind is Kind.TRIODE
    if triode and typed.screen is not None:
        problems.add("--screen", f"{valve.name} is a triode: it has no screen", "",
                     "leave --screen out; the cathode current is the plate current")  # fmt: skip
    if typed.absolute and valve.absolute is None:
        problems.add("--absolute", f"of {valve.name} one set of limits is known",
                     f"it is of this kind: {valve.limits.rating.value}",
                     "leave --absolute out")  # fmt: skip
    if typed.grid is None:
        return
    if not valve.rows:
        problems.add("--grid", f"no operating row of {valve.name} is known",
                     "what a grid voltage leads to cannot be told", "leave --grid out")  # fmt: skip
    elif not triode and typed.screen is None:
        problems.add("--grid", "a grid voltage needs the screen voltage beside it",
                     "the screen decides how much current it lets through",
                     "add --screen")  # fmt: skip


# ------------------------------------------------------------------------- the values


def _value(
    problems: _Problems, option: str, text: str | None, believable: Believable
) -> float | None:
    """One value within its bounds, None if it is missing or complained about."""
    if text is None:
        return None
    quantity = _quantity(problems, option, text, believable.dimension)
    if quantity is None:
        return None
    return _believed(problems, option, quantity.text, quantity.nominal, believable)


def _quantity(problems: _Problems, option: str, text: str, dimension: Dimension) -> Quantity | None:
    try:
        quantity = read(text)
        if dimension is Dimension.VOLT and quantity.dimension is None and not quantity.prefix:
            return quantity
        return quantity.as_(dimension)
    except ValueProblem as problem:
        problems.add(option, problem.what, problem.expected, problem.fix)
        return None


def _believed(
    problems: _Problems, option: str, shown: str, value: float, believable: Believable
) -> float | None:
    low, high = believable.low, believable.high
    if low <= value <= high:
        return value
    what = f"{shown} is not believable as {believable.noun}"
    ends = [show_part(end, believable.dimension) for end in (low, high)]
    why = f"{ends[0]} to {ends[1]} is accepted"
    fix = believable.too_low if value < low else believable.too_high
    if value < 0.0 <= low:
        what, fix = f"{shown} is negative", "write it without the minus sign"
        why = f"{believable.noun} is positive"
    problems.add(option, what, why, fix)
    return None


def _window(problems: _Problems, text: str) -> tuple[float, float] | None:
    try:
        return read_window(text)
    except ValueProblem as problem:
        problems.add("--window", problem.what, problem.expected, problem.fix)
        return None


# ----------------------------------------------------------------------- the readings


def _readings(
    problems: _Problems, texts: Sequence[str], r_cathode: float | None, has_resistor: bool
) -> list[tuple[str, float]]:
    if len(texts) > MOST_VALVES:
        problems.add("--cathode", f"{len(texts)} valves are too many at once",
                     f"up to {MOST_VALVES} are compared", "judge them in groups")  # fmt: skip
        return []
    found: list[tuple[str, float]] = []
    names: set[str] = set()
    for position, text in enumerate(texts, start=1):
        name, equals, value = text.rpartition("=")
        name = name.strip() if equals else f"valve {position}"
        if not _is_valve_name(name):
            problems.add("--cathode", f'"{name[:LONGEST_NAME]}" is no name of a valve', "",
                         f"write up to {LONGEST_VALVE} letters or digits, such as V5")  # fmt: skip
        elif name in names:
            problems.add("--cathode", f"{name} is given twice", "", "name each valve once")
        names.add(name)
        current = _current(problems, value.strip(), r_cathode, has_resistor)
        if current is not None:
            found.append((name, current))
    return found


def _is_valve_name(name: str) -> bool:
    return 0 < len(name) <= LONGEST_VALVE and all(c.isalnum() or c in " -._/" for c in name)


def _current(
    problems: _Problems, text: str, r_cathode: float | None, has_resistor: bool
) -> float | None:
    """A cathode current, also where it is given as the volts across the resistor."""
    try:
        quantity = read(text)
    except ValueProblem as problem:
        problems.add("--cathode", problem.what, problem.expected, problem.fix)
        return None
    if quantity.dimension is not Dimension.VOLT:
        return _plain_current(problems, quantity)
    if r_cathode is None:
        if not has_resistor:  # else the resistor has been complained about
            problems.add("--cathode", f"{quantity.text} is a voltage",
                         "here the cathode current is wanted, such as 42 mA",
                         "if it was read across a cathode resistor, give that too, such as "
                         "--resistor 1ohm")  # fmt: skip
        return None
    current = quantity.nominal / r_cathode
    if current == 0.0:
        return 0.0
    shown = (f"{quantity.text} across {show_part(r_cathode)}, that is "
             f"{show_part(current, Dimension.AMPERE)},")  # fmt: skip
    believable = _CATHODE._replace(
        too_low="check the reading and the resistor", too_high="check the reading and the resistor"
    )
    return _believed(problems, "--cathode", shown, current, believable)


def _plain_current(problems: _Problems, quantity: Quantity) -> float | None:
    if quantity.dimension is None and not quantity.prefix:
        problems.add("--cathode", f"{quantity.text} has no unit", "",
                     f"write {quantity.text} mA, or mV if read across a resistor")  # fmt: skip
        return None
    try:
        current = quantity.as_(Dimension.AMPERE).nominal
    except ValueProblem as problem:
        problems.add("--cathode", problem.what, problem.expected, problem.fix)
        return None
    # A valve that draws nothing is a fault to be told, not a slip of the pen.
    return (
        0.0 if not current else _believed(problems, "--cathode", quantity.text, current, _CATHODE)
    )


def _check_drop(problems: _Problems, stage: Stage, readings: Sequence[tuple[str, float]]) -> None:
    """Whether the cathode resistor leaves the valves enough volts."""
    r = stage.r_cathode
    if not r:
        return
    resistor = show_part(r)
    fix = "is it the resistor of one valve, and are its ohms right?"
    if stage.highest_dissipation < stage.limits.p_plate:
        what = f"behind {resistor} the plate cannot reach its dissipation limit"
        why = (f"at {show_part(stage.v_plate, Dimension.VOLT)} at most "
               f"{show_part(stage.highest_dissipation, Dimension.WATT)}, and the limit is "
               f"{show_part(stage.limits.p_plate, Dimension.WATT)}")  # fmt: skip
        problems.add("--resistor", what, why, fix)
    volts = min(stage.v_plate, stage.v_screen or stage.v_plate)
    for name, current in readings:
        if current * r > _MOST_DROP * volts:
            what = (f"{name}: {show_part(current, Dimension.AMPERE)} through {resistor} drop "
                    f"{show_part(current * r, Dimension.VOLT)}")  # fmt: skip
            why = "that is more than half of the plate or screen volts"
            problems.add("--resistor", what, why, fix)
