"""All that is to be said about output valves at idle, gathered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..finding import Finding, Severity
from .findings import (
    expected_findings,
    sample_findings,
    set_findings,
    stage_findings,
    valve_findings,
)
from .judgement import Judged, Target, judge, target
from .matching import Match, match
from .samples import Expected, expected
from .stage import Stage


@dataclass(frozen=True)
class Assessment:
    """All that is to be said about the output valves of one stage.

    Parameters
    ----------
    stage : Stage
        What was measured against.
    targets : tuple of Target
        Lower and upper end of the window, and the limit itself.
    valves : tuple of Judged
        One for each current measured.
    expected : Expected or None
        What a measured grid voltage leads to, where no current was measured.
    match : Match or None
        For two valves or more.
    findings : tuple of Finding
        The gravest first.
    """

    stage: Stage
    targets: tuple[Target, ...]
    valves: tuple[Judged, ...]
    expected: Expected | None
    match: Match | None
    findings: tuple[Finding, ...]

    @property
    def matters(self) -> bool:
        """Whether there is more than notes."""
        return any(finding.severity is not Severity.NOTE for finding in self.findings)


def assess(stage: Stage, readings: Sequence[tuple[str, float]]) -> Assessment:
    """Judge valves.

    Parameters
    ----------
    stage : Stage
        Where they work.
    readings : sequence of tuple
        Name and cathode current of each valve; may be empty. [A]

    Returns
    -------
    Assessment
        With everything that is to be said.
    """
    currents = [i for _, i in readings]
    valves = tuple(judge(stage, name, i) for name, i in readings)
    at_grid = None if readings else expected(stage)
    matched = match(currents) if len(currents) > 1 else None
    found = stage_findings(stage, min(currents, default=0.0))
    for valve in valves:
        found += valve_findings(stage, valve)
    found += sample_findings(stage, valves)
    if matched is not None:
        found += set_findings([name for name, _ in readings], matched)
    if at_grid is not None:
        found += expected_findings(stage, at_grid)
    found.sort(key=lambda finding: finding.severity.rank)
    targets = tuple(target(stage, share) for share in (*stage.aim, 1.0))
    return Assessment(stage, targets, valves, at_grid, matched, tuple(found))
