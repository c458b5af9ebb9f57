"""Rules that hold what parts have to bear against their ratings."""

from __future__ import annotations

from collections.abc import Iterator

from ..assumed import reverse_rating
from ..derating import POWER_SHARE, REVERSE_SHARE, VOLTS_SHARE, power_to_buy, style_volts
from ..finding import Severity
from ..netlist import Capacitor, Diode, Part, Pot, Resistor, Zener
from ..quantity import Dimension, show, show_part
from ..stress import Stress
from .rule import Case, Problem, Rule
from .turned import alternates, is_turned

_TURNED = 1.0  # volts that an electrolytic bears the wrong way round


def _stress(case: Case, part: Part) -> Stress | None:
    return None if case.stresses is None else case.stresses.parts.get(part.name)


def _volts(v: float) -> str:
    return show(v, Dimension.VOLT)


def _look_capacitor(case: Case) -> Iterator[Problem]:
    """A capacitor's volts are within its rating.

    bad: capacitor C1 plus ground minus raw 47 uF 63 V
    good: capacitor C1 plus ground minus raw 47 uF 100 V
    """
    for part in case.section.circuit.of(Capacitor):
        stress = _stress(case, part)
        if stress is None or part.v_rated is None or stress.v_peak <= VOLTS_SHARE * part.v_rated:
            continue
        beyond = stress.v_peak > part.v_rated
        yield Problem(
            part.mark("v_rated"),
            f"{part.name} has up to {_volts(stress.v_peak)} across it and is rated "
            f"{show_part(part.v_rated, Dimension.VOLT)}",
            "fit one with a higher voltage rating and the same or somewhat more capacitance",
            severity=Severity.ERROR if beyond else Severity.WARNING,
        )


def _look_turned(case: Case) -> Iterator[Problem]:
    """No electrolytic gets reversed volts at some setting, though its plus seems right.

    bad: resistor R7 from head to half 4k7
    bad: resistor R8 from half to ground 27k
    bad: capacitor C9 plus sweep minus half 10 uF 63 V
    good: resistor R7 from head to half 4k7
    good: resistor R8 from half to ground 27k
    good: capacitor C9 plus ground minus half 10 uF 63 V
    """
    if case.turned:
        return  # the rectifier is to blame, and has been told
    for part in case.section.circuit.of(Capacitor):
        if is_turned(case, part) or alternates(case, part):
            continue
        stress = _stress(case, part)
        if part.polarised and stress is not None and stress.v_backward > _TURNED:
            yield Problem(
                part.mark("plus"),
                f"{part.name} gets {_volts(stress.v_backward)} the wrong way round",
                "turn it, or fit a capacitor without polarity",
            )


def _look_power(case: Case) -> Iterator[Problem]:
    """A resistor's, pot's or zener's dissipation is within its rating.

    bad: resistor R3 from foot to ground 27k 5% 0.03 W
    good: resistor R3 from foot to ground 27k 5% 0.5 W
    """
    for part in case.section.circuit.parts:
        if not isinstance(part, Resistor | Pot | Zener) or part.power is None:
            continue
        stress = _stress(case, part)
        if stress is None:
            continue
        p, of_track = stress.power, ""
        if isinstance(part, Pot) and stress.i_rms**2 * part.r > p:
            # The rating is for the whole track: a piece of it bears that track's current.
            p, of_track = stress.i_rms**2 * part.r, ", counted for the whole track,"
        if p <= POWER_SHARE * part.power:
            continue
        yield Problem(
            part.mark("power"),
            f"{part.name} dissipates up to {show(p, Dimension.WATT)}{of_track} and is rated "
            f"{show_part(part.power, Dimension.WATT)}",
            f"fit one rated {show_part(power_to_buy(p), Dimension.WATT)} or more",
            severity=Severity.ERROR if p > part.power else Severity.WARNING,
        )


def _look_working_volts(case: Case) -> Iterator[Problem]:
    """A resistor's volts are within its rating, or its style's.

    bad: resistor R3 from foot to ground 27k 5% 0.5 W 20 V
    good: resistor R3 from foot to ground 27k 5% 0.5 W
    """
    for part in case.section.circuit.of(Resistor):
        stress, limit = _stress(case, part), _working_volts(part)
        if stress is not None and limit is not None and stress.v_peak > limit:
            yield Problem(
                part.mark("v_rated"),
                f"{part.name} has up to {_volts(stress.v_peak)} across it and stands "
                f"{show_part(limit, Dimension.VOLT)}",
                "fit a larger style, or two in series",
            )


def _working_volts(part: Resistor) -> float | None:
    if part.v_rated is not None:
        return part.v_rated
    if part.power is None:
        return None
    return style_volts(part.power)


def _look_reverse(case: Case) -> Iterator[Problem]:
    """A diode's reverse volts are within its rating.

    bad: diode D1 anode raw cathode feed type 1N4001
    good: diode D1 anode raw cathode feed type 1N4007
    """
    for part in case.section.circuit.of(Diode):
        stress, rating = _stress(case, part), reverse_rating(part)
        if stress is None or rating is None or stress.v_forward <= REVERSE_SHARE * rating:
            continue
        yield Problem(
            part.mark("v_reverse") if "v_reverse" in part.marks else part.mark("type"),
            f"{part.name} blocks up to {_volts(stress.v_forward)} and stands "
            f"{show_part(rating, Dimension.VOLT)}",
            "fit a 1N4007 (1000 V), or one rated twice the volts it blocks",
            severity=Severity.ERROR if stress.v_forward > rating else Severity.WARNING,
        )


def _look_negative(case: Case) -> Iterator[Problem]:
    """Some position of the pot makes every grid negative.

    bad: link W1 from raw to ground
    good: resistor R9 from raw to ground 100k
    """
    if case.stresses is None:
        return
    for grid, valves in case.section.grids.items():
        most = case.stresses.v_grid_most.get(grid)
        if most is not None and most > -0.5:
            yield Problem(
                valves[0].mark("grid"),
                f"the grid of {valves[0].name} never gets more negative than {_volts(most)}",
                "follow the volts from the winding to the grid",
            )


RULES = (
    Rule("capacitor-volts", Severity.ERROR, "A capacitor has more volts than its rating.",
         "at the highest mains and tolerances; it leaks and fails, and with it the bias",
         "Fit a higher rating.", _look_capacitor, needs_simulation=True),
    Rule("electrolytic-reversed-volts", Severity.ERROR, "An electrolytic gets reversed volts.",
         "an electrolytic with reversed volts leaks, heats up and may burst",
         "Turn the capacitor.", _look_turned, needs_simulation=True),
    Rule("dissipation", Severity.WARNING, "A part dissipates too much for its rating.",
         "at the highest mains; a resistor near its rating is hot, and drifts",
         "Fit a higher rating.", _look_power, needs_simulation=True),
    Rule("working-volts", Severity.WARNING, "A resistor has more volts than its style stands.",
         "resistors fail by volts as well as by heat",
         "Fit a larger style.", _look_working_volts, needs_simulation=True),
    Rule("reverse-volts", Severity.ERROR, "A diode blocks more volts than its rating.",
         "a diode that breaks through puts alternating voltage on the reservoir",
         "Fit a higher rating.", _look_reverse, needs_simulation=True),
    Rule("no-bias", Severity.ERROR, "A grid never gets negative.",
         "a valve without bias destroys itself in seconds",
         "Follow the volts.", _look_negative, needs_simulation=True),
)  # fmt: skip
