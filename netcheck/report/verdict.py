"""What a diagnosis says, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from ..diagnose.account import Account
from ..diagnose.diagnosis import Verdict
from ..diagnose.explain import cause
from ..diagnose.suspects import Mode, Suspect
from ..diagnose.words import (
    company_words,
    drawn,
    listed,
    mode_words,
    place,
    suspect_name,
    suspect_words,
    value_words,
)
from ..readout.model import is_undrawn

MOST = 8
"""Suspects that are shown or named. [count]"""
_TELLING = 0.2  # a way that holds this share of its part's probability is named [1]


def percent(probability: float) -> str:
    """A probability in words that promise nothing: "97 %", "over 99 %"."""
    if probability > 0.99:
        return "over 99 %"
    if probability < 0.01:
        return "under 1 %"
    return f"{probability * 100:.0f} %"


def verdict(account: Account) -> str:
    """The outcome in one or two sentences."""
    found, told = account.diagnosis, account.diagnosis.verdict
    if told is Verdict.NONE_FITS:
        return _none_fits(account)
    if told is Verdict.SOUND:
        return ("These readings agree with the drawing within its tolerances: nothing wrong is "
                f"seen ({percent(found.group[0].probability)} sure).")  # fmt: skip
    names = [suspect_name(s, account.readings) for s in found.group if s.parts]
    if told is Verdict.NAMED:
        return _named(account, found.group[0])
    if told is Verdict.GROUP:
        return _group(account, names)
    sound = next(s.probability for s in found.group if not s.parts)
    if sound > 0.5:
        return (f"Probably nothing is wrong ({percent(sound)}), but these readings would also go "
                f"with {_few(names, 'or')}. Undetermined until more is read.")  # fmt: skip
    return (f"Undetermined: {_few(names, 'or')} may be at fault, or nothing ({percent(sound)}). "
            "More readings are needed.")  # fmt: skip


def _group(account: Account, names: Sequence[str]) -> str:
    found = account.diagnosis
    common = set(found.common)
    if not common:
        return (f"Something is wrong with {_few(names, 'or')}: these readings cannot tell them "
                "apart.")  # fmt: skip
    sure = percent(sum(s.probability for s in found.suspects if common <= set(s.parts)))
    company = company_words(found, listed, lambda names: _few(names, "or"))
    return (f"Something is wrong with {listed(found.common)} ({sure} sure), {company}: these "
            "readings cannot tell which.")  # fmt: skip


def _few(names: Sequence[str], last: str) -> str:
    if len(names) > MOST:
        return f"{', '.join(names[:MOST])} {last} one of {len(names) - MOST} more"
    return listed(names, last)


def _none_fits(account: Account) -> str:
    best = account.leading
    told = "Nothing that is thought of here fits these readings"
    if best is not None and account.diagnosis.group[0].parts:
        told += f"; {suspect_name(best, account.readings)} would come nearest, but not near enough"
    return (f"{told}. Check the drawing against the chassis part by part, then where the leads "
            "stood, then for a leak that is not drawn: across the tag strip or board, a valve "
            "socket, a coupling capacitor.")  # fmt: skip


def _named(account: Account, suspect: Suspect) -> str:
    sure = f"({percent(suspect.probability)} sure)"
    hypothesis, circuit = suspect.mode.hypothesis, account.section.circuit
    if hypothesis.reading is not None:
        told = suspect_words(account.section, suspect, account.readings)
        return f"The chassis looks sound, but {told} {sure}: read it again."
    if len(hypothesis.parts) > 1:
        both = [f"{p} acts as {value_words(circuit.part(p), f)}, {drawn(circuit.part(p))}"
                for p, f in zip(hypothesis.parts, suspect.mode.fitted, strict=False)]  # fmt: skip
        return f"Two parts are off together {sure}: {'; '.join(both) or suspect.label}."
    if is_undrawn(hypothesis.label):
        (fitted,) = suspect.mode.fitted
        there = f"{suspect_name(suspect)} is there, of {value_words(None, fitted)} {sure}"
        return (f"No part is at fault, but {there}: {reason(account, suspect)}. Look for it with "
                "the power off.")  # fmt: skip
    told = _short(account, suspect.mode)
    other = [_short(account, mode) for mode in ways(suspect)[1:]]
    if other:
        told += f", or {_few(other, 'or')}"
    would = [e.text for e in suspect.explanations]
    why = f": {listed(would, 'or')} would do that" if would else ""
    return f"{told[0].upper() if told.startswith('the ') else told[0]}{told[1:]} {sure}{why}."


def _short(account: Account, mode: Mode) -> str:
    """A way in words for a sentence: "R3 acts as 20.1k (17k to 22k) where 27k is drawn"."""
    told = mode_words(account.section, mode, account.readings)
    start, _, was = told.partition("; ")
    return f"{start} where {was.replace(' drawn', ' is drawn', 1)}" if was else told


def ways(suspect: Suspect) -> list[Mode]:
    """The ways that are worth naming, one of each name."""
    found: dict[str, Mode] = {}
    for mode in suspect.modes:
        if mode.probability >= _TELLING * suspect.probability:
            found.setdefault(mode.hypothesis.mode, mode)
    return list(found.values())


def reason(account: Account, suspect: Suspect) -> str:
    """What would make it so; empty where nothing is known, or where it hardly is so."""
    if suspect.explanations:
        return listed([e.text for e in suspect.explanations], "or")
    hypothesis = suspect.mode.hypothesis
    if hypothesis.reading is not None:
        return place(account.readings[hypothesis.reading])
    if len(hypothesis.parts) != 1:
        return ""
    part = account.section.circuit.part(hypothesis.label)
    return cause(part, hypothesis.label, hypothesis.mode)
