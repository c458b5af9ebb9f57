"""A group of suspects in words: what they have in common is told apart from what is open."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from netcheck.commands.common import load
from netcheck.diagnose.account import Account
from netcheck.diagnose.diagnosis import Diagnosis, Verdict
from netcheck.diagnose.hypotheses import Hypothesis
from netcheck.diagnose.suspects import Mode, Suspect
from netcheck.graph import Section
from netcheck.order.bearing import Bearing
from netcheck.order.found import ONCE_FOUND, diagnosed_needs
from netcheck.report.diagnosis import verdict

SECTION = Section(load("two-6v6gt-foot"))


def account(*suspects: tuple[str, float], shown: int) -> Account:
    """A group of so many, and what is left below it: "R2 R3" is a pair."""
    every = tuple(
        Suspect(parts, chance, (Mode(Hypothesis(parts, "off"), chance, (), 0.0),))
        for parts, chance in ((tuple(names.split()), chance) for names, chance in suspects)
    )
    readout: Any = SimpleNamespace(readings=(), model=SimpleNamespace(section=SECTION))
    found = Diagnosis(readout, (), np.zeros(0), every, Verdict.GROUP, every[:shown], 1.0)
    return Account(SECTION, "as found", found, every[0], (), (), (), None)


def test_a_part_that_is_at_fault_in_any_case_is_named() -> None:
    """0.60 + 0.33 + 0.02, the last of which is below the group."""
    found = account(("R2", 0.60), ("R2 R5", 0.33), ("R4", 0.05), ("R2 R6", 0.02), shown=2)
    assert found.diagnosis.common == ("R2",)
    assert verdict(found) == (
        "Something is wrong with R2 (95 % sure), alone or together with R5: these readings cannot "
        "tell which."
    )


def test_it_may_be_that_it_is_never_alone() -> None:
    found = account(("R2 R3", 0.5), ("R2 RV1", 0.3), ("R2 R4", 0.2), shown=3)
    assert verdict(found) == (
        "Something is wrong with R2 (over 99 % sure), together with R3, RV1 or R4: these readings "
        "cannot tell which."
    )


@pytest.mark.parametrize("others", [("R3",), ("R3 R4",), ("R2 R3", "R3 R4")])
def test_without_a_part_in_common_all_are_named(others: tuple[str, ...]) -> None:
    rest = [(names, 0.5 / len(others)) for names in others]
    found = account(("R2", 0.5), *rest, shown=1 + len(others))
    assert found.diagnosis.common == ()
    assert verdict(found).endswith("these readings cannot tell them apart.")


def test_one_alone_has_all_in_common() -> None:
    assert account(("R2 R3", 1.0), shown=1).diagnosis.common == ("R2", "R3")


def test_what_is_at_fault_in_any_case_is_ordered_outright() -> None:
    found = account(("R2", 0.60), ("R2 R5", 0.33), shown=2).diagnosis
    needs = {(n.part, n.condition) for n in diagnosed_needs(SECTION.circuit, found, Bearing())}
    assert needs == {("R2", ""), ("R5", ONCE_FOUND)}
