"""How a run is judged: by its data and what ngspice said, with the library replaced.

PySpice is imported here, the library is not loaded.
"""

from __future__ import annotations

import ctypes.util
import sys
from collections.abc import Callable
from pathlib import Path
from typing import cast

import numpy as np
import pytest

from netcheck.engine import ngspice
from netcheck.engine.elements import GROUND, CurrentSource, Element, Floats, Junction, Resistance
from netcheck.engine.ngspice import Library, Ngspice, find_library
from netcheck.errors import EngineError, EngineMissing

CIRCUIT: list[Element] = [
    CurrentSource("I", GROUND, "node x", 1e-3),
    Resistance("R load", "node x", GROUND, 1e3),
    Junction("D", "node x", GROUND, 1e-9, 1.0, 0.0),
]
GOOD = {
    "time": np.array([1e-6, 0.01, 0.02]),
    "n1": np.array([1.0, 1.0, 1.0]),
    "vs3#branch": np.array([0.0, 0.0, 0.0]),
}


class FakeLibrary:
    """Answers each run in turn with given vectors and messages."""

    def __init__(self, *answers: tuple[dict[str, Floats], list[str]]) -> None:
        self._answers = list(answers)
        self.decks: list[str] = []
        self.commands: list[str] = []
        self.messages: list[str] = []

    def run(self, text: str, analysis: str, kind: str) -> dict[str, Floats]:
        self.decks.append(text)
        self.commands.append(analysis)
        vectors, self.messages = self._answers.pop(0)
        return vectors


def run(library: FakeLibrary) -> float:
    circuit = Ngspice(cast(Library, library), CIRCUIT, 50.0)
    return float(circuit.transient({}, {}, 0.02, 1e-4).v["node x"][-1])


@pytest.mark.parametrize(
    "note",
    [
        # PySpice 1.5 takes each of these for an error and raises.
        "Using SPARSE 1.3 as Direct Linear Solver",
        "Note: can't find the initialization file spinit.",
        "Note: Starting dynamic gmin stepping",
        "Reducing trtol to 1 for xspice 'A' devices; no error",
        "Warning: something unimportant",
    ],
)
def test_harmless_notes_are_harmless(note: str) -> None:
    library = FakeLibrary((GOOD, ["Circuit: netcheck", note]))
    assert run(library) == 1.0
    assert len(library.decks) == 1


BAD: dict[str, tuple[dict[str, Floats], list[str]]] = {
    "no plot": ({}, []),
    "empty plot": ({"time": np.array([]), "n1": np.array([])}, []),
    "stopped early": (GOOD | {"time": GOOD["time"] / 2}, []),
    "not a number": (GOOD | {"n1": np.array([1.0, np.nan, 1.0])}, []),
    "infinite": (GOOD | {"n1": np.array([1.0, np.inf, 1.0])}, []),
    "beyond all reason": (GOOD | {"n1": np.array([1.0, -9e12, 1.0])}, []),
    "circuit changed": (GOOD, ["Warning: r2: resistance to low, set to 1 mOhm"]),
    "model misread": (GOOD, ["unrecognized parameter (foo) - ignored"]),
    "guessed": (GOOD, ["Warning: singular matrix:  check node n1"]),
}


@pytest.mark.parametrize("case", BAD)
def test_spoilt_result_is_tried_in_other_ways(case: str) -> None:
    library = FakeLibrary(BAD[case], (GOOD, []))
    assert run(library) == 1.0
    assert library.commands[0].startswith("tran 0.0001 0.02 0.0 0.0001 uic")
    assert library.commands[1].startswith("tran 5e-05 0.02 0.0 5e-05 uic")


@pytest.mark.parametrize("case", BAD)
def test_spoilt_result_is_refused_in_the_end(case: str) -> None:
    library = FakeLibrary(*[BAD[case]] * 4)
    with pytest.raises(EngineError) as caught:
        run(library)
    assert "\n" not in str(caught.value)
    assert "method=gear" in library.decks[2]
    assert "rshunt=1e9" in library.decks[3]
    assert len(library.decks) == 4


def test_what_failed_once_is_not_tried_again() -> None:
    library = FakeLibrary(BAD["no plot"], (GOOD, []), (GOOD, []))
    circuit = Ngspice(cast(Library, library), CIRCUIT, 50.0)
    circuit.transient({}, {}, 0.02, 1e-4)
    circuit.transient({}, {}, 0.02, 1e-4)
    assert library.commands[1] == library.commands[2]


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("Warning: singular matrix:  check node n1", 'singular matrix: check node "node x"'),
        (
            "doAnalyses: TRAN:  Timestep too small; time = 1e-9, timestep = 1e-20: trouble with "
            'node "n1"',
            'trouble with node "node x"',
        ),
        ("Warning: singular matrix:  check node vs3#branch", 'check node "D"'),
        ("singular matrix: check node s3", 'check node "node x"'),
        ("r2: resistance to low", '"R load": resistance to low'),
    ],
)
def test_messages_name_what_the_user_typed(said: str, told: str) -> None:
    library = FakeLibrary(*[(GOOD, ["Note: nothing", said])] * 4)
    with pytest.raises(EngineError) as caught:
        run(library)
    assert told in str(caught.value)
    assert "n1" not in str(caught.value)


def test_state_of_rest_is_judged_too() -> None:
    bad = {"n1": np.array([np.nan])}
    circuit = Ngspice(cast(Library, FakeLibrary((bad, []))), CIRCUIT, None)
    with pytest.raises(EngineError, match="state of rest"):
        circuit.operating_point()


# Finding the library ------------------------------------------------------------------------


def test_named_library_is_the_only_one_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    tried: list[str] = []

    def loads(path: str) -> bool:
        tried.append(path)
        return False

    monkeypatch.setattr(ngspice, "_loads", loads)
    monkeypatch.setenv("NGSPICE_LIBRARY_PATH", "/somewhere/else.so")
    with pytest.raises(EngineMissing, match=r"/somewhere/else\.so"):
        find_library()
    assert tried == ["/somewhere/else.so"]


@pytest.mark.parametrize(
    ("platform", "expected"),
    [
        ("linux", ["libngspice.so.0", "libngspice.so", "/conda/lib/libngspice.so"]),
        (
            "darwin",
            ["/conda/lib/libngspice.dylib", "/opt/homebrew/lib/libngspice.dylib",
             "/usr/local/lib/libngspice.dylib"],
        ),
        ("win32", ["/conda/Library/bin/ngspice.dll", "Spice64_dll/dll-vs/ngspice.dll"]),
    ],
)  # fmt: skip
def test_places_searched(
    monkeypatch: pytest.MonkeyPatch, platform: str, expected: list[str]
) -> None:
    """The usual places of each system, and a sentence on how to get it where it is in none."""
    tried: list[str] = []

    def loads(path: str) -> bool:
        tried.append(Path(path).as_posix())
        return False

    monkeypatch.setattr(ngspice, "_loads", loads)
    monkeypatch.setattr(sys, "platform", platform)
    monkeypatch.setattr(ctypes.util, "find_library", _found("/found/libngspice"))
    monkeypatch.delenv("NGSPICE_LIBRARY_PATH", raising=False)
    monkeypatch.setenv("CONDA_PREFIX", "/conda")
    with pytest.raises(EngineMissing) as caught:
        find_library()
    for path in expected:
        assert any(candidate.endswith(path) for candidate in tried), path
    assert tried[-1] == "/found/libngspice"
    for hint in ("apt-get install libngspice0", "brew install libngspice", "conda"):
        assert hint in str(caught.value)


def test_first_that_loads_is_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ngspice, "_loads", lambda path: path.endswith("found"))
    monkeypatch.setattr(ctypes.util, "find_library", _found("found"))
    monkeypatch.delenv("NGSPICE_LIBRARY_PATH", raising=False)
    assert find_library() == "found"


def _found(path: str) -> Callable[[str], str]:
    return lambda name: path
