"""A whole job on one screen of a terminal: the verdict first, then the evidence."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..compare import Repair
from ..diagnose.account import Account
from ..diagnose.words import position_words
from ..finding import Severity
from ..order import Order
from ..quantity import Dimension, show
from ..remedy.study import Remedies
from ..report.comparison import StageComparison, sentence
from ..report.evidence import evidence_table
from ..report.nextreading import next_reading
from ..report.order import purchase_words
from ..report.prediction import outcome
from ..report.remedy import brief_outcome
from ..report.repair import outcome_words
from ..report.tables import paragraph, table
from ..report.verdict import verdict
from ..terminal import CAUTION
from ..travel import Prediction
from .gather import Job, StageFound
from .idles import IdleRead
from .request import Missing

_LABEL = 9  # columns of the words at the margin [count]


def render_job(job: Job) -> str:
    """The job, lines of at most 80 characters.

    Parameters
    ----------
    job : Job
        All that was found.
    """
    blocks = [
        _heading(job),
        [line for label, text in _verdicts(job) for line in _labelled(label, text)],
        _idle(job),
        _evidence(job),
        paragraph(CAUTION),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def _labelled(label: str, text: str) -> list[str]:
    """A text with a word at the margin."""
    return paragraph(text, " " * _LABEL, label.ljust(_LABEL))


def _heading(job: Job) -> list[str]:
    words = job.request.words
    lines = paragraph(words.amplifier or "(no title)")
    said = [words.job] if words.job else [note for sheet in job.request.sheets.values()
                                          for note in sheet.notes]  # fmt: skip
    for note in dict.fromkeys(said):
        lines += paragraph(note, "  ")
    return lines


# ------------------------------------------------------------------------------ verdict


def _verdicts(job: Job) -> Iterator[tuple[str, str]]:
    """What was found, what is to be done, what to order, each with its word."""
    if isinstance(job.account, Account):
        yield "Found", verdict(job.account)
    elif isinstance(job.account, Missing):
        yield "Found", f"not diagnosed: {job.account.why}."
    for stage in job.stages:
        if stage.stage == "as left" and isinstance(stage.comparison, StageComparison):
            yield "As left", f"{_capital(sentence(stage.comparison.comparison))}"
    if isinstance(job.repair, Repair):
        yield "The job", outcome_words(job.repair)
    if job.is_done:
        pass  # what was to be done has been done
    elif isinstance(job.remedies, Remedies):
        yield "To do", brief_outcome(job.remedies)
    elif isinstance(job.remedies, Missing):
        yield "To do", f"not sought: {job.remedies.why}."
    yield "To order", _order(job.order)
    yield from _drawing(job)


def _drawing(job: Job) -> Iterator[tuple[str, str]]:
    """What the check has against the drawing, and what the travel is worth as drawn."""
    if job.survey.matters:
        yield "Drawing", " ".join(f"{_capital(f.what)}."
                                  for f in job.survey.findings
                                  if f.severity is not Severity.NOTE)  # fmt: skip
    if isinstance(job.prediction, Prediction):
        yield "As drawn", "; ".join(_joined(outcome(job.prediction)))
    else:
        yield "As drawn", f"not predicted: {job.prediction.why}."


def _joined(lines: Sequence[str]) -> list[str]:
    """Lines of hanging paragraphs, each paragraph in one."""
    texts: list[str] = []
    for line in lines:
        if line.startswith(" ") and texts:
            texts[-1] += f" {line.strip()}"
        else:
            texts.append(line)
    return texts


def _order(order: Order | Missing) -> str:
    if isinstance(order, Missing):
        return f"no list: {order.why}."
    if not order.lines:
        return "Nothing."
    sure = [purchase_words(line) for line in order.lines if not line.condition]
    maybe = [f"{purchase_words(line)} {line.condition}" for line in order.lines if line.condition]
    return "; ".join([*sure, *maybe]) + "."


# ----------------------------------------------------------------------------- evidence


def _idle(job: Job) -> list[str]:
    """The idle currents that were read, stage by stage."""
    rows = [row for stage in job.stages for row in _rows(stage)]
    if not rows:
        return []
    return table(["idle current", "", "cathode", "plate", "of limit", ""], rows, 2)


def _rows(stage: StageFound) -> Iterator[list[str]]:
    for k, read in enumerate(stage.idle):
        yield [stage.stage if k == 0 else "", _who(read),
               show(read.judged.i_cathode, Dimension.AMPERE),
               show(read.stage.v_plate, Dimension.VOLT),
               f"{read.judged.of_limit.nominal * 100:.0f} %",
               read.judged.verdict.value]  # fmt: skip


def _who(read: IdleRead) -> str:
    where = position_words(read.reading.state, short=True)
    return f"{read.valve.name}, {where}" if where else read.valve.name


def _evidence(job: Job) -> list[str]:
    if not isinstance(job.account, Account):
        return []
    return [*evidence_table(job.account), "", *next_reading(job.account)]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
