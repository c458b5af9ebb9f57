"""What to read next, for the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..diagnose.account import Account, varied
from ..diagnose.diagnosis import Verdict
from ..diagnose.gain import NextReading
from ..diagnose.suspects import Suspect
from ..diagnose.words import effort_words, listed, request, shown, suspect_name
from ..readings import Kind
from .tables import between, paragraph
from .verdict import MOST

_NEXT = 4  # readings that are proposed [count]
FORETOLD = 0.02
"""Suspects less probable are not foretold a reading. [1]"""


def next_reading(account: Account) -> list[str]:
    """What to read next, with what it would show."""
    found = account.diagnosis
    if found.verdict is Verdict.NONE_FITS:
        return []
    if not account.following:
        return paragraph(f"No further reading would tell much more. {to_confirm(account)}")
    best, *others = varied(account.following, _NEXT)
    lines = paragraph(f"Read next: {request(account.section, best.candidate.reading)}.")
    lines += paragraph("; ".join(_foretold(account, best)), "  ")
    lines += paragraph(f"{worth(account, best)}.", "  ")
    if others:
        lines.append("Or else:")
        for other in others:
            told = f"{request(account.section, other.candidate.reading)} ({worth(account, other)})"
            lines += paragraph(told, "    ", "  ")
    return lines


def to_confirm(account: Account) -> str:
    """What proves a part that is named; empty where more is to be read, or nothing does."""
    if account.following or account.to_confirm is None:
        return ""
    reading = account.to_confirm.candidate.reading
    likely = shown(reading.kind, account.to_confirm.likely[1])
    return f"To be certain, {request(account.section, reading)}: about {likely}."


def worth(account: Account, one: NextReading) -> str:
    """What a reading costs, and what it tells: "power off; 0.4 bits expected"."""
    effort = effort_words(account.section, one.candidate.reading)
    return f"{effort}; {one.bits:.1f} bits expected".replace("1.0 bits", "1.0 bit")


def _foretold(account: Account, one: NextReading) -> Iterator[str]:
    """What a reading would show under each leading suspect: "about 20k if R3 is it"."""
    kind = one.candidate.reading.kind
    told: list[tuple[float | None, str, list[Suspect]]] = []
    for suspect in account.diagnosis.suspects[:MOST]:
        if suspect.probability < FORETOLD or suspect.parts not in one.if_fault:
            continue
        low, middle, high = one.if_fault[suspect.parts]
        if _is_wide(kind, low, high):
            text = between(shown(kind, low, 2), shown(kind, high, 2))
            told.append((None, text, [suspect]))
            continue
        like = [who for at, _, who in told if at is not None and abs(at - middle) < 0.05 * abs(at)]
        if like:
            like[0].append(suspect)
        else:
            told.append((middle, f"about {shown(kind, middle, 2)}", [suspect]))
    for _, text, who in told:
        yield f"{text} if {_if(account, who)}"


def _if(account: Account, who: Sequence[Suspect]) -> str:
    names = [suspect_name(suspect, account.readings) for suspect in who if suspect.parts]
    told = [f"{listed(names, 'or')} is it"] if names else []
    if any(not suspect.parts for suspect in who):
        told.insert(0, "all is sound")
    return " or ".join(told)


def _is_wide(kind: Kind, low: float, high: float) -> bool:
    size = max(abs(low), abs(high))
    return abs(high - low) > (0.08 if kind is Kind.DC else 0.15) * size
