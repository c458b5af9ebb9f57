"""Jobs and their pages, made once: one shipped job in full, one whose names are hostile."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from selenium import webdriver
from selenium.webdriver.chrome.service import Service as Driver

from netcheck.commands.common import load
from netcheck.commands.sheets import cross_checked, load_sheet
from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.jobsheet.gather import Job, gather
from netcheck.jobsheet.page import render_page
from netcheck.jobsheet.request import Request, Words
from netcheck.netlist import Circuit
from netcheck.parse import parse_circuit
from netcheck.readings import Sheet
from netcheck.source import Source

from ..ngspice_here import service
from . import hostile

__all__ = ["service"]

DATE, YEAR = "2026-05-03", 2026
FOOT = "two-6v6gt-foot"
_CHROMIUM, _DRIVER = "/usr/bin/chromium", "/usr/bin/chromedriver"


def silent(what: str, done: int, total: int) -> None:
    """Say nothing of how far the work has come."""


def request_of(circuit: Circuit, words: Words, sheet: Sheet | None = None) -> Request:
    """A request with the readings of a sheet, if there is one."""
    sheets = {} if sheet is None else dict.fromkeys(sheet.stages, sheet)
    return Request("given.bias", circuit, words, YEAR, readings="given.readings", sheets=sheets)


@dataclass(frozen=True)
class Made:
    """A job, its page, and the file that it was written to."""

    job: Job
    page: str
    file: Path


def _made(job: Job, folder: Path) -> Made:
    page = render_page(job)
    file = folder / "job.html"
    file.write_text(page, encoding="utf-8", newline="\n")
    return Made(job, page, file)


@pytest.fixture(scope="session")
def foot(service: Service, tmp_path_factory: pytest.TempPathFactory) -> Made:
    """A shipped circuit with a fault in it, with its readings as found."""
    circuit = load(FOOT)
    sheet, _ = load_sheet(FOOT, Section(circuit))
    words = Words("A combo made at home", "Hum, and a valve glows red", "The Valve Bench", DATE)
    job = gather(request_of(circuit, words, sheet), service, silent)
    return _made(job, tmp_path_factory.mktemp("foot"))


@pytest.fixture(scope="session")
def bad(service: Service, tmp_path_factory: pytest.TempPathFactory) -> Made:
    """Hostile names, readings as found and as left, and an audio taper."""
    circuit, findings = parse_circuit(Source("given.bias", hostile.CIRCUIT))
    assert circuit is not None, findings
    source = Source("given.readings", hostile.READINGS)
    sheet, _ = cross_checked("given.readings", source, Section(circuit))
    words = Words(circuit.title, hostile.JOB, hostile.NOTE, DATE)
    job = gather(request_of(circuit, words, sheet), service, silent)
    return _made(job, tmp_path_factory.mktemp("hostile"))


@pytest.fixture(scope="session")
def browser() -> Iterator[webdriver.Chrome]:
    """Debian's chromium without a window; nothing is fetched to run it."""
    if not (shutil.which(_CHROMIUM) and shutil.which(_DRIVER)):
        if os.environ.get("CI"):
            pytest.fail("the page is not tested: there is no chromium or no chromedriver")
        pytest.skip("there is no chromium or no chromedriver")
    options = webdriver.ChromeOptions()
    options.binary_location = _CHROMIUM
    for flag in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage",
                 "--hide-scrollbars"):  # fmt: skip
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options=options, service=Driver(_DRIVER))
    try:
        yield driver
    finally:
        driver.quit()
