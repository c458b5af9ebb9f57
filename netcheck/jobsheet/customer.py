"""The customer's page: the job in plain words, one page, no table of volts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from ..compare import Outcome, Repair
from ..compare import Verdict as Agreement
from ..diagnose.account import Account
from ..diagnose.diagnosis import Verdict
from ..diagnose.words import company_words, listed
from ..idle import Stage, target
from ..idle import Verdict as IdleVerdict
from ..netlist import Diode, Part, Valve, Zener
from ..order import Line, Order
from ..quantity import show, show_part
from ..remedy.option import Option
from ..remedy.study import Remedies
from ..remedy.ways import Kind, Way
from ..travel import Prediction
from ..valves import lookup
from ..valves.practice import WINDOW
from .changed import Changed
from .gather import Job, StageFound
from .idles import IdleFound, IdleRead, matched
from .plain import PLAIN, SET, fault_words, kind_of, named, parts_words, suspected
from .tables import AMPERE, capital

_WORDS = {
    IdleVerdict.COLD: "too low",
    IdleVerdict.USUAL: "acceptable",
    IdleVerdict.FINE: "right",
    IdleVerdict.HOT: "too high",
    IdleVerdict.BEYOND: "far too high",
}


@dataclass(frozen=True)
class Idling:
    """The idle current of one valve, for the customer.

    Parameters
    ----------
    valve : str
        Its name.
    before, after : str
        As it came in, and as it leaves.
    wanted : str
        What is right.
    """

    valve: str
    before: str
    after: str
    wanted: str


# ------------------------------------------------------------------------ what was found


def found_words(job: Job) -> list[str]:
    """What was found, sentences."""
    if job.changed:
        return [*(_was_found(one) for one in job.changed), *_consequence(job)]
    if isinstance(job.account, Account):
        return [_diagnosed(job.account), *_consequence(job)]
    if job.account is not None:
        return ["What was measured has not been worked out yet."]
    return ["Nothing has been measured yet: this sheet is made from the drawing."]


def _consequence(job: Job) -> Iterator[str]:
    """What a fault did to the output valves."""
    verdicts = {_verdict(job, one) for one in job.came_in.values()}
    if verdicts & {IdleVerdict.HOT, IdleVerdict.BEYOND}:
        yield "That makes the output valves work too hard, which wears them out."
    elif verdicts == {IdleVerdict.COLD}:
        yield "That keeps the output valves from working as hard as they should."


def _was_found(one: Changed) -> str:
    part = one.before or one.after
    name = named(part, one.name)
    if one.before is None:
        return f"{capital(SET)} needed another {kind_of(part)}."
    if one.was_open:
        return f"{capital(name)} was broken."
    return f"{capital(name)} was not of the value that is needed."


def _diagnosed(account: Account) -> str:
    found = account.diagnosis
    if found.verdict is Verdict.SOUND:
        return f"Nothing is wrong in {SET}."
    if found.verdict is Verdict.NONE_FITS:
        return (f"Something is wrong in {SET}, but what was measured does not tell yet "
                "what.")  # fmt: skip
    circuit = account.section.circuit
    if found.verdict is Verdict.NAMED:
        return fault_words(circuit, found.group[0])
    names = [suspected(circuit, s) for s in found.group if s.parts]
    which = _few(list(dict.fromkeys(names)))
    if found.verdict is Verdict.GROUP:
        if found.common:
            name = partial(parts_words, circuit)
            which = f"{name(found.common)}, {company_words(found, name, _few)}"
        return (f"Something is wrong in {SET}: {which}. One more measurement will tell "
                "which.")  # fmt: skip
    return (f"Nothing is certainly wrong in {SET}. To rule out {which} takes another "
            "measurement.")  # fmt: skip


def _few(names: Sequence[str]) -> str:
    return listed(list(names[:3]) + (["something else"] if len(names) > 3 else []), "or")


# ------------------------------------------------------------------------- what is done


def done_words(job: Job) -> list[str]:
    """What was done, or what is proposed, sentences."""
    if job.changed:
        return [f"{capital(_change(one))}." for one in job.changed]
    ways = job.remedies
    if not isinstance(ways, Remedies):
        return ["What is to be done has not been settled yet."]
    if not job.is_done:
        return _proposed(ways)
    if not ways.start.faults:
        return ["The current of the output valves was set."]
    names = _put_right(job)
    if not names:
        return ["What was done has not been written down."]
    return [f"{capital(_restored(ways, name))}." for name in names]


def _put_right(job: Job) -> tuple[str, ...]:
    """The parts that were at fault for certain, and are as drawn by the readings as left."""
    ways, repair = job.remedies, job.repair
    if not isinstance(ways, Remedies) or not isinstance(repair, Repair):
        return ()
    is_right = repair.as_left.verdict is Agreement.CONSISTENT
    return ways.start.faults if is_right and ways.start.is_certain else ()


def _proposed(ways: Remedies) -> list[str]:
    if not ways.is_needed and not ways.is_better:
        return ["Nothing has to be changed: the current of the output valves is to be set."]
    if not ways.options:
        return ["No single change puts this right. What is to be done has to be talked over."]
    told = _way(ways, ways.options[0])
    if not ways.is_needed:
        return [f"It works as it is. To make it safer to set, {told}."]
    return [f"{capital(told)}.", "Then the current of the output valves is to be set."]


def _change(one: Changed) -> str:
    if one.before is None:
        return f"{_article(one.after)} was added"
    if one.after is None:
        return f"{named(one.before, one.name)} was taken out"
    return f"{named(one.after, one.name)} was replaced or put right"


def _article(part: Part | None) -> str:
    kind = kind_of(part)
    return f"{'an' if kind[0] in 'aeiou' else 'a'} {kind}"


def _restored(ways: Remedies, name: str) -> str:
    return f"{named(ways.start.drawn.part(name), name)} was replaced or put right"


def _way(ways: Remedies, option: Option) -> str:
    told = [_one_way(ways, way) for way in (option.before, option.way) if way is not None]
    return ", and ".join(told)


def _one_way(ways: Remedies, way: Way) -> str:
    names = listed([named(ways.start.drawn.part(name), name) for name in way.parts])
    are, they = ("are", "they") if len(way.parts) > 1 else ("is", "it")
    if way.kind is Kind.RESTORE:
        if all(isinstance(ways.start.drawn.part(name), Diode | Zener) for name in way.parts):
            return f"{names} {are} to be replaced"
        return f"{names} {are} to be put back to what {they} should be, or replaced"
    if way.kind in {Kind.RESISTOR, Kind.POT}:
        return f"{names} {are} to be replaced by another value"
    return f"a resistor is to be added to {names}"


# ------------------------------------------------------------------------ idle currents


def idling(job: Job) -> list[Idling]:
    """The idle current of each valve before and after, in plain words."""
    found = []
    for valve in job.section.circuit.of(Valve):
        wanted = _wanted(job, valve)
        if wanted:
            before, after = _before(job, valve), _after(job, valve)
            found.append(Idling(valve.name, before, after, wanted))
    return found


def _wanted(job: Job, valve: Valve) -> str:
    """The window as currents."""
    kind = lookup(valve.type, job.section.circuit.own_types)
    if kind is None or valve.v_plate is None:
        return ""
    stage = Stage(kind, valve.v_plate, valve.v_screen, r_cathode=valve.r_cathode)
    try:
        low, high = (target(stage, share).i_cathode.nominal
                     for share in job.request.window or WINDOW)  # fmt: skip
    except ValueError:  # its cathode resistor leaves too few volts
        return ""
    return f"{low * 1e3:.0f} to {high * 1e3:.0f} mA"


def idling_note(job: Job) -> str:
    """What is said below those; empty where all was read."""
    if any("(calculated)" in one.before for one in idling(job)):
        return ("Calculated from what was found, for the adjusting control in the middle: this "
                "current was not measured.")  # fmt: skip
    return ""


def _before(job: Job, valve: Valve) -> str:
    """As it came in: read where it idles, or else calculated from what was found."""
    read = _last(job, "as found", valve)
    if read is not None and not _is_at_stop(read):
        return _told(read)
    computed = _computed(job, valve)
    return computed or (_told(read) if read is not None else "not measured")


def _after(job: Job, valve: Valve) -> str:
    read = _last(job, "as left", valve)
    return "not measured" if read is None else _told(read)


def _last(job: Job, stage: str, valve: Valve) -> IdleRead | None:
    """What was read last, rather not with the control at a stop: that is where one begins."""
    own = [read for found in job.stages if found.stage == stage for read in found.idle
           if read.valve.name == valve.name]  # fmt: skip
    return next((r for r in reversed(own) if not _is_at_stop(r)), own[-1] if own else None)


def _told(read: IdleRead) -> str:
    told = f"{show(read.judged.i_cathode, AMPERE)}, {_WORDS[read.judged.verdict]}"
    return f"{told} (control at its end)" if _is_at_stop(read) else told


def _is_at_stop(read: IdleRead) -> bool:
    return any(at.travel in (0.0, 1.0) for at in read.reading.state.pots.values())


def _computed(job: Job, valve: Valve) -> str:
    """What it must have been with the control in the middle; empty where nothing tells."""
    one = job.came_in.get(valve.name)
    if one is None:
        return ""
    return f"{show(one.i_cathode, AMPERE)}, {_WORDS[_verdict(job, one)]} (calculated)"


def _verdict(job: Job, one: IdleFound) -> IdleVerdict:
    low, high = job.request.window or WINDOW
    if one.of_limit > 1.0:
        return IdleVerdict.BEYOND
    if one.of_limit > high:
        return IdleVerdict.HOT
    return IdleVerdict.FINE if one.of_limit >= low else IdleVerdict.COLD


# --------------------------------------------------------------------------------- parts


def parts(job: Job) -> tuple[list[str], list[str]]:
    """What was or is to be fitted, and what may be needed or is worth replacing."""
    order = job.order
    lines: Sequence[Line] = order.lines if isinstance(order, Order) else ()
    certain = [line for line in lines if not line.condition]
    if not job.is_done:
        return [*map(_bought, certain)], [_bought(line) for line in lines if line.condition]
    if job.request.before is not None:
        fitted = [_fitted(one) for one in job.changed if one.after is not None]
        return fitted, [*map(_bought, certain)]
    right = set(_put_right(job))
    return ([_bought(line) for line in certain if right >= {*line.parts}],
            [_bought(line) for line in certain if not right >= {*line.parts}])  # fmt: skip


def _bought(line: Line) -> str:
    bought = line.purchase
    kind = PLAIN.get(bought.kind, bought.kind)
    value = bought.type if bought.kind == "valve" else ""
    if bought.value is not None and bought.dimension is not None:
        value = show_part(bought.value, bought.dimension)
    count = f"{line.count} {kind}{'s' if line.count > 1 else ''}"
    return f"{' '.join(filter(None, (count, value)))} ({', '.join(line.parts)})"


def _fitted(one: Changed) -> str:
    value = f" {one.now}" if one.now else ""
    return f"1 {kind_of(one.after)}{value} ({one.name})"


# ------------------------------------------------------------------------ to keep in mind


def mind(job: Job) -> Iterator[str]:
    """What the customer is to keep in mind, sentences."""
    p = job.prediction
    if isinstance(p, Prediction) and any(one.over is not None for one in p.valves.valves):
        yield ("The adjusting control inside the amplifier can be turned so far that it ruins "
               "the output valves. Leave it to somebody with the instruments for it.")  # fmt: skip
    if _apart(job.stages):
        yield ("The output valves do not match. They can be used, but a matched set works and "
               "sounds better.")  # fmt: skip
    if isinstance(job.repair, Repair) and job.repair.outcome is not Outcome.CLOSED:
        yield "The work is not finished yet."
    yield "Whenever output valves are replaced, their current has to be set anew."
    yield ("There are dangerous voltages inside, for some time also after the mains plug was "
           "pulled. Please do not open it.")  # fmt: skip


def _apart(stages: Sequence[StageFound]) -> bool:
    match = matched(stages[-1].idle) if stages else None
    return match is not None and not match.matched
