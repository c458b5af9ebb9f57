"""What is looked for in a bias section; one module a subject, an explicit tuple of rules."""

from __future__ import annotations

from ..finding import Finding
from ..graph import Section
from ..stress import Stresses
from . import grid_circuit, pots, ratings, shorts, supply, turned, values, valves, wiring
from .rule import Case, Problem, Rule

__all__ = ["RULES", "Case", "Problem", "Rule", "by_slug", "check"]

RULES: tuple[Rule, ...] = (
    *supply.RULES,
    *turned.RULES,
    *shorts.RULES,
    *wiring.RULES,
    *pots.RULES,
    *grid_circuit.RULES,
    *values.RULES,
    *ratings.RULES,
    *valves.RULES,
)


def check(section: Section, stresses: Stresses | None = None) -> list[Finding]:
    """All that the rules find in a section.

    Parameters
    ----------
    section : Section
        The section.
    stresses : Stresses or None
        What a simulation found; without it the rules that need one are left out.
    """
    case = Case(section, stresses)
    return [
        finding
        for rule in RULES
        if stresses is not None or not rule.needs_simulation
        for finding in rule.findings(case)
    ]


def by_slug(slug: str) -> Rule | None:
    """The rule of that name."""
    return next((rule for rule in RULES if rule.slug == slug), None)
