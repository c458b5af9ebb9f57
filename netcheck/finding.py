"""What the program has to say about a text: a value, never an exception."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import Enum

from .source import NOWHERE, Source, Span


class Severity(Enum):
    """How much a finding matters."""

    ERROR = "error"
    """The text cannot be read, or the circuit cannot do its work or does harm."""
    WARNING = "warning"
    """It works, but a careful technician would look twice."""
    NOTE = "note"
    """Worth knowing; an assumption the program had to make, for instance."""

    @property
    def rank(self) -> int:
        """0 for the gravest; for sorting. [count]"""
        return list(Severity).index(self)


@dataclass(frozen=True, slots=True)
class Related:
    """Another place that helps to understand a finding."""

    span: Span
    text: str


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found in a text.

    Parameters
    ----------
    slug : str
        Stable short name of the kind of finding, such as "floating-node".
    severity : Severity
        How much it matters.
    source : Source
        The text it was found in.
    span : Span
        The spot in it.
    what : str
        What was found, one sentence without a full stop at the end.
    why : str
        Why it matters, or what was expected instead; may be empty.
    fix : str
        The likely remedy; may be empty.
    related : tuple of Related
        Other places that help to understand.
    also : tuple of Span
        Other spots of which the same was found; `what` names them.
    """

    slug: str
    severity: Severity
    source: Source
    span: Span
    what: str
    why: str = ""
    fix: str = ""
    related: tuple[Related, ...] = field(default=())
    also: tuple[Span, ...] = ()

    @property
    def place(self) -> str:
        """`file:line:column`, or the file alone for a finding about all of it."""
        if self.span == NOWHERE:
            return self.source.name
        return f"{self.source.name}:{self.span.line}:{self.span.column}"


def in_reading_order(findings: Iterable[Finding]) -> list[Finding]:
    """Findings as they stand in the text, from top to bottom; one of a kind per spot."""
    unique = dict.fromkeys(findings)
    return sorted(unique, key=lambda f: (f.source.name, f.span, f.severity.rank, f.slug))


def worst(findings: Iterable[Finding]) -> Severity | None:
    """The gravest severity among the findings, None when there are none."""
    return min((f.severity for f in findings), key=lambda s: s.rank, default=None)
