"""What `--json` prints is JSON, and what has a schema obeys it."""

from __future__ import annotations

import json

import jsonschema
import pytest

from netcheck.cli import run
from netcheck.report.data import SCHEMAS


def printed(capsys: pytest.CaptureFixture[str], *words: str) -> object:
    run(list(words))
    return json.loads(capsys.readouterr().out)


@pytest.mark.parametrize("name", SCHEMAS)
def test_schemas_are_printed_and_are_schemas(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["schema", name]) == 0
    jsonschema.Draft202012Validator.check_schema(json.loads(capsys.readouterr().out))


@pytest.mark.usefixtures("service")
@pytest.mark.parametrize("options", [[], ["--no-simulation"]], ids=["simulated", "drawing only"])
@pytest.mark.parametrize("name", ["two-el34-balance", "faulty/rectifier-turned"])
def test_a_check_obeys_its_schema(
    name: str, options: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    from netcheck.resources import folder  # noqa: PLC0415

    path = str(folder("circuits") / f"{name}.bias")
    schema = printed(capsys, "schema", "check")
    assert isinstance(schema, dict)
    data = printed(capsys, "check", path, "--json", *options)
    jsonschema.validate(data, schema)
    assert isinstance(data, list)
    assert data[0]["simulated"] is not bool(options)


@pytest.mark.parametrize(
    "words", [["rules"], ["rules", "floating-node"], ["circuits"], ["valves"], ["valves", "EL34"]]
)
def test_lists_are_json_too(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert printed(capsys, *words, "--json")
