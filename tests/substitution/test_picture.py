"""What `sweep` draws, and that two runs give the same bytes."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

from .calls import DIRECT, Drawn, Sweep
from .sections import DIVIDER, FIXED


def test_a_picture(sweep: Sweep, tmp_path: Path) -> None:
    """Grid volts and current, three curves each; not written over another without --replace."""
    picture = tmp_path / "sweep.svg"
    words = (DIRECT, "R2", "--steps", "3", "--svg", str(picture))
    assert sweep(*words).code == 0
    first = picture.read_bytes()
    texts = "".join(ET.fromstring(first).itertext())
    for said in ("Two 6V6GTA, negative supply", "grid1, grid2 against ground, V",
                 "cathode of V1, V2, mA", "across R2", "wanted", "nothing", "clockwise"):  # fmt: skip
        assert said in texts
    refused = sweep(*words)
    assert (refused.code, refused.out) == (2, "")
    assert "exists already" in " ".join(refused.err.split())
    assert "--replace" in refused.err
    assert sweep(*words, "--replace").code == 0
    assert picture.read_bytes() == first


def test_a_picture_of_a_chart(sweep: Sweep, tmp_path: Path) -> None:
    picture = tmp_path / "chart.svg"
    assert sweep(DIRECT, "R1", "R2", "--series", "E3", "--svg", str(picture)).code == 0
    texts = "".join(ET.fromstring(picture.read_bytes()).itertext())
    assert "cathode of V1, V2, mA, at mid-travel" in texts
    assert "across R1" in texts
    assert "across R2" in texts


def test_a_picture_without_a_pot(sweep: Sweep, drawn: Drawn, tmp_path: Path) -> None:
    """One curve, which needs no name."""
    picture = tmp_path / "fixed.svg"
    assert sweep(drawn(FIXED), "R2", "--steps", "3", "--svg", str(picture)).code == 0
    texts = "".join(ET.fromstring(picture.read_bytes()).itertext())
    assert "cathode of V1, mA" in texts
    assert "clockwise" not in texts


def test_a_place_where_nothing_can_be_written(sweep: Sweep, tmp_path: Path) -> None:
    done = sweep(DIRECT, "R2", "--steps", "2", "--svg", str(tmp_path / "no" / "such" / "x.svg"))
    assert done.code == 2
    assert "cannot be written" in done.err


def same_bytes(sweep: Sweep, words: tuple[str, ...], tmp_path: Path) -> None:
    data, pictures = [], []
    for n in (1, 2):
        picture = tmp_path / f"{n}.svg"
        data.append(sweep(*words, "--json", "--svg", str(picture)).out)
        pictures.append(picture.read_bytes())
    assert data[0] == data[1]
    assert pictures[0] == pictures[1]


def test_two_runs_give_the_same_bytes(alone: Sweep, tmp_path: Path) -> None:
    """With two processes that share some eighty states or more, each taking what is next."""
    same_bytes(alone, ("two-6v6gt-foot", "R3", "--steps", "7"), tmp_path)


def test_two_charts_have_the_same_bytes(sweep: Sweep, tmp_path: Path) -> None:
    """The second begins its search from where the simulator was left by the first."""
    same_bytes(sweep, ("two-el84-fixed", "R2", "R3", "--steps", "3"), tmp_path)


HOSTILE = """\
circuit "<b>&amp; $x$ \N{GREEK CAPITAL LETTER OMEGA} \x1b[31m]]> --> {title}"
supply S1 plus ground minus raw 42 V source 100 ohm note "<i>&"
resistor R<b>&'1 from raw to head 15k note "</svg><script>"
pot R$V_1$ top head wiper sweep bottom foot 10k clockwise bottom
resistor R2 from foot to ground 27k
resistor R3 from sweep to grid<1>&$ 68k
valve V&<1> 6V6GTA grid grid<1>&$ plate 345 V screen 310 V
"""


def test_hostile_names(sweep: Sweep, drawn: Drawn, tmp_path: Path) -> None:
    """The picture is well-formed, nothing typed becomes markup, and no escape code gets out."""
    picture = tmp_path / "hostile.svg"
    long = "a very long title " * 20
    file = drawn(HOSTILE.format(title=long))
    done = sweep(file, "R<b>&'1", "--steps", "3", "--svg", str(picture))
    assert done.code == 0
    assert "\x1b" not in done.out
    assert "R<b>&'1 (15k, series)" in done.said
    root = ET.fromstring(picture.read_text(encoding="utf-8"))
    tags = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert not tags & {"b", "i", "script"}
    texts = "".join(root.itertext())
    assert "<b>&amp; $x$" in texts
    assert "across R<b>&'1" in texts
    assert "grid<1>&$ against ground" in texts
    assert "\x1b" not in texts
    data = sweep(file, "R<b>&'1", "R$V_1$", "--series", "E3", "--json").data
    assert data["knobs"][1]["part"] == "R$V_1$"
    assert sweep(file, "R<b>&'1", "R$V_1$", "--series", "E3").code == 0


def test_names_that_are_too_long(sweep: Sweep, drawn: Drawn) -> None:
    """Lines of at most 80 characters whatever parts and nodes are called."""
    long = {
        "R1": "R1" + "x" * 60,
        "RV1": "RV1" + "y" * 60,
        "grid1": "g1" + "z" * 70,
        "V1": "V" * 50,
    }
    text = DIVIDER
    for short, name in long.items():
        text = re.sub(rf"\b{short}\b", name, text)
    file = drawn(text)
    assert sweep(file, long["R1"], "--steps", "3").code == 0
    assert sweep(file, long["RV1"], "--in-place", "--steps", "3").code == 0
    assert sweep(file, long["R1"], long["RV1"], "--steps", "2").code == 0
