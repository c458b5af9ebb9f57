"""The job on one screen of a terminal, and the demonstration."""

from __future__ import annotations

import json

import jsonschema
import pytest

from netcheck.cli import run
from netcheck.diagnose.account import Account
from netcheck.diagnose.diagnosis import Verdict
from netcheck.jobsheet.jobdata import job_data
from netcheck.jobsheet.screen import render_job
from netcheck.report.data import schema
from netcheck.report.verdict import verdict
from netcheck.resources import folder

from .conftest import DATE, FOOT, Made


def test_the_verdict_comes_first_then_the_evidence(foot: Made) -> None:
    text = render_job(foot.job)
    lines = text.splitlines()
    assert lines[0] == "A combo made at home"
    assert lines[1].strip() == "Hum, and a valve glows red"
    places = [text.index(word) for word in ("Found ", "To do ", "To order ", "As drawn ",
                                            "idle current", "What speaks for", "Caution")]  # fmt: skip
    assert places == sorted(places)
    account = foot.job.account
    assert account is not None
    assert " ".join(verdict(account).split()) in " ".join(text.split())  # type: ignore[arg-type]


def test_it_fits_a_screen(foot: Made) -> None:
    """80 columns, and no more lines than an A4 page of listing has, 66; common practice."""
    lines = render_job(foot.job).splitlines()
    assert max(map(len, lines)) <= 80
    assert len(lines) <= 66


def test_what_is_done_is_not_proposed_again(bad: Made) -> None:
    assert bad.job.is_done
    text = render_job(bad.job)
    assert "To do" not in text
    assert "As left" in text


def test_the_demonstration_is_the_shipped_job(foot: Made, capsys: pytest.CaptureFixture[str]
                                              ) -> None:  # fmt: skip
    assert run(["demo"]) == 0
    text = capsys.readouterr().out
    assert max(map(len, text.splitlines())) <= 80
    assert foot.job.account.diagnosis.verdict is Verdict.NAMED  # type: ignore[union-attr]
    assert "Found    R3 acts as 20.2k" in text
    assert "invented" in text
    for name in ("check", "predict", "compare", "diagnose", "remedy", "parts"):
        assert f"netcheck {name} {FOOT}" in text


def test_without_a_file_the_command_prints_the_screen(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["report", "two-el84-fixed"]) in (0, 1)
    text = capsys.readouterr().out
    assert "As drawn" in text
    assert "<html" not in text
    assert "Written" not in text


def test_as_json_it_holds_what_the_commands_print(foot: Made) -> None:
    data = json.loads(json.dumps(job_data(foot.job), allow_nan=False))
    jsonschema.validate(data, schema("report"))
    account = foot.job.account
    assert isinstance(account, Account)
    assert data["diagnose"]["sentence"] == verdict(account)
    assert data["remedy"]["options"]
    assert data["parts"]["lines"][0]["parts"] == ["R3"]
    assert data["missing"] == {}
    broken = {**data, "diagnose": {"sentence": 1}}
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(broken, schema("report"))


def test_what_is_missing_is_null_with_the_reason(capsys: pytest.CaptureFixture[str]) -> None:
    given = str(folder("circuits") / "faulty" / "no-source.bias")
    assert run(["report", given, "--json", "--date", DATE]) in (1, 3)
    data = json.loads(capsys.readouterr().out)
    jsonschema.validate(data, schema("report"))
    assert data["remedy"] is None
    assert data["missing"]["remedy"]
    assert data["compare"] is data["diagnose"] is None
    assert run(["report", FOOT, "--json", "-o", "-"]) == 2
