"""Circuits that nobody would build: an answer or a clear refusal, and one answer only."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from netcheck.engine import service as services
from netcheck.engine.service import Service
from netcheck.errors import EngineError
from netcheck.graph import Section
from netcheck.parse import parse_circuit
from netcheck.predictor import Predictor
from netcheck.readout.model import SectionModel
from netcheck.resources import folder
from netcheck.source import Source

from .circuits import circuit, readings
from .judged import Called, called, in_folder
from .odd import answered, disagreements, unclear

QUICK = (1003, 1007, 1014, 1017, 1023, 1031)
"""Circuits of the generator that take little time; `python -m tests.fuzz.run --circuits` takes all."""

COMPARED = (*QUICK, *range(1001, 1012), 1013, 1015, 1016, 1021, 1022, 1027, 1030, 1033, 1034)
"""Of which some have a fast path."""

HALF_WAVE = """\
mains 230 V 50 Hz
winding T1 from ground to ac 48 Vac source 60 ohm
diode D1 anode raw cathode ac
capacitor C1 plus ground minus raw 47 uF
"""
DIVIDER = """\
resistor R1 from raw to head 10k
pot RV1 top head wiper sweep bottom foot 10k
resistor R2 from foot to ground 15k
resistor R3 from sweep to grid1 220k
valve V1 EL34 grid grid1 plate 400 V
"""
SHEET = """\
readings for it.bias
as found
{pots}
{node} -30.0 V
power off discharged
{part} 1.2M
"""


@pytest.fixture
def here(tmp_path: Path) -> Iterator[Path]:
    """A folder to work in."""
    with in_folder(str(tmp_path)):
        yield tmp_path


@pytest.fixture
def shared(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    """Commands use the simulator that runs already: to start one takes longer than most answers."""

    class Running:
        def __enter__(self) -> Service:
            return service

        def __exit__(self, *_: object) -> None:
            pass

    monkeypatch.setattr(services, "Service", lambda **_: Running())


def section(text: str) -> Section:
    drawn, findings = parse_circuit(Source("it.bias", text))
    assert drawn is not None, [finding.what for finding in findings]
    return Section(drawn)


def write(text: str, sheet: str = "") -> None:
    Path("it.bias").write_text(text, "utf-8")
    Path("it.readings").write_text(sheet, "utf-8")


def run(*arguments: str) -> Called:
    """A command that must not break down."""
    call = called(arguments, limit=100)
    call.wrong += unclear(call)
    assert call.wrong == []
    return call


# --------------------------------------------------------------------------- made at random


def test_every_circuit_made_is_one_that_the_language_takes() -> None:
    """Else a hundred thousand of them would test the parser alone."""
    for seed in range(150):
        text = circuit(seed)
        drawn = section(text)
        assert drawn.circuit.parts
        assert readings(text, seed, "it.bias") == readings(circuit(seed), seed, "it.bias")
    assert sum(section(circuit(seed)).cut is not None for seed in range(150)) > 50


@pytest.mark.usefixtures("shared", "here")
@pytest.mark.parametrize("seed", QUICK)
def test_an_answer_or_a_clear_refusal(seed: int) -> None:
    calls = answered(seed)
    assert [call.wrong for call in calls] == [[]] * 4
    assert {call.code for call in calls} <= {0, 1, 2, 3}


def test_both_ways_of_predicting_agree(service: Service) -> None:
    compared = 0
    for seed in COMPARED:
        found = disagreements(circuit(seed), seed, service)
        assert not found, f"circuit {seed}: {found}"
        compared += found is not None
    assert compared >= 8


# ---------------------------------------------------------------------- what broke down once


@pytest.mark.usefixtures("shared", "here")
@pytest.mark.parametrize("command", ["predict", "diagnose", "compare"])
@pytest.mark.parametrize(
    ("line", "node"),
    [
        ("valve V2 EL34 grid loose\nvalve V3 EL34 grid loose", "loose"),
        ("valve V2 EL34 grid loose\ncapacitor C9 from loose to ground 100 nF", "loose"),
        ("valve V2 EL34 grid loose\nresistor R9 from loose to loose 1k\nelsewhere foot", "loose"),
    ],
    ids=["grids alone", "a capacitor alone", "a part on itself"],
)
def test_a_grid_that_nothing_holds_is_named(command: str, line: str, node: str) -> None:
    """It has no voltage: to show 0 V would be a lie, and it once was an exception."""
    write(HALF_WAVE + DIVIDER + line + "\n",
          SHEET.format(pots="RV1 at middle", node="raw", part="R2"))  # fmt: skip
    sheet = [] if command == "predict" else ["it.readings"]
    call = run(command, "it.bias", *sheet)
    assert call.code == 3
    assert f'node "{node}" floats' in call.err


@pytest.mark.usefixtures("shared", "here")
def test_a_circuit_whose_nodes_are_all_linked_to_ground() -> None:
    write(
        "resistor R1 from a to ground 1k\nlink W1 from a to ground\npot RV1 top a wiper a bottom "
        "ground 1k\nvalve V1 EL34 grid a\n",
        "readings for it.bias\nas found\nRV1 at middle\na -3 V\npower off discharged\nR1 0.1 ohm\n",
    )
    assert run("check", "it.bias", "--json").code == 1
    assert run("predict", "it.bias", "--json").code == 3
    assert run("diagnose", "it.bias", "it.readings").code == 1


@pytest.mark.usefixtures("shared", "here")
def test_a_resistance_across_a_part_whose_ends_are_one_node() -> None:
    """The leads are shorted: the test volts stand nowhere, and there is nothing to divide by."""
    write(
        "mains 120 V 60 Hz actual 117 V\ndiode D3 anode sweep cathode sweep\n"
        "diode D4 anode ground cathode sweep\nresistor R4 from sweep to ground 390k\n"
        "valve V4 KT88 grid sweep plate 180 V\n",
        "readings for it.bias\nas found\nsweep -3 V\npower off discharged\nD3 1.2M\nR4 27k\n",
    )
    assert run("compare", "it.bias", "it.readings").code == 1


@pytest.mark.usefixtures("shared", "here")
def test_a_mains_line_without_a_source() -> None:
    """What is read is fitted; the mains, which feeds nothing, is not."""
    write(
        "mains 230 V 50 Hz\ndiode D1 anode side cathode head\nzener Z1 anode head cathode feed 27 V\n"
        "resistor R1 from feed to ground 1k\nresistor R2 from side to ground 10k\n"
        "valve V1 EL84 grid head\n",
        "readings for it.bias\nas found\nhead -3.0 V\npower off discharged\nR1 1.2M\n",
    )
    assert run("diagnose", "it.bias", "it.readings").code == 1


@pytest.mark.usefixtures("shared", "here")
def test_a_rectifier_without_a_load() -> None:
    write(
        "diode D3 anode side cathode head\ntremolo X1 from feed to ground 0.027 Vpp 4 Hz source 1k\n"
        "zener Z1 anode head cathode feed 27 V\ndiode D4 anode feed cathode raw\n"
        "valve V2 EL84 grid head\ndiode D5 anode ground cathode raw\n"
        "resistor R4 from side to ground 1G\n",
        "readings for it.bias\nas found\nhead -36.6 V\npower off discharged\nR4 OL\n",
    )
    assert run("diagnose", "it.bias", "it.readings").code == 1


@pytest.mark.usefixtures("shared", "here")
def test_a_port_that_is_the_same_whatever_hangs_on_it() -> None:
    """A winding across an ideal supply: nothing that is read there tells anything."""
    write(
        "mains 230 V 50 Hz\nwinding T1 from ground to ac 48 Vac source 60 ohm\n"
        "supply S2 plus ac minus ground 60 V\nresistor R4 from ac to ground 560k\n"
        "valve V2 6L6GC grid ac\n",
        "readings for it.bias\nas found\nac -3.0 V\npower off discharged\nR4 1.2k\n",
    )
    call = run("diagnose", "it.bias", "it.readings")
    assert call.code == 3
    assert "the same whatever hangs on it" in call.err


def test_a_section_without_a_branch_that_carries_current(service: Service) -> None:
    """All of it is in front of the rectifier: nothing to invert, which could not be reshaped."""
    text = (
        "mains 230 V 50 Hz\nwinding T3 from ground to feed 6.3 Vac source 39 ohm\n"
        "zener Z1 anode feed cathode ground 5.6 V\n"
    )
    model = SectionModel(Predictor(section(text), service))
    assert model.live_wiring.nodes == ()


# ------------------------------------------------------------------------ one answer only


def predictor(text: str, service: Service) -> Predictor:
    return Predictor(section(text), service)


def agree(text: str, service: Service, **travel: float) -> Predictor:
    """The two ways give the same, 20 mV or 0.1 % apart at most."""
    one = predictor(text, service)
    values = one.values(travel)
    fast, whole = one.means(values), one.whole(values)
    for node in one.section.circuit.nodes:
        v = whole.mean[node]
        if one.network is None or one.network.has(node):
            assert float(fast.at(one.section.joined[node])[0]) == pytest.approx(
                v, abs=max(0.02, 1e-3 * abs(v))
            )
    return one


@pytest.mark.parametrize(
    ("parts", "why"),
    [
        ("capacitor C9 from ac to sweep 10 uF", "alternating volts past the rectifier"),
        ("capacitor C9 from ac to foot 1 uF", "likewise, to another node behind it"),
    ],
)
def test_a_capacitor_past_the_rectifier_leaves_no_fast_path(
    parts: str, why: str, service: Service
) -> None:
    """By how much the port changes depends on where the pot stands: 8 V here, once unnoticed."""
    text = HALF_WAVE + DIVIDER + parts + "\n"
    for travel in (0.0, 1.0):
        one = agree(text, service, RV1=travel)
        assert one.network is None, why


def test_two_rectifiers_that_a_capacitor_feeds_from_one_node_are_not_cut(service: Service) -> None:
    """The load of the one changes what the other gets."""
    text = (
        "mains 230 V 50 Hz\nwinding T1 from ground to ht 320 Vac source 140 ohm\n"
        "capacitor C2 from ht to pump 470 nF\ndiode D1 anode pump cathode ground\n"
        "diode D2 anode raw cathode pump\ncapacitor C1 plus ground minus raw 47 uF\n"
        "resistor R4 from ht to g2 4k7\npot RV4 top raw wiper ground bottom g2 10k\n"
        "valve V2 EL34 grid g2\n"
    )
    assert agree(text, service, RV4=0.1).section.cut is None


def test_a_coupling_that_feeds_one_rectifier_is_cut(service: Service) -> None:
    """So does a reservoir from the port to in front, as in a doubler."""
    for name in ("two-el34-coupled", "two-el84-doubler"):
        text = (folder("circuits") / f"{name}.bias").read_text("utf-8")
        assert section(text).cut is not None


def test_a_port_that_never_conducts(service: Service) -> None:
    """A grid held at a diode's leakage by nothing but a node that goes on elsewhere."""
    text = (
        "mains 120 V 60 Hz\nwinding T3 from side to g2 48 Vac source 10 ohm\n"
        "resistor R4 from pump to g2 1k\ndiode D3 anode ground cathode side\n"
        "diode D4 anode ground cathode g2\nresistor R6 from pump to side 15k\n"
        "diode D5 anode pump cathode ground\nvalve V2 KT88 grid pump\nelsewhere pump\n"
    )
    agree(text, service)


@pytest.mark.parametrize("r", [0.01, 0.1, 1.0])
def test_a_port_that_is_nearly_shorted(r: float, service: Service) -> None:
    """Twenty times the load is less than the least resistance that is simulated."""
    text = HALF_WAVE + DIVIDER + f"resistor R9 from raw to ground {r} ohm\n"
    one = agree(text, service, RV1=0.2)
    curve = one.trace(one.values())["raw"]
    assert curve.i.size > 5


def test_a_very_small_capacitor_behind_the_rectifier(service: Service) -> None:
    """A ten-thousandth of the load has a ten-thousandth of it, which is not simulated."""
    text = HALF_WAVE + DIVIDER + "capacitor C9 from sweep to ground 3.3 pF\n"
    one = predictor(text, service)
    curve = one.trace(one.values())["raw"]
    assert curve.i.size > 5
    agree(text, service, RV1=0.7)


def test_a_port_that_gives_one_current_whatever_its_load(service: Service) -> None:
    """Two points at one current: a slope between them is none."""
    text = HALF_WAVE + (
        "supply S2 plus g1 minus raw 3.3 V source 470 ohm\ntremolo X1 from raw to sweep 100 Vpp 4 Hz "
        "source 8k2\nzener Z1 anode g1 cathode foot 180 V\nzener Z2 anode raw cathode ground 1.5 V\n"
        "diode D3 anode raw cathode sweep\nzener Z3 anode foot cathode g1 2.2 V\n"
        "valve V2 5881 grid foot\ntremolo X2 from ground to foot 560 Vpp 4 Hz\n"
    )
    agree(text, service)


Refuses = Callable[[Predictor], Any]


@pytest.mark.parametrize("ask", [lambda p: p.means(p.values()), lambda p: p.whole(p.values())])
def test_what_the_one_refuses_the_other_does(ask: Refuses, service: Service) -> None:
    text = HALF_WAVE + DIVIDER + "valve V2 EL34 grid loose\ncapacitor C9 from loose to raw 1 nF\n"
    with pytest.raises(EngineError, match='"loose" floats'):
        ask(predictor(text, service))
