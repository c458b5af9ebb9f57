"""A group of suspects in words: what they have in common is told apart from what is open."""

from __future__ import annotations

import pytest

from netcheck.commands.common import load
from netcheck.diagnose.account import Account
from netcheck.diagnose.diagnosis import Verdict
from netcheck.graph import Section
from netcheck.order.bearing import Bearing
from netcheck.order.found import ONCE_FOUND, diagnosed_needs
from netcheck.report.verdict import verdict

from ..suspected import account_of

SECTION = Section(load("two-6v6gt-foot"))


def account(*suspects: tuple[str, float], below: int = 0) -> Account:
    return account_of(SECTION, Verdict.GROUP, *suspects, below=below)


def test_a_part_that_is_at_fault_in_any_case_is_named() -> None:
    """0.60 + 0.33 + 0.02, the last of which is below the group."""
    found = account(("R2", 0.60), ("R2 R5", 0.33), ("R4", 0.05), ("R2 R6", 0.02), below=2)
    assert found.diagnosis.common == ("R2",)
    assert verdict(found) == (
        "Something is wrong with R2 (95 % sure), alone or together with R5: these readings cannot "
        "tell which."
    )


def test_it_may_be_that_it_is_never_alone() -> None:
    found = account(("R2 R3", 0.5), ("R2 RV1", 0.3), ("R2 R4", 0.2))
    assert verdict(found) == (
        "Something is wrong with R2 (over 99 % sure), together with R3, RV1 or R4: these readings "
        "cannot tell which."
    )


@pytest.mark.parametrize("others", [("R3",), ("R3 R4",), ("R2 R3", "R3 R4")])
def test_without_a_part_in_common_all_are_named(others: tuple[str, ...]) -> None:
    rest = [(names, 0.5 / len(others)) for names in others]
    found = account(("R2", 0.5), *rest)
    assert found.diagnosis.common == ()
    assert verdict(found).endswith("these readings cannot tell them apart.")


def test_one_alone_has_all_in_common() -> None:
    assert account(("R2 R3", 1.0)).diagnosis.common == ("R2", "R3")


def test_what_is_at_fault_in_any_case_is_ordered_outright() -> None:
    found = account(("R2", 0.60), ("R2 R5", 0.33)).diagnosis
    needs = {(n.part, n.condition) for n in diagnosed_needs(SECTION.circuit, found, Bearing())}
    assert needs == {("R2", ""), ("R5", ONCE_FOUND)}
