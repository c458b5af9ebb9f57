"""A prediction for the terminal: the curve first, then what goes with it."""

from __future__ import annotations

import numpy as np

from ..assumed import mains_tolerance, statements
from ..netlist import Part, Pot, Resistor
from ..quantity import Dimension, show, show_part
from ..switchon import LONGEST
from ..travel import Prediction
from . import montecarlo, valvetravel
from .plot import plot
from .tables import paragraph, table

V, OHM, AMPERE, WATT = Dimension.VOLT, Dimension.OHM, Dimension.AMPERE, Dimension.WATT


def groups(prediction: Prediction) -> list[list[int]]:
    """Columns of the watched nodes, those that are alike at every position together."""
    found: list[list[int]] = []
    for k in range(len(prediction.watched)):
        for group in found:
            if np.allclose(prediction.mean[:, k], prediction.mean[:, group[0]], atol=2e-3):
                group.append(k)
                break
        else:
            found.append([k])
    return found


def render_prediction(prediction: Prediction, plotted: bool = True) -> str:
    """The whole report, lines of at most 80 characters."""
    blocks = [_head(prediction), valvetravel.verdicts(prediction)]
    for group in groups(prediction):
        blocks.append(_travel_table(prediction, group))
        if plotted and prediction.travel.size > 2:
            blocks.append(_plot(prediction, group))
    blocks += valvetravel.tables(prediction)
    blocks += [_nodes(prediction), _parts(prediction)]
    blocks += [montecarlo.table_of(prediction, group) for group in groups(prediction)]
    blocks.append(_remarks(prediction))
    return "\n\n".join("\n".join(block) for block in blocks if block)


def outcome(p: Prediction) -> list[str]:
    """What it comes to: the travel for each kind of valve, or the volts where none is drawn."""
    lines = valvetravel.verdicts(p)
    if lines:
        return lines
    for group in groups(p):
        volts = sorted((float(p.mean[0, group[0]]), float(p.mean[-1, group[0]])))
        names = ", ".join(p.watched[k] for k in group)
        over = f" over the travel of {_turned(p)}" if p.travel.size > 1 else ""
        told = show(volts[0], V) if p.travel.size == 1 else _range(*volts)
        lines += paragraph(f"{names}: {told}{over}", "  ", "")
    return lines


def _head(p: Prediction) -> list[str]:
    lines = paragraph(p.section.circuit.title or "(no title)")
    said = "Mean voltages over a period, against ground."
    mains = p.section.circuit.mains
    if mains is not None and p.mains is not None:
        tolerance = mains_tolerance(mains)
        said = f"Mains {show(p.mains, V)}, {mains.frequency:g} Hz. " + said
        said += f" Worst case: every part at a limit and the mains {tolerance:.0%} off."
    if p.meter is not None:
        said += f" As a meter of {show_part(p.meter)} reads them."
    return lines + paragraph(said)


def _turned(p: Prediction) -> str:
    return " and ".join(p.swept) if p.swept else "no pot"


def _travel_table(p: Prediction, group: list[int]) -> list[str]:
    k = group[0]
    names = ", ".join(p.watched[i] for i in group)
    stands = [f"{pot} at {at:.0%}".replace("%", " %") for pot, at in p.fixed.items()]
    title = f"{names}" + (f", with {', '.join(stands)}" if stands else "")
    band = p.band
    rows = [
        [
            f"{at * 100:.0f} %",
            show(p.mean[n, k], V, 4 if abs(p.mean[n, k]) >= 100 else 3),
            _range(band.low_95[n, k], band.high_95[n, k]),
            _range(band.low[n, k], band.high[n, k]),
            _ripple(p.ripple[n, k]),
        ]
        for n, at in enumerate(p.travel)
    ]
    head = [_turned(p), "predicted", "95 of 100 chassis", "worst case", "ripple"]
    return paragraph(title) + table(head, rows)


def _range(low: float, high: float) -> str:
    return f"{low:.1f} to {high:.1f} V".replace("-0.0", "0.0")


def _ripple(v: float) -> str:
    return show(v, Dimension.VOLT_PP, 2)


def _plot(p: Prediction, group: list[int]) -> list[str]:
    k, band = group[0], p.band
    legend = "V against ground    * predicted   : 95 of 100 chassis   . worst case"
    return [legend, *plot(p.travel, p.mean[:, k], (band.low_95[:, k], band.high_95[:, k]),
                          (band.low[:, k], band.high[:, k]))]  # fmt: skip


def _nodes(p: Prediction) -> list[str]:
    """Every node at both ends and in the middle of the travel."""
    last, middle = p.travel.size - 1, p.travel.size // 2
    picks = sorted({0, middle, last})
    head = ["node", *(f"at {p.travel[n] * 100:.0f} %" for n in picks), "ripple", ""]
    rows = []
    for node, volts in p.nodes.items():
        if node == "ground":
            continue
        mark = "reservoir" if p.section.at(node) in p.outlets else ""
        rows.append([node, *(show(volts[n], V) if abs(volts[n]) > 5e-3 else "0 V" for n in picks),
                     _ripple(float(np.max(p.node_ripple[node]))), mark])  # fmt: skip
    return table(head, rows)


def _value(part: Part) -> str:
    if isinstance(part, Resistor | Pot):
        return show_part(part.r)
    for name, dimension in (("c", Dimension.FARAD), ("v_rms", Dimension.VOLT_AC), ("v", V),
                            ("v_zener", V)):  # fmt: skip
        if hasattr(part, name):
            return show_part(getattr(part, name), dimension)
    return ""


def _parts(p: Prediction) -> list[str]:
    """Largest current, volts and dissipation of each part over the positions shown."""
    rows = []
    for part in p.section.circuit.parts:
        work = p.work.get(part.name)
        if work is None:
            continue
        flows = work.i_rms > 1e-9
        volts = max(abs(work.v_high), abs(work.v_low))
        rated = getattr(part, "power", None)
        rows.append([
            part.name, part.kind, _value(part),
            show(abs(work.i_mean), AMPERE) if flows and abs(work.i_mean) > 1e-9 else "",
            show(work.i_rms, AMPERE) if flows else "",
            show(volts, V),
            show(work.power, WATT) if work.power > 1e-7 else "",
            show_part(rated, WATT) if rated else "",
        ])  # fmt: skip
    head = ["part", "", "value", "mean", "rms", "peak volts", "dissipates", "rated"]
    return ["Largest over the travel:", *table(head, rows, 2)]


def _remarks(p: Prediction) -> list[str]:
    said = []
    if p.start is not None and p.start.times:
        said += _start(p)
    said += valvetravel.remarks(p)
    said += [f"Taken for granted: {text}." for text in statements(p.section.circuit)]
    if not p.settled:
        said.append("Some states were still moving a little when the search for them ended.")
    return [line for text in said for line in paragraph(text, "  ", "")]


def _start(p: Prediction) -> list[str]:
    assert p.start is not None
    slow = [node for node, time in p.start.times.items() if time is None]
    times = [time for time in p.start.times.values() if time is not None]
    said = []
    if times:
        said.append(f"After switching on, the bias is at 90 % within "
                    f"{show(max(times), Dimension.SECOND, 2)} (pot at the middle).")  # fmt: skip
    if slow:
        said.append(f"{', '.join(slow)}: not at 90 % within {LONGEST:.0f} s.")
    return said
