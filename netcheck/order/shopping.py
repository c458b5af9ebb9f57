"""The list: what is needed, one line for parts that are alike."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from ..diagnose.diagnosis import Diagnosis
from ..engine.service import Service
from ..finding import Severity
from ..graph import Section
from ..netlist import Capacitor
from ..predictor import Predictor
from ..quantity import Dimension, show, show_part
from ..readings import Reading
from ..remedy.study import Remedies
from ..rules import check
from ..valves.practice import WINDOW
from . import shelf
from .bearing import Bearing, bearing
from .found import alone_needs, diagnosed_needs, diagnosed_remarks
from .needs import Need, Reason, drawing_needs
from .purchase import Purchase, replacement
from .remedied import remedied_needs, remedied_remarks
from .selenium import selenium_needs
from .valves import asked_needs, measured_needs

_RATINGS = frozenset({"capacitor-volts", "dissipation", "working-volts", "reverse-volts"})
"""What the list itself puts right."""


@dataclass(frozen=True, slots=True)
class Why:
    """A reason, and the parts it holds for."""

    parts: tuple[str, ...]
    reason: Reason


@dataclass(frozen=True, slots=True)
class Line:
    """Parts of one kind.

    Parameters
    ----------
    purchase : Purchase
        What is bought.
    count : int
        How many. [count]
    parts : tuple of str
        In place of what.
    reasons : tuple of Why
        Each once.
    condition : str
        What has to be found first; empty if they are needed in any case.
    """

    purchase: Purchase
    count: int
    parts: tuple[str, ...]
    reasons: tuple[Why, ...]
    condition: str = ""


@dataclass(frozen=True, slots=True)
class Order:
    """The list to order.

    Parameters
    ----------
    section : Section
        For what.
    lines : tuple of Line
        What is needed in any case first.
    remarks : tuple of str
        What is no part, but belongs to the list.
    """

    section: Section
    lines: tuple[Line, ...]
    remarks: tuple[str, ...]


@dataclass(frozen=True)
class Evidence:
    """What is known beside the drawing.

    Parameters
    ----------
    readings : sequence of Reading
        Of one stage; empty without.
    diagnosis : Diagnosis or None
        What they say.
    remedies : Remedies or None
        What could be done; None if that was not looked for.
    no_remedy : str
        Why it was not, where it was asked for.
    """

    readings: Sequence[Reading] = ()
    diagnosis: Diagnosis | None = None
    remedies: Remedies | None = None
    no_remedy: str = ""


def order(section: Section, service: Service, evidence: Evidence, year: int, *,
          with_valves: bool = False, window: tuple[float, float] = WINDOW) -> Order:  # fmt: skip
    """Make the list.

    Parameters
    ----------
    section : Section
        As drawn.
    service : Service
        The running simulator.
    evidence : Evidence
        What is known beside it.
    year : int
        In which the list is made. [year]
    with_valves : bool
        Whether output valves are asked for.
    window : (float, float)
        Plate dissipation wanted of them, as shares of the limit. [1]

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    borne = bearing(Predictor(section, service)) if section.sources else Bearing()
    circuit, found = section.circuit, evidence.diagnosis
    needs: list[Need] = []
    if found is not None:
        needs += diagnosed_needs(circuit, found, borne)
    needs += alone_needs(circuit, evidence.readings, borne)
    if evidence.remedies is not None:
        needs += remedied_needs(evidence.remedies)
    needs += drawing_needs(section, borne, year)
    if section.sources:
        needs += selenium_needs(section, borne, service)
    if evidence.remedies is not None:
        needs += measured_needs(circuit, evidence.remedies.samples)
    if with_valves:
        needs += asked_needs(circuit, window)
    listed = lines(needs)
    return Order(section, tuple(listed), tuple(_remarks(section, borne, evidence, listed)))


def lines(needs: Iterable[Need]) -> list[Line]:
    """Needs gathered: one entry for each part, and parts that are alike in one line."""
    by_part: dict[str, list[Need]] = {}
    for need in needs:
        by_part.setdefault(need.part, []).append(need)
    alike: dict[tuple[str, Purchase], list[list[Need]]] = {}
    for own in by_part.values():
        # What is needed in any case is not also needed under a condition.
        condition = "" if any(not need.condition for need in own) else own[0].condition
        bought = next((need.purchase for need in own if need.is_own_value), own[0].purchase)
        alike.setdefault((condition, bought), []).append(own)
    return [_line(condition, bought, group)
            for (condition, bought), group in sorted(alike.items(), key=lambda one: bool(one[0][0]))
            ]  # fmt: skip


def _line(condition: str, bought: Purchase, group: Sequence[Sequence[Need]]) -> Line:
    reasons: dict[Reason, list[str]] = {}
    for own in group:
        for need in own:
            reasons.setdefault(need.reason, []).append(need.part)
    count = sum(max(need.count for need in own) for own in group)
    parts = tuple(own[0].part for own in group)
    why = tuple(Why(tuple(dict.fromkeys(names)), reason) for reason, names in reasons.items())
    return Line(bought, count, parts, why, condition)


def _remarks(section: Section, borne: Bearing, evidence: Evidence, listed: Sequence[Line]
             ) -> Iterator[str]:  # fmt: skip
    circuit = section.circuit
    if evidence.diagnosis is not None:
        yield from diagnosed_remarks(circuit, evidence.diagnosis, borne)
    if evidence.remedies is not None:
        yield from remedied_remarks(evidence.remedies)
    if evidence.no_remedy:
        yield f"No remedy was looked for: {evidence.no_remedy}."
    yield from _unrated(section, borne)
    if borne.is_dropped and any(line.purchase.kind == "electrolytic" for line in listed):
        most = show(max(borne.unloaded.values()), Dimension.VOLT)
        yield (f"Without its load this supply rises to {most}: no electrolytic is rated for that "
               "here; look after the joints of the pot and the foot.")  # fmt: skip
    grave = [f for f in check(section, borne.loaded)
             if f.severity is Severity.ERROR and f.slug not in _RATINGS]  # fmt: skip
    if grave:
        yield (f"The drawing has {len(grave)} error{'s' if len(grave) > 1 else ''} that no part "
               "cures: see netcheck check first.")  # fmt: skip


def _unrated(section: Section, borne: Bearing) -> Iterator[str]:
    for part in section.circuit.of(Capacitor):
        bought = replacement(part, borne)
        if part.polarised and part.v_rated is None and bought is not None and bought.v_rated:
            yield (f"{part.name}: its rating is not stated; it should be "
                   f"{show_part(bought.v_rated, Dimension.VOLT)} or more "
                   f"({shelf.RESERVE:g} times the largest volts).")  # fmt: skip
