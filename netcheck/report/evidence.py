"""Which readings speak for a suspect, as tables for the terminal."""

from __future__ import annotations

from ..diagnose.account import Account
from ..diagnose.evidence import Evidence
from ..diagnose.words import place, shown, suspect_name
from ..readings import Reading
from .findings import WIDTH
from .tables import between, paragraph, table


def evidence_table(account: Account) -> list[str]:
    """The readings that speak for the leading suspect, or against it."""
    suspect = account.leading
    if suspect is None or not account.evidence:
        return []
    name = suspect_name(suspect, account.readings)
    if suspect.mode.hypothesis.reading is not None:
        return _misread_evidence(account, account.evidence[0])
    short = suspect.label if len(suspect.label) < 14 else "this fault"
    head = ["reading", "sound", f"with {short}", "measured", "speaks"]
    rows = [_evidence_row(account.readings[e.reading], e) for e in account.evidence]
    said = f"What speaks for {name}; sound is what 95 of 100 sound sections show:"
    if account.evidence[0].together:
        said = (f"No reading speaks for {name} by itself, but they do together; sound is what "
                "the others leave for each if nothing is wrong:")  # fmt: skip
    lines = table(head, rows)
    if max(map(len, lines)) > WIDTH:  # many pots: what the fault would show stands in the JSON
        lines = table([*head[:2], *head[3:]], [[*row[:2], *row[3:]] for row in rows])
    return [*paragraph(said), *lines]


def _evidence_row(reading: Reading, one: Evidence) -> list[str]:
    kind = reading.kind
    low, _, high = (shown(kind, v) for v in one.sound)
    made = "any" if one.fault is None else shown(kind, one.fault)
    measured = _measured(reading)
    return [place(reading), between(low, high), made, measured, strength(one.bits)]


def strength(bits: float) -> str:
    """How much a reading speaks for a suspect, in a word."""
    if bits < 0.0:
        return "against"
    return "strongly" if bits > 6.0 else "clearly" if bits > 3.0 else "a little"


def _measured(reading: Reading) -> str:
    return shown(reading.kind, reading.nominal)


def _misread_evidence(account: Account, one: Evidence) -> list[str]:
    reading = account.readings[one.reading]
    low, middle, high = (shown(reading.kind, v) for v in one.sound)
    return paragraph(f"If the section is sound, all other readings make it {middle} at "
                     f"{place(reading)}, between {between(low, high, 'and')}; "
                     f"{_measured(reading)} was written down.")  # fmt: skip


def odd_table(account: Account) -> list[str]:
    """Where nothing fits, the readings that do not go with the others."""
    if not account.odd:
        return []
    rows = []
    for one in account.odd:
        reading = account.readings[one.reading]
        low, _, high = (shown(reading.kind, v) for v in one.wanted)
        rows.append([place(reading), between(low, high), _measured(reading),
                     f"{one.deviations:+.1f}"])  # fmt: skip
    head = ["does not go with the rest", "the rest wants", "measured", "s.d. off"]
    return table(head, rows)
