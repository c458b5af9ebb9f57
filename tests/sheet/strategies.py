"""Sheets of readings for property tests."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

from netcheck.netlist import GROUND, OPEN
from netcheck.parse import slots as known
from netcheck.parse.lines import line_parser
from netcheck.parse.slots import Slot
from netcheck.quantity import Dimension
from netcheck.readings import (
    OVERLOAD,
    START,
    UNSTATED,
    WITH_OVERLOAD,
    Accuracy,
    Conditions,
    Function,
    Kind,
    Meter,
    Position,
    Range,
    Reading,
    Sheet,
    State,
)

from ..language.strategies import maybe, names, texts

FIRST_WORDS = line_parser("readings.lark").first_words
ENDS = {0.0: Position(0.0), 1.0: Position(1.0)}
LARGEST = {
    Function.DC_VOLTS: 1000.0,
    Function.AC_VOLTS: 750.0,
    Function.CURRENT: 10.0,
    Function.OHMS: 40e6,
    Function.CAPACITANCE: 2e-3,
}


def places() -> st.SearchStrategy[str]:
    """Names of nodes and parts, key words of the language among them."""
    odd = st.sampled_from(["raw", "R3", "mains", "note", "with", "part", "V", "k", "at", "OL"])
    return (odd | names()).filter(lambda name: name.lower() not in (GROUND, OPEN))


@st.composite
def figures(draw: st.DrawFn, slot: Slot) -> tuple[float, float]:
    """A value and the worth of its last digit, as a display shows them."""
    count = draw(st.integers(0 if slot.low <= 0.0 else 1, 99_999))
    sign = draw(st.sampled_from([1, -1])) if slot.low < 0.0 else 1
    # Nobody writes millifarads, so the last digit of a capacitance is a microfarad at most; and
    # no display shows zero tens.
    largest = -6 if slot.dimension is Dimension.FARAD else 5 if count else 0
    for power in draw(st.permutations(range(-12, largest + 1))):
        value = Decimal(sign * count).scaleb(power)
        if slot.low <= value <= slot.high:
            return float(value) + 0.0, float(Decimal(1).scaleb(power))
    raise AssertionError(f"no value fits {slot.noun}")


@st.composite
def accuracies(draw: st.DrawFn, function: Function) -> Accuracy:
    """What a data sheet may state of one function."""
    fulls = draw(st.lists(st.integers(0, 4), unique=True, max_size=4))
    ranges = []
    for power in sorted(fulls, reverse=True):
        full = float(Decimal(repr(LARGEST[function])).scaleb(-power))
        ranges.append(Range(full, draw(maybe(st.sampled_from([full / 2000, full / 50])))))
    return Accuracy(
        draw(st.sampled_from([0.0, 0.005, 0.01, 0.0125, 0.03])),
        draw(st.sampled_from([0.0, 1.0, 2.0, 5.0, 2.5])),
        tuple(ranges),
        draw(st.booleans()),
    )


@st.composite
def meters(draw: st.DrawFn, name: str) -> Meter:
    """A meter of any kind."""
    functions = draw(st.lists(st.sampled_from(list(Function)), unique=True))
    per_volt = draw(maybe(st.sampled_from([20e3, 1000.0, 4.7e3])))
    return Meter(
        name,
        10e6 if per_volt is not None else draw(st.sampled_from([10e6, 1e6, 11e6, 1e9])),
        per_volt,
        {function: draw(accuracies(function)) for function in functions},
        draw(maybe(st.sampled_from([0.4, 2.8, 9.0]))),
    )


def _live(draw: st.DrawFn, state: State, meter: Meter) -> Reading:
    name, other = draw(places()), draw(places())
    across = {"plus": "", "minus": "", "part": name}
    node = {"plus": name, "minus": GROUND}
    between = {"plus": name, "minus": other}
    of_part = {"part": name}
    kind, slot, where = draw(
        st.sampled_from(
            [
                (Kind.MAINS, known.MAINS_READ, {}),
                (Kind.DC, known.VOLTS_READ, node),
                (Kind.DC, known.VOLTS_READ, between),
                (Kind.DC, known.VOLTS_READ, across),
                (Kind.DC, known.GRID_READ, {"part": name, "minus": GROUND}),
                (Kind.AC, known.AC_READ, node),
                (Kind.AC, known.AC_READ, between),
                (Kind.AC, known.AC_READ, across),
                (Kind.RIPPLE, known.RIPPLE_READ, node),
                (Kind.RIPPLE, known.RIPPLE_READ, between),
                (Kind.RIPPLE, known.RIPPLE_READ, across),
                (Kind.CURRENT, known.CURRENT_READ, of_part),
                (Kind.CATHODE, known.CATHODE_READ, of_part),
                (Kind.PLATE, known.PLATE_READ, of_part),
                (Kind.SCREEN, known.SCREEN_READ, of_part),
            ]
        )
    )
    return _reading(draw, kind, slot, where, state, meter)


def _dead(draw: st.DrawFn, state: State, meter: Meter) -> Reading:
    name, other = draw(places()), draw(places())
    kind, slot, where = draw(
        st.sampled_from(
            [
                (Kind.OHMS, known.OHMS_READ, {"part": name}),
                (Kind.OHMS, known.OHMS_READ, {"plus": name, "minus": GROUND}),
                (Kind.OHMS, known.OHMS_READ, {"plus": name, "minus": other}),
                (Kind.LIFTED, known.OHMS_READ, {"part": name}),
                (Kind.CAPACITANCE, known.CAPACITANCE_READ, {"part": name}),
                (Kind.ESR, known.ESR_READ, {"part": name}),
                (Kind.FORWARD, known.TEST_READ, {"part": name}),
                (Kind.REVERSE, known.TEST_READ, {"part": name}),
                # Whether it is a node or a part is open; a key word is led in by either.
                *([] if name.lower() in FIRST_WORDS
                  else [(Kind.OHMS, known.OHMS_READ, {"part": name, "minus": GROUND})]),
            ]
        )
    )  # fmt: skip
    found = _reading(draw, kind, slot, where, state, meter)
    if kind in WITH_OVERLOAD and draw(st.booleans()):
        found = replace(found, nominal=OVERLOAD, last_digit=0.0)
    return found


def _reading(draw: st.DrawFn, kind: Kind, slot: Slot, where: dict[str, str], state: State,
             meter: Meter) -> Reading:  # fmt: skip
    nominal, last_digit = draw(figures(slot))
    return Reading(kind, nominal, last_digit, state, meter, note=draw(maybe(texts())), **where)  # type: ignore[arg-type]


def _turn(draw: st.DrawFn, now: Conditions) -> Conditions:
    """One thing is done between two readings."""
    what = draw(st.sampled_from(["stage", "power", "valves", "pots", "pots", "nothing"]))
    if what == "stage":
        return now.headed(draw(st.sampled_from(["as found", "as left"])))
    if what == "power":
        live = draw(st.booleans())
        return now.powered(live, not live and draw(st.booleans()))
    if what == "valves":
        return now.with_valves(draw(st.booleans()))
    if what == "pots":
        by_eye = st.builds(Position, st.just(0.5) | st.floats(0.001, 0.999), st.just(True))
        position = st.sampled_from(list(ENDS.values())) | by_eye
        return now.turned(draw(st.dictionaries(places(), position, min_size=1, max_size=3)))
    return now


@st.composite
def sheets(draw: st.DrawFn) -> Sheet:
    """A sheet as it may have been read, its nodes still open where only the circuit tells."""
    labels = draw(st.lists(names(), max_size=3, unique_by=str.lower))
    found = tuple(draw(meters(label)) for label in labels) or (UNSTATED,)
    now = START.headed(draw(st.sampled_from(["as found", "as left"])))
    readings = []
    for _ in range(draw(st.integers(0, 6))):
        for _ in range(draw(st.integers(0, 2))):
            now = _turn(draw, now)
        state = now.state
        assert state is not None
        take: Any = _live if state.live else _dead
        readings.append(take(draw, state, draw(st.sampled_from(found))))
        now = now.read()
    return Sheet(
        draw(st.sampled_from(["two-6v6gt-foot.bias", "my amp.bias", "x"])),
        found,
        tuple(readings),
        tuple(draw(st.lists(texts(), max_size=2))),
    )
