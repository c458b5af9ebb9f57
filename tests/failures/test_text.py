"""What the report looks like, whatever comes out: on outcomes made up at random."""

from __future__ import annotations

import functools
import json
import re
from pathlib import Path

import jsonschema
import pytest

from netcheck.failures import Danger, Study
from netcheck.failures.study import study_on
from netcheck.graph import Section
from netcheck.report.data import schema
from netcheck.report.failures import render_failures
from netcheck.report.failuresdata import failures_data
from netcheck.report.failurestable import short, wrapped
from netcheck.resources import folder

from .made_up import MadeUp
from .sections import BALANCE, PER_VALVE, SERIES_RHEOSTAT, circuit_of

FILES = sorted(folder("circuits").glob("**/*.bias"))
VALIDATOR = jsonschema.Draft202012Validator(schema("failures"))
LONG = "aNameThatNobodyWouldTypeButSomebodyDoes"


def made_up(text: str, seed: int, swept: bool = True) -> Study:
    """A study in which everything is made up but the circuit."""
    return study_on(MadeUp(_section(text), seed, swept))


@functools.cache
def _section(text: str) -> Section:
    return Section(circuit_of(text))


def checked(found: Study) -> str:
    """The report, in 80 columns, with every part and nothing odd in it; and its data."""
    text = render_failures(found)
    lines = text.split("\n")
    assert max(map(len, lines)) <= 80
    assert not any(line != line.rstrip() for line in lines)
    assert not re.search(r"\bnan\b|\binf\b|None|\{|\u00a0|Danger\.|Mode\.", text)
    assert text.isprintable() or {c for c in text if not c.isprintable()} == {"\n"}
    flat = re.sub(r"\s+", " ", text)
    for one in found.failures:
        assert short(one.failure.part) in flat, one.failure.words
    VALIDATOR.validate(json.loads(json.dumps(failures_data(found), allow_nan=False)))
    return text


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_every_circuit_fits_80_columns(file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    for seed in range(3):
        checked(made_up(text, seed, swept=seed < 2))


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("text", [PER_VALVE, BALANCE, SERIES_RHEOSTAT.format(end="open")])
def test_long_and_odd_names_do_not_break_it(text: str, seed: int) -> None:
    """A name may be of any length, and hold what means something to a program."""
    for name in ("RV1", "R3", "S1", "V1", "head", "bias", "sweep1", "grid1", "foot"):
        text = re.sub(rf"\b{name}\b", f"{name}{LONG}%s", text)
    braces = {"R2": "{R2}", "RV2": "{pot}", "raw": "{at}", "head": "{valves}"}
    for name, odd in braces.items():
        text = re.sub(rf"\b{name}\b(?!a)", odd, text)
    found = made_up(text, seed)
    shown = render_failures(found)
    assert max(map(len, shown.split("\n"))) <= 80
    names = {one.failure.part for one in found.failures}
    assert len(names) == len(found.section.circuit.parts)
    assert not any(LONG in line for line in shown.split("\n"))
    failures_data(found)


def test_each_failure_stands_once_under_its_danger() -> None:
    """Taken apart again: tables and sentences hold every failure, and none twice."""
    heads = {
        Danger.NO_BIAS: "No bias: ", Danger.OVER: "Over the limit: ", Danger.HOT: "Too hot: ",
        Danger.COLD: "Too cold: ",
    }  # fmt: skip
    text = (folder("circuits") / "two-6v6gt-two-stage.bias").read_text(encoding="utf-8")
    for seed in range(5):
        found = made_up(text, seed)
        blocks = render_failures(found).split("\n\n")
        for danger, head in heads.items():
            wanted = sorted(one.failure.words for one in found.failures if one.danger is danger)
            block = [b for b in blocks if b.startswith(head)]
            rows = block[0].split("\n")[3:] if block else []
            listed = [re.split(r"\*?\s{2,}", row)[0].removesuffix("*") for row in rows]
            assert sorted(word for row in listed for word in _each(row)) == wanted


def _each(row: str) -> list[str]:
    """ "R4, R5 open" as its failures."""
    *firsts, last = row.split(", ")
    name, _, mode = last.partition(" ")
    return [f"{first} {mode}" for first in [*firsts, name]]


def test_a_number_stays_with_its_unit() -> None:
    text = "x" * 70 + " 12.3 mA of 45 % and -53.2 V, 0.27 Vpp and 2 uA, a 1 W part"
    for shift in range(40):
        lines = wrapped("y" * (shift % 9) + " " + text[shift:])
        for unit in ("mA", "%", "V", "Vpp", "uA", "W"):
            assert not any(re.match(rf"\s*{unit}\b", line) for line in lines)
        assert "\u00a0" not in "".join(lines)


def test_names_are_cut_short() -> None:
    assert short("RV1") == "RV1"
    assert short("x" * 16) == "x" * 16
    assert short("x" * 17) == "x" * 13 + "..."
