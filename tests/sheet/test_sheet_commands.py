"""`netcheck check` and `netcheck format` on sheets of readings."""

from __future__ import annotations

import io
import json
import shutil
import sys
from pathlib import Path

import jsonschema
import pytest

from netcheck.cli import run
from netcheck.commands.common import load
from netcheck.commands.sheets import load_sheet
from netcheck.errors import InputError
from netcheck.graph import Section
from netcheck.report.data import schema
from netcheck.resources import folder

CIRCUITS = folder("circuits")
SOUND = CIRCUITS / "two-6v6gt-foot.readings"
UNTIDY = "READINGS for two-6v6gt-foot\n\n\nAs found\n#why\nraw \u221261.2V\n  V1 cathode 38 mA\n"
TIDY = "readings for two-6v6gt-foot\n\nas found\n  # why\n  raw  -61.2 V\n  V1   cathode 38 mA\n"


def write(folder: Path, text: str, name: str = "a.readings") -> str:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return str(path)


Out = pytest.CaptureFixture[str]


def test_a_sound_sheet(capsys: Out) -> None:
    assert run(["check", str(SOUND)]) == 0
    out, err = capsys.readouterr()
    assert out.startswith(f"{SOUND}: nothing found\n")
    assert "Readings for two-6v6gt-foot.bias: 19 as found. Meter: dmm." in out
    assert err == ""


def test_an_example_sheet_by_its_name(capsys: Out) -> None:
    assert run(["check", "two-el34-across.readings", "--quiet"]) == 0
    assert capsys.readouterr().out == "two-el34-across.readings: nothing found\n"
    assert run(["format", "two-el34-across.readings"]) == 0
    assert capsys.readouterr().out == (CIRCUITS / "two-el34-across.readings").read_text("utf-8")


def test_warnings_and_notes_have_their_exit_codes(tmp_path: Path, capsys: Out) -> None:
    head = "readings for two-6v6gt-foot\nas found\n"
    note = write(tmp_path, head + "power off\nR3 20k\n")
    assert run(["check", note]) == 0
    assert "1 note" in capsys.readouterr().out
    warned = write(tmp_path, head + "raw 61.2 V\n")
    assert run(["check", warned]) == 1
    out, _ = capsys.readouterr()
    assert f"{warned}:3:5: warning: raw against ground should be" in " ".join(out.split())
    assert "that of a usual one taken" in " ".join(out.split())


def test_errors_of_the_text_and_of_the_names_come_in_one_run(tmp_path: Path, capsys: Out) -> None:
    path = write(
        tmp_path,
        "readings for two-6v6gt-foot\nas found\n  rwa -61.2 V\n  raw -61,2 V\n  raw 61.2 V\n"
        "  RV9 at middle\n  head -40\n  head -40 V\n",
    )
    assert run(["check", path, str(SOUND)]) == 2
    out, err = capsys.readouterr()
    assert "nothing found" in out  # the other file is looked at all the same
    slugs = ["unknown-node", "unreadable-value", "wrong-sign", "unknown-pot", "wrong-unit"]
    assert [err.index(f"[{slug}]") for slug in slugs] == sorted(
        err.index(f"[{slug}]") for slug in slugs
    )
    assert err.endswith(f"{path}: 4 errors, 1 warning\n")


def test_a_pot_setting_that_cannot_be_read_makes_no_contradiction(
    tmp_path: Path, capsys: Out
) -> None:
    lines = "RV1 at middle\ngrid1 -36 V\nRV1 at 80\ngrid1 -30 V\n"
    path = write(tmp_path, f"readings for two-6v6gt-foot\nas found\n{lines}")
    assert run(["check", path]) == 2
    err = capsys.readouterr().err
    assert "[wrong-unit]" in err
    assert err.endswith("1 error\n")


def test_the_circuit_beside_the_sheet_comes_first(tmp_path: Path, capsys: Out) -> None:
    """A file of the user's own hides the example of the same name."""
    text = (CIRCUITS / "two-6v6gt-foot.bias").read_text(encoding="utf-8")
    write(tmp_path, text.replace("head", "top"), "two-6v6gt-foot.bias")
    path = write(tmp_path, "readings for two-6v6gt-foot.bias\nas found\nhead -40 V\n")
    assert run(["check", path]) == 2
    assert "[unknown-node]" in capsys.readouterr().err


def test_a_circuit_that_is_not_there(tmp_path: Path, capsys: Out) -> None:
    for name in ("no-such", '"../no such"', '"a\x01"', "x" * 300):
        path = write(tmp_path, f"readings for {name}\nas found\nraw -3 V\nraw -4\n")
        assert run(["check", path]) == 2
        err = capsys.readouterr().err
        assert "[no-such-circuit]" in err
        assert "[wrong-unit]" in err  # what else is wrong is told as well


def test_a_sheet_reads_no_file_but_a_circuit(tmp_path: Path, capsys: Out) -> None:
    write(tmp_path, "a secret\n", "secret.txt")
    path = write(tmp_path, "readings for secret.txt\nas found\nraw -3 V\n")
    assert run(["check", path]) == 2
    out, err = capsys.readouterr()
    assert "a secret" not in out + err


def test_a_circuit_with_errors_in_it(tmp_path: Path, capsys: Out) -> None:
    write(tmp_path, "resistor R1 from a to ground 4,7k\n", "b.bias")
    path = write(tmp_path, "readings for b.bias\nas found\na -3 V\n")
    assert run(["check", path]) == 2
    assert "b.bias:1:30:" in capsys.readouterr().err


def test_from_standard_input(monkeypatch: pytest.MonkeyPatch, capsys: Out) -> None:
    for command, code, shown in ((["check"], 0, "nothing found"), (["format"], 0, TIDY)):
        stream = io.TextIOWrapper(io.BytesIO(UNTIDY.encode()), encoding="utf-8")
        monkeypatch.setattr(sys, "stdin", stream)
        assert run([*command, "-"]) == code
        assert shown in capsys.readouterr().out


def test_json_obeys_its_schema(tmp_path: Path, capsys: Out) -> None:
    path = write(
        tmp_path, "readings for two-6v6gt-foot\nas found\nraw 61.2 V\nas left\nraw -61 V\n"
    )
    words = ["check", path, "two-el84-fixed", str(SOUND), "--json", "--no-simulation"]
    assert run(words) == 1
    data = json.loads(capsys.readouterr().out)
    jsonschema.validate(data, schema("check"))
    assert data[0]["readings"] == {"as found": 1, "as left": 1}
    assert data[0]["findings"][0]["rule"] == "wrong-sign"
    assert data[1]["title"]
    assert data[2]["meters"] == ["dmm"]


def test_format_keeps_comments_and_rewrites(tmp_path: Path, capsys: Out) -> None:
    path = write(tmp_path, UNTIDY)
    assert run(["format", path]) == 0
    assert capsys.readouterr().out == TIDY
    assert run(["format", "--differs", path]) == 1
    assert run(["format", "--write", path]) == 0
    assert Path(path).read_text(encoding="utf-8") == TIDY
    assert run(["format", "--differs", path]) == 0


def test_format_leaves_a_sheet_with_an_error_as_it_is(tmp_path: Path, capsys: Out) -> None:
    path = write(tmp_path, UNTIDY + "raw -3\n")
    assert run(["format", "--write", path]) == 2
    assert Path(path).read_text(encoding="utf-8") == UNTIDY + "raw -3\n"
    assert "[wrong-unit]" in capsys.readouterr().err


def test_shipped_sheets_are_in_their_canonical_form() -> None:
    for path in sorted(CIRCUITS.glob("*.readings")):
        assert run(["format", "--differs", str(path)]) == 0, path.name


def test_a_sheet_for_a_circuit(tmp_path: Path) -> None:
    section = Section(load("two-6v6gt-foot"))
    for name in ("two-6v6gt-foot", "two-6v6gt-foot.readings", str(SOUND)):
        sheet, findings = load_sheet(name, section)
        assert len(sheet.readings) == 19
        assert findings == []
    copy = shutil.copy(SOUND, tmp_path / "mine.txt")
    assert load_sheet(str(copy), section)[0] == sheet


def test_a_sheet_for_a_circuit_that_cannot_be_used(tmp_path: Path) -> None:
    section = Section(load("two-6v6gt-foot"))
    path = write(tmp_path, "readings for two-6v6gt-foot\nas found\nrwa -3 V\nraw -3\nraw 61 V\n")
    with pytest.raises(InputError, match="cannot be used") as caught:
        load_sheet(path, section)
    assert [f.slug for f in caught.value.findings] == ["unknown-node", "wrong-unit", "wrong-sign"]
    with pytest.raises(InputError) as caught:
        load_sheet(str(tmp_path / "none.readings"), section)
    assert [f.slug for f in caught.value.findings] == ["no-such-file"]
    with pytest.raises(InputError) as caught:
        load_sheet(
            str(CIRCUITS / "two-6v6gt-foot.bias"), section
        )  # the circuit where its sheet belongs
    assert [f.slug for f in caught.value.findings] == ["not-a-sheet"]
