"""Readings beside the prediction, for the terminal: the verdict first, then each reading."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import NamedTuple

from ..assumed import statements
from ..compare import Compared, Comparison, Conduction, Curve, Together, Verdict
from ..diagnose.words import listed, position_words, subject
from ..netlist import Pot
from ..quantity import Dimension, show, show_part, show_reading
from ..readings import OVERLOAD, SOLDERED_IN, Kind, Reading, Stage, dimension_of
from ..terminal import CAUTION
from .findings import WIDTH
from .plot import plot
from .tables import paragraph

_PERCENT = frozenset({Kind.OHMS, Kind.LIFTED, Kind.CAPACITANCE, Kind.ESR})
_HEAD = ("", "predicted", "band", "measured", "off by", "s.d.", "rest")
_GAP = "  "
_PLOTS = 2  # curves of each stage that are drawn with characters [count]


class StageComparison(NamedTuple):
    """The comparison of one stage.

    Parameters
    ----------
    stage : str
        "as found" or "as left".
    comparison : Comparison
        What was found.
    curves : tuple of Curve
        Those on which readings lie.
    """

    stage: Stage
    comparison: Comparison
    curves: tuple[Curve, ...]


def render_comparison(stages: Sequence[StageComparison], name: str, following: Mapping[Stage, str],
                      plotted: bool = True, first: Sequence[str] = (),
                      behind: Sequence[Sequence[str]] = ()) -> str:  # fmt: skip
    """The whole report, lines of at most 80 characters.

    Parameters
    ----------
    stages : sequence of StageComparison
        One or two.
    name : str
        Of the sheet of readings, as the user gave it.
    following : mapping of Stage to str
        The command that names the part, by stage.
    plotted : bool
        Whether to draw the curves.
    first : sequence of str
        Lines above all else.
    behind : sequence of sequence of str
        Blocks of lines behind the tables.
    """
    blocks = [list(first), *(verdict(one) for one in stages)]
    blocks.append(_heading(stages, name))
    for one in stages:
        blocks += [_conditions(one), _table(one.comparison)]
        if plotted:
            blocks += _plots(one)
    blocks += [list(block) for block in behind]
    remarks = dict.fromkeys(text for one in stages for text in _remarks(one.comparison))
    blocks.append([line for text in remarks for line in paragraph(text, "  ", "")])
    odd = [one.stage for one in stages if one.comparison.verdict is Verdict.NOT_CONSISTENT]
    if odd:
        blocks.append(["Which part explains it:", *(f"  {following[stage]}" for stage in odd)])
    blocks.append(paragraph(CAUTION))
    return "\n\n".join("\n".join(block) for block in blocks if block)


# --- the verdict


def verdict(one: StageComparison) -> list[str]:
    """What the readings of a stage say, with those that carry a disagreement."""
    c = one.comparison
    said = f"{one.stage.capitalize()}: {sentence(c)}"
    if c.verdict is Verdict.NOT_CONSISTENT:
        said += " Furthest out:" if c.carriers else " No reading is far out by itself."
    lines = paragraph(said, "  ", "")
    for carrier in c.carriers:
        lines += paragraph(_carried(carrier), "      ", "    ")
    if c.carriers and c.rest_agrees and c.joint.count > len(c.carriers):
        lines.append("  The other readings agree with the drawing.")
    for pattern in c.together:
        lines += paragraph(together_words(pattern), "  ")
    return lines


def sentence(c: Comparison) -> str:
    """The verdict in words, of which the first ones name it."""
    if c.verdict is Verdict.NOTHING:
        return "nothing to compare, no reading can be predicted."
    if c.verdict is Verdict.CONSISTENT:
        count = f"{c.joint.count} reading{'s' if c.joint.count > 1 else ''}"
        agree = "agrees" if c.joint.count == 1 else "agree"
        return (f"consistent with the drawing. {count} {agree} with it within tolerances, mains "
                f"and meter: {chance_words(_chance(c))}.")  # fmt: skip
    return f"not consistent with the drawing: {chance_words(_chance(c))}."


def _chance(c: Comparison) -> float:
    """That a sound chassis reads as oddly, by whichever of the two is less likely. [1]"""
    return min(1.0, 2.0 * min(c.joint.chance, c.joint.chance_of_worst))


def chance_words(chance: float) -> str:
    """How many sound chassis read as oddly: "1 in 4000 sound chassis would read so oddly"."""
    if chance >= 0.995:
        return "nearly every sound chassis would read at least as oddly"
    if chance >= 0.01:
        return f"{chance * 100:.0f} of 100 sound chassis would read at least as oddly"
    if chance < 1e-6:
        return "fewer than 1 in a million sound chassis would read so oddly"
    return f"1 in {float(f'{1.0 / chance:.1g}'):.0f} sound chassis would read so oddly"


def _carried(one: Compared) -> str:
    """A reading that carries a disagreement, and what was to be expected."""
    reading = one.reading
    told = ", ".join(filter(None, (subject(reading), position_words(reading.state))))
    said = f"{told}: {measured_words(reading)} where {_band(one)} is"
    if one.apart is None or one.is_outside:
        return f"{said} to be expected"
    wanted = "smaller" if one.apart > 0 else "larger"
    if reading.kind is Kind.DC:
        wanted = "more negative" if one.apart > 0 else "more positive"
    return f"{said} possible, but the others want a {wanted} one ({abs(one.apart):.1f} s.d.)"


def together_words(pattern: Together) -> str:
    """Readings that are off in the same proportion, and what that looks like."""
    side = "low" if pattern.share < 0 else "high"
    off = f"{abs(pattern.share) * 100:.0f} % {side}, in the same proportion"
    if pattern.kind is Kind.DC:
        return (f"{pattern.count} direct voltages are all {off}: that looks like what feeds the "
                "section (mains, winding) or the meter, rather than a part behind it.")  # fmt: skip
    return (f"{pattern.count} resistances are all {off}: that looks like the meter or its leads "
            "rather than a part.")  # fmt: skip


def _heading(stages: Sequence[StageComparison], name: str) -> list[str]:
    said = (f"Readings from {name}. Predicted: what the meter would show on the chassis as drawn. "
            "Band: what it shows on 95 of 100 sound chassis; tolerances of the parts, pots set by "
            "eye, the meter's load and error are in. s.d.: how far off, in standard deviations of "
            "all that. rest: the same against what the other readings say, a few odd ones left "
            "aside if the rest then agrees. A ! is outside of the band.")  # fmt: skip
    titles = [one.comparison.section.circuit.title or "(no title)" for one in stages]
    told = [titles[0]]
    if len(set(titles)) > 1:
        told = [f"{one.stage}: {title}" for one, title in zip(stages, titles, strict=True)]
    return [line for text in (*told, said) for line in paragraph(text)]


def _conditions(one: StageComparison) -> list[str]:
    mains = one.comparison.mains
    if mains is None or not any(found.reading.state.live for found in one.comparison.found):
        return [f"{one.stage}:"]
    told = "as read" if mains.is_read else "not read, as the circuit file has it"
    return [f"{one.stage}, mains {show(mains.v, Dimension.VOLT)} ({told}):"]


# --- the table


def _table(c: Comparison) -> list[str]:
    """The readings under the pot settings they were taken at; long names get lines of their own."""
    has_pots = any(c.section.circuit.of(Pot))
    found = itertools.groupby(c.found, key=lambda one: _where(one, has_pots))
    groups = [(where, list(own)) for where, own in found]
    cells = {id(one): _row(one) for _, own in groups for one in own}
    widths = [max(len(row[k]) for row in (_HEAD, *cells.values())) for k in range(1, len(_HEAD))]
    room = WIDTH - sum(widths) - len(_GAP) * len(widths)
    names = [len(row[0]) for row in cells.values()]
    first = min(max(names, default=0), max(room, 0))
    lines = [_line(_HEAD, first, widths)]
    for where, own in groups:
        lines += paragraph(where, "  ", "") if where else []
        for one in own:
            row = cells[id(one)]
            if len(row[0]) > first:
                lines += paragraph(row[0], "    ", "  ")
                row = ("", *row[1:])
            lines.append(_line(row, first, widths))
    return lines


def _line(row: Sequence[str], first: int, widths: Sequence[int]) -> str:
    cells = [cell.rjust(width) for cell, width in zip(row[1:], widths, strict=True)]
    return _GAP.join([row[0].ljust(first), *cells]).rstrip()


def _where(one: Compared, is_turned: bool) -> str:
    """The conditions under which a reading was taken, as a heading."""
    state, kind = one.reading.state, one.reading.kind
    if kind is Kind.MAINS:
        return ""
    power = "" if state.live else "power off"
    valves = "valves out" if state.valves_out else ""
    where = position_words(state) or "pots where they stood"
    return ", ".join(filter(None, (power, valves, where if is_turned or state.pots else "")))


def _row(one: Compared) -> tuple[str, ...]:
    mark = "!" if one.is_outside and not one.explained else ""
    name = f"  {subject(one.reading)}"
    measured = measured_words(one.reading)
    if one.reading.kind is Kind.MAINS:
        return (name[2:], "", "", measured, "", "", "")
    predicted = "" if one.predicted is None else figure(one.reading, one.predicted)
    if one.band is None and one.predicted is not None:
        return (name, f"drawn {predicted}", "", measured, _off(one), "", "")
    apart = "" if one.apart is None else deviation_words(one.apart)
    deviation = "" if one.deviation is None else deviation_words(one.deviation)
    return (name, predicted, _band(one), measured, _off(one), deviation + (mark or " "), apart)


def figure(reading: Reading, value: float, beside: float | None = None) -> str:
    """A value as this meter would show it, though with three figures at least.

    Parameters
    ----------
    reading : Reading
        What was read.
    value : float
        [SI]
    beside : float, optional
        A value whose last digit it shall have; itself by default. [SI]
    """
    dimension = dimension_of(reading.kind)
    size = value if beside is None or beside == OVERLOAD else beside
    if OVERLOAD in (value, size):
        return "OL"
    if not reading.last_digit:
        return show(value, dimension)
    last = Decimal(f"{reading.last_digit:.0e}").adjusted()
    if size:
        last = max(last, _adjusted(size) - 3)
    if size and reading.kind is not Kind.DC:  # of volts near zero the last digit is all there is
        last = min(last, _adjusted(size) - 2)
    return show_reading(value, dimension, Decimal((0, (1,), last)))


def _adjusted(value: float) -> int:
    """The power of ten of the first digit, rounded to four."""
    return Decimal(f"{abs(value):.3e}").adjusted()


def measured_words(reading: Reading) -> str:
    """What was read, with the digits that were written down."""
    if reading.nominal == OVERLOAD:
        return "OL"
    if not reading.last_digit:
        return show(reading.nominal, dimension_of(reading.kind))
    return show_reading(reading.nominal, dimension_of(reading.kind),
                        Decimal(f"{reading.last_digit:.0e}"))  # fmt: skip


def _band(one: Compared) -> str:
    if one.band is None:
        return ""
    low, high = (figure(one.reading, value, one.predicted) for value in one.band)
    number, _, unit = low.partition(" ")
    return f"{number if unit and high.endswith(f' {unit}') else low} to {high}"


def _off(one: Compared) -> str:
    if one.difference is None:
        return ""
    size = figure(one.reading, abs(one.difference), one.predicted)
    if one.reading.kind in _PERCENT:
        if one.share is None:
            return ""
        size = f"{abs(one.share) * 100:.{int(abs(one.share) < 0.0995)}f} %"
    is_none = not any(digit in "123456789" for digit in size)
    return size if is_none else f"{'-' if one.difference < 0 else '+'}{size}"


def deviation_words(value: float) -> str:
    """Standard deviations, two figures at most."""
    if abs(value) >= 99.5:
        return ">99" if value > 0 else "<-99"
    if abs(value) < 0.05:
        return "0.0"
    return f"{value:+.1f}" if abs(value) < 9.95 else f"{value:+.0f}"


# --- the curves


def _plots(one: StageComparison) -> list[list[str]]:
    """The curves that most readings lie on."""
    order = sorted(one.curves, key=lambda curve: -len(curve.spots))
    blocks = [_plot(curve) for curve in order[:_PLOTS]]
    left = len(order) - _PLOTS
    if left > 0:
        blocks.append(paragraph(f"{left} more curve{'s' if left > 1 else ''} with other pots "
                                "elsewhere: see --svg."))  # fmt: skip
    return blocks


def _plot(curve: Curve) -> list[str]:
    fixed = [f"{pot} at {at * 100:.0f} %" for pot, at in curve.fixed.items()]
    stands = f", with {listed(fixed)}" if fixed else ""
    lines = paragraph(f"{listed(curve.nodes)} over the travel of {listed(curve.swept)}{stands}")
    lines.append("V against ground    O read   * predicted   : 95 of 100 sound chassis")
    spots = [(spot.travel, spot.reading.nominal) for spot in curve.spots]
    return lines + plot(curve.travel, curve.predicted, (curve.low, curve.high), marks=spots)


# --- remarks


def _remarks(c: Comparison) -> Iterator[str]:
    for one in c.found:
        for way in one.conduction:
            yield conduction_words(one, way)
    if c.unknown_pots:
        yield (f"{listed(c.unknown_pots)}: not said where it stood at every reading; predicted at "
               "the middle of the travel, with all of it in the band.")  # fmt: skip
    if any(one.reading.kind in SOLDERED_IN and not one.reading.state.discharged for one in c.found):
        yield ('The sheet does not say that the capacitors were discharged ("power off '
               'discharged"): what it reads with the power off is trusted less.')  # fmt: skip
    bare = [subject(one.reading) for one in c.found if one.predicted is None]
    if bare:
        yield f"No prediction for {listed(list(dict.fromkeys(bare)))}: the circuit does not tell."
    if not c.settled:
        yield "Some states were still moving a little when the search for them ended."
    for text in statements(c.section.circuit):
        yield f"Taken for granted: {text}."


def conduction_words(one: Compared, way: Conduction) -> str:
    """What a junction may do to a resistance that was read."""
    name, names = subject(one.reading), listed(way.junctions)
    conducts = "conducts" if len(way.junctions) == 1 else "conduct"
    least, most = show(way.r, Dimension.OHM), figure(one.reading, one.predicted or 0.0)
    volts = show_part(way.v_test, Dimension.VOLT)
    if one.reading.meter.v_test is None:
        return (f"{name} reads low: {names} {conducts} if the red lead stood on {way.red} and the "
                f"meter has test volts enough; with as much as {volts} it shows {least} or more, "
                f"not {most}. Swap the leads and read again.")  # fmt: skip
    told = (f"{name}: with {volts} from the meter and its red lead on {way.red} {names} "
            f"{conducts}, and it shows between {least} and {most}; without, {most}.")  # fmt: skip
    if one.explained:
        told += " That explains the reading, which is left out of the verdict."
    return told
