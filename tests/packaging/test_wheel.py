"""The wheel and the sdist hold what the program needs at run time."""

from __future__ import annotations

import os
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A wheel built from this source."""
    return _build("wheel", tmp_path_factory.mktemp("wheel"))


def _build(target: str, folder: Path) -> Path:
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", target, "-d", str(folder)],
        cwd=ROOT, check=True, capture_output=True, timeout=100,
    )  # fmt: skip
    (built,) = folder.iterdir()
    return built


def test_the_wheel_carries_grammars_circuits_and_data(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    for kind, ending in (("grammars", ".lark"), ("circuits", ".bias")):
        shipped = {path.name for path in (ROOT / kind).glob(f"*{ending}")}
        assert shipped
        assert shipped <= {Path(n).name for n in names if n.startswith(f"netcheck/{kind}/")}
    assert "netcheck/report/schemas/predict.json" in names
    assert "netcheck/valves/data/EL34.toml" in names
    assert not [name for name in names if name.startswith("tests/")]


def test_the_program_runs_from_the_wheel_alone(wheel: Path, tmp_path: Path) -> None:
    unpacked = tmp_path / "unpacked"
    zipfile.ZipFile(wheel).extractall(unpacked)
    code = (
        "import netcheck, sys; from netcheck.cli import run; "
        "print(netcheck.__file__); sys.exit(run(['circuits']))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=True,
        env=os.environ | {"PYTHONPATH": str(unpacked)}, timeout=60,
    )  # fmt: skip
    assert str(unpacked) in done.stdout
    assert "two-6v6gt-foot" in done.stdout


def test_the_sdist_carries_the_tests(tmp_path: Path) -> None:
    with tarfile.open(_build("sdist", tmp_path)) as archive:
        names = archive.getnames()
    inside = {"/".join(Path(name).parts[1:]) for name in names}
    assert {"pyproject.toml", "README.md", "DEVELOPERS.md", "grammars/circuit.lark",
            "tests/packaging/test_wheel.py", "circuits/two-6v6gt-foot.bias"} <= inside  # fmt: skip
