"""Sections, their models and empty sheets for the tests of the session."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.commands.common import load
from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.predictor import Predictor
from netcheck.readout.model import SectionModel
from netcheck.session.edits import USUAL_METER, new_sheet
from netcheck.session.notebook import Notebook
from netcheck.session.session import Session
from netcheck.session.sheetfile import SheetFile
from tests.ngspice_here import service

__all__ = ["service"]

FOOT, BALANCE = "two-6v6gt-foot", "two-el34-balance"
YEAR = 2026


@pytest.fixture(scope="session")
def section() -> Section:
    return Section(load(FOOT))


@pytest.fixture(scope="session")
def model(service: Service, section: Section) -> SectionModel:
    return SectionModel(Predictor(section, service))


@pytest.fixture
def notebook(tmp_path: Path, section: Section, monkeypatch: pytest.MonkeyPatch) -> Notebook:
    monkeypatch.chdir(tmp_path)
    return begun(Path("amp.readings"), section)


@pytest.fixture
def session(model: SectionModel, notebook: Notebook) -> Session:
    return Session(model, notebook, YEAR)


def begun(path: Path, section: Section) -> Notebook:
    """A notebook on a new sheet."""
    name = Path(section.circuit.source.name).name
    return Notebook(SheetFile.created(path, section, new_sheet(name, USUAL_METER)))
