"""A diagnosis for the terminal: the verdict first, then who is suspected and why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..assumed import mains_tolerance
from ..diagnose.account import Account
from ..diagnose.diagnosis import SOUND_BEFORE, Verdict
from ..diagnose.suspects import Suspect
from ..diagnose.words import drawn, listed, mode_words, shown, subject, value_words
from ..netlist import Part
from ..readings import SOLDERED_IN, Kind
from ..terminal import CAUTION
from .evidence import evidence_table, odd_table
from .findings import WIDTH
from .nextreading import next_reading
from .tables import paragraph, table
from .verdict import MOST, percent, reason, verdict, ways

SHOWN = 0.01
"""Suspects less probable are summed up. [1]"""
_WAYS_WIDTH = 22  # columns [count]
_MISFIT = 0.05  # chance below which a fit is called bad [1]


def render_diagnosis(account: Account, name: str) -> str:
    """The whole report, lines of at most 80 characters.

    Parameters
    ----------
    account : Account
        What was found.
    name : str
        Of the sheet of readings, as the user gave it.
    """
    blocks = [
        paragraph(verdict(account)),
        _heading(account, name),
        _suspects(account),
        evidence_table(account),
        odd_table(account),
        next_reading(account),
        [line for text in remarks(account) for line in paragraph(text, "  ", "")],
        paragraph(CAUTION),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def _heading(account: Account, name: str) -> list[str]:
    title = account.section.circuit.title or "(no title)"
    count = len(account.readings)
    said = f"{count} {'reading' if count == 1 else 'readings'} {account.stage} from {name}."
    return [*paragraph(title), *paragraph(said)]


# --- the suspects


def _suspects(account: Account) -> list[str]:
    every = account.diagnosis.suspects
    picked = [s for s in every if s.probability >= SHOWN][:MOST]
    rows = [_row(account, suspect) for suspect in picked]
    told = [reason(account, suspect) for suspect in picked]
    head = ["chance", "suspect", "how", "fitted (in 90 of 100)", "drawn"]
    lines = table(head, rows, 5)
    if max(map(len, lines)) > WIDTH:  # long names: what is drawn stands in the drawing
        lines = table(head[:4], [row[:4] for row in rows], 4)
    done = [lines[0]]
    for line, why in zip(lines[1:], told, strict=True):
        done += [line, *(paragraph(why, " " * 10) if why else [])]
    rest = sum(s.probability for s in every) - sum(s.probability for s in picked)
    left = len(every) - len(picked)
    if left > 0:
        who = f"all {left} others together" if left > 1 else "the one other"
        done.append(f"{percent(rest)} for {who}")
    return done


def _row(account: Account, suspect: Suspect) -> list[str]:
    mode, circuit = suspect.mode, account.section.circuit
    chance = percent(suspect.probability).replace("over ", ">").replace("under ", "<")
    if not suspect.parts:
        return [chance, "nothing wrong", "", "", ""]
    if mode.hypothesis.reading is not None:
        looks = mode_words(account.section, mode, account.readings)
        number = f"reading {mode.hypothesis.reading + 1}"
        return [chance, number, "misread", "" if looks == "misread" else looks, ""]
    values = [value_words(circuit.part(f.coordinate.partition(".")[0]), f) for f in mode.fitted]
    was = [_was(circuit.part(p)) for p in mode.hypothesis.parts]
    how = [m.hypothesis.mode for m in ways(suspect)] if len(suspect.parts) == 1 else ["both off"]
    is_of_value = any(f.coordinate in suspect.parts for f in mode.fitted)
    return [chance, suspect.label, _few_ways(how), _column(values),
            ", ".join(was) if is_of_value else ""]  # fmt: skip


def _column(values: Sequence[str]) -> str:
    """The values of a row; of two only what they are, for want of room."""
    if len(values) == 1:
        return values[0]
    return ", ".join(value.partition(" (")[0] for value in values)


def _few_ways(ways: Sequence[str]) -> str:
    """Two ways at most, and whether there are more: "low or high", "leaky or another way"."""
    if len(ways) > 2 or len(" or ".join(ways)) > _WAYS_WIDTH:
        return f"{ways[0]} or another way"
    return " or ".join(ways)


def _was(part: Part | None) -> str:
    return drawn(part).removesuffix(" drawn")


# --- remarks


def remarks(account: Account) -> Iterator[str]:
    """What was left out, what casts doubt, and what was taken for granted."""
    found = account.diagnosis
    if found.verdict is not Verdict.NONE_FITS and found.chance < _MISFIT:
        yield (f"The fit is not good: only {percent(found.chance)} of chassis with this fault "
               "would read so oddly. Read the oddest again before you unsolder "
               "anything.")  # fmt: skip
    yield from _mains(account)
    unsafe = any(r.kind in SOLDERED_IN and not r.state.discharged for r in account.readings)
    if unsafe:
        yield ('The sheet does not say that the capacitors were discharged ("power off '
               'discharged"): what it reads with the power off is trusted less.')  # fmt: skip
    if found.conducting:
        names = listed(list(dict.fromkeys(subject(r) for r in found.conducting)))
        yield (
            f"Left out, a junction may conduct at the meter's test volts: {names}. Read again "
            "with the leads the other way round, or on a range that tests below 0.3 V."
        )
    if found.readout.unused:
        names = listed(list(dict.fromkeys(subject(r) for r in found.readout.unused)))
        yield f"Not used, they say nothing of this section: {names}."
    yield (f"Taken for granted: before any reading nothing is wrong in {SOUND_BEFORE:.0%} of "
           "sections; all parts are equally likely to fail.").replace("%", " %")  # fmt: skip


def _mains(account: Account) -> Iterator[str]:
    """The mains, where it was read and is off: a fault of the place and not of the chassis."""
    mains = account.section.circuit.mains
    read = [r.nominal for r in account.readings if r.kind is Kind.MAINS]
    if mains is None or not read:
        return
    off = read[-1] / mains.v_nominal - 1.0
    if abs(off) > mains_tolerance(mains):
        yield (f"The mains was read as {shown(Kind.MAINS, read[-1])}, {abs(off) * 100:.0f} % "
               f"{'above' if off > 0 else 'below'} the {shown(Kind.MAINS, mains.v_nominal)} drawn: "
               "everything here is judged at that.")  # fmt: skip
