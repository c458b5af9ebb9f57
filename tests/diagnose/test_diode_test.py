"""A meter's diode test, with all parts soldered in."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import pytest
from scipy.optimize import brentq

from netcheck.diagnose.candidates import candidates
from netcheck.diagnose.diagnosis import Verdict, diagnose
from netcheck.diagnose.hypotheses import single
from netcheck.diagnose.words import mode_words, request
from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.netlist import Diode, Zener
from netcheck.readings import OVERLOAD, Kind, Reading
from netcheck.readout.coordinates import Priors
from netcheck.readout.readout import Readout

from ..chassis import diodetest
from ..chassis.chassis import Chassis
from ..chassis.faults import Fault, draw, faults_of
from ..chassis.plans import Item
from .conditions import coordinates_of
from .conftest import Models
from .sections import METER, YEAR, at, model_of
from .test_copper_and_junctions import DEAD
from .test_fast_path import EXACT

OFF = at({}, live=False)

ONE_DIODE = """\
circuit "A diode and what lies beside it"
supply S1 plus ground minus feed 50 V source 10 ohm
diode D1 anode raw cathode feed type 1N4007
resistor R1 from raw to feed {beside}
resistor R2 from raw to ground 1M
valve V1 EL84 grid raw
"""


def both_ways(section: Section) -> Iterator[Item]:
    """Every rectifier, both ways."""
    for part in section.circuit.parts:
        if isinstance(part, Diode | Zener):
            yield Item(Kind.FORWARD, part.anode, part.cathode, part.name, OFF)
            yield Item(Kind.REVERSE, part.cathode, part.anode, part.name, OFF)


def shown_by(section: Section, name: str, volts: float, kind: Kind = Kind.FORWARD) -> Reading:
    part = section.circuit.part(name)
    assert isinstance(part, Diode)
    plus, minus = (part.anode, part.cathode)[:: 1 if kind is Kind.FORWARD else -1]
    digit = 0.0 if volts == OVERLOAD else 1e-3
    return Reading(kind, volts, digit, OFF, METER, plus, minus, name)


@pytest.mark.parametrize(
    "name",
    ["two-7591-bridge", "two-el34-zener", "two-kt88-full-wave", "two-el84-doubler",
     "two-6l6gc-selenium"],
)  # fmt: skip
def test_ngspice_shows_the_same(name: str, models: Models, service: Service) -> None:
    """Every test of chassis at random, a rectifier or a winding at fault, simulated as a whole."""
    model = models(name)
    rng = np.random.default_rng(5)
    plan = list(both_ways(model.section))
    near = {p.name for p in model.section.circuit.parts if isinstance(p, Diode)}
    faults = [draw(model.section, kind, rng) for kind in faults_of(model.section)
              if kind.part in near | {"T1"}]  # fmt: skip
    for seed, fault in enumerate(faults):
        chassis = Chassis(model.section, [fault], seed, service, errors=EXACT)
        readout = Readout(model, chassis.readings(plan), YEAR)
        found = readout.predict(coordinates_of(chassis, readout.coordinates)[None])[0][0]
        for k, reading in enumerate(readout.readings):
            shown = readout.scales.y(reading, reading.nominal)
            # Half of what a diagnosis takes a junction to be off by.
            assert found[k] == pytest.approx(shown, abs=0.03), (fault, reading)


@pytest.mark.parametrize("beside", [300.0, 620.0, 1.8e3, 100e3])
def test_a_diode_beside_a_resistor(beside: float) -> None:
    """The exponential law with a resistor beside it, solved by scipy.

    Saturation current and emission coefficient are those that 0.7 V at 10 mA makes of a
    coefficient of 1.8, common practice for silicon.
    """
    model = model_of(ONE_DIODE.format(beside=f"{beside:g}"))
    readout = Readout(model, [shown_by(model.section, "D1", 0.6)], YEAR)
    middle = np.zeros((1, len(readout.coordinates)))
    x = Priors([readout.coordinates.sound]).at(middle, np.zeros(1, int))[0]
    v = readout.scales.value(readout.readings[0], float(readout.predict(x)[0][0, 0]))
    n_v_t = 1.8 * 1.380649e-23 * 300.15 / 1.602176634e-19
    i_s = 10e-3 / math.exp(0.7 / n_v_t)
    law = brentq(lambda u: i_s * math.expm1(u / n_v_t) + u / beside - 1e-3, 0.0, 2.0)
    assert v == pytest.approx(law, rel=2e-3)  # the meter's last digit


def test_a_junction_at_a_milliampere(models: Models) -> None:
    """1N4007: 0.55 to 0.65 V at 1 mA and 25 C, typical curve of its data sheet, from memory."""
    model = models("two-6v6gt-foot")
    readout = Readout(model, [shown_by(model.section, "D1", 0.6)], YEAR)
    shown = readout.scales.value(readout.readings[0], float(readout._drawn[0]))
    assert 0.55 <= shown <= 0.65


@pytest.mark.parametrize("name", ["two-7591-bridge", "two-el34-zener", "two-kt88-full-wave"])
def test_its_derivatives(name: str, models: Models) -> None:
    """Central differences, in chassis with any of the faults."""
    model = models(name)
    readings = [Reading(item.kind, 0.6, 1e-3, OFF, METER, item.plus, item.minus, item.part)
                for item in both_ways(model.section)]  # fmt: skip
    readout = Readout(model, readings, YEAR)
    every = single(model.section, readings)
    priors = Priors([readout.coordinates.row(h.changes) for h in every])
    rng = np.random.default_rng(8)
    u = np.clip(rng.normal(size=(len(every), len(readout.coordinates))), -2.0, 2.0)
    x = priors.at(u, np.arange(len(every)))[0]
    slope, step = readout.predict(x)[1], 2e-3
    for k in range(len(readout.coordinates)):
        rows = np.flatnonzero(priors.free[:, k])
        up, down = x[rows], x[rows]
        up[:, k] += step
        down[:, k] -= step
        y_up, y_down = readout.predict(up)[0], readout.predict(down)[0]
        found = (y_up - y_down) / (2.0 * step)
        most = np.log(2.02) - 1e-9  # between below OL and OL there is a corner
        inside = (y_up < most) & (y_down < most)
        # A score moves by a tenth in the last steps of a fit: a hundredth of the error then.
        assert np.abs(slope[rows, :, k] - found)[inside].max(initial=0.0) < 5e-3


@pytest.mark.parametrize(
    ("shown", "way"),
    [(OVERLOAD, "D1 is open"), (0.001, "D1 is shorted"), (0.022, "D1 has broken down")],
)
def test_a_rectifier_that_gives_no_volts(shown: float, way: str, models: Models) -> None:
    model = models("two-6v6gt-foot")
    assert diagnose(model, DEAD, YEAR).verdict is not Verdict.NAMED
    found = diagnose(model, [*DEAD, shown_by(model.section, "D1", shown)], YEAR)
    assert found.verdict is Verdict.NAMED
    assert found.suspects[0].label == "D1"
    assert mode_words(model.section, found.suspects[0].mode).startswith(way)


def test_a_rectifier_that_tests_well_is_cleared(models: Models) -> None:
    model = models("two-6v6gt-foot")
    taken = [*DEAD, shown_by(model.section, "D1", 0.585),
             shown_by(model.section, "D1", OVERLOAD, Kind.REVERSE)]  # fmt: skip
    found = diagnose(model, taken, YEAR)
    assert sum(s.probability for s in found.suspects if s.label == "D1") < 0.01


def test_in_a_bridge_the_next_diode_hides_an_open_one(models: Models, service: Service) -> None:
    """Through the winding it lies beside the one that is tested: common practice."""
    model = models("two-7591-bridge")
    first = next(both_ways(model.section))
    assert first.part == "D1"
    shown = []
    for faults in ([], [Fault("D1", "open")]):
        chassis = Chassis(model.section, faults, 2, service, errors=EXACT)
        shown += [reading.nominal for reading in chassis.readings([first])]
    sound, opened = shown
    assert 0.4 < sound < opened < 0.7
    readings = [shown_by(model.section, "D1", opened), *DEAD]
    found = diagnose(model, readings, YEAR)
    assert not any(s.probability > 0.9 for s in found.suspects if s.label == "D1")


def test_it_is_asked_for_with_the_power_off(models: Models) -> None:
    model = models("two-7591-bridge")
    asked = [c.reading for c in candidates(model, [], METER, ["RV1"])
             if c.reading.kind is Kind.FORWARD]  # fmt: skip
    assert [r.part for r in asked] == ["D1", "D2", "D3", "D4"]
    assert not any(r.state.live for r in asked)
    assert request(model.section, asked[0]) == (
        "put the meter on diode test across D1 with the power off, capacitors discharged and all "
        "parts soldered in, red lead on the anode, raw"
    )
    cold = models("two-5881-vacuum-rectifier")
    assert not [c for c in candidates(cold, [], METER, []) if c.reading.kind is Kind.FORWARD]


def test_the_meter_is_one_for_all_tests() -> None:
    """What drives 2 mA drives it through every diode: such a meter is no finding."""
    model = model_of(ONE_DIODE.format(beside="620"))
    readout = Readout(model, [shown_by(model.section, "D1", 0.6)] * 2, YEAR)
    index = readout.coordinates.index
    prior = readout.coordinates.sound[index["dmm.test current"]]
    assert (prior.a, prior.b) == (0.0, diodetest.SPREAD)
    slope = readout.predict(np.array([[p.a for p in readout.coordinates.sound]]))[1][0]
    assert slope[0, index["dmm.test current"]] == slope[1, index["dmm.test current"]] > 0.01
