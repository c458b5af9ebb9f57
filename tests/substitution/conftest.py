from __future__ import annotations

import contextlib
from pathlib import Path

import pytest

from netcheck.cli import run
from netcheck.engine import service as engine
from netcheck.engine.service import Service
from netcheck.predictor import Predictor
from netcheck.preferred import Series
from netcheck.substitution import Substitution, Way

from ..ngspice_here import service
from .calls import Called, Drawn, Sweep
from .sections import DIVIDER, example, predictor_of, turn

__all__ = ["service"]


@pytest.fixture(scope="session")
def rectified(service: Service) -> Predictor:
    """Behind a rectifier, a pot above a foot of 27k."""
    return example("two-6v6gt-foot", service)


@pytest.fixture(scope="session")
def divider(service: Service) -> Predictor:
    """Behind a direct supply."""
    return predictor_of(DIVIDER, service)


@pytest.fixture(scope="session")
def foot(rectified: Predictor) -> Substitution:
    """E3 across the foot, from far above it to far below."""
    return turn(rectified, "R3", Way.ACROSS, "2k2", "1M", Series.E3)


@pytest.fixture
def alone(capsys: pytest.CaptureFixture[str], service: Service) -> Sweep:
    """Call the command; `service` skips the test where there is no simulator."""

    def call(*words: str) -> Called:
        code = run(["sweep", *words])
        text = capsys.readouterr()
        assert "Traceback" not in text.out + text.err
        if "--json" not in words:
            assert max(map(len, text.out.split("\n"))) <= 80
        return Called(code, text.out, text.err)

    return call


@pytest.fixture
def sweep(alone: Sweep, service: Service, monkeypatch: pytest.MonkeyPatch) -> Sweep:
    """The same, without waiting each time for a simulator to load its libraries."""
    monkeypatch.setattr(engine, "Service", lambda **_: contextlib.nullcontext(service))
    return alone


@pytest.fixture
def drawn(tmp_path: Path) -> Drawn:
    """Write a circuit file."""

    def write(text: str) -> str:
        file = tmp_path / "mine.bias"
        file.write_text(text, encoding="utf-8")
        return str(file)

    return write
