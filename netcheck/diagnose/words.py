"""Readings and suspects in words."""

from __future__ import annotations

from ..engine.elements import GROUND
from ..graph import Section
from ..netlist import Part, Resistor
from ..quantity import Dimension, show
from ..readings import OVERLOAD, Kind, Reading, State
from .explain import Fitted
from .hypotheses import Hypothesis
from .suspects import Mode, Suspect

_UNIT = {
    Kind.MAINS: Dimension.VOLT_AC,
    Kind.DC: Dimension.VOLT,
    Kind.AC: Dimension.VOLT_AC,
    Kind.RIPPLE: Dimension.VOLT_PP,
    Kind.CURRENT: Dimension.AMPERE,
    Kind.CATHODE: Dimension.VOLT,
    Kind.PLATE: Dimension.VOLT,
    Kind.SCREEN: Dimension.VOLT,
    Kind.OHMS: Dimension.OHM,
    Kind.LIFTED: Dimension.OHM,
    Kind.CAPACITANCE: Dimension.FARAD,
    Kind.ESR: Dimension.OHM,
}

_LEAK, _END, _CURRENT = ".leak", " end", ".grid current"


def dimension_of(kind: Kind) -> Dimension:
    """What a kind of reading is measured in."""
    return _UNIT[kind]


def shown(kind: Kind, value: float) -> str:
    """A value of a kind of reading, as on a meter."""
    return "OL" if value == OVERLOAD else show(value, _UNIT[kind])


def subject(reading: Reading) -> str:
    """What a reading is of, without the conditions: "grid1", "across R3", "V1 cathode"."""
    kind, part = reading.kind, reading.part
    between = reading.plus if reading.minus == GROUND else f"{reading.plus} to {reading.minus}"
    if part and kind in {Kind.DC, Kind.OHMS}:
        return f"across {part}"
    return {
        Kind.MAINS: "mains",
        Kind.DC: between,
        Kind.AC: f"{between}, a.c.",
        Kind.RIPPLE: f"{between}, ripple",
        Kind.CURRENT: f"{part} cathode",
        Kind.CATHODE: f"{part} cathode",
        Kind.PLATE: f"{part} plate",
        Kind.SCREEN: f"{part} screen",
        Kind.OHMS: f"{between}",
        Kind.LIFTED: f"{part} lifted",
        Kind.CAPACITANCE: f"{part} lifted",
        Kind.ESR: f"{part} ESR",
    }[kind]


def position_words(state: State, short: bool = False) -> str:
    """Where the pots stand: "RV1 fully clockwise", or short "RV1 cw"; empty if not stated."""
    told = []
    for pot, at in state.pots.items():
        if at.by_eye:
            where = "middle" if at.travel == 0.5 else f"{at.travel:.0%}"
            told.append(f"{pot} {where}" if short else f"{pot} at {where.replace('middle', 'the middle')}")
        elif at.travel in (0.0, 1.0):
            end = "clockwise" if at.travel else "anticlockwise"
            told.append(f"{pot} {'cw' if at.travel else 'acw'}" if short else f"{pot} fully {end}")
        else:
            told.append(f"{pot} {at.travel:.0%}")
    return ", ".join(told)


def request(reading: Reading) -> str:
    """What to do to take a reading, one sentence without a full stop."""
    kind, part = reading.kind, reading.part
    against = "ground" if reading.minus == GROUND else reading.minus
    where = position_words(reading.state)
    turned = f", {where}" if where else ""
    if kind is Kind.OHMS:
        what = f"across {part}" if part else f"from {reading.plus} to {against}"
        return (f"measure the resistance {what} with the power off, capacitors discharged and "
                f"all parts soldered in{turned}")  # fmt: skip
    if kind is Kind.LIFTED:
        return f"lift one leg of {part} with the power off and measure it alone"
    if kind is Kind.CAPACITANCE:
        return f"lift one leg of {part} with the power off and measure its capacitance"
    if kind is Kind.ESR:
        return f"measure the series resistance (ESR) of {part} with the power off"
    return {
        Kind.MAINS: "measure the mains voltage",
        Kind.DC: f"measure d.c. volts at {reading.plus} against {against}{turned}",
        Kind.AC: f"measure a.c. volts at {reading.plus} against {against}{turned}",
        Kind.RIPPLE: f"measure the ripple at {reading.plus} against {against}{turned}",
        Kind.CURRENT: f"read the cathode current of {part}{turned}",
        Kind.CATHODE: f"measure d.c. volts across the cathode resistor of {part}{turned}",
        Kind.PLATE: f"measure the plate volts of {part}",
        Kind.SCREEN: f"measure the screen volts of {part}",
    }[kind]


def fitted_words(part: Part | None, fitted: Fitted) -> str:
    """What a fitted value means: "acts as 20.1k (17.7k to 22.1k)"."""
    name = fitted.coordinate
    dimension = Dimension.OHM
    told = "acts as"
    if name.endswith(_CURRENT):
        told, dimension = "draws", Dimension.AMPERE
    elif name.endswith(_LEAK):
        told = "leaks like"
    elif name.endswith(_END):
        told = f"has at its {name.split('.')[1].removesuffix(_END)} end"
    elif name.endswith(".esr"):
        told = "has an ESR of"
    elif name.endswith(".input"):
        return f"loads the circuit {1.0 / fitted.nominal:.3g} times as much as stated"
    elif name == "mains":
        return f"is at {fitted.nominal:.0%} of nominal ({fitted.low:.0%} to {fitted.high:.0%})"
    elif part is not None and part.kind in {"winding", "supply", "zener"}:
        told, dimension = "gives", (
            Dimension.VOLT_AC if part.kind == "winding" else Dimension.VOLT)  # fmt: skip
    elif part is not None and part.kind == "capacitor":
        dimension = Dimension.FARAD
    low, high = show(fitted.low, dimension), show(fitted.high, dimension)
    return f"{told} {show(fitted.nominal, dimension)} ({low} to {high})"


def drawn(part: Part | None) -> str:
    """What is drawn of a part: "27k drawn"; empty where that is no single value."""
    if isinstance(part, Resistor):
        return f"{show(part.r, Dimension.OHM)} drawn"
    if part is None:
        return ""
    value = {"pot": ("r", Dimension.OHM), "capacitor": ("c", Dimension.FARAD),
             "winding": ("v_rms", Dimension.VOLT_AC), "supply": ("v", Dimension.VOLT),
             "zener": ("v_zener", Dimension.VOLT)}.get(part.kind)  # fmt: skip
    return "" if value is None else f"{show(getattr(part, value[0]), value[1])} drawn"


def mode_words(section: Section, mode: Mode) -> str:
    """A way of being at fault: "R3 acts as 20.1k (17.7k to 22.1k); 27k drawn"."""
    hypothesis: Hypothesis = mode.hypothesis
    if hypothesis.reading is not None or not hypothesis.parts:
        return hypothesis.mode
    told = []
    for fitted in mode.fitted:
        name = fitted.coordinate.partition(".")[0]
        part = section.circuit.part(name)
        was = f"; {drawn(part)}" if fitted.coordinate == name and drawn(part) else ""
        told.append(f"{name} {fitted_words(part, fitted)}{was}")
    if hypothesis.mode in {"low", "high"} or "," in hypothesis.mode:
        return ", ".join(told)
    way = f"{hypothesis.label} {hypothesis.mode}"
    return f"{way}: {', '.join(told)}" if told else way


def suspect_words(section: Section, suspect: Suspect) -> str:
    """A suspect in its most probable way, with what would explain it."""
    told = mode_words(section, suspect.mode)
    if suspect.explanations:
        told += f": {suspect.explanations[0].text}"
    return told
