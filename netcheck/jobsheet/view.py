"""All that the templates show, as plain data."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from markupsafe import Markup

from ..assumed import statements
from ..compare import Repair
from ..diagnose.account import Account
from ..diagnose.diagnosis import Verdict
from ..finding import Finding, Severity
from ..moves import in_words
from ..order import Order
from ..remedy.study import Remedies
from ..report.comparison import StageComparison
from ..report.diagnosis import remarks as diagnosis_remarks
from ..report.findings import tally
from ..report.nextreading import to_confirm
from ..report.order import summary
from ..report.remedy import verdict as remedy_verdict
from ..report.repair import closing_words, outcome_words
from ..roles import roles
from ..terminal import CAUTION
from ..travel import Prediction
from . import customer, diagnosis, readings, remedy, valves
from .chart import BOTTOM, HEIGHT, LEFT, RIGHT, TOP, WIDTH
from .drawing import CAPTION, schematic
from .figures import curve_figures, live_figure, live_scale
from .gather import Job
from .listing import circuit_listing, sheet_listing
from .paneldata import panel_data
from .request import Missing
from .tables import Table, capital, sentence, table

_SEVERITY = {
    Severity.ERROR: "\N{BLACK SQUARE} error",
    Severity.WARNING: "\N{BLACK UP-POINTING TRIANGLE} warning",
    Severity.NOTE: "\N{WHITE CIRCLE} note",
}


class Outcome(NamedTuple):
    """One line of the verdict: what it is about, and sentences."""

    about: str
    words: list[str]


class Section(NamedTuple):
    """A section of the page: its name, and what is in it, or why it is not."""

    why_not: str
    content: Mapping[str, Any]


def view(job: Job) -> dict[str, Any]:
    """All that the templates show.

    Parameters
    ----------
    job : Job
        What was found.
    """
    words = job.request.words
    return {
        "words": words,
        "title": words.amplifier or job.section.circuit.title or "Amplifier",
        "caution": capital(CAUTION.partition(": ")[2]),
        "customer": _customer(job),
        "verdict": list(_verdict(job)),
        "notes": list(
            dict.fromkeys(note for sheet in job.request.sheets.values() for note in sheet.notes)
        ),
        "panel": _panel(job),
        "schematic": schematic(job),
        "curves": curve_figures(job),
        "readings": list(_readings(job)),
        "valves": _valves(job),
        "diagnosis": _diagnosis(job),
        "remedy": _remedy(job),
        "parts": _parts(job),
        "arrangement": sentence(job.survey.arrangement.sentence),
        "findings": _findings(job),
        "roles": _roles(job),
        "listings": list(_listings(job)),
        "granted": list(_granted(job)),
    }


def _customer(job: Job) -> dict[str, Any]:
    fitted, maybe = customer.parts(job)
    rows = [[one.valve, one.before, *([one.after] if job.is_done else []), one.wanted]
            for one in customer.idling(job)]  # fmt: skip
    head = ("valve", "as it came in", *(("as it leaves",) if job.is_done else ()), "right is")
    return {
        "found": customer.found_words(job),
        "done": customer.done_words(job),
        "is_done": job.is_done,
        "idling": table(
            "What each output valve draws when nothing is played",
            head,
            rows,
            4,
            customer.idling_note(job),
        ),
        "parts": fitted,
        "maybe": maybe,
        "mind": list(customer.mind(job)),
    }


# ---------------------------------------------------------------------------- the bench


def _verdict(job: Job) -> Iterator[Outcome]:
    """The outcome of each part of the job, the job itself first."""
    if isinstance(job.repair, Repair):
        yield Outcome("The job", [sentence(outcome_words(job.repair)), *closing_words(job.repair)])
    if job.changed:
        yield Outcome("Done", [sentence(one.words) for one in job.changed])
    if isinstance(job.account, Account):
        told = diagnosis.verdict(job.account, job.changed)
        yield Outcome("Diagnosis", [told])
    for one in job.stages:
        if isinstance(one.comparison, StageComparison):
            yield Outcome("Readings", [readings.verdict(one.comparison)])
    if isinstance(job.prediction, Prediction):
        told_of_travel = list(valves.verdicts(job.prediction))
        if told_of_travel:
            yield Outcome("Travel", told_of_travel)
    if isinstance(job.remedies, Remedies):
        yield Outcome("Remedy", [_remedy_verdict(job.remedies)])
    if isinstance(job.order, Order):
        yield Outcome("Parts", [summary(job.order)])
    yield Outcome("Check", [sentence(tally([*job.survey.findings, *job.request.doubts]))])


def _remedy_verdict(found: Remedies) -> str:
    return remedy_verdict(found, found.options[0] if found.options else None)


def _why_not(part: object) -> str:
    return sentence(part.why) if isinstance(part, Missing) else ""


def _panel(job: Job) -> Section:
    found = job.turned
    if isinstance(found, Missing):
        return Section(_why_not(found), {})
    data = panel_data(found)
    scale = live_scale(job, found)
    return Section("", {
        "data": data | {"field": {
            "left": LEFT, "right": WIDTH - RIGHT, "top": TOP, "bottom": HEIGHT - BOTTOM,
            "low": float(scale.low), "high": float(scale.high),
        }, "caption": CAPTION},
        "figure": live_figure(job, found, data),
        "pots": data["pots"],
        "parts": _choices(data),
        "valves": data["valves"],
        "grids": data["grids"],
        "left_out": [sentence(text) for text in found.left_out],
        "fixed": found.prediction.fixed,
    })  # fmt: skip


def _choices(data: Mapping[str, Any]) -> list[str]:
    """The parts that can be turned, each once."""
    return list(dict.fromkeys(turn["label"] for turn in data["turns"]))


def _readings(job: Job) -> Iterator[Section]:
    for one in job.stages:
        if isinstance(one.comparison, Missing):
            yield Section(f"{capital(one.stage)}: {_why_not(one.comparison)}", {})
            continue
        yield Section("", {
            "verdict": readings.verdict(one.comparison),
            "table": readings.readings_table(one.comparison),
            "remarks": list(readings.remarks(one.comparison)),
        })  # fmt: skip
    if isinstance(job.repair, Repair) and job.repair.changes:
        yield Section("", {"verdict": "", "table": readings.change_table(job.repair),
                           "remarks": []})  # fmt: skip
    elif isinstance(job.repair, Missing):
        yield Section(f"Before and after: {_why_not(job.repair)}", {})


def _valves(job: Job) -> Section:
    idle = valves.idle_table(job.stages)
    p = job.prediction
    content: dict[str, Any] = {"idle": idle, "match": list(valves.match_words(job.stages)),
                               "verdicts": [], "tables": [], "remarks": []}  # fmt: skip
    if isinstance(p, Prediction):
        content |= {"verdicts": list(valves.verdicts(p)), "tables": list(_travel_tables(p)),
                    "remarks": list(valves.remarks(p))}  # fmt: skip
    return Section(_why_not(p), content)


def _travel_tables(p: Prediction) -> Iterator[Table]:
    yield from valves.grid_tables(p)
    yield from valves.valve_tables(p)


def _diagnosis(job: Job) -> Section | None:
    found = job.account
    if not isinstance(found, Account):
        return None if found is None else Section(_why_not(found), {})
    return Section("", {
        "verdict": diagnosis.verdict(found, job.changed),
        "tables": [one for one in (diagnosis.suspects_table(found), _evidence(found),
                                   diagnosis.odd_table(found)) if one is not None],
        "following": diagnosis.following(found),
        "confirm": to_confirm(found),
        "remarks": list(diagnosis_remarks(found)),
    })  # fmt: skip


def _evidence(found: Account) -> Table | None:
    return None if found.diagnosis.verdict is Verdict.SOUND else diagnosis.evidence_table(found)


def _remedy(job: Job) -> Section | None:
    found = job.remedies
    if not isinstance(found, Remedies):
        return None if found is None else Section(_why_not(found), {})
    best = found.options[0] if found.options else None
    return Section("", {
        "verdict": _remedy_verdict(found),
        "tables": [one for one in (
            remedy.ways_table(found),
            None if best is None else remedy.change_table(found, best),
        ) if one is not None and not one.is_empty],
        "buy": [] if best is None else remedy.purchases(best),
        "remarks": list(remedy.remarks(found)),
    })  # fmt: skip


def _parts(job: Job) -> Section:
    found = job.order
    if isinstance(found, Missing):
        return Section(_why_not(found), {})
    return Section("", {
        "summary": summary(found),
        "lines": [{"count": line.count, "text": line.purchase.text, "parts": ", ".join(line.parts),
                   "condition": line.condition,
                   "reasons": [f"{', '.join(why.parts)}: {why.reason.text} ({why.reason.source})."
                               for why in line.reasons]} for line in found.lines],
        "remarks": [sentence(text) for text in found.remarks],
    })  # fmt: skip


def _findings(job: Job) -> dict[str, Any]:
    every = [*job.survey.findings, *job.request.doubts]
    return {
        "tally": sentence(tally(every)),
        "unanswered": job.survey.unanswered and sentence(job.survey.unanswered),
        "list": [_finding(one) for one in every],
    }


def _finding(one: Finding) -> dict[str, str]:
    where = f", line {one.span.line}" if one.span.line else ""
    return {"severity": _SEVERITY[one.severity], "what": sentence(one.what), "rule": one.slug,
            "why": one.why and sentence(one.why), "fix": one.fix and sentence(one.fix),
            "place": f"{Path(one.source.name).name}{where}"}  # fmt: skip


def _roles(job: Job) -> Table:
    """What each part is there for, and which way it works."""
    known = roles(job.section)
    rows = []
    for part in job.section.circuit.parts:
        role, moves = known.get(part.name), job.survey.effects.get(part.name)
        told = "" if role is None else f"{role.word}, {role.phrase}"
        up = "" if moves is None else in_words(moves)
        if told or up:
            rows.append([part.name, told, up])
    return table("What each part does", ("part", "what it is there for", "raised"), rows, 3)


def _listings(job: Job) -> Iterator[tuple[str, Markup]]:
    show: list[tuple[str, str, Callable[[str], Markup]]] = []
    if job.request.before is not None:
        show.append(("The circuit as it came in", job.request.before.source.text, circuit_listing))
    show.append((f"The circuit, {job.request.name}", job.section.circuit.source.text,
                 circuit_listing))  # fmt: skip
    for sheet in list(job.request.sheets.values())[:1]:
        show.append((f"The readings, {job.request.readings}", sheet.source.text, sheet_listing))
    seen = set()
    for heading, text, listed in show:
        if text.strip() and text not in seen:
            seen.add(text)
            yield heading, listed(text)


def _granted(job: Job) -> Iterator[str]:
    for text in statements(job.section.circuit):
        yield sentence(text)
    if isinstance(job.prediction, Prediction):
        yield from valves.remarks(job.prediction)
        if not job.prediction.settled:
            yield "Some states were still moving a little when the search for them ended."
