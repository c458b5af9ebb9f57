"""What failing parts do to the valves, for the terminal: what it comes to and the cure first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from ..failures import Danger, Guard, Judged, Outcome, Overload, Proposal, Strain, Study, Undrawn
from ..failures.catalogue import Mode
from ..failures.cure import I_GRID
from ..quantity import Dimension, show, show_part
from .failurestable import (
    AMPERE,
    BURNS,
    V,
    all_named,
    column,
    failure_table,
    floats,
    hottest,
    is_marked,
    listed,
    short,
    state,
    valves,
    victim,
    words,
    wrapped,
)
from .sweep import joined_blocks, percent, title_of

_HEADS = {
    Danger.NO_BIAS: "No bias: the valves destroy themselves within seconds",
    Danger.OVER: "Over the limit: the valves do not last",
    Danger.HOT: "Too hot: over the limit only where the pot goes beyond it anyway",
    Danger.COLD: "Too cold: no harm to the valves, but no use either",
}
_HEADS_WITHOUT_LIMITS = {
    Danger.OVER: "Less than two thirds of the bias left: as a rule over the limit",
    Danger.HOT: "Too hot: less bias",
    Danger.COLD: "Too cold: more bias; no harm to the valves, but no use either",
}
HUM = 0.1
"""Ripple on a grid that is heard as hum; common practice. [Vpp]"""


def render_failures(s: Study) -> str:
    """The whole report, lines of at most 80 characters."""
    blocks = [wrapped(title_of(s.section.circuit.title)), _verdict(s), _cures(s)]
    blocks += [_table(s, danger) for danger in (Danger.NO_BIAS, Danger.OVER, Danger.HOT)]
    blocks += [_unknown(s), _table(s, Danger.COLD), _harmless(s), _burns(s), _remarks(s)]
    return joined_blocks(blocks)


def outcome(s: Study) -> list[str]:
    """What it comes to, and the cure."""
    return [*_verdict(s), *_cures(s)]


def _table(s: Study, danger: Danger) -> list[str]:
    heads = _HEADS if s.limits else {**_HEADS, **_HEADS_WITHOUT_LIMITS}
    if s.limits and s.travel.size == 1:
        heads = {**heads, Danger.HOT: "Too hot: above the window, not over the limit"}
    lines = failure_table(s, danger)
    return [heads[danger], *lines] if lines else []


# ------------------------------------------------------------------------- what it comes to


def _verdict(s: Study) -> list[str]:
    lines: list[str] = []
    if s.without:
        lines += wrapped(f"As drawn {listed(s.without)} {_has(s.without)} no bias: that comes "
                         "first, and netcheck check says why.")  # fmt: skip
    if not valves(s):
        return lines
    first = victim(s, s.sound, valves(s))
    said = f"As drawn {short(first)} has {_worded(s, s.sound, first)}."
    if _is_over(s):
        said += (" That is over the limit already, and comes first: the failures are judged "
                 "against it.")  # fmt: skip
    return [*lines, *wrapped(_counted(s)), *wrapped(said)]


def _counted(s: Study) -> str:
    """How many failures there are of which kind, in words."""
    count = {danger: sum(one.danger is danger for one in s.failures) for danger in Danger}
    none, over = count[Danger.NO_BIAS], count[Danger.OVER]
    said = f"{len(s.failures)} failures, one at a time: "
    if not none + over:
        said += "none loses a valve"
    elif s.limits:
        said += (f"{_many(none + over, 'lose')} a valve; {_many(none, 'leave')} a grid without "
                 f"bias, {_many(over, 'take')} a plate over its limit")  # fmt: skip
    else:
        said += (f"{_many(none + over, 'lose')} a valve; {_many(none, 'leave')} no bias, "
                 f"{over} less than two thirds of it")  # fmt: skip
    unknown = count[Danger.UNKNOWN]
    return f"{said}; {unknown} cannot be judged." if unknown else f"{said}."


def _many(count: int, verb: str) -> str:
    """A count with its verb: "1 loses", "2 lose"."""
    return f"{count} {verb}{'s' if count == 1 else ''}"


def _has(names: tuple[str, ...]) -> str:
    return "has" if len(names) == 1 else "have"


def _is_over(s: Study) -> bool:
    """Whether a valve is over its limit where the pot stands, nothing being broken."""
    return any(share[s.now] > 1.0 for name, share in s.sound.of_limit.items()
               if name not in s.without)  # fmt: skip


def _worded(s: Study, outcome: Outcome, name: str) -> str:
    """Grid, current and dissipation of a valve where the pot stands and at the hottest position."""
    worst = hottest(s, outcome, name)
    said = state(s, outcome, name, s.now)
    if s.travel.size == 1:
        return said
    said = f"{said} at {percent(float(s.travel[s.now]))} of the travel"
    if worst == s.now:
        return said
    return f"{said}, {state(s, outcome, name, worst)} at {percent(float(s.travel[worst]))}"


# ------------------------------------------------------------------------------ the cure


def _cures(s: Study) -> list[str]:
    lines: list[str] = []
    for text in [*_each(_guarded(s, guard) for guard in s.guards),
                 *_each(_proposed(s, proposal) for proposal in s.proposals)]:  # fmt: skip
        lines += wrapped(text, "  ", "")
    for name in s.helpless:
        lines += wrapped(f"{short(name)}: no resistor from its wiper to one of its ends makes a "
                         "lifted wiper safe without changing the travel.", "  ", "")  # fmt: skip
    more = [one for one in s.saved if one.failure.mode is not Mode.WIPER_LIFTED]
    if more:
        lines += wrapped(f"That also takes the danger out of: {all_named(s, more)}.", "  ", "")
    return lines


def _moved(s: Study, outcome: Outcome) -> list[str]:
    """The valves to which something happens: those moved at least half as far as any."""
    far = np.max(np.abs(outcome.mean - s.sound.mean), axis=0)
    return [name for name in valves(s) if far[column(s, name)] >= 0.5 * far.max()
            or floats(s, outcome, name)] or valves(s)  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Told:
    """A sentence about a pot, with places for what sets alike pots apart.

    Parameters
    ----------
    text : str
        With the fields pot, part, at (the node of the wiper), valves.
    pot, part, at : str
        What stands there.
    valves : tuple of str
        The valves that hang on the pot.
    """

    text: str
    pot: str
    part: str
    at: str
    valves: tuple[str, ...]


def _each(told: Iterable[_Told]) -> Iterator[str]:
    """Sentences that differ in the names only as one."""
    groups: dict[tuple[str, int], list[_Told]] = {}
    for one in told:
        groups.setdefault((one.text, len(one.valves)), []).append(one)
    for (text, _), group in groups.items():
        names = {field: listed(getattr(one, field) for one in group)
                 for field in ("pot", "part", "at")}  # fmt: skip
        single = len(group) == 1
        yield text.format(valves=_holders(group), is_="is" if single else "are",
                          each="" if single else "each of ", **names)  # fmt: skip


def _holders(group: list[_Told]) -> str:
    """Which valves have what a sentence says: "V1, V2 have", "V1, V2 each have"."""
    if len(group) == 1:
        return f"{listed(group[0].valves)} {_has(group[0].valves)}"
    every = {one.valves for one in group}
    if len(every) == 1:
        return f"{listed(group[0].valves)} {_has(group[0].valves)}"
    return ", ".join(" and ".join(map(short, one.valves)) for one in group) + " each have"


def _literally(name: str) -> str:
    """A name as it stands in a text with fields."""
    return short(name).replace("{", "{{").replace("}", "}}")


def _left_with(s: Study, outcome: Outcome, danger: Danger) -> str:
    """What an outcome leaves the valves with, such as "-53.2 V, 2.10 mA, 6 % (too cold)"."""
    judged = "no worse than before" if danger is Danger.HARMLESS else danger.value
    return f"{state(s, outcome, victim(s, outcome, _moved(s, outcome)), s.now)} ({judged})"


def _guarded(s: Study, guard: Guard) -> _Told:
    lifted = "{valves} " + _left_with(s, guard.lifted, guard.danger)
    hang = tuple(_moved(s, guard.lifted))
    if guard.part is None or guard.r is None or guard.without is None:
        why = ("No valve is lost to it" if guard.danger is Danger.HOT
               else "The wiring alone holds the grids")  # fmt: skip
        text = f"If the wiper of {{pot}} lifts, {lifted}. {why}."
        return _Told(text, guard.pot, "", "", hang)
    without = _left_with(s, guard.without, guard.danger_without)
    text = (f"{{part}} ({show_part(guard.r)}) {{is_}} there for a lifted wiper of {{pot}}: then "
            f"{lifted}. Without it: {without}.")  # fmt: skip
    return _Told(text, guard.pot, guard.part, "", hang)


def _proposed(s: Study, p: Proposal) -> _Told:
    lifted = f"When the wiper lifts, {{valves}} {_left_with(s, p.lifted, p.danger)}."
    without = f"Without it: {_left_with(s, p.before, p.danger_before)}."
    if p.r is None:
        text = (f"Strap the free end ({p.end_word}) of {{each}}{{pot}} to its wiper ({{at}}). That "
                f"changes nothing while all is well. {lifted} {without}")  # fmt: skip
    else:
        text = (f"Fit {show_part(p.r)} to {{each}}{{pot}}, from its wiper ({{at}}) to its "
                f"{p.end_word} ({_literally(p.end)}). While all is well the grids move by "
                f"{show(p.moves, V, 2)} at most, {_share(p.moves_share)} of the travel. {lifted} "
                f"{without} It holds the grids against {show_part(I_GRID, AMPERE)} of grid current "
                f"from each valve.")  # fmt: skip
    return _Told(text, p.pot, "", p.start, tuple(_moved(s, p.before)))


def _share(share: float) -> str:
    """A small share as a percentage."""
    return f"{share * 100:.2g} %"


# ------------------------------------------------------------------------------ the rest


def _unknown(s: Study) -> list[str]:
    found = [one for one in s.failures if one.danger is Danger.UNKNOWN]
    lines: list[str] = []
    for undrawn, why in _UNDRAWN.items():
        those = [one for one in found if one.undrawn is undrawn]
        if those:
            lines += wrapped(f"Not known: {all_named(s, those)}. {why}", "  ", "")
    for one in found:
        if one.undrawn is None:
            lines += wrapped(f"Not known: {words(s, one)}. {one.outcome.trouble}.", "  ", "")
    return lines


_UNDRAWN = {
    Undrawn.FAR_END: (
        "What stands at the far end is not drawn; if it is the plate of the stage before, the "
        "grid goes positive, and the valve is lost."
    ),
    Undrawn.FEEDS_MORE: (
        "The winding goes on outside the section; if to the high tension, that is lost with the "
        "bias, and no valve comes to harm."
    ),
}


def _harmless(s: Study) -> list[str]:
    found = [one for one in s.failures if one.danger is Danger.HARMLESS]
    lines: list[str] = []
    quiet = [one for one in found if not _hums(s, one)]
    if quiet:
        what = "No worse for the valves than as drawn" if _is_over(s) else "Harmless to the valves"
        lines += wrapped(f"{what}: {all_named(s, quiet)}.", "  ", "")
    loud = [one for one in found if _hums(s, one)]
    if loud:
        told = "; ".join(f"{words(s, one)} ({show(_ripple(one.outcome), Dimension.VOLT_PP, 2)})"
                         for one in loud)  # fmt: skip
        what = "No worse for them" if _is_over(s) else "Harmless to them"
        lines += wrapped(f"{what}, but it hums (ripple on the grid): {told}.", "  ", "")
    return lines


def _ripple(outcome: Outcome) -> float:
    return float(outcome.ripple.max(initial=0.0))


def _hums(s: Study, one: Judged) -> bool:
    return _ripple(one.outcome) > max(HUM, 2.0 * _ripple(s.sound))


def _burns(s: Study) -> list[str]:
    """Parts that failures overload, by part."""
    found: dict[str, list[str]] = {}
    for one in s.failures:
        for over in s.besides(one):
            found.setdefault(f"{short(over.part)} ({_rated(over)})", []).append(
                f"{show(over.bears, over.strain.dimension, 2)} with "
                f"{short(one.failure.part)} {one.failure.mode.value}"
            )
    if not found:
        return []
    marked = any(is_marked(s, one) for one in s.failures)
    lines = wrapped("Overloaded besides" + (
        f" (a part that burns or breaks down fails in turn: marked {BURNS} above):" if marked
        else ":"))  # fmt: skip
    for name, said in found.items():
        lines += wrapped(f"{name}: {'; '.join(said)}", "    ", "  ")
    return lines


def _rated(over: Overload) -> str:
    match over.strain:
        case Strain.COPPER:
            return "copper"
        case Strain.REVERSED:
            return "the wrong way round"
        case _:
            return f"rated {show_part(over.rated, over.strain.dimension)}"


def _remarks(s: Study) -> list[str]:
    said = []
    if s.travel.size > 1 and s.failures:
        stand = f"{listed(s.swept)} {'is' if len(s.swept) == 1 else 'are'} taken to stand"
        said.append(f"{percent(float(s.travel[s.now]))} is where {stand}; worst: there or at "
                    "either end of the travel.")  # fmt: skip
    if s.fixed and s.failures:
        at = ", ".join(f"{short(pot)} at {percent(to)}" for pot, to in s.fixed.items())
        said.append(f"Not turned: {at}.")
    if s.limits and s.failures:
        said.append("% is plate dissipation, of the limit. Currents are those of a typical valve; "
                    "near 0 V they only show that no valve lasts.")  # fmt: skip
    untold = [name for name in valves(s) if s.section.grids and name not in s.limits]
    said += [f"{short(name)}: no idle current; its volts or its curve are not known."
             for name in untold]  # fmt: skip
    moving = [words(s, one) for one in s.failures if not one.outcome.settled
              and not one.outcome.trouble]  # fmt: skip
    if moving:
        said.append(f"Still moving a little when the search ended: {', '.join(moving)}.")
    return [line for text in said for line in wrapped(text, "  ", "")]
