"""The command `report` as a user calls it: files, options, exit codes."""

from __future__ import annotations

import builtins
import os
import re
import shutil
import subprocess
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from netcheck import cli
from netcheck.engine.service import Service
from netcheck.errors import InputError
from netcheck.jobsheet import pdf

from .conftest import DATE, Made
from .markup import Page, assert_sound

CIRCUIT = """circuit "Board of a customer, invented"
supply   S1   plus ground minus raw    52 V source 100 ohm 5%
resistor R1   from raw to head         47k 5% 0.5 W
pot      RV1  top head wiper arm bottom foot  10k 10% linear end 50 ohm clockwise bottom
resistor R2   from foot to ground      27k 5% 0.5 W
resistor R3   from head to arm         220k 5% 0.5 W
resistor R4   from arm to grid1        68k 5% 0.5 W
valve    V1   6V6GT grid grid1 plate 300 V screen 250 V cathode 1 ohm
"""
SHEET = """readings for board.bias
meter dmm  10M  dcv 0.5% + 2 digits  range 200 V resolution 0.1 V  ohms 0.8% + 1 digit
as found
  RV1 at anticlockwise
    grid1 -25.8 V
  power off  discharged
    R2 lifted 36.5k
as left
  RV1 at anticlockwise
    grid1 -22.9 V
  RV1 at middle
    V1 cathode 26.5 mA  plate 300 V
  power off  discharged
    R2 lifted 27.0k
"""
COMMON = ["--date", DATE, "--workshop", "The Valve Bench"]


@dataclass(frozen=True)
class Called:
    code: int
    out: str
    err: str


@pytest.fixture
def report(service: Service, monkeypatch: pytest.MonkeyPatch, tmp_path: Path,
           capsys: pytest.CaptureFixture[str]) -> Any:  # fmt: skip
    """Calls the command in a folder of its own."""
    assert service.version()
    monkeypatch.chdir(tmp_path)
    (tmp_path / "board.bias").write_text(CIRCUIT, encoding="utf-8")
    (tmp_path / "sheet.readings").write_text(SHEET, encoding="utf-8")

    def call(*arguments: str) -> Called:
        code = cli.run(["report", *arguments])
        told = capsys.readouterr()
        return Called(code, told.out, told.err)

    return call


def test_it_writes_a_page_and_says_where(report: Any, tmp_path: Path) -> None:
    (tmp_path / "job.html").write_text("old", encoding="utf-8")
    called = report("board.bias", "-o", "job.html", "--replace", *COMMON)
    assert called.out == "Written: job.html\n"
    page = assert_sound((tmp_path / "job.html").read_text(encoding="utf-8"))
    assert "Board of a customer, invented" in page.by_id("customer").all_text
    assert "The Valve Bench" in page.by_id("bench").all_text
    assert not list(tmp_path.glob(".netcheck-*"))


def test_the_same_call_gives_the_same_bytes_but_for_the_date(report: Any, tmp_path: Path) -> None:
    report("board.bias", "-o", "a.html", *COMMON)
    report("board.bias", "-o", "b.html", *COMMON, "--date", "2026-05-04")
    a, b = ((tmp_path / f"{name}.html").read_bytes() for name in "ab")
    assert a != b
    assert a.replace(DATE.encode(), b"2026-05-04") == b


def test_an_existing_report_is_not_overwritten_without_being_told(
    report: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("netcheck.jobsheet.gather.gather", None)  # refused before the work
    pytest.importorskip("weasyprint")
    for name in ("job.html", "job.pdf"):
        (tmp_path / name).write_text("mine", encoding="utf-8")
        called = report("board.bias", "-o", "job.html", "--pdf", "job.pdf")
        assert called.code == 2
        assert "exists already" in called.err
        assert "--replace" in called.err
        assert (tmp_path / name).read_text(encoding="utf-8") == "mine"
        (tmp_path / name).unlink()


def test_where_nothing_can_be_written_no_work_is_begun(
    report: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("netcheck.jobsheet.gather.gather", None)
    called = report("board.bias", "-o", "no/such/folder/job.html", *COMMON)
    assert called.code == 2
    assert "no such folder" in called.err
    assert sorted(path.name for path in tmp_path.iterdir()) == ["board.bias", "sheet.readings"]


def test_to_standard_output(report: Any, tmp_path: Path) -> None:
    called = report("board.bias", "-o", "-", *COMMON)
    assert_sound(called.out)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["board.bias", "sheet.readings"]


def test_a_repair_that_was_stated_is_closed(report: Any, tmp_path: Path) -> None:
    """As found R2 had drifted to 36.5k; as left all agrees and the valve idles as wanted."""
    called = report("board.bias", "sheet.readings", "-o", "job.html", "--was", "R2=36.5k", *COMMON,
                    "--window", "50-70%")  # fmt: skip
    page = Page((tmp_path / "job.html").read_text(encoding="utf-8"))
    bench, customer = (
        " ".join(page.by_id(name).all_text.split()) for name in ("bench", "customer")
    )
    assert "R2 was 36k5 and is 27k now." in bench
    assert "The readings as found agree with the circuit as it came in: R2 36k5." in bench
    assert "Before and after the repair" in bench
    assert "Closed. The repair did what was predicted" in bench, bench[:900]
    assert "What was done" in customer
    assert "The resistor R2 was replaced or put right." in customer
    assert "26.5 mA" in customer
    assert page.of("code")[0].all_text == CIRCUIT.rstrip("\n")
    assert called.code == 0, called.err


def test_readings_as_found_are_diagnosed(report: Any, tmp_path: Path) -> None:
    called = report("board.bias", "sheet.readings", "-o", "job.html", *COMMON)
    page = Page((tmp_path / "job.html").read_text(encoding="utf-8"))
    bench = " ".join(page.by_id("bench").all_text.split())
    assert re.search(r"R2 acts as 36\.\dk", bench)
    assert "What speaks for R2" in bench
    assert called.code in (0, 1)


def test_a_circuit_without_valve_or_pot_is_written_up_as_far_as_it_goes(
    report: Any, tmp_path: Path
) -> None:
    text = "supply S1 plus ground minus raw 50 V\nresistor R1 from raw to ground 10k\n"
    (tmp_path / "bare.bias").write_text(text, encoding="utf-8")
    called = report("bare.bias", "-o", "job.html", *COMMON)
    assert called.code == 0
    page = assert_sound((tmp_path / "job.html").read_text(encoding="utf-8"))
    assert "neither a valve nor a pot" in page.by_id("bench").all_text


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["nowhere.bias", "-o", "x.html"], "no such file"),
        (["board.bias", "nowhere.readings", "-o", "x.html"], "no such file"),
        (["board.bias", "-o", "x.html", "--date", "yesterday"], "year-month-day"),
        (["board.bias", "-o", "x.html", "--window", "much"], "--window"),
        (["board.bias", "-o", "x.html", "--was", "R9=1k"], "R9"),
        (["board.bias", "-o", "x.html", "--year", "1850"], "--year 1850"),
        (["-", "-", "-o", "x.html"], "standard input"),
        (["board.bias", "-o", "x.html", "--pdf", "x.html"], "a file each"),
    ],
)
def test_what_cannot_be_used_is_explained(
    report: Any, arguments: list[str], said: str, tmp_path: Path
) -> None:
    if "--pdf" in arguments:
        pytest.importorskip("weasyprint")
    called = report(*arguments)
    assert called.code == 2
    assert said in called.err
    assert "Traceback" not in called.err
    assert not (tmp_path / "x.html").exists()


# --------------------------------------------------------------------------------- PDF


def test_without_the_extra_it_is_said_what_to_install(
    report: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = builtins.__import__

    def refuse(name: str, *rest: Any, **named: Any) -> Any:
        if name.partition(".")[0] == "weasyprint":
            raise ImportError(name)
        return real(name, *rest, **named)

    monkeypatch.setattr(builtins, "__import__", refuse)
    called = report("board.bias", "-o", "job.html", "--pdf", "job.pdf", *COMMON)
    assert called.code == 2
    assert "pip install 'netcheck[pdf]'" in called.err
    assert not (tmp_path / "job.html").exists()
    assert not (tmp_path / "job.pdf").exists()


def inflated(raw: bytes) -> bytes:
    """A PDF with its compressed streams unpacked (ISO 32000-1, 7.4.4)."""
    found = raw
    for match in re.finditer(rb"stream\r?\n", raw):
        try:
            found += zlib.decompressobj().decompress(raw[match.end() :])
        except zlib.error:
            continue
    return found


@pytest.fixture(scope="module")
def printed(foot: Made) -> bytes:
    """A page as a PDF."""
    pytest.importorskip("weasyprint", reason="the extra is not installed")
    return pdf.render_pdf(foot.page)


def test_the_pdf_has_the_pages_title(printed: bytes) -> None:
    assert printed.startswith(b"%PDF-")
    assert b"%%EOF" in printed[-32:]
    title, told = "Job sheet: A combo made at home", inflated(printed)
    assert title.encode() in told or title.encode("utf-16-be") in told


def test_the_pdf_has_the_pages_text(printed: bytes, tmp_path: Path) -> None:
    if not shutil.which("pdftotext"):
        if os.environ.get("CI"):
            pytest.fail("the PDF is not read: there is no pdftotext")
        pytest.skip("there is no pdftotext")
    file = tmp_path / "job.pdf"
    pdf.write_pdf(file, printed)
    done = subprocess.run(["pdftotext", "-layout", str(file), "-"], capture_output=True, check=True)
    pages = done.stdout.decode().split("\f")
    first, *others = (" ".join(page.split()) for page in pages)
    assert "Job sheet for the customer" in first
    assert "destroy themselves in seconds" in first  # all of the customer's page
    rest = " ".join(others)
    assert rest.startswith("Job sheet for the bench")
    for words in ("R3 acts as 20.2k", "Put R3 back to 27k", "-35.5 V", "21.6 mA", "sweep"):
        assert words in rest
    assert "Turn the pot" not in rest  # the live panel is for screens


def test_a_pdf_is_not_overwritten_and_is_whole_or_not_at_all(tmp_path: Path) -> None:
    file = tmp_path / "job.pdf"
    pdf.write_pdf(file, b"one")
    with pytest.raises(InputError, match="exists already"):
        pdf.write_pdf(file, b"two")
    assert file.read_bytes() == b"one"
    file.chmod(0o600)
    pdf.write_pdf(file, b"three", replace=True)
    assert file.read_bytes() == b"three"
    assert file.stat().st_mode & 0o777 == 0o600
    with pytest.raises(InputError, match="cannot be written"):
        pdf.write_pdf(tmp_path / "no" / "job.pdf", b"four")
    assert [path.name for path in tmp_path.iterdir()] == ["job.pdf"]


def test_a_stated_repair_without_readings_as_left_is_no_finding(
    report: Any, tmp_path: Path
) -> None:
    """What was found wrong has been put right, as was stated; nothing else is."""
    found = SHEET[: SHEET.index("as left")]
    (tmp_path / "found.readings").write_text(found, encoding="utf-8")
    called = report("board.bias", "found.readings", "-o", "a.html", "--was", "R2=36.5k", *COMMON)
    assert called.code == 0, called.err
    page = Page((tmp_path / "a.html").read_text(encoding="utf-8"))
    assert "not measured" in page.by_id("customer").all_text
    called = report("board.bias", "found.readings", "-o", "b.html", *COMMON)
    assert called.code == 1
