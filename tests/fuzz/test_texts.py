"""A few hundred of the inputs that `python -m tests.fuzz.run` makes a hundred thousand of."""

from __future__ import annotations

import pytest

from .inputs import CHUNK, inputs
from .run import examined

FOUND: dict[str, bytes] = {}


@pytest.mark.parametrize("first", [0, 40 * CHUNK], ids=["first", "later"])
def test_no_input_breaks_a_command(first: int) -> None:
    tally = examined(seed=1, first=first, count=40, simulated=0)
    assert tally.wrong == []
    assert {code for _, code in tally.codes} <= {0, 1, 2}
    assert len(tally.made) >= 6, "inputs of several kinds"
    assert tally.codes["format", 0] > 5, "some of them are sound"


@pytest.mark.usefixtures("service")
def test_no_input_breaks_the_simulation() -> None:
    tally = examined(seed=3, first=0, count=24, simulated=2)
    assert tally.wrong == []
    assert tally.codes["check", 0] + tally.codes["check", 1] >= 1


def test_the_same_number_is_the_same_input() -> None:
    """In whatever order they are made, and in whatever process."""
    some = list(inputs(1, 100, 30))
    assert list(inputs(1, 110, 5)) == some[10:15]
    assert [one.body for one in inputs(2, 100, 30)] != [one.body for one in some]
