"""Diagnoses made up, for what is said of them."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np

from netcheck.diagnose.account import Account
from netcheck.diagnose.diagnosis import Diagnosis, Verdict
from netcheck.diagnose.hypotheses import Hypothesis
from netcheck.diagnose.suspects import Mode, Suspect
from netcheck.graph import Section


def account_of(one: Section, verdict: Verdict, *suspects: tuple[str, float],
               below: int = 0) -> Account:  # fmt: skip
    """Suspects with their chance, each open: "R3", a pair "R2 R5", or "" for a sound chassis.

    The last ones, `below` of them, are too improbable for the group.
    """
    every = tuple(
        Suspect(parts, chance, (Mode(Hypothesis(parts, "open"), chance, (), 0.0),))
        for parts, chance in ((tuple(names.split()), chance) for names, chance in suspects)
    )
    readout: Any = SimpleNamespace(readings=(), model=SimpleNamespace(section=one))
    group = every[: len(every) - below]
    found = Diagnosis(readout, (), np.zeros(0), every, verdict, group, 1.0)
    return Account(one, "as found", found, every[0], (), (), (), None)
