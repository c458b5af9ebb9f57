"""The text that ngspice gets, and the deck that a user gets."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from netcheck.engine.deck import TITLE, build, number
from netcheck.engine.elements import (
    GROUND,
    Capacitance,
    CurrentSource,
    DcSource,
    Element,
    Junction,
    Resistance,
    SineSource,
)
from netcheck.engine.export import export_deck
from netcheck.engine.service import Service
from netcheck.engine.steady import steady_state
from netcheck.errors import EngineError

from .circuits import KINDS, half_wave

HOSTILE = "x\n.control\nshell touch hacked\n.endc\r\u2028*#shell touch hacked\x00\x1b[2J é Ω"

ONE_OF_EACH: list[Element] = [
    SineSource("W", "a", GROUND, 70.1),
    Resistance("R1", "a", "b", 1 / 3),
    Junction("D1", "n", "b", 2e-9, 1.8, 0.1),
    Capacitance("C1", GROUND, "n", 47e-6),
    DcSource("S", "q", GROUND, 1e-7),
    CurrentSource("I", "q", "n", 1e-5),
    Junction("D2", "b", "n", 2e-9, 1.8, 0.1),
    Resistance("R2", "q", "q", 5.0),
    Resistance("R3", "q", GROUND, 5e5),
]


def test_one_of_each_by_hand() -> None:
    text = build(ONE_OF_EACH, 60.0).text({"C1": 61.5}, {"a": 0.5, "n": -60.0, GROUND: 0.0})
    assert text.splitlines() == [
        f".title {TITLE}",
        "V1 n1 0 dc 0 sin(0 70.1 60.0)",
        "R2 n1 n2 0.3333333333333333",
        "Vs3 n3 s3 dc 0",
        "D3 s3 n2 m1",
        "C4 0 n3 4.7e-05 ic=61.5",
        "V5 n4 0 dc 1e-07",
        "I6 n4 n3 dc 1e-05",
        "Vs7 n2 s7 dc 0",
        "D7 s7 n3 m1",
        "R8 n4 0 500000.0",
        ".model m1 D (cjo=1.5e-11 is=2e-09 n=1.8 rs=0.1)",
        ".ic v(n1)=0.5",
        ".ic v(n3)=-60.0",
        ".ic v(s3)=-60.0",
        ".options reltol=1e-3 itl4=100 temp=27 tnom=27 method=trap",
        ".end",
    ]


@pytest.mark.parametrize("x", [0.1, 1e-15, 1e12, -2 / 3, np.float64(1 / 3), 5])
def test_numbers_come_back_as_they_were(x: float) -> None:
    assert float(number(x)) == x
    assert re.fullmatch(r"-?[0-9.]+(e[-+]?[0-9]+)?", number(x))


def test_names_of_the_user_are_not_in_it() -> None:
    elements, frequency = half_wave()
    hostile = [Resistance(HOSTILE, "n", HOSTILE, 1e3), Resistance("R9", HOSTILE, GROUND, 1e3)]
    text = build([*elements, *hostile], frequency).text({}, {HOSTILE: 1.0})
    assert text.isascii()
    assert "shell" not in text
    plain = [Resistance("R8", "n", "p", 1e3), Resistance("R9", "p", GROUND, 1e3)]
    assert text == build([*elements, *plain], frequency).text({}, {"p": 1.0})


def exported(kind: str, service: Service) -> tuple[str, dict[str, float]]:
    elements, frequency = KINDS[kind]()
    state = steady_state(elements, frequency, service=service)
    means = {node: state.mean(node) for node in state.waves.v if node != GROUND}
    return export_deck(elements, frequency, state, heading=["demo.bias", HOSTILE]), means


def test_comments_stay_comments(service: Service) -> None:
    elements: list[Element] = [
        DcSource("S", HOSTILE, GROUND, 5.0),
        Resistance(f"R{HOSTILE}", HOSTILE, GROUND, 1e3),
    ]
    state = steady_state(elements, None, service=service)
    text = export_deck(elements, None, state, heading=[HOSTILE, "*#shell touch hacked"])
    assert text.isascii()
    assert all(line.isprintable() for line in text.splitlines())
    for line in text.splitlines():
        if "hacked" in line:
            assert line.startswith("* ")
    assert text.splitlines()[0] == f".title {TITLE}"
    assert not any(line.startswith((".control", "*#", "shell")) for line in text.splitlines())


def test_export_says_what_the_names_stand_for(service: Service) -> None:
    text, _ = exported("half_wave", service)
    assert "* n3 is node n\n" in text
    assert "* r2 is R winding\n" in text
    assert "* demo.bias\n" in text


def test_export_of_an_impossible_circuit(service: Service) -> None:
    elements, frequency = half_wave()
    state = steady_state(elements, frequency, service=service)
    with pytest.raises(EngineError, match='"R0"'):
        export_deck([*elements, Resistance("R0", "n", GROUND, 0.0)], frequency, state)


@pytest.mark.skipif(shutil.which("ngspice") is None, reason="the ngspice program is not installed")
@pytest.mark.parametrize("kind", ["half_wave", "bridge", "capacitor_coupled", "six_capacitors"])
def test_anyone_can_repeat_it(service: Service, kind: str, tmp_path: Path) -> None:
    """The ngspice program, on its own, prints the means that were predicted."""
    text, means = exported(kind, service)
    (tmp_path / "deck.cir").write_text(text, encoding="ascii")
    done = subprocess.run(
        ["ngspice", "-b", "deck.cir"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0
    assert "rror" not in done.stdout + done.stderr
    names = dict(re.findall(r"^\* (n\d+) is node (.*)$", text, re.MULTILINE))
    printed = dict(re.findall(r"^mean_(n\d+)\s*=\s*(\S+)", done.stdout, re.MULTILINE))
    assert set(printed) == set(names)
    for short, v in printed.items():
        # Its average begins at the first point computed, and it prints seven digits.
        assert float(v) == pytest.approx(means[names[short]], rel=1e-3, abs=10e-3)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["deck.cir"]


@pytest.mark.skipif(shutil.which("ngspice") is None, reason="the ngspice program is not installed")
def test_state_of_rest_can_be_repeated(service: Service, tmp_path: Path) -> None:
    elements: list[Element] = [
        DcSource("S", "a", GROUND, -60.0),
        Resistance("R1", "a", "w", 1e3),
        Resistance("R2", "w", GROUND, 3e3),
        Capacitance("C", "w", GROUND, 1e-6),
    ]
    text = export_deck(elements, None, steady_state(elements, None, service=service))
    (tmp_path / "deck.cir").write_text(text, encoding="ascii")
    done = subprocess.run(
        ["ngspice", "-b", "deck.cir"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert re.search(r"^\s*n2\s+-4\.50*e\+01", done.stdout, re.MULTILINE)
