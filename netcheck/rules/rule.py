"""What a rule is, and what it is given to look at."""

from __future__ import annotations

import datetime
import functools
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from ..finding import Finding, Related, Severity
from ..graph import Section
from ..netlist import Diode, Part
from ..polarity import NOTHING, MeanNetwork
from ..roles import Cast, Role
from ..source import NOWHERE, Span
from ..stress import Stresses
from ..topology import Topology


@dataclass(frozen=True)
class Case:
    """A section as a rule sees it.

    Parameters
    ----------
    section : Section
        The section.
    stresses : Stresses or None
        What a simulation found; None if there was none.
    year : int
        The year in which the section is looked at. [year]
    """

    section: Section
    stresses: Stresses | None = None
    year: int = field(default_factory=lambda: datetime.date.today().year)

    @functools.cached_property
    def topology(self) -> Topology:
        """What is joined to what."""
        return Topology(self.section)

    @functools.cached_property
    def cast(self) -> Cast:
        """The parts in their roles."""
        return Cast(self.topology)

    @functools.cached_property
    def network(self) -> MeanNetwork:
        """The mean voltages as far as the wiring tells them, pots at the middle."""
        return MeanNetwork(self.topology)

    @functools.cached_property
    def turned(self) -> tuple[Diode, ...]:
        """The rectifiers that pull a grid positive."""
        found: dict[str, Diode] = {}
        for grid in self.section.grids:
            volts = self.network.volts(grid)
            shares = [] if volts is None else list(volts)
            for source, share in zip(self.network.sources, shares, strict=False):
                if isinstance(source, Diode) and share > NOTHING:
                    found[source.name] = source
        return tuple(found.values())

    def role(self, part: Part) -> Role:
        """The role of a part."""
        return self.cast.roles.get(part.name, Role.OTHER)


@dataclass(frozen=True, slots=True)
class Problem:
    """What a rule found; the rule's name and the source are added later.

    Parameters
    ----------
    span : Span
        The spot.
    what : str
        What was found, without a full stop.
    fix : str
        What to do.
    why : str
        Why it matters; the rule's own sentence if empty.
    severity : Severity or None
        The rule's own if None.
    related : tuple of Related
        Other places.
    also : tuple of Span
        See `Finding`.
    """

    span: Span
    what: str
    fix: str
    why: str = ""
    severity: Severity | None = None
    related: tuple[Related, ...] = ()
    also: tuple[Span, ...] = ()


@dataclass(frozen=True, slots=True)
class Rule:
    """A thing that is looked for in every section.

    Parameters
    ----------
    slug : str
        Its name.
    severity : Severity
        Of what it finds, unless a finding says otherwise.
    title : str
        What is wrong, in one sentence.
    why : str
        Why it matters.
    fix : str
        What to do, in general.
    look : callable
        Yields the problems of a case.
    needs_simulation : bool
        Whether it looks at stresses and is left out without them.
    """

    slug: str
    severity: Severity
    title: str
    why: str
    fix: str
    look: Callable[[Case], Iterator[Problem]]
    needs_simulation: bool = False

    def findings(self, case: Case) -> list[Finding]:
        """What the rule finds; a rule that breaks says so instead of ending the run."""
        source = case.section.circuit.source
        try:
            return [
                Finding(self.slug, p.severity or self.severity, source, p.span, p.what,
                        p.why or self.why, p.fix or self.fix, p.related, p.also)
                for p in self.look(case)
            ]  # fmt: skip
        except Exception as error:  # one broken rule must not hide what the others find
            return [
                Finding("rule-failed", Severity.WARNING, source, NOWHERE,
                        f"the rule {self.slug} broke down on this circuit ({error!r})",
                        "it found nothing, and may have missed something",
                        "this is a fault of the program: please report the circuit")
            ]  # fmt: skip
