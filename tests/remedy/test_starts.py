"""From readings to the circuit that one begins with."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from netcheck.commands.common import load
from netcheck.diagnose.diagnosis import Diagnosis, Verdict, diagnose
from netcheck.diagnose.explain import Fitted
from netcheck.diagnose.hypotheses import Hypothesis, misread, single
from netcheck.diagnose.suspects import Mode, Suspect
from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.idling import idling_valve
from netcheck.netlist import OPEN, Capacitor, Circuit, Diode, Pot, Resistor, Valve
from netcheck.predictor import Predictor
from netcheck.readings import Kind, Meter, Position, Reading, State
from netcheck.readout.links import with_links_as_parts
from netcheck.readout.model import SectionModel
from netcheck.remedy.faulty import Faulty, NoCircuit, faulty
from netcheck.remedy.measured import Drawn, currents, shifted
from netcheck.remedy.start import Start, as_diagnosed
from netcheck.remedy.words import restore_words
from netcheck.valves import lookup

from .sections import circuit_of, divider

CIRCUIT = load("two-6v6gt-foot")
EVERY = single(Section(CIRCUIT), [])


def suspect(part: str, mode: str, x: float | None = None, circuit: Circuit = CIRCUIT) -> Suspect:
    """A suspect as a diagnosis gives it, with one fitted value."""
    every = EVERY if circuit is CIRCUIT else single(Section(circuit), [])
    (hypothesis, *_) = [h for h in every if h.parts == (part,) and h.mode == mode]
    fitted = () if x is None else (Fitted(hypothesis.axis, x, 0.9 * x, 1.1 * x),)
    return Suspect((part,), 1.0, (Mode(hypothesis, 1.0, fitted, 0.0),))


def made(*args: Any) -> Faulty:
    return faulty(CIRCUIT, suspect(*args))


def part(found: Faulty, name: str) -> Any:
    return found.circuit.part(name)


def test_a_value_off() -> None:
    found = made("R3", "low", 20151.7)
    assert part(found, "R3").r == 20200.0  # three digits: no set of readings tells more
    assert (found.parts, found.is_livable) == (("R3",), True)
    unchanged = [p for p in found.circuit.parts if p.name != "R3"]
    assert unchanged == [p for p in CIRCUIT.parts if p.name != "R3"]


def test_breaks_and_shorts_are_not_worked_around() -> None:
    opened, shorted = made("R3", "open"), made("R3", "short")
    assert part(opened, "R3").r >= 1e9
    assert part(shorted, "R3").r <= 1.0
    assert not opened.is_livable
    assert not shorted.is_livable


def test_pots() -> None:
    drawn = CIRCUIT.part("RV1")
    assert isinstance(drawn, Pot)
    assert part(made("RV1", "high", 22e3), "RV1").r == 22e3
    turned = part(made("RV1", "wired the other way"), "RV1")
    assert (turned.top, turned.bottom) == (drawn.bottom, drawn.top)
    audio = made("RV1", "audio taper")
    assert part(audio, "RV1").taper == "audio"
    assert audio.is_livable
    lifted = made("RV1", "wiper lifted")
    assert part(lifted, "RV1").wiper not in CIRCUIT.nodes
    assert not lifted.is_livable
    assert part(made("RV1", "top end open"), "RV1").top == OPEN
    worn = made("RV1", "bottom end worn", 2e3)
    (end,) = [p for p in worn.circuit.parts if CIRCUIT.part(p.name) is None]
    assert isinstance(end, Resistor)
    assert (end.start, end.r, part(worn, "RV1").bottom) == (drawn.bottom, 2e3, end.end)


def test_capacitors_and_diodes() -> None:
    leaky = part(made("C1", "leaky", 33e3), "C1")
    assert isinstance(leaky, Capacitor)
    assert leaky.r_leak == 33e3
    dry = EVERY[[(h.parts, h.mode) for h in EVERY].index((("C1",), "dried out"))]
    both = (Fitted("C1", 2e-6, 1e-6, 3e-6), Fitted("C1.esr", 50.0, 40.0, 60.0))
    found = faulty(CIRCUIT, Suspect(("C1",), 1.0, (Mode(dry, 1.0, both, 0.0),)))
    assert (part(found, "C1").c, part(found, "C1").esr) == (2e-6, 50.0)
    diode = part(made("D1", "open"), "D1")
    assert isinstance(diode, Diode)
    assert diode.r_series is not None
    assert diode.r_series >= 1e9
    leak = made("D1", "leaky", 10e3)
    (across,) = [p for p in leak.circuit.parts if CIRCUIT.part(p.name) is None]
    assert isinstance(across, Resistor)
    assert {across.start, across.end} == {"raw", "feed"}


def test_a_winding_loses_its_load_drop_only_once() -> None:
    circuit = circuit_of(
        "mains 230 V 50 Hz\n"
        "winding T1 from ground tap mid 10 Vac to tap 48 Vac at 0.1 A source 20 ohm\n"
        "diode D1 anode raw cathode tap 1000 V\n"
        "capacitor C1 plus ground minus raw 47 uF\n"
        "resistor R1 from raw to ground 10k\n"
        "resistor R2 from mid to ground 10k\n"
    )
    # no-load volts of 48 + 0.1 * 20 = 50; four fifths of them were found
    found = faulty(circuit, suspect("T1", "low", 40.0, circuit)).circuit.part("T1")
    assert found is not None
    assert found.v_rms == pytest.approx(0.8 * 48.0)  # type: ignore[attr-defined]
    assert found.taps[0].v_rms == pytest.approx(0.8 * 10.0)  # type: ignore[attr-defined]


def test_a_fuse_that_blew_is_put_right() -> None:
    """In the diagnosis a link is a resistor; in the drawing it stays a link."""
    drawn = circuit_of(
        "supply S1 plus ground minus in 42 V source 100 ohm\n"
        "link F1 from in to raw\nresistor R1 from raw to ground 10k\n"
    )
    seen = with_links_as_parts(drawn)
    found = faulty(drawn, suspect("F1", "open", None, seen))
    blown = found.circuit.part("F1")
    assert isinstance(blown, Resistor)
    assert blown.r >= 1e9
    assert not found.is_livable
    assert restore_words(drawn, found.parts) == "replace F1"


def test_two_parts_at_once() -> None:
    hypothesis = Hypothesis(("R2", "R3"), "high, low", dict.fromkeys(("R2", "R3"), EVERY[1].changes[
        next(iter(EVERY[1].changes))]))  # fmt: skip
    fitted = (Fitted("R2", 22e3, 2e4, 3e4), Fitted("R3", 20e3, 1e4, 3e4))
    found = faulty(CIRCUIT, Suspect(("R2", "R3"), 1.0, (Mode(hypothesis, 1.0, fitted, 0.0),)))
    assert (part(found, "R2").r, part(found, "R3").r) == (22e3, 20e3)
    assert found.parts == ("R2", "R3")
    assert found.is_livable


def test_what_is_no_change_of_the_circuit() -> None:
    with pytest.raises(NoCircuit, match="mains"):
        made("mains", "low", 0.9)
    (wrong, *_) = misread([_reading(Kind.DC, -40.0)], [0])
    with pytest.raises(NoCircuit, match="misread"):
        faulty(CIRCUIT, Suspect(wrong.parts, 1.0, (Mode(wrong, 1.0, (), 0.0),)))
    with pytest.raises(NoCircuit, match="replace it"):
        made("V1", "draws grid current", 10e-6)


def test_every_hypothesis_makes_a_circuit_or_says_why_not() -> None:
    for hypothesis in EVERY:
        if not hypothesis.parts:
            continue
        fitted = tuple(
            Fitted(name, math.exp(0.5 * (p.a + p.b)), 1.0, 2.0)
            for name, p in hypothesis.changes.items()
            if p.kind != 0
        )
        one = Suspect(hypothesis.parts, 1.0, (Mode(hypothesis, 1.0, fitted, 0.0),))
        if hypothesis.parts == ("mains",) or hypothesis.mode == "draws grid current":
            with pytest.raises(NoCircuit, match=r"\w"):
                faulty(CIRCUIT, one)
            continue
        found = faulty(CIRCUIT, one)
        assert found.circuit != CIRCUIT
        assert set(found.parts) == set(hypothesis.parts)


# ------------------------------------------------------------------------ measured valves


def _reading(kind: Kind, nominal: float, plus: str = "", minus: str = "", part: str = "",
             travel: float = 0.0) -> Reading:  # fmt: skip
    state = State(pots={"RV1": Position(travel)})
    return Reading(kind, nominal, 0.1, state, Meter("dmm", r_input=1e6), plus, minus, part)


def test_a_current_read_at_the_drawn_volts_stays_as_it_is() -> None:
    drawn = Drawn("V1", 20e-3, -24.0, False, 345.0, 310.0)
    valve = shifted(divider(), [drawn]).part("V1")
    assert isinstance(valve, Valve)
    assert valve.readings[0].i_cathode == pytest.approx(20e-3, rel=1e-6)
    assert valve.readings[0].v_grid == -24.0


def test_a_current_read_at_higher_volts_counts_for_less() -> None:
    """At the drawn volts the same valve draws what its type's curve, shifted, gives there."""
    high = Drawn("V1", 20e-3, -24.0, False, 380.0, 341.0)
    valve = shifted(divider(), [high]).part("V1")
    assert isinstance(valve, Valve)
    assert valve.readings[0].i_cathode < 17e-3
    kind = lookup("6V6GTA")
    assert kind is not None
    there = replace(valve, v_plate=380.0, v_screen=341.0)
    ready = idling_valve(replace(valve), kind, None)
    assert ready is not None
    again = replace(ready, valve=there).cathode_current(np.array([-24.0]), np.zeros(1))
    assert float(again[0]) == pytest.approx(20e-3, rel=1e-3)


def test_a_grid_is_read_with_the_meters_load_taken_off(service: Service) -> None:
    """1 Mohm on a divider of 16.1 Mohm... by hand: 68k of leak and the pot's output resistance.

    Fully clockwise the wiper stands 100 ohm above the foot: behind 27k to ground and 25k to the
    supply. The reading is lower by R / (R + 1 Mohm); 0.2 % is for the pot's end resistance.
    """
    predictor = Predictor(Section(divider()), service)
    readings = [_reading(Kind.CURRENT, 22e-3, part="V1", travel=1.0),
                _reading(Kind.DC, -20.0, "grid1", "ground", travel=1.0)]  # fmt: skip
    (found,) = currents(predictor, readings)
    r = 68e3 + 1.0 / (1.0 / 27.1e3 + 1.0 / 25e3)
    assert found.v_grid == pytest.approx(-20.0 * (1.0 + r / 1e6), rel=2e-3)
    assert not found.is_predicted
    assert (found.v_plate, found.v_screen) == (345.0, 310.0)


def test_a_grid_that_was_not_read_is_predicted(service: Service) -> None:
    predictor = Predictor(Section(divider()), service)
    (found,) = currents(predictor, [_reading(Kind.CATHODE, 18e-3, part="V2", travel=0.5)])
    assert found.i_cathode == pytest.approx(18e-3)  # across 1 ohm
    whole = predictor.whole(predictor.values({"RV1": 0.5})).mean["grid2"]
    assert found.v_grid == pytest.approx(whole, abs=0.05)
    assert found.is_predicted


def test_plate_and_screen_follow_the_plate_that_was_read(service: Service) -> None:
    predictor = Predictor(Section(divider()), service)
    readings = [_reading(Kind.CATHODE, 18e-3, part="V1"), _reading(Kind.PLATE, 379.5, part="V1")]
    (found,) = currents(predictor, readings)
    assert (found.v_plate, found.v_screen) == pytest.approx((379.5, 341.0))


def test_a_valve_that_draws_nothing_is_no_guide(service: Service) -> None:
    predictor = Predictor(Section(divider()), service)
    assert currents(predictor, [_reading(Kind.CURRENT, 0.0, part="V1")]) == []


def test_two_currents_give_two_readings() -> None:
    drawn = [Drawn("V1", 12e-3, -28.0, False, 345.0, 310.0),
             Drawn("V1", 22e-3, -23.0, False, 345.0, 310.0),
             Drawn("V1", 21.8e-3, -23.1, False, 345.0, 310.0)]  # fmt: skip
    valve = shifted(divider(), drawn).part("V1")
    assert isinstance(valve, Valve)
    assert [r.v_grid for r in valve.readings] == [-23.0, -28.0]
    assert valve.readings[0].i_cathode == pytest.approx(22e-3, rel=1e-6)


# ---------------------------------------------------------------------- from a diagnosis on


@pytest.fixture(scope="module")
def strapped(service: Service) -> Diagnosis:
    """The divider's foot of 27k read as 20.2k in place, and volts that go with it.

    By hand: 42 V through 100 ohm, 15k, 10k and 20.2k is 0.927 mA; 18.7 V at the foot.
    """
    circuit = divider()
    model = SectionModel(Predictor(Section(circuit), service))
    readings = [
        _reading(Kind.DC, -27.9, "head", "ground"),
        _reading(Kind.DC, -18.6, "foot", "ground"),
        replace(_reading(Kind.OHMS, 20.2e3, "foot", "ground"), part="R2",
                state=State(live=False, discharged=True)),
    ]  # fmt: skip
    return diagnose(model, [replace(r, meter=Meter("dmm")) for r in readings], 2025)


def begun(found: Diagnosis, service: Service) -> Start:
    return as_diagnosed(divider(), service, found, found.readout.readings)


def test_what_is_named_is_begun_with(strapped: Diagnosis, service: Service) -> None:
    start = begun(strapped, service)
    part = start.circuit.part("R2")
    assert isinstance(part, Resistor)
    assert part.r == pytest.approx(20.2e3, rel=0.02)  # the meter may be 1 % off, volts too
    assert start.drawn == divider()
    assert (start.faults, start.is_certain, start.first) == (("R2",), True, "")
    assert start.words[0].startswith("The readings say: R2 acts as 20.")


def test_what_is_not_decided_is_said_first(strapped: Diagnosis, service: Service) -> None:
    two = replace(strapped, verdict=Verdict.GROUP, group=strapped.suspects[:2])
    start = begun(two, service)
    assert start.faults == ("R2",)
    assert not start.is_certain
    assert start.first.startswith("Find out first what is wrong")
    assert strapped.suspects[1].label in start.words[1]


@pytest.mark.parametrize("verdict", [Verdict.SOUND, Verdict.UNDETERMINED, Verdict.NONE_FITS])
def test_without_a_fault_the_drawing_is_begun_with(
    verdict: Verdict, strapped: Diagnosis, service: Service
) -> None:
    start = begun(replace(strapped, verdict=verdict), service)
    assert start.circuit == start.drawn == divider()
    assert not start.faults
    assert "this begins with the drawing" in start.words[0] or "agree with" in start.words[0]
    assert bool(start.first) is (verdict is Verdict.NONE_FITS)


def test_a_fault_that_is_not_in_the_circuit_is_said_first(
    strapped: Diagnosis, service: Service
) -> None:
    gassy = suspect("V1", "draws grid current", 10e-6, divider())
    start = begun(replace(strapped, suspects=(gassy,), group=(gassy,)), service)
    assert start.circuit == divider()
    assert start.first.startswith("First put right what the readings say: V1 draws grid current")
