"""The circuits that are shipped: they read, they say what they show, and they are sound."""

from __future__ import annotations

import re
import subprocess
import sys

import pytest

from netcheck.entry.shipped import Shipped, shipped
from netcheck.files import read_source
from netcheck.layout import format_circuit, format_lines
from netcheck.netlist import Capacitor, Circuit, Diode, Pot, Supply, Valve, Winding, Zener
from netcheck.parse import parse_circuit, parse_lines
from netcheck.resources import folder
from netcheck.source import Source

ALL = shipped()
EVERY = pytest.mark.parametrize("example", ALL, ids=lambda example: example.name)


def read(example: Shipped) -> Circuit:
    circuit, findings = parse_circuit(read_source(str(example.path)))
    assert not findings
    assert circuit is not None
    return circuit


def test_there_are_enough_and_the_first_one_is_there() -> None:
    names = [example.name for example in ALL]
    assert len(names) >= 16
    assert names == sorted(names)
    assert "two-6v6gt-foot" in names
    assert not any("faulty" in example.path.parts for example in ALL)


@EVERY
def test_it_says_what_it_shows(example: Shipped) -> None:
    text = read_source(str(example.path)).text
    assert text.startswith("# ")
    assert example.title == read(example).title != ""
    assert example.shows.endswith(".")
    assert len(example.shows.split()) > 4
    head = " ".join(line.lstrip("# ") for line in text.split("\n\ncircuit")[0].split("\n"))
    assert re.search(r"\binvented\b", head), "it must say that it is invented"


@EVERY
def test_it_survives_formatting(example: Shipped) -> None:
    source = read_source(str(example.path))
    circuit = read(example)
    lines, _ = parse_lines(source)
    for text in (format_lines(lines), format_circuit(circuit)):
        again, findings = parse_circuit(Source("formatted", text))
        assert not findings
        assert again == circuit
    assert [line.comment for line in lines if line.comment] == [
        line.comment
        for line in parse_lines(Source("formatted", format_lines(lines)))[0]
        if line.comment
    ]


def test_every_arrangement_of_the_trade_is_among_them() -> None:
    circuits = [read(example) for example in ALL]

    def some(what: str, found: bool) -> None:
        assert found, f"no circuit with {what}"

    pots = [(c, pot) for c in circuits for pot in c.of(Pot)]
    windings = [(c, winding) for c in circuits for winding in c.of(Winding)]
    diodes = [(c, diode) for c in circuits for diode in c.of(Diode)]
    some("a divider above a foot", any("ground" not in (p.top, p.bottom) for _, p in pots))
    some("a rheostat", any(p.wiper in (p.top, p.bottom) for _, p in pots))
    some("a pot across the supply", any(p.bottom == "ground" for _, p in pots))
    some("an audio taper", any(p.taper == "audio" for _, p in pots))
    some("a pot per valve", any(
        len(list(c.of(Pot))) == len(list(c.of(Valve))) >= 4 for c in circuits))  # fmt: skip
    some("two pots for bias and balance", any(
        len(list(c.of(Pot))) == 2 and len(list(c.of(Valve))) == 2 for c in circuits))  # fmt: skip
    some("no pot", any(not list(c.of(Pot)) for c in circuits))
    some("a tap", any(w.taps for _, w in windings))
    some("a centre tap, full-wave", any(
        w.centre and len(list(c.of(Diode))) == 2 and not w.taps and w.v_rms < 100
        for c, w in windings))  # fmt: skip
    some("a floating bridge", any("ground" not in (w.start, w.end, w.centre) for _, w in windings))
    some("coupling by a capacitor", any(
        not cap.polarised and c.part("T1") is not None for c in circuits
        for cap in c.of(Capacitor)))  # fmt: skip
    some("a selenium rectifier", any(d.material == "selenium" for _, d in diodes))
    some("a vacuum rectifier", any(d.material == "vacuum" for _, d in diodes))
    some("a zener", any(list(c.of(Zener)) for c in circuits))
    some("a direct supply", any(list(c.of(Supply)) for c in circuits))
    some("60 Hz", any(c.mains and c.mains.frequency == 60 for c in circuits))
    types = {valve.type for c in circuits for valve in c.of(Valve)}
    assert {"6V6GT", "EL34", "EL84", "6L6GC", "KT88", "7591", "5881"} <= types


def test_the_list_as_a_program() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "netcheck", "circuits"],
        capture_output=True, text=True, check=False, timeout=30, cwd=folder("circuits").parent,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    for example in ALL:
        assert example.name in done.stdout
