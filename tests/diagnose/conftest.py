"""Section models, made once for all tests of a worker."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.commands.common import load
from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.predictor import Predictor
from netcheck.readout.model import SectionModel

from ..ngspice_here import service

__all__ = ["service"]

Models = Callable[[str], SectionModel]


@pytest.fixture(scope="session")
def models(service: Service) -> Models:
    """The model of a shipped circuit, by its name."""
    made: dict[str, SectionModel] = {}

    def get(name: str) -> SectionModel:
        if name not in made:
            made[name] = SectionModel(Predictor(Section(load(name)), service))
        return made[name]

    return get
