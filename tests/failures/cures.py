"""What a proposal is held to."""

from __future__ import annotations

import eseries
import numpy as np
import pytest

from netcheck.engine.service import Service
from netcheck.failures import Study
from netcheck.failures.cure import HARDLY
from netcheck.quantity import show_part

from .sections import grids

TRAVEL = [k / 20 for k in range(21)]


def written(text: str, study: Study) -> str:
    """The circuit with all that was proposed typed into it."""
    for k, one in enumerate(study.proposals):
        assert one.r is not None
        text += f"resistor R9{k} from {one.start} to {one.end} {show_part(one.r)}\n"
    return text


def are_preferred(study: Study) -> None:
    """IEC 60063, by the package eseries."""
    assert study.proposals
    for one in study.proposals:
        assert one.r is not None
        near = eseries.erange(eseries.E12, one.r * 0.99, one.r * 1.01)
        assert any(np.isclose(one.r, value) for value in near)


def are_safe(before: Study, after: Study) -> None:
    """Studied anew with the proposals typed in: no lifted wiper loses a valve, as was promised."""
    lost = {one.failure.words for one in before.dangerous}
    pots = [one.pot for one in before.proposals]
    lifted = {f"{pot} wiper lifted": pot for pot in pots}
    assert lifted.keys() <= lost
    assert not after.proposals
    assert not after.helpless
    assert {guard.pot for guard in after.guards} >= set(pots)
    found = {one.failure.words: one for one in after.failures}
    near = 0.02 if len(pots) == 1 else 0.2  # the others' resistors, which draw on the same line
    for words, proposal in zip(lifted, before.proposals, strict=True):
        assert not found[words].danger.is_dangerous
        assert found[words].outcome.mean == pytest.approx(proposal.lifted.mean, abs=near)
        assert not proposal.danger.is_dangerous
        assert proposal.danger_before.is_dangerous
    made = {one.failure.words for one in before.saved}
    assert lifted.keys() <= made
    assert not any(found[words].danger.is_dangerous for words in made)


def moves_as_said(text: str, study: Study, service: Service) -> None:
    """At every 5 % of the travel; between two tenths it may be a hundredth more."""
    (one,) = study.proposals
    before, after = (grids(t, service, TRAVEL) for t in (text, written(text, study)))
    moved = float(np.max(np.abs(after - before)))
    assert 0.98 * one.moves - 1e-3 <= moved <= 1.02 * one.moves + 1e-3
    whole = float(np.max(np.ptp(before, axis=0)))
    assert one.moves_share == pytest.approx(one.moves / whole, rel=0.02)
    assert one.moves_share <= HARDLY
