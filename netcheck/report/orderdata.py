"""The list to order as plain data for JSON, SI units."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from ..finding import Finding
from ..order import Line, Order, Purchase
from ..quantity import Dimension
from .data import finding_data, number
from .order import summary

_UNIT = {Dimension.OHM: "ohms", Dimension.FARAD: "farads", Dimension.VOLT: "volts"}


def order_data(order: Order, findings: Iterable[Finding] = ()) -> dict[str, Any]:
    """The list; every value stands under the name of its unit.

    Parameters
    ----------
    order : Order
        The list.
    findings : iterable of Finding
        What is doubtful about the sheet of readings.
    """
    return {
        "circuit": order.section.circuit.title,
        "sentence": summary(order),
        "lines": [_line(line) for line in order.lines],
        "remarks": list(order.remarks),
        "findings": [finding_data(finding) for finding in findings],
    }


def _line(line: Line) -> dict[str, Any]:
    return {
        "count": line.count,
        "text": line.purchase.text,
        **_purchase(line.purchase),
        "parts": list(line.parts),
        "reasons": [{"parts": list(why.parts), "text": why.reason.text,
                     "source": why.reason.source} for why in line.reasons],
        "condition": line.condition or None,
    }  # fmt: skip


def _purchase(bought: Purchase) -> dict[str, Any]:
    value: dict[str, Any] = {"kind": bought.kind, "type": bought.type or None}
    if bought.value is not None and bought.dimension is not None:
        value[_UNIT[bought.dimension]] = number(bought.value)
    return value | {
        "rated_watts": None if bought.power is None else number(bought.power),
        "rated_volts": None if bought.v_rated is None else number(bought.v_rated),
        "tolerance": bought.tolerance,
        "bands": list(bought.bands) or None,
    }
