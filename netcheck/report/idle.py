"""Idle currents for the terminal: the verdict first, then the evidence."""

from __future__ import annotations

from ..idle import Assessment, Expected, Judged, Spread, Stage, Verdict
from ..idle.findings import percent, range_words, split_words, window_words
from ..idle.samples import SAMPLES
from ..quantity import Dimension, show, show_part
from ..valves import Limits, Rating, Status
from ..valves.practice import SAMPLE_SPREAD
from .findings import WIDTH, render
from .tables import paragraph, table
from .valves import in_brackets

VOLT, WATT = Dimension.VOLT, Dimension.WATT

METER_OHMS = (1.0, 10.0)
"""Cathode resistors that are usual for measuring. [ohm]"""

_RATINGS = {
    Rating.DESIGN_CENTRE: "Design-centre limits are for an average valve at nominal mains; "
                          "samples and mains that are off are allowed for in the figure.",
    Rating.DESIGN_MAXIMUM: "Design-maximum limits are for an average valve; mains and parts that "
                           "are off must not carry it beyond.",
    Rating.ABSOLUTE_MAXIMUM: "Absolute limits must not be exceeded by any valve at any mains.",
    Rating.LIMITING: "The sheet calls them limiting values and says no more.",
}  # fmt: skip


def render_idle(found: Assessment) -> str:
    """The whole report, lines of at most 80 characters."""
    blocks = [
        outcome(found),
        render(found.findings).split("\n"),
        _readings(found),
        _screens(found),
        _sides(found),
        _window(found),
        _grids(found),
        _basis(found.stage),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if any(block))


# ------------------------------------------------------------------------ the verdict


def outcome(found: Assessment) -> list[str]:
    """The verdict on each valve, or what to aim at."""
    stage = found.stage
    at = f"{stage.valve.name} at {_volts(stage.v_plate)} on the plate"
    if not found.valves:
        low, high = (_digits(each.i_cathode.nominal * 1e3) for each in found.targets[:2])
        lines = paragraph(f"{at}: aim at {low} to {high} mA of cathode current, "
                          f"{window_words(stage)} of the dissipation limit.")  # fmt: skip
        return lines if found.expected is None else lines + _expected(stage, found.expected)
    lines = paragraph(f"{at}, dissipation limit {_watts(stage.limits.p_plate)}, "
                      f"{window_words(stage)} of it aimed at:", "  ", "")  # fmt: skip
    for valve in found.valves:
        share = percent(valve.of_limit.nominal)
        lines += paragraph(f"{valve.name}: {share}, {_verdict(valve)}", "    ", "  ")
    return lines + _matched(found)


def _verdict(judged: Judged) -> str:
    if judged.verdict is Verdict.USUAL:
        return "within the usual 50 to 70 %"
    return judged.verdict.value


def _matched(found: Assessment) -> list[str]:
    if found.match is None:
        return []
    count = len(found.valves)
    said = "" if found.match.matched else "not "
    said += "a matched pair" if count == 2 else f"matched, all {count}"
    said += (f": {_milliamps(found.match.spread)} apart, up to "
             f"{_milliamps(found.match.allowed)} is acceptable")  # fmt: skip
    return paragraph(said, "    ", "  ")


def _expected(stage: Stage, draws: Expected) -> list[str]:
    assert stage.v_grid is not None
    current, share = _ranged(draws.i_cathode, "mA"), _ranged_percent(draws.of_limit)
    return paragraph(f"With {_volts(stage.v_grid)} on the grid an average valve draws a cathode "
                     f"current of {current}, {share} of the limit; in brackets 95 of 100 "
                     "samples.")  # fmt: skip


# ----------------------------------------------------------------------- the readings


def _readings(found: Assessment) -> list[str]:
    if not found.valves:
        return []
    # Where percent of two limits are shown there is no room for a range of each.
    absolute = None if found.stage.absolute else found.stage.valve.absolute
    head = ["valve", "cathode", "plate current", "plate", "of limit"]
    rows = []
    for valve in found.valves:
        row = [valve.name, f"{_digits(valve.i_cathode * 1e3)} mA", _ranged(valve.i_plate, "mA"),
               f"{_digits(valve.p_plate.nominal)} W"]  # fmt: skip
        if absolute is not None:
            row += [percent(valve.of_limit.nominal),
                    percent(valve.p_plate.nominal / absolute.p_plate)]  # fmt: skip
        else:
            row.append(_ranged_percent(valve.of_limit))
        rows.append(row)
    if absolute is not None:
        head = [*head[:-1], f"of {_watts(found.stage.limits.p_plate)}",
                f"of {_watts(absolute.p_plate)} abs."]  # fmt: skip
    return table(head, rows)


def _screens(found: Assessment) -> list[str]:
    limit = found.stage.limits.p_screen
    rows = [
        [
            valve.name,
            _ranged(valve.i_screen, "mA"),
            _ranged(valve.p_screen, "W"),
            _ranged_percent(valve.screen_of_limit),
        ]
        for valve in found.valves
        if valve.p_screen is not None and valve.screen_of_limit is not None
    ]
    if not rows or limit is None:
        return []
    return table(["valve", "screen current", "screen", f"of {_watts(limit)}"], rows)


def _sides(found: Assessment) -> list[str]:
    """How the ways to put four valves or more on two sides compare."""
    if found.match is None or not found.match.splits:
        return []
    names = [valve.name for valve in found.valves]
    rows = [
        [split_words(names, split), _milliamps(split.difference),
         "in the order given" if split is found.match.present else ""]
        for split in found.match.telling
    ]  # fmt: skip
    lines = table(["sides of a push-pull stage", "differ by", ""], rows)
    if max(map(len, lines)) <= WIDTH:
        return lines
    return [line for row in rows for line in paragraph(", ".join(filter(None, row)), "  ", "")]


# ------------------------------------------------------------- the window, the limits


def _window(found: Assessment) -> list[str]:
    stage = found.stage
    ohms = list(METER_OHMS)
    if stage.r_cathode and stage.r_cathode not in ohms:
        ohms.append(stage.r_cathode)
    rows = []
    for each in found.targets:
        meter = [_reading(each.i_cathode.nominal * r) for r in ohms]
        rows.append([_share(each.share), f"{_digits(each.p_plate)} W",
                     f"{_digits(each.i_plate.nominal * 1e3)} mA", _ranged(each.i_cathode, "mA"),
                     *meter])  # fmt: skip
    head = ["of limit", "plate", "plate", "cathode current", *(show_part(r) for r in ohms)]
    said = "A probe or a cathode resistor reads the cathode current: "
    if stage.has_screen:
        said += "plate and screen current together."
    else:
        said += "in a triode that is the plate current."
    return [*table(head, rows, 0), *paragraph(said)]


def _grids(found: Assessment) -> list[str]:
    stage = found.stage
    if not stage.valve.rows:
        return paragraph(f"Grid voltage: cannot be told, no operating row of {stage.valve.name} "
                         "is known.")  # fmt: skip
    if not stage.has_model:
        return paragraph("Grid voltage: cannot be told, the screens cannot stand the volts of "
                         "the plate; give theirs with --screen.")  # fmt: skip
    rows = [
        [_share(each.share), f"{_tenths(each.v_grid.nominal)} V",
         f"{_tenths(each.v_grid.low)} to {_tenths(each.v_grid.high)} V"]
        for each in found.targets
        if each.v_grid is not None
    ]  # fmt: skip
    spread = f"{SAMPLE_SPREAD * 100:.0f} %"
    said = ("Grid volts are rough: a curve fitted to published rows, and samples of one type "
            f"differ by {spread} in current (standard deviation).")  # fmt: skip
    if stage.v_screen is not None:
        said += f" Screens at {_volts(stage.v_screen)}."
    elif stage.has_screen:
        said += f" Screens taken to be at {_volts(stage.v_plate)} too; --screen gives theirs."
    if stage.r_cathode:
        said += " Against ground."
    head = ["of limit", "grid, average valve", "95 of 100 samples"]
    return [*table(head, rows, 0), *paragraph(said), *_against_average(found)]


def _against_average(found: Assessment) -> list[str]:
    """How the valves compare at the measured grid voltage."""
    said = [
        f"{valve.name} {valve.against_average:.2f}"
        for valve in found.valves
        if valve.against_average is not None
    ]
    if not said or found.stage.v_grid is None:
        return []
    return paragraph(f"At {_volts(found.stage.v_grid)} on the grid, for each mA of an average "
                     f"valve: {', '.join(said)}; 95 of 100 samples lie between "
                     f"{SAMPLES.low:.2f} and {SAMPLES.high:.2f}.")  # fmt: skip


def _basis(stage: Stage) -> list[str]:
    """Where limits, screen share and window come from."""
    said = [f"Limits, {_limits(stage.limits)}"]
    if stage.valve.absolute is not None:
        other = stage.valve.limits if stage.absolute else stage.valve.absolute
        said.append(f"Beside them, {_limits(other)}")
    said.append(_screen_share(stage))
    if stage.window is None:
        said.append("The window is that of class AB with fixed bias (common practice); "
                    "single-ended valves and cathode bias idle hotter, see --window.")  # fmt: skip
    if stage.r_cathode:
        said.append(f"Volts are taken as against ground, with {show_part(stage.r_cathode)} between "
                    "cathode and ground: its drop is taken off.")  # fmt: skip
    else:
        said.append("Volts are taken as against the cathode; with --resistor as against ground.")
    return [line for text in said for line in paragraph(text, "  ", "")]


def _limits(limits: Limits) -> str:
    figures = f"{_watts(limits.p_plate)} and {_volts(limits.v_plate)} on the plate"
    if limits.p_screen is not None and limits.v_screen is not None:
        figures += f", {_watts(limits.p_screen)} and {_volts(limits.v_screen)} on the screen"
    origin = f"{limits.origin.source}{in_brackets(limits.origin.status)}"
    return f"{limits.rating.value}: {figures}; {origin}. {_RATINGS[limits.rating]}"


def _screen_share(stage: Stage) -> str:
    if not stage.has_screen:
        return "A triode has no screen: its cathode current is its plate current."
    share = stage.share
    said = f"Screen current is taken as {_tenths_percent(share.nominal)} of the plate current"
    ends = f"{_tenths_percent(share.low)} to {_tenths_percent(share.high)}"
    rows = [row for row in stage.valve.rows if row.i_screen is not None]
    if not rows:
        return f"{said} ({ends}), the usual share: no published row of this type tells it."
    if len(rows) == 1:
        return f"{said}, by the only published row: its range is not known."
    unread = sum(row.origin.status is not Status.READ for row in rows)
    doubt = "" if not unread else f", {unread} of them not read again in the sheet"
    return f"{said} ({ends}), the median and range of {len(rows)} published rows{doubt}."


# ----------------------------------------------------------------------------- figures


def _share(share: float) -> str:
    return f"{share * 100:g} %"


def _tenths_percent(share: float) -> str:
    return f"{share * 100:.1f} %"


def _volts(v: float) -> str:
    return show_part(v, VOLT) if abs(v) >= 1.0 else show(v, VOLT)


def _watts(p: float) -> str:
    return show_part(p, WATT)


def _tenths(v: float) -> str:
    return f"{round(v, 1) + 0.0:.1f}"  # no negative zero


def _milliamps(i: float) -> str:
    return f"{i * 1e3:.1f} mA"


def _reading(v: float) -> str:
    """Volts across a cathode resistor as a meter shows them, in millivolts up to 2 V."""
    if v >= 2.0:
        return show(v, VOLT)
    return f"{v * 1e3:.1f} mV" if v < 0.1 else f"{v * 1e3:.0f} mV"


def _ranged_percent(share: Spread) -> str:
    figure = percent(share.nominal)
    same = percent(share.low) == percent(share.high)
    return figure if same else f"{figure} ({range_words(share)})"


def _digits(figure: float) -> str:
    """Three digits, but never more than two decimals."""
    if abs(figure) < 9.995:
        return f"{figure:.2f}"
    return f"{figure:.1f}" if abs(figure) < 99.95 else f"{figure:.0f}"


def _ranged(spread: Spread, unit: str) -> str:
    """A current in mA or a dissipation in W, with its range where it has one that shows."""
    scale = 1e3 if unit == "mA" else 1.0
    nominal, low, high = (_digits(value * scale) for value in spread)
    return f"{nominal} {unit}" if low == high else f"{nominal} {unit} ({low} to {high})"
