"""What is written into a schematic: voltages, readings, and marks where something is wrong."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from ..crosscheck.shown import as_read
from ..diagnose.account import Account
from ..diagnose.diagnosis import Verdict
from ..diagnose.suspects import Suspect
from ..diagnose.words import listed, mode_words, position_words, suspect_name
from ..engine.elements import GROUND
from ..finding import Finding, Severity
from ..graph import Section
from ..predictor import Operating, Predictor
from ..quantity import Dimension, show
from ..readings import OVERLOAD, Kind, Reading, Stage
from ..schematic import Entry, Mark, Notes
from ..sweeping import swept_pots
from .verdict import percent, verdict

V, VAC = Dimension.VOLT, Dimension.VOLT_AC

_POSITIONS = (0.0, 0.25, 0.5, 0.75, 1.0)
_STILL = 0.01  # a voltage that the pots move by no more than this share is one figure [1]
_NOTHING = 5e-3  # less than this is no voltage [V]
_SEEN = 0.1  # of a mean and what alternates, either below this share of the other is left out [1]
_RIPPLE = 0.1  # and so is what alternates by less than this [V]
_MOST = 16  # entries of the legend that are about parts [count]
_SUSPECTS = 5  # suspects that are shown [count]
_WORTH_A_MARK = 0.1  # where nothing may be wrong at all, others are not pointed at [1]


# ---------------------------------------------------------------------------- voltages


@dataclass(frozen=True)
class Volts:
    """What each node should have.

    Parameters
    ----------
    texts : mapping of node to str
        In words, as they stand in the drawing.
    moved : frozenset of str
        The nodes that the pots move.
    remark : str
        What the figures are, for the legend.
    """

    texts: Mapping[str, str] = field(default_factory=dict)
    moved: frozenset[str] = frozenset()
    remark: str = ""


def predicted(predictor: Predictor, at: float | None = None,
              fixed: Mapping[str, float] | None = None) -> Volts:  # fmt: skip
    """Predict all nodes of a section over the travel of its pots, or at one position.

    Parameters
    ----------
    predictor : Predictor
        Of the section.
    at : float, optional
        Where the pots that set the bias stand, 0 to 1 clockwise; over all of the travel if not
        given. [1]
    fixed : mapping of pot name to float, optional
        Where other pots stand; at the middle if not given. [1]

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    fixed = dict(fixed or {})
    swept = tuple(pot for pot in swept_pots(predictor) if pot not in fixed)
    positions = (at,) if at is not None else _POSITIONS if swept else (0.5,)
    states = [predictor.values(fixed | dict.fromkeys(swept, where)) for where in positions]
    found = predictor.wholes([(values, ()) for values in states])
    texts, moved = {}, set()
    middle = found[len(found) // 2]
    for node in predictor.section.circuit.nodes:
        if node == GROUND:
            continue
        means = [one.mean[node] for one in found]
        alternating = _alternating(predictor.section, middle, node)
        if alternating:
            texts[node] = alternating
        elif max(means) - min(means) > max(_STILL * max(map(abs, means)), _NOTHING):
            moved.add(node)
            texts[node] = f"{_figure(min(means))} to {_volts(max(means))}"
        else:
            texts[node] = _volts(middle.mean[node])
    said = _remark(predictor, swept, at, fixed)
    if any("Vac" in text for text in texts.values()):
        said += " Vac: what alternates in front of the rectifier, r.m.s."
    return Volts(texts, frozenset(moved), said)


def _volts(v: float) -> str:
    """A mean voltage as predictions have it."""
    return show(v, V, 4 if abs(v) >= 100 else 3) if abs(v) > _NOTHING else "0 V"


def _figure(v: float) -> str:
    """The same, to stand before another one of that unit."""
    text = _volts(v)
    return text.removesuffix(" V") if text.endswith(" V") else text


def _alternating(section: Section, state: Operating, node: str) -> str:
    """What alternates at a node where that matters, and the mean if it is worth telling.

    Ripple does not matter beside the mean; in front of a rectifier the mean says little.
    """
    waves = state.state.waves
    wave = waves.v.get(section.joined[node])
    if wave is None:
        return ""
    mean = state.mean[node]
    rms = waves.rms(wave - waves.mean(wave))
    if rms < max(_SEEN * abs(mean), _RIPPLE):
        return ""
    text = show(rms, VAC)
    return f"{text}\n{_volts(mean)}" if abs(mean) > _SEEN * rms else text


def _remark(predictor: Predictor, swept: Sequence[str], at: float | None,
            fixed: Mapping[str, float]) -> str:  # fmt: skip
    mains = predictor.section.circuit.mains
    said = "Predicted: mean volts against ground"
    if mains is not None:
        share = float(predictor.values().get("mains", 1.0))
        said += f", at a mains of {show(share * mains.v_nominal, V)}"
    if swept and at is None:
        said += f"; a range from one end of the travel of {listed(swept)} to the other"
    elif swept:
        said += f"; {listed(swept)} at {100 * (at or 0.0):.0f} %"
    stands = [f"{pot} at {100 * where:.0f} %" for pot, where in fixed.items()]
    rest = [pot.name for pot in predictor.pots() if pot.name not in (*swept, *fixed)]
    stands += [f"{pot} at the middle" for pot in rest]
    said += "".join(f"; {where}" for where in stands)
    return said.rstrip(".") + "."


# ---------------------------------------------------------------------------- readings


def written(section: Section, readings: Iterable[Reading], moved: frozenset[str]
            ) -> tuple[dict[str, list[str]], dict[str, list[str]], list[str]]:  # fmt: skip
    """Readings by where they stand in the drawing.

    Parameters
    ----------
    section : Section
        The section.
    readings : iterable of Reading
        Of one stage.
    moved : frozenset of str
        The nodes that the pots move.

    Returns
    -------
    tuple
        Lines by node, lines by part, and remarks on the whole.
    """
    at_nodes: dict[str, list[Reading]] = {}
    nodes: dict[str, list[str]] = {}
    parts: dict[str, list[str]] = {}
    remarks = []
    for reading in readings:
        kind = reading.kind
        node = reading.plus if reading.minus in (GROUND, "") else ""
        if kind is Kind.MAINS:
            remarks.append(f"Mains as read: {as_read(reading)}.")
        elif reading.part and kind is not Kind.OHMS and not (kind is Kind.DC and node):
            parts.setdefault(reading.part, []).append(_at_part(section, reading))
        elif kind is Kind.DC and node:
            at_nodes.setdefault(node, []).append(reading)
        elif kind is Kind.OHMS:
            _put_ohms(section, reading, nodes, parts)
        elif kind in (Kind.AC, Kind.RIPPLE) and node:
            ripple = " ripple" if kind is Kind.RIPPLE else ""
            nodes.setdefault(node, []).append(f"read {as_read(reading)}{ripple}")
    direct = {n: _direct(section, taken, n in moved) for n, taken in at_nodes.items()}
    merged = {n: [*direct.get(n, ()), *nodes.get(n, ())] for n in {**direct, **nodes}}
    return merged, parts, remarks


def _direct(section: Section, taken: Sequence[Reading], is_moved: bool) -> list[str]:
    """Mean voltages of a node, with the position of the pots where that matters."""
    values = [reading.nominal for reading in taken]
    spread = max(values) - min(values)
    if not is_moved and spread <= _STILL * max(map(abs, values)):
        low, high = (min(taken, key=lambda r: r.nominal), max(taken, key=lambda r: r.nominal))
        if low.nominal == high.nominal:
            return [f"read {as_read(low)}"]
        return [f"read {as_read(low).removesuffix(' V')} to {as_read(high)}"]
    return [_at_position(section, reading) for reading in taken]


def _at_position(section: Section, reading: Reading) -> str:
    """A reading with the position of the pots, that of several pots in a line of its own."""
    where = _position(section, reading)
    apart = "\n" if "," in where else " "
    return f"read {as_read(reading)}{apart}{where}".rstrip()


def _position(section: Section, reading: Reading) -> str:
    """Where the pots stood, short: "cw" where there is one pot only."""
    words = position_words(reading.state, short=True)
    pots = list(reading.state.pots)
    every = [part for part in section.circuit.parts if part.kind == "pot"]
    return words.removeprefix(f"{pots[0]} ") if len(pots) == 1 == len(every) else words


_OF = {Kind.CURRENT: "cathode", Kind.CATHODE: "cathode", Kind.PLATE: "plate",
       Kind.SCREEN: "screen", Kind.LIFTED: "lifted", Kind.CAPACITANCE: "lifted",
       Kind.ESR: "ESR", Kind.FORWARD: "forward", Kind.REVERSE: "reverse",
       Kind.DC: "across it"}  # fmt: skip


def _at_part(section: Section, reading: Reading) -> str:
    words = [f"read {as_read(reading)}", _OF.get(reading.kind, "")]
    if reading.kind in (Kind.CURRENT, Kind.CATHODE, Kind.DC):
        words.append(_position(section, reading))
    return " ".join(word for word in words if word)


def _put_ohms(section: Section, reading: Reading, nodes: dict[str, list[str]],
              parts: dict[str, list[str]]) -> None:  # fmt: skip
    """A resistance read in circuit: at its part, or at the node it was read from."""
    value = "OL" if reading.nominal == OVERLOAD else as_read(reading)
    if section.circuit.part(reading.part) is not None:
        parts.setdefault(reading.part, []).append(f"read {value} in place")
    elif reading.plus:
        against = "ground" if reading.minus == GROUND else reading.minus
        nodes.setdefault(reading.plus, []).append(f"read {value} to {against}")


# ------------------------------------------------------------------------------- marks


def marked(section: Section, findings: Iterable[Finding], account: Account | None = None
           ) -> tuple[dict[str, Mark], list[Entry]]:  # fmt: skip
    """Where something is wrong: the parts, and what the legend says of it.

    Parameters
    ----------
    section : Section
        The section.
    findings : iterable of Finding
        Of a check; notes are left out.
    account : Account or None
        A diagnosis, where there are readings.
    """
    numbers: dict[str, list[int]] = {}
    chances: dict[str, str] = {}
    entries: list[Entry] = []
    head = [] if account is None else list(_verdict(account))
    for suspect in () if account is None else _suspects(account):
        entries.append(Entry(_sentence(account, suspect), len(entries) + 1))
        for name in suspect.parts:
            if section.circuit.part(name) is not None:
                numbers.setdefault(name, []).append(len(entries))
                chances.setdefault(name, percent(suspect.probability))
    for finding in findings:
        if finding.severity is Severity.NOTE:
            continue
        parts = _parts_of(section, finding)
        text = f"{_upper(finding.severity.value)}: {finding.what}."
        entries.append(Entry(text, len(entries) + 1 if parts else None))
        for name in parts:
            numbers.setdefault(name, []).append(len(entries))
    return _numbered(numbers, chances, entries, head)


def _numbered(
    numbers: Mapping[str, Sequence[int]],
    chances: Mapping[str, str],
    entries: Sequence[Entry],
    head: Sequence[Entry],
) -> tuple[dict[str, Mark], list[Entry]]:
    """The entries with numbers that follow each other, of very many the first ones."""
    shown = list(entries[:_MOST])
    new: dict[int, int] = {}
    for entry in shown:
        if entry.number is not None:
            new[entry.number] = len(new) + 1
    marks = {}
    for name, old in numbers.items():
        known = tuple(new[number] for number in old if number in new)
        if known:
            marks[name] = Mark(known, chances.get(name, ""))
    told = [Entry(e.text, new.get(e.number) if e.number is not None else None) for e in shown]
    if len(entries) > _MOST:
        told.append(Entry(f'and {len(entries) - _MOST} more: "netcheck check" lists them.'))
    return marks, [*head, *told]


def _parts_of(section: Section, finding: Finding) -> list[str]:
    """The part in whose line a finding stands, and those of which it holds too."""
    if finding.source != section.circuit.source or not finding.span.line:
        return []
    lines = {span.line for span in (finding.span, *finding.also)}
    return [part.name for part in section.circuit.parts if part.span.line in lines]


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def _verdict(account: Account) -> Iterable[Entry]:
    """What is said before the suspects: all of it where none is pointed at."""
    told = account.diagnosis.verdict
    if told is Verdict.NAMED and account.diagnosis.group[0].mode.hypothesis.reading is None:
        return []
    return [Entry(f"Readings {account.stage}: {verdict(account)}")]


def _suspects(account: Account) -> list[Suspect]:
    if account.diagnosis.verdict in (Verdict.SOUND, Verdict.NONE_FITS):
        return []
    group = [suspect for suspect in account.diagnosis.group if suspect.parts]
    if account.diagnosis.verdict is Verdict.UNDETERMINED:
        group = [suspect for suspect in group if suspect.probability >= _WORTH_A_MARK]
    return group[:_SUSPECTS]


def _sentence(account: Account | None, suspect: Suspect) -> str:
    """A suspect in one sentence: "R3 acts as 20.2k where 27k is drawn (over 99 % sure)."."""
    assert account is not None
    sure = f"({percent(suspect.probability)} sure)"
    if suspect.mode.hypothesis.reading is not None:
        name = suspect_name(suspect, account.readings)
        told = mode_words(account.section, suspect.mode, account.readings)
        return f"{_upper(name)} may be misread: {told} {sure}."
    told = mode_words(account.section, suspect.mode, account.readings)
    start, _, was = told.partition("; ")
    told = f"{start} where {was.replace(' drawn', ' is drawn', 1)}" if was else told
    return f"{_upper(told) if told.startswith('the ') else told} {sure}."


# -------------------------------------------------------------------------- altogether


def noted(
    volts: Volts,
    taken: tuple[Mapping[str, Sequence[str]], Mapping[str, Sequence[str]], Sequence[str]],
    marks: tuple[Mapping[str, Mark], Sequence[Entry]],
    remarks: Sequence[str] = (),
    stage: Stage | None = None,
) -> Notes:
    """All that is written into a drawing.

    Parameters
    ----------
    volts : Volts
        From `predicted`.
    taken : tuple
        From `written`.
    marks : tuple
        From `marked`.
    remarks : sequence of str
        What else stands below the drawing.
    stage : str, optional
        The stage of the readings.
    """
    nodes, parts, said = taken
    legend = list(marks[1])
    if volts.remark:
        legend.append(Entry(volts.remark, is_remark=True))
    if nodes or parts:
        where = f" {stage}" if stage else ""
        ways = "cw: fully clockwise, acw: fully anticlockwise"
        told = " ".join([f"Slanted: readings{where}; {ways}.", *said])
        legend.append(Entry(told, is_remark=True))
    legend += [Entry(text, is_remark=True) for text in remarks]
    return Notes(volts.texts, nodes, parts, marks[0], legend)
