"""What is read off a circuit does not depend on how it is drawn."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.arrangement import arrangement
from netcheck.graph import Section
from netcheck.netlist import Circuit
from netcheck.resources import folder
from netcheck.roles import roles
from netcheck.rules import check

from .redrawn import redrawn
from .sections import SOUND, parsed

CIRCUITS = {name: parsed(sound.text) for name, sound in SOUND.items()}
FAULTY = {
    path.stem: parsed(path.read_text(encoding="utf-8"))
    for path in sorted((folder("circuits") / "faulty").glob("*.bias"))
}


@pytest.mark.parametrize("circuit", CIRCUITS.values(), ids=CIRCUITS.keys())
@given(data=st.data())
@settings(max_examples=8)
def test_roles_and_arrangement_stay(circuit: Circuit, data: st.DataObject) -> None:
    before = Section(circuit)
    again = data.draw(redrawn(circuit))
    after = Section(again.circuit)
    assert arrangement(after) == arrangement(before)
    called = {again.former[name]: role for name, role in roles(after).items()}
    assert called == roles(before)


@pytest.mark.parametrize("circuit", FAULTY.values(), ids=FAULTY.keys())
@given(data=st.data())
@settings(max_examples=5)
def test_findings_stay(circuit: Circuit, data: st.DataObject) -> None:
    """By kind and number; a diode of a ring can stand for its fellow, so not by place."""
    again = data.draw(redrawn(circuit))
    assert _kinds(again.circuit) == _kinds(circuit)


def _kinds(circuit: Circuit) -> Counter[str]:
    return Counter(finding.slug for finding in check(Section(circuit)))
