"""The page as a file: strict HTML, self-contained, the same bytes again, no script of the user's."""

from __future__ import annotations

import itertools
import json
import re
from pathlib import Path

import pytest
from markupsafe import Markup, escape

from netcheck import jobsheet
from netcheck.commands.common import load
from netcheck.jobsheet.gather import Job
from netcheck.jobsheet.page import as_json, render_page
from netcheck.jobsheet.request import Missing, Words
from netcheck.resources import folder
from netcheck.survey import survey
from netcheck.terminal import CAUTION

from . import hostile
from .conftest import Made, request_of
from .markup import assert_sound

EVERY = sorted(path.stem for path in folder("circuits").glob("*.bias"))
LARGEST = 600_000
"""A page of a shipped circuit, to be sent by mail without a thought. [byte]"""


def drawn(name: str) -> Job:
    """A job of which nothing could be simulated."""
    circuit = load(name)
    gone = Missing("ngspice ended", is_unanswered=True)
    return Job(
        request=request_of(circuit, Words(circuit.title, "", "", "2026-05-03")),
        survey=survey(circuit, name, None),
        prediction=gone, wanted=(), turned=gone, stages=(), account=gone, remedies=gone,
        repair=None, came_in={}, changed=(), order=gone,
    )  # fmt: skip


@pytest.mark.parametrize("name", EVERY)
def test_every_shipped_circuit_makes_a_sound_page_even_without_a_simulation(name: str) -> None:
    job = drawn(name)
    page = assert_sound(render_page(job))
    # What is not to be had is missed in its place, and the rest stands.
    told = " ".join(page.by_id("bench").all_text.split())
    assert told.count("Ngspice ended.") >= 4
    assert job.is_unanswered
    for part in job.section.circuit.parts:
        assert part.name in told
    (listing,) = page.of("code")
    assert listing.all_text == load(name).source.text.rstrip("\n")


def test_a_whole_job_makes_a_sound_page(foot: Made) -> None:
    page = assert_sound(foot.page)
    assert len(foot.page.encode()) < LARGEST
    told = " ".join(page.by_id("bench").all_text.split())
    assert "Ngspice ended." not in told
    for word in (
        "R3 acts as 20.2k",
        "Put R3 back to 27k",
        "1 \N{MULTIPLICATION SIGN} resistor 27k",
        "82k across",
    ):
        assert word in told
    for words in ("A combo made at home", "Hum, and a valve glows red", "The Valve Bench"):
        assert words in page.by_id("customer").all_text
        assert words in told
    assert foot.job.is_wrong
    assert not foot.job.is_unanswered


def test_the_caution_stands_on_both_pages(foot: Made, bad: Made) -> None:
    said = CAUTION.removeprefix("Caution: v")
    for made in (foot, bad):
        page = assert_sound(made.page)
        for name in ("customer", "bench"):
            assert said in " ".join(page.by_id(name).all_text.split())


def test_every_section_has_a_heading_and_every_heading_follows_its_rank(foot: Made) -> None:
    page = assert_sound(foot.page)
    for section in page.of("section", "article", "aside"):
        heading = page.by_id(section.attributes["aria-labelledby"])
        assert re.fullmatch("h[123]", heading.name)
        assert heading.all_text.strip()
    ranks = [int(one.name[1]) for one in page.elements if re.fullmatch("h[1-6]", one.name)]
    assert ranks[0] == 1
    assert all(b <= a + 1 for a, b in itertools.pairwise(ranks))


def test_the_same_job_gives_the_same_bytes(foot: Made, bad: Made) -> None:
    for made in (foot, bad):
        assert render_page(made.job) == made.page


def test_hostile_names_stand_as_text_and_nowhere_else(bad: Made) -> None:
    page = assert_sound(bad.page)
    told = page.by_id("customer").all_text + page.by_id("bench").all_text
    for words in (
        hostile.NODE,
        hostile.POT,
        hostile.PART,
        hostile.TITLE,
        hostile.NOTE,
        hostile.JOB,
    ):
        assert words in told
    (title,) = [one for one in page.of("title") if one.parent and one.parent.name == "head"]
    assert hostile.TITLE in title.text
    # No element that a name, a note or a title asks for.
    assert not page.of("img", "iframe", "b", "form")
    assert len(page.of("script")) == 2
    assert {hostile.POT} == set(page.data["pots"])
    assert hostile.NODE in page.data["nodes"]


def test_control_characters_are_left_out(bad: Made) -> None:
    words = Words("Amp\x1b[31m\u202egnal\x00", "a\u2028b", "\ud83d", "2026-05-03")
    request = bad.job.request.__class__(**{**vars(bad.job.request), "words": words})
    page = render_page(Job(**{**vars(bad.job), "request": request}))
    assert not re.search("[\x00-\x08\x0b-\x1f\x7f\u202a-\u202e\u2028\ud800-\udfff]", page)
    assert "Amp[31mgnal" in page


def test_json_in_a_script_element_cannot_end_it() -> None:
    data = {"a": "</script><!--&\u2028\u2029\U0001f600", "<b>": [1, None]}
    told = as_json(data)
    assert isinstance(told, Markup)
    assert not set(told) & set("<>&\u2028\u2029")
    assert told.isascii()
    assert json.loads(told) == data
    assert escape(told) == told


def test_the_templates_hold_no_inline_style_and_no_handler() -> None:
    templates = Path(jobsheet.__file__).parent / "templates"
    files = sorted(templates.iterdir())
    assert {file.suffix for file in files} == {".html", ".css", ".js"}
    for file in files:
        text = file.read_text(encoding="utf-8")
        assert "innerHTML" not in text
        assert "eval(" not in text
        if file.suffix == ".html":
            assert not re.search(r"\sstyle=|\son\w+=|\|\s*safe", text), file.name
