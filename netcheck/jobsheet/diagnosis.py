"""The diagnosis on the page: who is suspected, why, and what to read next."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ..diagnose.account import Account, varied
from ..diagnose.diagnosis import Verdict
from ..diagnose.gain import NextReading
from ..diagnose.suspects import Suspect
from ..diagnose.words import (
    listed,
    mode_words,
    place,
    request,
    shown,
    suspect_name,
)
from ..report.diagnosis import SHOWN
from ..report.evidence import strength
from ..report.nextreading import FORETOLD, worth
from ..report.tables import between
from ..report.verdict import MOST, percent, reason
from ..report.verdict import verdict as told_by_readings
from .changed import Changed
from .tables import Table, capital, table

_NEXT = 3  # readings that are proposed [count]


@dataclass(frozen=True)
class Next:
    """A reading that is worth taking.

    Parameters
    ----------
    request : str
        What to do, a sentence.
    foretold : tuple of str
        What it would show under each suspect.
    worth : str
        What it asks for and tells.
    """

    request: str
    foretold: tuple[str, ...]
    worth: str


def verdict(account: Account, changes: Sequence[Changed]) -> str:
    """What the readings say; of a repair that was stated, whether they bear it out.

    Parameters
    ----------
    account : Account
        The diagnosis.
    changes : sequence of Changed
        What differs from the circuit before the repair; empty where none was stated.
    """
    found = account.diagnosis
    is_sound = found.verdict in {Verdict.SOUND, Verdict.UNDETERMINED} and not found.group[0].parts
    if not changes or account.stage != "as found" or not is_sound:
        return told_by_readings(account)
    was = listed([f"{one.name} {one.was}" for one in changes if one.was and one.before])
    return f"The readings as found agree with the circuit as it came in{was and f': {was}'}."


def suspects_table(account: Account) -> Table:
    """Who is suspected, and what would make it so."""
    every = account.diagnosis.suspects
    picked = [s for s in every if s.probability >= SHOWN][:MOST]
    rows = [[suspect_name(s, account.readings), percent(s.probability), _how(account, s),
             reason(account, s)] for s in picked]  # fmt: skip
    left = len(every) - len(picked)
    note = ""
    if left > 0:
        rest = percent(sum(s.probability for s in every) - sum(s.probability for s in picked))
        note = f"{capital(rest)} for {f'all {left} others together' if left > 1 else 'one other'}."
    head = ("suspect", "chance", "how", "what would do that")
    return Table("Suspects", head, table("", head, rows).groups, left=4, note=note)


def _how(account: Account, suspect: Suspect) -> str:
    if not suspect.parts:
        return ""
    told = mode_words(account.section, suspect.mode, account.readings)
    return told.removeprefix(f"{suspect.label} ")


def evidence_table(account: Account) -> Table | None:
    """What speaks for the leading suspect; None where nothing does."""
    suspect = account.leading
    if suspect is None or not account.evidence:
        return None
    name = suspect_name(suspect, account.readings)
    rows = []
    for one in account.evidence:
        reading = account.readings[one.reading]
        low, _, high = (shown(reading.kind, v) for v in one.sound)
        made = "any" if one.fault is None else shown(reading.kind, one.fault)
        rows.append([place(reading), shown(reading.kind, reading.nominal), between(low, high), made,
                     strength(one.bits)])  # fmt: skip
    note = "Sound: what 95 of 100 sound sections show."
    if account.evidence[0].together:
        note = (f"No reading speaks for {name} by itself, but they do together. Sound: what the "
                "others leave for each if nothing is wrong.")  # fmt: skip
    head = ("reading", "measured", "sound", f"with {name}", "speaks")
    return table(f"What speaks for {name}", head, rows, note=note)


def odd_table(account: Account) -> Table | None:
    """Readings that do not go with the others, where nothing fits."""
    if not account.odd:
        return None
    rows = []
    for one in account.odd:
        reading = account.readings[one.reading]
        low, _, high = (shown(reading.kind, v) for v in one.wanted)
        rows.append([place(reading), shown(reading.kind, one.measured), between(low, high),
                     f"{one.deviations:+.1f}"])  # fmt: skip
    head = ("reading", "measured", "the rest wants", "s.d. off")
    return table("Readings that do not go with the rest", head, rows)


# -------------------------------------------------------------------------- what to read next


def following(account: Account) -> list[Next]:
    """What is worth reading next, the best first."""
    if account.diagnosis.verdict is Verdict.NONE_FITS:
        return []
    return [_next(account, one) for one in varied(account.following, _NEXT)]


def _next(account: Account, one: NextReading) -> Next:
    what = capital(request(account.section, one.candidate.reading))
    return Next(f"{what}.", tuple(_foretold(account, one)), f"{capital(worth(account, one))}.")


def _foretold(account: Account, one: NextReading) -> Iterator[str]:
    """What a reading would show under each suspect that is left: "R3: 19.2k to 20.8k"."""
    kind = one.candidate.reading.kind
    for suspect in account.diagnosis.suspects[:MOST]:
        if suspect.probability >= FORETOLD and suspect.parts in one.if_fault:
            low, _, high = (shown(kind, v) for v in one.if_fault[suspect.parts])
            name = suspect_name(suspect, account.readings) if suspect.parts else "all sound"
            yield f"{name}: {low if low == high else between(low, high)}"
