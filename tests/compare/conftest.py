from __future__ import annotations

import functools
from collections.abc import Callable

import pytest

from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.parse import parse_circuit
from netcheck.predictor import Predictor
from netcheck.readout.model import SectionModel
from netcheck.resources import folder
from netcheck.source import Source

from ..ngspice_here import service

__all__ = ["service"]

Bench = Callable[..., SectionModel]


@pytest.fixture(scope="session")
def bench(service: Service) -> Bench:
    """Models of the example circuits, made once; lines may be added to a circuit."""

    @functools.cache
    def made(name: str, more: str = "") -> SectionModel:
        text = (folder("circuits") / f"{name}.bias").read_text(encoding="utf-8")
        circuit, findings = parse_circuit(Source(f"{name}.bias", f"{text}\n{more}\n"))
        assert circuit is not None, findings
        return SectionModel(Predictor(Section(circuit), service))

    return made
