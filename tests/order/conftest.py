from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.order import Line, Order, order
from netcheck.order.shopping import Evidence
from netcheck.parse import parse_circuit
from netcheck.source import Source

from ..ngspice_here import service

__all__ = ["service"]

YEAR = 2020
Lister = Callable[..., Order]


def section_of(text: str) -> Section:
    circuit, findings = parse_circuit(Source("circuit.bias", text))
    assert circuit is not None, findings
    return Section(circuit)


@pytest.fixture(scope="session")
def listed(service: Service) -> Lister:
    """The list for a circuit text, as of 2020 but for the ages, which the check counts today."""

    def made(text: str, evidence: Evidence | None = None, *, with_valves: bool = False) -> Order:
        return order(section_of(text), service, evidence or Evidence(), YEAR,
                     with_valves=with_valves)  # fmt: skip

    return made


def line_for(order: Order, part: str) -> Line | None:
    """The line that a part is on."""
    return next((line for line in order.lines if part in line.parts), None)
