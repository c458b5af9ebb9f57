"""What was typed at a prompt: one of the words for the program, or a value as a meter shows it."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from dataclasses import replace
from enum import Enum

from ..finding import Finding
from ..graph import Section
from ..netlist import Valve, Winding
from ..quantity import Dimension, Quantity, ValueProblem, read
from ..readings import (
    DIODE_TEST,
    OVERLOAD,
    POWER_OFF,
    WITH_OVERLOAD,
    Kind,
    Reading,
    dimension_of,
)


class Word(Enum):
    """What can be asked of the program instead of answering."""

    SKIP = "skip"
    UNDO = "undo"
    LIST = "list"
    WHY = "why"
    MORE = "more"
    HELP = "help"
    QUIT = "quit"


_WORDS = {word.value: word for word in Word} | {"?": Word.HELP, "exit": Word.QUIT}
_OVERLOAD = frozenset({"ol", "overload", "open"})
_ON_VOLTS = {Kind.MAINS: "Vac", Kind.DC: "V", Kind.AC: "Vac", **dict.fromkeys(DIODE_TEST, "V")}
_NOTE = re.compile(r'(.*?)\s+note\s+"([^"]*)"', re.IGNORECASE)


def word(typed: str) -> Word | None:
    """The word for the program that was typed, if it is one."""
    return _WORDS.get(typed.strip().lower())


def mistyped(typed: str) -> str | None:
    """What to say of a single word that can be neither a value nor a line; None if it may be."""
    text = typed.strip()
    if not re.fullmatch("[A-Za-z]+", text) or text.lower() in _OVERLOAD:
        return None
    near = difflib.get_close_matches(text.lower(), _WORDS, n=1)
    fix = f' Did you mean "{near[0]}"?' if near else ' "help" explains.'
    return f'"{text}" is no value, no line of a sheet, and no word known here.{fix}'


def is_value(typed: str) -> bool:
    """Whether a text begins like a value, and not like a line of a sheet."""
    text = typed.strip()
    if text.lower() in _OVERLOAD:
        return True
    return bool(re.match(r"[-+\u2212]?\s*\.?[0-9]", text))


def unit_asked(asked: Reading, section: Section) -> str:
    """The unit in which a question wants its answer: "V", "Vac", "mA or mV", "ohm"."""
    kind = asked.kind
    if kind is Kind.MAINS:
        return "V"
    if kind is Kind.CURRENT:
        return "mA, or mV across its resistor" if _r_cathode(asked, section) else "mA"
    return {Kind.CATHODE: "mV", Kind.CAPACITANCE: "uF"}.get(kind, dimension_of(kind).symbol)


def answered(typed: str, asked: Reading, section: Section) -> Reading:
    """The reading that an answer makes.

    Parameters
    ----------
    typed : str
        The answer, such as "-44.0", "26.8k", "OL" or '-44.0 V note "jumps"'.
    asked : Reading
        What was asked for.
    section : Section
        The circuit.

    Raises
    ------
    ValueProblem
        If the answer is no such value.
    """
    text, note = typed.strip(), None
    remark = _NOTE.fullmatch(text)
    if remark is not None:
        text, note = remark[1], remark[2]
    if text.lower() in _OVERLOAD:
        return replace(_overloaded(asked), note=note)
    quantity = _read(text, asked.kind)
    kind = _kind(quantity, asked, section)
    wanted = Dimension.VOLT_AC if kind is Kind.MAINS else dimension_of(kind)
    fitted = quantity.as_(wanted)
    if kind in POWER_OFF and fitted.nominal < 0.0:
        raise ValueProblem(f"{text} is negative", f"{wanted.noun} cannot be",
                           "look for charge left in the capacitors, and read again")  # fmt: skip
    return replace(asked, kind=kind, nominal=fitted.nominal, last_digit=float(fitted.last_digit),
                   note=note)  # fmt: skip


def _overloaded(asked: Reading) -> Reading:
    if asked.kind not in WITH_OVERLOAD:
        raise ValueProblem(f"OL is not {dimension_of(asked.kind).noun}", "the range is too small",
                           "turn the meter to a larger range, and read again")  # fmt: skip
    return replace(asked, nominal=OVERLOAD, last_digit=0.0)


def _read(text: str, kind: Kind) -> Quantity:
    quantity = read(text)
    if quantity.dimension is None and not quantity.prefix and kind in _ON_VOLTS:
        return read(text, _ON_VOLTS[kind])
    return quantity


def _kind(quantity: Quantity, asked: Reading, section: Section) -> Kind:
    """What was read: the same thing may be read in another way than it was asked for."""
    kind, of = asked.kind, quantity.dimension
    if kind is Kind.CURRENT and of is Dimension.VOLT and _r_cathode(asked, section):
        return Kind.CATHODE
    wound = {node for w in section.circuit.of(Winding) for _, node in w.terminals}
    if kind is Kind.AC and of is Dimension.VOLT_PP and asked.plus not in wound:
        return Kind.RIPPLE
    return kind


def _r_cathode(asked: Reading, section: Section) -> float:
    valve = section.circuit.part(asked.part)
    return (valve.r_cathode or 0.0) if isinstance(valve, Valve) else 0.0


def sentences(*texts: str) -> str:
    """Texts as sentences, one behind the other."""
    return " ".join(f"{t[0].upper()}{t[1:]}." for t in texts if t).replace("?.", "?")


def told(findings: Iterable[Finding]) -> str:
    """Findings as sentences."""
    return " ".join(sentences(f.what, f.why, f.fix) for f in findings)
