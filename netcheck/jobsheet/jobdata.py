"""A whole job as plain data for JSON: what the single commands print, under their names."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from ..compare import Repair
from ..diagnose.account import Account
from ..order import Order
from ..remedy.study import Remedies
from ..report.comparison import StageComparison
from ..report.comparisondata import comparison_data
from ..report.data import check_data, prediction_data
from ..report.diagnosisdata import diagnosis_data
from ..report.orderdata import order_data
from ..report.remedydata import remedy_data
from ..travel import Prediction
from .gather import Job
from .request import Missing


def job_data(job: Job) -> dict[str, Any]:
    """A whole job; what could not be found out is null, with the reason under "missing"."""
    words = job.request.words
    parts: Mapping[str, object] = {
        "predict": job.prediction, "compare": _comparison(job), "diagnose": job.account,
        "remedy": job.remedies, "parts": job.order,
    }  # fmt: skip
    return {
        "amplifier": words.amplifier,
        "job": words.job or None,
        "workshop": words.workshop or None,
        "date": words.date,
        "check": check_data([job.survey]),
        **{name: _data(part) for name, part in parts.items()},
        "missing": {name: part.why for name, part in parts.items() if isinstance(part, Missing)},
    }


def _comparison(job: Job) -> object:
    """The stages that could be compared, with what a repair did."""
    stages = [one.comparison for one in job.stages if isinstance(one.comparison, StageComparison)]
    if not stages:
        return next((one.comparison for one in job.stages), None)
    return comparison_data(stages, job.request.doubts,
                           job.repair if isinstance(job.repair, Repair) else None)  # fmt: skip


_DATA: Mapping[type, Callable[[Any], dict[str, Any]]] = {
    Prediction: prediction_data,
    Account: diagnosis_data,
    Remedies: remedy_data,
    Order: order_data,
}


def _data(part: object) -> Any:
    if part is None or isinstance(part, Missing):
        return None
    return _DATA[type(part)](part) if type(part) in _DATA else part
