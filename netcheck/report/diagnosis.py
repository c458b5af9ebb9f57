"""A diagnosis for the terminal: the verdict first, then who is suspected and why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..assumed import mains_tolerance
from ..diagnose.account import Account, varied
from ..diagnose.diagnosis import SOUND_BEFORE, Verdict
from ..diagnose.evidence import Evidence
from ..diagnose.explain import cause
from ..diagnose.gain import NextReading
from ..diagnose.suspects import Mode, Suspect
from ..diagnose.words import (
    company_words,
    drawn,
    effort_words,
    listed,
    mode_words,
    place,
    request,
    shown,
    subject,
    suspect_name,
    value_words,
)
from ..netlist import Part
from ..readings import Kind, Reading
from ..readout.model import is_undrawn
from ..terminal import CAUTION
from .findings import WIDTH
from .tables import paragraph, table

SHOWN = 0.01
"""Suspects less probable are summed up. [1]"""
_TELLING = 0.2  # a way that holds this share of its part's probability is named [1]
_ROWS = 8  # suspects that are shown [count]
_WAYS_WIDTH = 22  # columns [count]
_NEXT = 4  # readings that are proposed [count]
_FORETOLD = 0.02  # suspects less probable are not foretold a reading [1]


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
        _odd(account),
        next_reading(account),
        [line for text in _remarks(account) for line in paragraph(text, "  ", "")],
        paragraph(CAUTION),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


# --- the verdict


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
    parts = [suspect.parts for suspect in found.group]
    company = company_words(parts, found.common, listed, lambda n: _few(n, "or"))
    return (f"Something is wrong with {listed(found.common)} ({sure} sure), {company}: these "
            "readings cannot tell which.")  # fmt: skip


def _few(names: Sequence[str], last: str) -> str:
    if len(names) > _ROWS:
        return f"{', '.join(names[:_ROWS])} {last} one of {len(names) - _ROWS} more"
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
        name = suspect_name(suspect, account.readings)
        looks = mode_words(account.section, suspect.mode, account.readings)
        looks = f"looks like {looks}" if " for " in looks else f"is {looks}"
        return f"The chassis looks sound, but {name} {looks} {sure}: read it again."
    if len(hypothesis.parts) > 1:
        both = [f"{p} acts as {value_words(circuit.part(p), f)}, {drawn(circuit.part(p))}"
                for p, f in zip(hypothesis.parts, suspect.mode.fitted, strict=False)]  # fmt: skip
        return f"Two parts are off together {sure}: {'; '.join(both) or suspect.label}."
    if is_undrawn(hypothesis.label):
        (fitted,) = suspect.mode.fitted
        there = f"{suspect_name(suspect)} is there, of {value_words(None, fitted)} {sure}"
        return (f"No part is at fault, but {there}: {_why(account, suspect)}. Look for it with the "
                "power off.")  # fmt: skip
    told = _short(account, suspect.mode)
    other = [_short(account, mode) for mode in _ways(suspect)[1:]]
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


def _ways(suspect: Suspect) -> list[Mode]:
    """The ways that are worth naming, one of each name."""
    found: dict[str, Mode] = {}
    for mode in suspect.modes:
        if mode.probability >= _TELLING * suspect.probability:
            found.setdefault(mode.hypothesis.mode, mode)
    return list(found.values())


def _heading(account: Account, name: str) -> list[str]:
    title = account.section.circuit.title or "(no title)"
    count = len(account.readings)
    said = f"{count} {'reading' if count == 1 else 'readings'} {account.stage} from {name}."
    return [*paragraph(title), *paragraph(said)]


# --- the suspects


def _suspects(account: Account) -> list[str]:
    every = account.diagnosis.suspects
    picked = [s for s in every if s.probability >= SHOWN][:_ROWS]
    rows = [_row(account, suspect) for suspect in picked]
    told = [_why(account, suspect) for suspect in picked]
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
    ways = [m.hypothesis.mode for m in _ways(suspect)] if len(suspect.parts) == 1 else ["both off"]
    is_of_value = any(f.coordinate in suspect.parts for f in mode.fitted)
    return [chance, suspect.label, _few_ways(ways), _column(values),
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


def _why(account: Account, suspect: Suspect) -> str:
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


# --- what speaks for it


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
    return [place(reading), f"{_bare(low, high)} to {high}", made, measured, strength(one.bits)]


def strength(bits: float) -> str:
    """How much a reading speaks for a suspect, in a word."""
    if bits < 0.0:
        return "against"
    return "strongly" if bits > 6.0 else "clearly" if bits > 3.0 else "a little"


def _bare(value: str, beside: str) -> str:
    """A value without its unit where the one beside it has the same."""
    number, _, unit = value.partition(" ")
    return number if unit and beside.endswith(f" {unit}") else value


def _measured(reading: Reading) -> str:
    return shown(reading.kind, reading.nominal)


def _misread_evidence(account: Account, one: Evidence) -> list[str]:
    reading = account.readings[one.reading]
    low, middle, high = (shown(reading.kind, v) for v in one.sound)
    return paragraph(f"If the section is sound, all other readings make it {middle} at "
                     f"{place(reading)}, between {_bare(low, high)} and {high}; "
                     f"{_measured(reading)} was written down.")  # fmt: skip


def _odd(account: Account) -> list[str]:
    if not account.odd:
        return []
    rows = []
    for one in account.odd:
        reading = account.readings[one.reading]
        low, _, high = (shown(reading.kind, v) for v in one.wanted)
        rows.append([place(reading), f"{_bare(low, high)} to {high}", _measured(reading),
                     f"{one.deviations:+.1f}"])  # fmt: skip
    head = ["does not go with the rest", "the rest wants", "measured", "s.d. off"]
    return table(head, rows)


# --- what to read next


def next_reading(account: Account) -> list[str]:
    """What to read next, with what it would show."""
    found = account.diagnosis
    if found.verdict is Verdict.NONE_FITS:
        return []
    if not account.following:
        said = "No further reading would tell much more."
        if account.to_confirm is not None:
            likely = shown(account.to_confirm.candidate.reading.kind, account.to_confirm.likely[1])
            said += (f" To be certain, {request(account.to_confirm.candidate.reading)}: about "
                     f"{likely}.")  # fmt: skip
        return paragraph(said)
    best, *others = varied(account.following, _NEXT)
    lines = paragraph(f"Read next: {request(best.candidate.reading)}.")
    lines += paragraph("; ".join(_foretold(account, best)), "  ")
    lines += paragraph(f"{_worth(account, best)}.", "  ")
    if others:
        lines.append("Or else:")
        for other in others:
            told = f"{request(other.candidate.reading)} ({_worth(account, other)})"
            lines += paragraph(told, "    ", "  ")
    return lines


def _worth(account: Account, one: NextReading) -> str:
    effort = effort_words(account.section, one.candidate.reading)
    return f"{effort}; {one.bits:.1f} bits expected".replace("1.0 bits", "1.0 bit")


def _foretold(account: Account, one: NextReading) -> Iterator[str]:
    """What a reading would show under each leading suspect: "about 20k if R3 is it"."""
    kind = one.candidate.reading.kind
    told: list[tuple[float | None, str, list[Suspect]]] = []
    for suspect in account.diagnosis.suspects[:_ROWS]:
        if suspect.probability < _FORETOLD or suspect.parts not in one.if_fault:
            continue
        low, middle, high = one.if_fault[suspect.parts]
        if _is_wide(kind, low, high):
            text = f"{_bare(shown(kind, low, 2), shown(kind, high, 2))} to {shown(kind, high, 2)}"
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


# --- remarks


def _remarks(account: Account) -> Iterator[str]:
    found = account.diagnosis
    if found.verdict is not Verdict.NONE_FITS and found.chance < 0.05:
        yield (f"The fit is not good: only {percent(found.chance)} of chassis with this fault "
               "would read so oddly. Read the oddest again before you unsolder "
               "anything.")  # fmt: skip
    yield from _mains(account)
    unsafe = any(r.kind is Kind.OHMS and not r.state.discharged for r in account.readings)
    if unsafe:
        yield ('The sheet does not say that the capacitors were discharged ("power off '
               'discharged"): its resistances are trusted less.')  # fmt: skip
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
