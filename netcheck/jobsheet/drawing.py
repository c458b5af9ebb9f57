"""The schematic on the page: volts at the middle of the travel, and the suspects marked."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from markupsafe import Markup

from ..diagnose.account import Account
from ..diagnose.diagnosis import Verdict
from ..diagnose.suspects import Suspect
from ..diagnose.words import suspect_words
from ..netlist import GROUND
from ..quantity import show
from ..report.schematic import Entry, Mark, Notes, schematic_element
from ..report.verdict import percent
from ..travel import Prediction
from .gather import Job
from .tables import AMPERE, capital, volts

CAPTION = "Mean volts against ground and idle currents:"
"""What the picture shows; what is set follows."""
_MOST = 4  # suspects that are marked [count]
_STYLE = re.compile(r"<style>(.*?)</style>", re.DOTALL)


@dataclass(frozen=True)
class Schematic:
    """The picture.

    Parameters
    ----------
    picture : Markup
        The SVG.
    styles : tuple of str
        The style sheets in it, which the page's policy has to know.
    caption : str
        What it shows.
    """

    picture: Markup
    styles: tuple[str, ...]
    caption: str


def schematic(job: Job) -> Schematic:
    """Draw the section as it is."""
    texts = dict(_volts(job))
    marks, legend = _marked(job)
    notes = Notes(volts=texts, part_readings=dict(_currents(job)), marks=marks, legend=legend)
    drawn = schematic_element(job.section, notes, is_titled=False)
    return Schematic(Markup(drawn), tuple(_STYLE.findall(drawn)), _caption(job, texts))


def _volts(job: Job) -> Iterator[tuple[str, str]]:
    p = job.prediction
    if isinstance(p, Prediction):
        middle = p.travel.size // 2
        for node, v in p.nodes.items():
            if node != GROUND:
                yield node, volts(float(v[middle]))


def _currents(job: Job) -> Iterator[tuple[str, list[str]]]:
    """The idle current of each valve."""
    if isinstance(job.prediction, Prediction):
        for one in job.prediction.valves.valves:
            current = one.idle.i_cathode
            yield one.valve.name, [show(float(current[current.size // 2]), AMPERE)]


def _caption(job: Job, texts: Mapping[str, str]) -> str:
    """What the picture shows; the live panel writes the same of what is set."""
    if not texts:
        return "Without volts: nothing could be predicted."
    swept = job.prediction.swept if isinstance(job.prediction, Prediction) else ()
    where = f"{', '.join(swept)} at 50 %, " if swept else ""
    return f"{CAPTION} {where}all else as drawn."


def _marked(job: Job) -> tuple[dict[str, Mark], list[Entry]]:
    """The parts that were changed, or that are at fault, and what their numbers mean."""
    names = {part.name for part in job.section.circuit.parts}
    told = [(one.name, "", f"{one.words}.") for one in job.changed if one.name in names]
    marks: dict[str, Mark] = {}
    legend: list[Entry] = []
    for number, (name, chance, words) in enumerate(told or _suspects(job), start=1):
        legend.append(Entry(words, number))
        for each in name.split("\n"):
            if each in names:
                marks.setdefault(each, Mark((number,), chance))
    return marks, legend


def _suspects(job: Job) -> list[tuple[str, str, str]]:
    """What may be at fault where something is: parts, chance and words."""
    found = job.account
    if not isinstance(found, Account) or job.request.before is not None:
        return []
    if found.diagnosis.verdict not in {Verdict.NAMED, Verdict.GROUP}:
        return []
    suspects = [one for one in found.diagnosis.group if one.parts][:_MOST]
    return [("\n".join(one.parts), percent(one.probability), _told(found, one))
            for one in suspects]  # fmt: skip


def _told(found: Account, suspect: Suspect) -> str:
    told = suspect_words(found.section, suspect, found.readings)
    return f"{capital(told)} ({percent(suspect.probability)})."
