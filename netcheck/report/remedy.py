"""What to solder in, for the terminal: the verdict first, then the ways side by side."""

from __future__ import annotations

from collections.abc import Iterator

from ..assumed import mains_tolerance
from ..netlist import Circuit
from ..quantity import show
from ..remedy.aim import GRID_SHARE
from ..remedy.figures import Figures
from ..remedy.option import Option
from ..remedy.samples import matching
from ..remedy.study import Remedies
from ..remedy.ways import Kind
from ..remedy.words import listed, way_words
from ..terminal import CAUTION
from .remedytable import (
    AMPERE,
    V,
    capital,
    detail,
    done,
    is_modelled,
    others,
    percent,
    stretch,
    valve_word,
    ways_table,
)
from .tables import paragraph

_COLD = 0.2  # of the limit: less is no idle current of an output valve


def render_remedies(found: Remedies, chosen: int = 1) -> str:
    """The whole report, lines of at most 80 characters.

    Parameters
    ----------
    found : Remedies
        What could be done.
    chosen : int
        Which of the options is shown in full, the first is 1. [count]
    """
    option = _chosen(found, chosen)
    blocks = [
        paragraph(found.start.drawn.title or "(no title)"),
        outcome(found, chosen),
        [line for text in (*found.start.words, *found.obstacle) for line in paragraph(text)],
        ways_table(found),
    ]
    if option is not None:
        blocks += [detail(found, option), others(found, option)]
    blocks += [_remarks(found), paragraph(CAUTION)]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def _chosen(found: Remedies, chosen: int) -> Option | None:
    return found.options[chosen - 1] if found.options else None


# ------------------------------------------------------------------------------ verdict


def outcome(found: Remedies, chosen: int = 1) -> list[str]:
    """The verdict in lines; arguments as `render_remedies`."""
    return paragraph(verdict(found, _chosen(found, chosen)))


def brief_outcome(found: Remedies) -> str:
    """The verdict on the first way, without why a fault is not to be worked around."""
    option = _chosen(found, 1)
    return " ".join(filter(None, (found.start.first, _outcome(found, option, reasoned=False))))


def verdict(found: Remedies, option: Option | None) -> str:
    """The outcome in a few sentences.

    Parameters
    ----------
    found : Remedies
        What could be done.
    option : Option or None
        The one that is shown in full.
    """
    return " ".join(filter(None, (found.start.first, _outcome(found, option))))


def _outcome(found: Remedies, option: Option | None, reasoned: bool = True) -> str:
    as_is = found.as_is
    if option is None and as_is is not None and as_is.serves and not found.start.faults:
        return f"Nothing has to be soldered in: {_falls(found, as_is)}."
    if option is None:
        end = " near the middle of the travel" if found.pots else ""
        if found.restored is None:
            return f"No single change brings {_wanted(found)}{end}."
        told = capital(way_words(found.start.drawn, done(found.restored)))
        return f"{told}; that is not enough, and nothing else brings {_wanted(found)}{end}."
    told = way_words(found.start.drawn, done(option), option.before)
    told += f": {_falls(found, option)}. {_over_run(found, option)}"
    if as_is is not None and as_is.serves and not found.start.faults:
        if not as_is.figures.is_common and not option.figures.is_common:
            return f"{capital(_falls(found, as_is))}. What follows only moves the window."
        return f"As it is, {_falls(found, as_is)}: {_no_need(found, option)} {told}"
    told = capital(told)
    if found.start.faults and reasoned:
        told += f" {_second_best(found, option)}"
    return told


def _no_need(found: Remedies, option: Option) -> str:
    as_is = found.as_is
    assert as_is is not None
    if not found.is_better:
        return "leave it so. If anything:"
    if as_is.figures.over_runs and not option.figures.over_runs:
        return "that need not be changed, but the pot alone can over-run the valves. Better:"
    return "that need not be changed. Better still:"


def _wanted(found: Remedies) -> str:
    if found.goal.v_grid is not None:
        return f"{show(found.goal.v_grid, V)} at the grids"
    return "the idle current wanted"


def _window(found: Remedies) -> str:
    if found.goal.window is None:
        return f"the stretch within {percent(GRID_SHARE)} of {show(found.goal.v_grid or 0.0, V)}"
    low, high = found.goal.window
    return f"the window of {low * 100:.0f} to {high * 100:.0f} % of the dissipation limit"


def _falls(found: Remedies, option: Option) -> str:
    """Where the window falls."""
    figures = option.figures
    if not figures.has_travel:
        return _fixed(figures)
    if figures.inside is None or figures.middle is None:
        met = [f.mark.name for f in figures.falls if f.middle is not None]
        if len(met) == len(figures.falls):
            return ("no position of the pot puts all valves into the window at once, which no "
                    "resistor mends, but valves that match, or a pot for each")  # fmt: skip
        missed = listed([f.mark.name for f in figures.falls if f.middle is None])
        return f"the travel does not reach the middle of the window for {missed}"
    return (f"{_window(found)} falls at {stretch(figures.inside)} of the travel of "
            f"{listed(found.pots)}, its middle at {percent(figures.middle)}")  # fmt: skip


def _fixed(figures: Figures) -> str:
    fall = max(figures.falls, key=lambda f: abs(f.off))
    volts = f"{fall.mark.node} has {show(fall.v_most, V)}"
    if fall.share_most is None:
        return volts
    return f"{volts}, {fall.mark.name} {percent(fall.share_most)} of its dissipation limit"


def _over_run(found: Remedies, option: Option) -> str:
    figures = option.figures
    most, worst = figures.share_most, figures.share_worst
    if most is None or worst is None:
        return "No valve is modelled, so look at the dissipation yourself."
    if not found.pots:
        return _over_run_fixed(figures)
    what = "At the hot end of the travel"
    told = f"{what} {valve_word(found)} is at {percent(most)} of its limit"
    corner = f"{percent(worst)} in the worst case"
    if figures.over_runs:
        told = f"Beware: {what[0].lower()}{told[1:]} ({corner})"
        if any(not other.figures.over_runs for other in found.options):
            return f"{told}: the pot alone can over-run it."
        return f"{told}: the pot alone can over-run it, and no way that was found avoids that."
    return f"{told}, {corner}."


def _over_run_fixed(figures: Figures) -> str:
    worst = f"In the worst case it is {percent(figures.share_worst or 0.0)}."
    return f"Beware: that over-runs the valve. {worst}" if figures.over_runs else worst


def _second_best(found: Remedies, option: Option) -> str:
    """Why a fault is put right and not worked around."""
    names = listed(found.start.faults)
    are = "are" if len(found.start.faults) > 1 else "is"
    if option.before is not None:
        return f"To put {names} right is not enough: what follows begins there."
    if done(option).kind is not Kind.RESTORE:
        return (f"That works around {names}, and is second best: what has drifted or was altered "
                "may go on changing, and the next person finds neither the drawing nor the "
                "fault.")  # fmt: skip
    if not found.start.is_livable:
        return f"There is no working around it: {names} {are} not to be left as found."
    return ("To work around it would be second best: what has drifted or was altered may go on "
            "changing, and the next person finds neither the drawing nor the fault.")  # fmt: skip


# ------------------------------------------------------------------------------- remarks


def _remarks(found: Remedies) -> list[str]:
    said = [*_of_grid(found), *_of_valves(found), *_of_refused(found)]
    if found.goal.left_out:
        said.append(f"Not looked at: {'; '.join(found.goal.left_out)}.")
    said.append(_worst_case(found))
    return [line for text in said if text for line in paragraph(text, "  ", "")]


def _of_grid(found: Remedies) -> Iterator[str]:
    """What a grid voltage that was asked for means for the valves."""
    v = found.goal.v_grid
    if v is None:
        return
    said: dict[str, list[str]] = {}
    for mark in found.goal.marks:
        if mark.law is not None:
            share = float(mark.law.shares(v))
            cold = ": all but cut off" if share < _COLD else ""
            told = (
                f"{show(float(mark.law.current(v)), AMPERE)}, {percent(share)} of the limit{cold}"
            )
            said.setdefault(told, []).append(mark.name)
    for told, names in said.items():
        yield f"Idle current at {show(v, V)}, {', '.join(names)}: {told}."


def _of_valves(found: Remedies) -> Iterator[str]:
    if found.samples:
        each = ", ".join(f"{s.name} {s.ratio:.2g}" for s in found.samples)
        yield f"Valves as measured, their current of that of an average one: {each}."
    far = [one for one in found.samples if one.is_far]
    for one in far:
        yield (f"{one.name} draws {one.ratio:.2g} times what an average valve of its type would "
               f"at {show(one.v_grid, V)}: fewer than one sample of twenty does so. The cure may "
               "be a valve and not a resistor.")  # fmt: skip
    match = matching(found.samples)
    if match is not None and not match.matched:
        each = ", ".join(f"{one.name} {show(one.i_cathode, AMPERE)}" for one in found.samples)
        yield (f"The valves do not match: at one grid voltage {each}. No resistor mends that; it "
               "takes matched valves, or a bias pot for each.")  # fmt: skip


def _of_refused(found: Remedies) -> Iterator[str]:
    for one in found.refused:
        yield (f"Not offered: {way_words(found.start.drawn, one.way)}; it would over-stress "
               f"{listed(one.over_stressed)}.")  # fmt: skip


def _worst_case(found: Remedies) -> str:
    circuit: Circuit = found.start.drawn
    if not is_modelled(found):
        return ""
    mains = ""
    if circuit.mains is not None and found.goal.mains_high > 1.0:
        mains = (f", the mains {percent(mains_tolerance(circuit.mains))} high, plate and screen "
                 "volts with it")  # fmt: skip
    why = " It is why one begins at the cold end." if found.pots else ""
    return ("Worst case: every part at the limit of its tolerance that makes the grids less "
            f"negative{mains}.{why}")  # fmt: skip
