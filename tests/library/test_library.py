"""netcheck for notebooks: the answers of the commands, as objects that show themselves."""

from __future__ import annotations

import json
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import jsonschema
import numpy as np
import pytest

import netcheck
from netcheck.cli import run
from netcheck.library import Shown
from netcheck.report.data import schema

NAME = "two-6v6gt-foot"


@pytest.fixture(scope="module")
def amplifier() -> netcheck.Amplifier:
    return netcheck.load(NAME)


@pytest.fixture(scope="module")
def bias(amplifier: netcheck.Amplifier) -> Shown[object]:
    return amplifier.predict()


def test_five_lines_give_a_curve(bias: Shown[object]) -> None:
    assert bias.travel.size == bias.nodes["grid1"].size == 11
    assert np.all(np.diff(bias.nodes["grid1"]) > 0.0)  # clockwise is hotter, as drawn


def test_it_is_what_the_command_says(bias: Shown[object], capsys: pytest.CaptureFixture[str]
                                     ) -> None:  # fmt: skip
    run(["predict", NAME])
    assert capsys.readouterr().out == f"{bias!r}\n"
    run(["predict", NAME, "--json"])
    assert json.loads(capsys.readouterr().out) == json.loads(json.dumps(bias.data))


def test_a_value_is_changed_as_on_the_command_line(amplifier: netcheck.Amplifier) -> None:
    """More in the foot is colder; common practice."""
    colder = amplifier.changed("R3=33k").predict(travel=[0.5], with_start=False)
    drawn = amplifier.predict(travel=[0.5], with_start=False)
    assert colder.nodes["grid1"][0] < drawn.nodes["grid1"][0] - 1.0
    assert "R3" in repr(amplifier.changed("R3=33k"))


@pytest.mark.parametrize("name", ["check", "compare", "diagnose", "predict", "remedy"])
def test_every_answer_has_text_data_and_a_look(name: str, amplifier: netcheck.Amplifier) -> None:
    asked = () if name in {"check", "predict"} else (NAME,)
    found = getattr(amplifier, name)(*asked)
    jsonschema.validate([found.data] if name == "check" else found.data, schema(name))
    page = found._repr_html_()
    assert all(len(line) <= 80 for line in found.text.splitlines())
    assert "<pre>" in page
    if found.picture is not None:
        ET.fromstring(found._repr_svg_())
        assert page.startswith("<svg")


def test_what_the_user_typed_is_escaped(tmp_path: Path) -> None:
    text = Path(netcheck.load(NAME).circuit.source.name).read_text()
    title = "Two 6V6GT, trimmer above a foot resistor"
    assert title in text
    path = tmp_path / "mine.bias"
    path.write_text(text.replace(title, "<script>alert(1)</script>"))
    page = netcheck.load(str(path)).predict(with_start=False)._repr_html_()
    assert "<script" not in page
    assert "&lt;script&gt;" in page


def test_errors_have_places(tmp_path: Path) -> None:
    path = tmp_path / "bad.bias"
    path.write_text("resistor R1 form a to b 10k\n")
    with pytest.raises(netcheck.InputError, match=r"bad\.bias:1:13") as caught:
        netcheck.load(str(path))
    assert 13 in {finding.span.column for finding in caught.value.findings}
    with pytest.raises(netcheck.InputError, match="no such file"):
        netcheck.load("no-such-circuit")


def test_a_remedy_begins_with_the_drawing(amplifier: netcheck.Amplifier) -> None:
    with pytest.raises(netcheck.InputError, match="begins with the drawing"):
        amplifier.changed("R3=33k").remedy()


def test_names_that_are_none(bias: Shown[object]) -> None:
    with pytest.raises(AttributeError, match="nothing_such"):
        _ = bias.nothing_such
    with pytest.raises(AttributeError, match="nothing_such"):
        _ = netcheck.nothing_such


def test_to_import_it_costs_little() -> None:
    code = "import netcheck, sys; print({'numpy', 'lark', 'networkx'} & set(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "set()\n"
