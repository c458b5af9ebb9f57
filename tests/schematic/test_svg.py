"""The picture as a file, and as an element of a page."""

from __future__ import annotations

import dataclasses
import html
import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest

from netcheck.graph import Section
from netcheck.netlist import GROUND, Circuit, Resistor, Supply, Valve
from netcheck.report.schematic import CLASS, Notes, schematic_element, schematic_svg
from netcheck.report.schematicstyle import style_sheet
from netcheck.schematic import Entry, Mark, layout

from .examples import SHIPPED, crowded, drawn, example, section, volts_only

SVG = "{http://www.w3.org/2000/svg}"


def tree(name: str, notes: Notes | None = None) -> ElementTree.Element:
    return ElementTree.fromstring(schematic_svg(section(name), notes).encode())


def texts(root: ElementTree.Element) -> list[str]:
    return [element.text or "" for element in root.iter(f"{SVG}text")]


@pytest.mark.parametrize("name", SHIPPED)
def test_it_is_xml_with_every_part_and_voltage(name: str) -> None:
    circuit = example(name)
    root = tree(name, volts_only(circuit))
    assert root.tag == f"{SVG}svg"
    assert root.get("role") == "img"
    parts = [one for group in root.iter() if (one := group.get("data-part"))]
    assert sorted(parts) == sorted(part.name for part in circuit.parts)
    shown = {element.get("data-node"): element for element in root.iter(f"{SVG}text")
             if element.get("class") == f"{CLASS}-volts"}  # fmt: skip
    assert set(shown) == set(circuit.nodes) - {GROUND}
    nets = {group.get("data-node") for group in root.iter(f"{SVG}g") if group.get("data-node")}
    assert nets == set(circuit.nodes)


@pytest.mark.parametrize("name", SHIPPED)
def test_all_of_it_lies_in_the_view(name: str) -> None:
    root = tree(name, crowded(example(name)))
    left, top, width, height = map(float, (root.get("viewBox") or "").split())
    assert (float(root.get("width") or 0), float(root.get("height") or 0)) == (width, height)
    for text in drawn(name, "crowded").texts:
        assert left < text.box.left < text.box.right < left + width
        assert top < text.box.top < text.box.bottom < top + height
    for element in root.iter(f"{SVG}text"):
        assert left < float(element.get("x") or 0) < left + width
        assert top < float(element.get("y") or 0) < top + height


def test_described_in_words() -> None:
    notes = Notes(volts={"raw": "-60.8 V"}, readings={"raw": ["read -61.8 V"]},
                  legend=[Entry("R3 is too low.", 1), Entry("A remark.")])  # fmt: skip
    root = tree("two-6v6gt-foot", notes)
    title, desc = root[0], root[1]
    assert (title.tag, desc.tag) == (f"{SVG}title", f"{SVG}desc")
    assert title.text == "Two 6V6GT, trimmer above a foot resistor"
    assert "raw: -60.8 V; read -61.8 V" in (desc.text or "")
    assert "R3 is too low." in (desc.text or "")
    named = (root.get("aria-labelledby") or "").split()
    assert named == [title.get("id"), desc.get("id")]


def test_legend_stands_below_and_is_wrapped() -> None:
    long = "R3 acts as 20.2k where 27k is drawn and a good deal more is said about it. " * 4
    notes = Notes(
        marks={"R3": Mark((1,), "99 %")},
        legend=[Entry(long, 1), Entry("A remark.", is_remark=True)],
    )
    root = tree("two-6v6gt-foot", notes)
    bottom = layout(section("two-6v6gt-foot"), notes).box.bottom
    lines = [e for e in root.iter(f"{SVG}text") if e.get("class") == f"{CLASS}-legend"]
    assert len(lines) > 1
    assert " ".join(e.text or "" for e in lines) == long.strip()
    assert all(float(e.get("y") or 0) > bottom for e in lines)
    assert "99 %" in texts(root)
    assert texts(root).count("1") == 2  # at the part and in the legend
    frames = [e for e in root.iter(f"{SVG}rect") if e.get("class") == f"{CLASS}-frame"]
    assert len(frames) == 1


def test_only_some_of_very_many_readings_are_shown() -> None:
    notes = Notes(readings={"foot": [f"read -{k} V" for k in range(20, 27)]})
    said = texts(tree("two-6v6gt-foot", notes))
    assert said.count("read -20 V") == 1
    assert "read -23 V" not in said
    assert "+4 more" in said


# --------------------------------------------------------------------- what users type

HOSTILE = "</text><script>alert(1)</script>"


def hostile() -> Circuit:
    names = ["<b>&\"'", HOSTILE, "x\x00\x1b[31m\u202ey", "\u4e2d\u6587", "\ud800", "n" * 300]
    return Circuit(
        f"A & <title> {HOSTILE}\x07",
        None,
        (
            Supply(name="S&1", plus=GROUND, minus=names[0], v=42.0),
            Resistor(name=HOSTILE, start=names[0], end=names[1], r=1e3, note="<note>"),
            Resistor(name="R\x01\u202e2", start=names[1], end=names[2], r=1e3),
            Resistor(name="\u6297", start=names[2], end=names[3], r=1e3),
            Resistor(name="R" * 200, start=names[3], end=names[4], r=1e3),
            Resistor(name="R6", start=names[4], end=names[5], r=1e3),
            Valve(name="V<1>", type="<EL34&>", grid=names[5]),
        ),
    )


def test_hostile_names_stay_text() -> None:
    circuit = hostile()
    notes = Notes(
        volts=dict.fromkeys(circuit.nodes, "<-40 V> & more"),
        readings={node: ["read <1> & \x08"] for node in circuit.nodes},
        marks={HOSTILE: Mark((1,), "<99 %>")},
        legend=[Entry(f"{HOSTILE} & \x0c such", 1)],
    )
    picture = schematic_svg(Section(circuit), notes)
    root = ElementTree.fromstring(picture.encode())
    assert {e.tag for e in root.iter()} <= {
        f"{SVG}{tag}" for tag in ("svg", "title", "desc", "style", "rect", "g", "path", "circle",
                                  "text")}  # fmt: skip
    assert "<script" not in picture
    assert all(c.isprintable() or c == "\n" for c in picture)
    parts = [e.get("data-part") for e in root.iter() if e.get("data-part")]
    assert len(parts) == len(circuit.parts)
    assert HOSTILE in parts
    assert "<-40 V> & more" in texts(root)


def test_letters_of_unknown_width_get_a_fixed_length() -> None:
    root = ElementTree.fromstring(schematic_svg(Section(hostile())).encode())
    fixed = {e.text: e.get("textLength") for e in root.iter(f"{SVG}text") if e.get("textLength")}
    assert "\u6297" in fixed
    assert "\u4e2d\u6587" in fixed
    assert not any((text or "").isascii() for text in fixed)


def test_long_names_are_cut() -> None:
    root = ElementTree.fromstring(schematic_svg(Section(hostile())).encode())
    assert any(text.startswith("RRRR") and text.endswith("...") for text in texts(root))
    assert not any(len(text) > 60 for text in texts(root) if text.startswith(("R", "n")))


# -------------------------------------------------------------------- themes and pages


def test_strict_renderers_find_nothing_odd() -> None:
    picture = schematic_svg(section("two-6v6gt-foot"), crowded(example("two-6v6gt-foot")))
    assert "stroke-dasharray:-" not in picture
    assert "nan" not in picture.lower().replace("nano", "")
    for data in re.findall(r' d="([^"]*)"', picture):
        assert re.fullmatch(r"[MLHVaZ0-9 .e-]+", data), data


def test_themes() -> None:
    auto, light, dark = (style_sheet(theme) for theme in ("auto", "light", "dark"))
    assert "prefers-color-scheme:dark" in auto
    assert "prefers-color-scheme" not in light + dark
    assert all("@media print" in sheet for sheet in (auto, light, dark))
    for sheet in (auto, light, dark):
        # A renderer without custom properties takes the plain colour that stands before.
        for plain, name in re.findall(r"(?:fill|stroke):(#\w+);(?:fill|stroke):var\(([\w-]+)\)",
                                      sheet):  # fmt: skip
            assert f"{name}:{plain}" in sheet
    assert light.split("\n")[0] != dark.split("\n")[0]


def _luminance(colour: str) -> float:
    """Relative luminance of a colour, as WCAG 2.1 defines it. [1]"""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_contrast(theme: str) -> None:
    """4.5 to 1 for text, as WCAG 2.1 asks at level AA (success criterion 1.4.3)."""
    first = style_sheet(theme).split("\n")[0]  # type: ignore[arg-type]
    colours = dict(re.findall(rf"--{CLASS}-(\w+):(#\w+);", first))
    paper = _luminance(colours.pop("paper"))
    assert set(colours) == {"ink", "soft", "read", "mark"}
    for colour in colours.values():
        light, dark = sorted((_luminance(colour), paper), reverse=True)
        assert (light + 0.05) / (dark + 0.05) >= 4.5


def test_readings_and_marks_are_told_without_colour() -> None:
    rules = style_sheet("auto")
    assert re.search(rf"\.{CLASS}-read\{{[^}}]*font-style:italic", rules)
    assert re.search(rf"\.{CLASS}-frame\{{[^}}]*stroke-dasharray", rules)
    assert not re.search(rf"\.{CLASS}-volts\{{[^}}]*italic", rules)


def test_two_on_a_page_do_not_clash() -> None:
    one = schematic_element(section("two-6v6gt-foot"), name="a")
    two = schematic_element(section("two-el34-zener"), name="b", theme="dark")
    assert one.startswith("<svg")
    both = re.findall(r'\bid="([^"]*)"', one + two)
    assert len(both) == len(set(both)) == 4
    for element in (one, two):
        assert all(c.startswith(CLASS) for names in re.findall(r'\bclass="([^"]*)"', element)
                   for c in names.split())  # fmt: skip
        sheet = re.search(r"<style>(.*?)</style>", element, re.S)
        assert sheet is not None
        for rule in sheet.group(1).replace("@media print{", "").split("\n"):
            assert not rule or rule.startswith((f".{CLASS}.", "@media (prefers"))
    assert "Two 6V6GT" not in " ".join(
        re.findall(r"<text[^>]*>([^<]*)", schematic_element(section("two-6v6gt-foot"),
                                                            is_titled=False)))  # fmt: skip


def test_a_page_finds_one_text_for_each_voltage() -> None:
    circuit = example("four-el34-foot")
    element = schematic_element(section("four-el34-foot"), volts_only(circuit), folds=False)
    nodes = re.findall(rf'class="{CLASS}-volts" data-node="(\w+)"', element)
    assert sorted(nodes) == sorted(set(circuit.nodes) - {GROUND})


# ------------------------------------------------------------------- the same each time

_PROGRAM = """
import sys
from tests.schematic.examples import crowded, example, section
from netcheck.report.schematic import schematic_svg
for name in ("two-el34-balance", "four-6l6gc-pot-per-valve", "floating-node"):
    sys.stdout.write(schematic_svg(section(name), crowded(example(name))))
assert not any(module.split(".")[0] == "matplotlib" for module in sys.modules)
"""


def test_same_bytes_whatever_the_hash_order_and_no_matplotlib() -> None:
    pictures = []
    for seed in ("1", "2"):
        done = subprocess.run(
            [sys.executable, "-c", _PROGRAM], capture_output=True, check=True,
            cwd=Path(__file__).parents[2],
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONIOENCODING": "utf-8"},
        )  # fmt: skip
        pictures.append(done.stdout)
    assert pictures[0] == pictures[1]
    here = "".join(schematic_svg(section(name), crowded(example(name)))
                   for name in ("two-el34-balance", "four-6l6gc-pot-per-valve",
                                "floating-node"))  # fmt: skip
    assert pictures[0].decode() == here


# ----------------------------------------------------------------------- in a browser

_BROWSER = next((path for name in ("chromium", "chromium-browser", "google-chrome")
                 if (path := shutil.which(name))), None)  # fmt: skip

_MEASURE = """<script>
const measured = [...document.querySelectorAll('svg text')].map(text => {
  const box = text.getBBox();
  return [text.textContent, text.getAttribute('x'), text.getAttribute('y'),
          box.x, box.y, box.x + box.width, box.y + box.height];
});
const out = document.createElement('pre');
out.id = 'measured';
out.textContent = JSON.stringify(measured);
document.body.append(out);
</script>"""

_ROUNDING = 1.1
"""Browsers round the widths of letters to whole pixels. [unit]"""


@pytest.mark.skipif(_BROWSER is None, reason="no browser here")
def test_texts_stay_in_their_boxes_in_a_browser(tmp_path: Path) -> None:
    circuit = dataclasses.replace(example("two-el34-balance"), title="\u4e2d\u6587 & so on")
    one, notes = Section(circuit), crowded(circuit)
    page = tmp_path / "page.html"
    page.write_text(f'<!doctype html><meta charset="utf-8"><body>'
                    f"{schematic_element(one, notes)}{_MEASURE}", encoding="utf-8")  # fmt: skip
    assert _BROWSER is not None
    done = subprocess.run(
        [_BROWSER, "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={tmp_path}/b",
         "--dump-dom", page.as_uri()],
        capture_output=True, check=False, timeout=100,
    )  # fmt: skip
    found = re.search(r'<pre id="measured">(.*?)</pre>', done.stdout.decode(), re.S)
    if found is None:
        pytest.skip("the browser does not work here")
    boxes = {(t.text, f"{t.x:.1f}", f"{t.y:.1f}"): t.box for t in layout(one, notes).texts}
    seen = 0
    for text, x, y, left, top, right, bottom in json.loads(html.unescape(found.group(1))):
        box = boxes.get((text, f"{float(x):.1f}", f"{float(y):.1f}"))
        if box is not None:
            seen += 1
            assert left >= box.left - _ROUNDING, text
            assert right <= box.right + _ROUNDING, text
            assert top >= box.top - _ROUNDING, text
            assert bottom <= box.bottom + _ROUNDING, text
    assert seen >= len(boxes) * 0.9
