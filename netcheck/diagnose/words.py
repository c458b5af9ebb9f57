"""Readings and suspects in words."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from ..engine.elements import GROUND
from ..graph import Section
from ..netlist import Diode, Part, Pot, Supply, Winding, Zener
from ..quantity import Dimension, show, show_part
from ..readings import ANYWHERE, DIODE_TEST, OVERLOAD, Kind, Position, Reading, State, dimension_of
from ..readout.links import is_link
from ..readout.model import is_undrawn
from .diagnosis import Diagnosis
from .explain import Fitted
from .hypotheses import Hypothesis
from .suspects import Mode, Suspect

__all__ = [
    "company_words",
    "dimension_of",
    "drawn",
    "effort_words",
    "fitted_words",
    "listed",
    "mode_words",
    "place",
    "position_words",
    "request",
    "shown",
    "subject",
    "suspect_name",
    "suspect_words",
    "unit_of",
    "value_words",
]

_LEAK, _END, _CURRENT, _ESR, _INPUT = ".leak", " end", ".grid current", ".esr", ".input"


def shown(kind: Kind, value: float, digits: int = 3) -> str:
    """A value of a kind of reading, as on a meter."""
    return "OL" if value == OVERLOAD else show(value, dimension_of(kind), digits)


def listed(names: Sequence[str], last: str = "and") -> str:
    """Names in one phrase: "R1, R3 and T1"."""
    *first, end = names
    return f"{', '.join(first)} {last} {end}" if first else end


# --- readings


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
        Kind.OHMS: f"{reading.plus} to {reading.minus}",
        Kind.FORWARD: f"{part} forward",
        Kind.REVERSE: f"{part} reverse",
        Kind.LIFTED: f"{part} lifted",
        Kind.CAPACITANCE: f"{part} lifted",
        Kind.ESR: f"{part} ESR",
    }[kind]


def position_words(state: State, short: bool = False) -> str:
    """Where the pots stand: "RV1 fully clockwise", or short "RV1 cw"; empty if not stated.

    In short, pots that all stand alike are "all pots cw".
    """
    where = {pot: _position_word(at, short) for pot, at in state.pots.items()}
    if short and len(where) > 1 and len(set(where.values())) == 1:
        return f"all pots {next(iter(where.values()))}"
    return ", ".join(f"{pot} {word}" for pot, word in where.items())


def _position_word(at: Position, short: bool) -> str:
    if at.by_eye and at.travel == 0.5:
        return "middle" if short else "at the middle"
    if not at.by_eye and at.travel in (0.0, 1.0):
        end = "clockwise" if at.travel else "anticlockwise"
        return f"{'' if at.travel else 'a'}cw" if short else f"fully {end}"
    return f"{'' if short else 'at '}{at.travel * 100:.0f} %"


def place(reading: Reading) -> str:
    """A reading with its conditions, short: "grid1, RV1 cw"."""
    if reading.kind in ANYWHERE:
        return subject(reading)
    return ", ".join(filter(None, (subject(reading), position_words(reading.state, short=True))))


def _lying_between(section: Section, reading: Reading) -> str:
    """The rectifier or winding that is read, where a reading is named by its nodes."""
    ends = {section.at(reading.plus), section.at(reading.minus)}
    return next((part.name for part in section.circuit.parts
                 if isinstance(part, Diode | Zener | Winding)
                 and ends <= {section.at(node) for _, node in part.terminals}), "")  # fmt: skip


def request(section: Section, reading: Reading) -> str:
    """What to do to take a reading, one sentence without a full stop."""
    kind, part = reading.kind, reading.part
    against = "ground" if reading.minus == GROUND else reading.minus
    where = position_words(reading.state)
    turned = f", {where}" if where else ""
    if kind is Kind.OHMS:
        what = f"from {reading.plus} to {against},"
        if not part:  # which lead is where counts for rectifiers, and these are read by nodes
            what += f" red lead on {reading.plus},"
        if across := part or _lying_between(section, reading):
            what = f"across {across}, {what}"
        return (f"measure the resistance {what} with the power off, capacitors discharged and "
                f"all parts soldered in{turned}")  # fmt: skip
    if kind in DIODE_TEST:
        lead = "anode" if kind is Kind.FORWARD else "cathode"
        return (
            f"put the meter on diode test across {part} with the power off, capacitors "
            f"discharged and all parts soldered in, red lead on the {lead}, {reading.plus}"
        )
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


def effort_words(section: Section, reading: Reading) -> str:
    """What a reading asks for: "power off", "live", "power off, one leg unsoldered"."""
    if reading.kind in {Kind.LIFTED, Kind.CAPACITANCE}:
        return "power off, one leg unsoldered"
    if not reading.state.live:
        return "power off"
    if reading.kind is Kind.MAINS:
        return "live, at the mains"
    wound = {node for w in section.circuit.of(Winding) for _, node in w.terminals}
    at_winding = reading.kind is Kind.AC and reading.plus in wound
    return "live, at the winding" if at_winding else "live"


# --- values


def unit_of(part: Part | None, coordinate: str) -> Dimension | None:
    """What a fitted value is measured in; None for a ratio."""
    if coordinate.endswith(_CURRENT):
        return Dimension.AMPERE
    if coordinate.endswith(_INPUT) or coordinate == "mains":
        return None
    if part is None or coordinate != part.name:
        return Dimension.OHM
    return _DRAWN.get(part.kind, ("", Dimension.OHM))[1]


def fitted_words(part: Part | None, fitted: Fitted) -> str:
    """What a fitted value means: "acts as 20.1k (17.7k to 22.1k)"."""
    name = fitted.coordinate
    if name.endswith(_INPUT):
        return f"loads the circuit {1.0 / fitted.nominal:.3g} times as much as stated"
    if name == "mains":
        return f"is at {value_words(part, fitted)} of nominal"
    told = "acts as"
    if name.endswith(_CURRENT):
        told = "draws"
    elif name.endswith(_LEAK):
        told = "leaks like"
    elif name.endswith(_END):
        told = f"has at its {name.split('.')[1].removesuffix(_END)} end"
    elif name.endswith(_ESR):
        told = "has an ESR of"
    elif isinstance(part, Winding | Supply | Zener):
        told = "gives"
    return f"{told} {value_words(part, fitted)}"


def value_words(part: Part | None, fitted: Fitted) -> str:
    """A fitted value with the range it lies in: "20.1k (17.7k to 22.1k)"."""
    dimension = unit_of(part, fitted.coordinate)
    x, low, high = fitted.nominal, fitted.low, fitted.high
    if fitted.coordinate.endswith(_INPUT):
        x, low, high = 1.0 / x, 1.0 / high, 1.0 / low
        return f"{x:.3g} times ({low:.3g} to {high:.3g})"
    if dimension is None:
        return f"{x * 100:.0f} % ({low * 100:.0f} to {high * 100:.0f} %)"
    told, ends = show(x, dimension), (show(low, dimension), show(high, dimension))
    if ends == (told, told):
        return told
    unit = told.partition(" ")[2]
    if unit and all(end.endswith(f" {unit}") for end in ends):
        ends = (ends[0].removesuffix(f" {unit}"), ends[1].removesuffix(f" {unit}"))
    return f"{told} ({ends[0]} to {ends[1]})"


_DRAWN = {
    "resistor": ("r", Dimension.OHM),
    "pot": ("r", Dimension.OHM),
    "capacitor": ("c", Dimension.FARAD),
    "winding": ("v_rms", Dimension.VOLT_AC),
    "supply": ("v", Dimension.VOLT),
    "zener": ("v_zener", Dimension.VOLT),
}


def drawn(part: Part | None) -> str:
    """What is drawn of a part: "27k drawn"; empty where that is no single value."""
    if is_link(part):
        return "a link drawn"
    if part is None or part.kind not in _DRAWN:
        return ""
    field, dimension = _DRAWN[part.kind]
    return f"{show_part(getattr(part, field), dimension)} drawn"


# --- suspects


def suspect_name(suspect: Suspect, readings: Sequence[Reading] = ()) -> str:
    """What is suspected: "R3", "R3 and R4", "the mains", "the reading of grid1 (RV1 cw)".

    Or "a leak raw to grid1 that is not drawn".
    """
    hypothesis = suspect.mode.hypothesis
    if not suspect.parts:
        return "nothing wrong"
    if hypothesis.reading is not None and hypothesis.reading < len(readings):
        reading = readings[hypothesis.reading]
        what = subject(reading)
        where = place(reading).removeprefix(what).removeprefix(", ")
        what += f" ({where})" if where else ""
        of = "" if what.startswith("across ") else "of the " if what == "mains" else "of "
        return f"the reading {of}{what}"
    if suspect.parts == ("mains",):
        return "the mains"
    if suspect.parts[0].startswith("meter "):
        return f"the {suspect.parts[0]}"
    if is_undrawn(suspect.parts[0]):
        return _undrawn_words(suspect.parts[0])
    return suspect.label


def company_words(
    found: Diagnosis, name: Callable[[Sequence[str]], str], few: Callable[[Sequence[str]], str]
) -> str:
    """What goes with the parts that a group has in common: "alone or together with R5 or R6".

    Parameters
    ----------
    found : Diagnosis
        A group of suspects with parts in common.
    name : callable
        Names parts that are at fault together.
    few : callable
        Lists names, of which one is it.
    """
    others = [tuple(p for p in one.parts if p not in found.common) for one in found.group]
    alone = "" if all(others) else "alone or "
    return f"{alone}together with {few([name(one) for one in others if one])}"


def _undrawn_words(name: str) -> str:
    return f"a {name} that is not drawn"


def mode_words(section: Section, mode: Mode, readings: Sequence[Reading] = ()) -> str:
    """A way of being at fault: "R3 acts as 20.1k (17.7k to 22.1k); 27k drawn"."""
    hypothesis: Hypothesis = mode.hypothesis
    if not hypothesis.parts:
        return hypothesis.mode
    if hypothesis.reading is not None:
        return _misread_words(hypothesis, readings)
    values = [_value_words(section, fitted) for fitted in mode.fitted]
    if len(hypothesis.parts) > 1:
        both = zip(hypothesis.parts, values, strict=False)
        return ", ".join(f"{part} {value}" for part, value in both) or hypothesis.mode
    name = hypothesis.label
    if is_undrawn(name):
        return ", of ".join([_undrawn_words(name), *(value_words(None, f) for f in mode.fitted)])
    if values and (hypothesis.mode in {"low", "high"} or hypothesis.axis.endswith(_INPUT)):
        the = "the " if section.circuit.part(name) is None else ""
        return f"{the}{name} {values[0]}"
    way = _way(section, hypothesis)
    return f"{way}: it {' and '.join(values)}" if values else way


def _value_words(section: Section, fitted: Fitted) -> str:
    """A fitted value beside the one drawn: "acts as 20.1k (17.7k to 22.1k); 27k drawn"."""
    name = fitted.coordinate.partition(".")[0]
    part = section.circuit.part(name)
    was = drawn(part) if fitted.coordinate == name else ""
    return fitted_words(part, fitted) + (f"; {was}" if was else "")


def _misread_words(hypothesis: Hypothesis, readings: Sequence[Reading]) -> str:
    if hypothesis.reading is None or hypothesis.reading >= len(readings):
        return hypothesis.mode
    reading = readings[hypothesis.reading]
    if hypothesis.factor == 0.0 or reading.nominal == OVERLOAD:
        return "misread"
    was = shown(reading.kind, reading.nominal)
    return f"{was} for {shown(reading.kind, reading.nominal * hypothesis.factor)}"


_WAYS = {
    "short": "{name} is shorted",
    "broken down": "{name} has broken down",
    "low": "{name} is too low",
    "high": "{name} is too high",
    "wiper lifted": "the wiper of {name} has lifted",
    "top end worn": "the top end of {name} is worn",
    "bottom end worn": "the bottom end of {name} is worn",
    "top end open": "the top end of {name} is open",
    "bottom end open": "the bottom end of {name} is open",
    "no volts": "{name} gives no volts",
    "reversed": "{name} is the wrong way round",
    "dried out": "{name} has dried out",
    "draws grid current": "{name} draws grid current",
}


def _way(section: Section, hypothesis: Hypothesis) -> str:
    """A way of being at fault, as a sentence: "the wiper of RV1 has lifted"."""
    name, mode = hypothesis.label, hypothesis.mode
    part = section.circuit.part(name)
    if mode in _WAYS:
        return _WAYS[mode].format(name=name)
    if isinstance(part, Pot) and mode.endswith("taper"):
        article = "an" if mode.startswith("audio") else "a"
        return f"{name} has {article} {mode} where {part.taper} is drawn"
    if mode.startswith("half to "):
        return f"the {mode.removesuffix(' open')} of {name} is open"
    return f"{name} is {mode}"


def suspect_words(section: Section, suspect: Suspect, readings: Sequence[Reading] = ()) -> str:
    """A suspect in its most probable way, with what would explain it."""
    told = mode_words(section, suspect.mode, readings)
    if suspect.mode.hypothesis.reading is not None:
        looks = f"looks like {told}" if " for " in told else f"is {told}"
        return f"{suspect_name(suspect, readings)} {looks}"
    if suspect.explanations:
        told += f": {suspect.explanations[0].text}"
    return told
