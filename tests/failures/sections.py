"""Small sections to be broken, and what is asked of them."""

from __future__ import annotations

import re

import numpy as np
import numpy.typing as npt

from netcheck.engine.service import Service
from netcheck.failures import Study, study
from netcheck.graph import Section
from netcheck.netlist import Circuit
from netcheck.parse import parse_circuit
from netcheck.predictor import Predictor
from netcheck.source import Source
from netcheck.valves.practice import WINDOW

Floats = npt.NDArray[np.float64]

DIVIDER = """\
circuit "A divider on a supply"
supply S1 plus ground minus raw 75 V source 1k
resistor R1 from raw to head 15k 5% 0.5 W
pot RV1 top head wiper sweep bottom foot 10k 20% linear clockwise bottom end 100 ohm
resistor R2 from foot to ground 27k 5% 0.5 W
resistor R3 from sweep to grid1 68k
resistor R4 from sweep to grid2 100k
valve V1 6L6GC grid grid1 plate 450 V screen 445 V cathode 1 ohm
valve V2 6L6GC grid grid2 plate 450 V screen 445 V cathode 1 ohm
"""
"""Direct volts only, no safety resistor: everything can be worked out by hand."""

SAFE = DIVIDER + "resistor R6 from head to sweep 220k 5% 0.5 W\n"

MAINS = """\
circuit "Half-wave rectification"
mains 230 V 50 Hz
winding T1 from ground to tap 48 Vac source 60 ohm
resistor R1 from tap to feed 470 ohm 10% 1 W
diode D1 anode raw cathode feed 1000 V
capacitor C1 plus ground minus raw 47 uF 100 V
resistor R2 from raw to head 18k 10% 0.5 W
pot RV1 top head wiper sweep bottom foot 10k 20% linear clockwise bottom
resistor R3 from foot to ground 27k 5% 0.5 W
resistor R6 from head to sweep 220k 10% 0.5 W
capacitor C2 plus ground minus sweep 10 uF 100 V
resistor R4 from sweep to grid1 68k 10% 0.5 W
resistor R5 from sweep to grid2 68k 10% 0.5 W
valve V1 6V6GT grid grid1 plate 390 V screen 385 V cathode 1 ohm
valve V2 6V6GT grid grid2 plate 390 V screen 385 V cathode 1 ohm
"""
"""Invented; the arrangement of the example two-6v6gt-foot."""

SERIES_RHEOSTAT = """\
circuit "A rheostat in series, its unused end {end}"
supply S1 plus ground minus raw 42 V source 1k5
resistor R1 from raw to head 15k
pot RV1 top head wiper bias bottom {end} 10k linear clockwise bottom
resistor R2 from bias to ground 27k
resistor R3 from bias to grid1 220k
valve V1 6V6GTA grid grid1 plate 345 V screen 310 V cathode 1 ohm
"""

FOOT_RHEOSTAT = """\
circuit "A rheostat in the foot, its unused end open"
supply S1 plus ground minus raw 42 V source 1k5
resistor R1 from raw to bias 15k
resistor R2 from bias to foot 15k
pot RV1 top foot wiper ground bottom open 10k linear clockwise bottom
resistor R3 from bias to grid1 220k
valve V1 6V6GTA grid grid1 plate 345 V screen 310 V cathode 1 ohm
"""

PER_VALVE = """\
circuit "A trimmer for each of three valves"
supply S1 plus ground minus raw 72 V source 1k5
resistor R2 from raw to head 5k6 1 W
pot RV1 top head wiper sweep1 bottom foot 22k linear clockwise bottom
pot RV2 top head wiper sweep2 bottom foot 22k linear clockwise bottom
pot RV3 top head wiper sweep3 bottom foot 22k linear clockwise bottom
resistor R3 from foot to ground 15k
resistor R11 from sweep1 to grid1 68k
resistor R12 from sweep2 to grid2 68k
resistor R13 from sweep3 to grid3 68k
valve V1 6L6GC grid grid1 plate 450 V screen 445 V cathode 1 ohm
valve V2 6L6GC grid grid2 plate 450 V screen 445 V cathode 1 ohm
valve V3 6L6GC grid grid3 plate 450 V screen 445 V cathode 1 ohm
"""

BALANCE = """\
circuit "Bias and balance"
supply S1 plus ground minus head 69 V source 1k
resistor R5 from head to side1 33k
resistor R6 from head to side2 33k
pot RV2 top side1 wiper middle bottom side2 10k linear clockwise top
pot RV1 top middle wiper foot bottom foot 10k linear clockwise top
resistor R3 from foot to ground 18k
resistor R11 from side1 to grid1 180k
resistor R12 from side2 to grid2 180k
valve V1 EL34 grid grid1 plate 420 V screen 415 V cathode 10 ohm
valve V2 EL34 grid grid2 plate 420 V screen 415 V cathode 10 ohm
"""

ZENER = """\
circuit "Held steady by a zener"
supply S1 plus ground minus raw 74 V source 300 ohm
resistor R2 from raw to head 4k7 1 W
zener Z1 anode head cathode ground 47 V 5% 1.3 W
resistor R7 from head to top 4k7
pot RV1 top top wiper sweep bottom foot 10k linear clockwise bottom
resistor R3 from foot to ground 33k
resistor R6 from top to sweep 220k
resistor R4 from sweep to grid1 220k
valve V1 EL34 grid grid1 plate 430 V screen 425 V cathode 1 ohm
"""

COUPLED = """\
circuit "Coupling capacitors drawn"
elsewhere splitter1 splitter2
supply S1 plus ground minus raw 42 V source 1k5
resistor R1 from raw to head 15k
pot RV1 top head wiper sweep bottom foot 10k linear clockwise bottom
resistor R2 from foot to ground 27k
resistor R3 from sweep to leak1 220k
resistor R4 from sweep to leak2 220k
resistor R5 from leak1 to grid1 1k5
resistor R6 from leak2 to grid2 1k5
capacitor C5 from splitter1 to leak1 22n 400 V
capacitor C6 from splitter2 to leak2 22n 400 V
valve V1 6V6GTA grid grid1 plate 345 V screen 310 V cathode 1 ohm
valve V2 6V6GTA grid grid2 plate 345 V screen 310 V cathode 1 ohm
"""

HIGH_TENSION = """\
circuit "Bias from the high-tension winding"
mains 230 V 50 Hz
elsewhere ht1
winding T1 from ht1 centre ground to ht2 330-0-330 Vac source 140 ohm
resistor R1 from ht2 to feed 100k 3 W
diode D1 anode raw cathode feed 1000 V
capacitor C1 plus ground minus raw 22 uF 160 V
resistor R2 from raw to bias 12k 0.5 W
resistor R3 from bias to ground 27k 0.5 W
resistor R4 from bias to grid1 220k
valve V1 EL34 grid grid1 plate 440 V screen 435 V cathode 1 ohm
"""

TWO_SUPPLIES = """\
circuit "Held from two sides"
supply S1 plus ground minus raw1 42 V source 1k5
supply S2 plus ground minus raw2 42 V source 1k5
pot RV1 top raw1 wiper sweep bottom raw2 47k linear clockwise bottom
resistor R1 from raw1 to sweep 100k
"""
"""Nothing in it can fail alone so that the bias is lost: a section for exit code 0."""


def circuit_of(text: str) -> Circuit:
    """The circuit in a text without errors."""
    circuit, findings = parse_circuit(Source("test.bias", text))
    assert circuit is not None, findings
    return circuit


def predictor_of(text: str, service: Service) -> Predictor:
    return Predictor(Section(circuit_of(text)), service)


def studied(text: str, service: Service, *, now: float = 0.5,
            fixed: dict[str, float] | None = None,
            window: tuple[float, float] = WINDOW) -> Study:  # fmt: skip
    """All failures of a section."""
    return study(predictor_of(text, service), now=now, fixed=fixed, window=window)


def grids(text: str, service: Service, travel: list[float], pot: str = "RV1",
          at: dict[str, float] | None = None) -> Floats:  # fmt: skip
    """What ngspice predicts of the watched nodes, shape (positions, watched). [V]"""
    predictor = predictor_of(text, service)
    states = [(predictor.values({**(at or {}), pot: float(t)}), ()) for t in travel]
    watched = predictor.section.watched
    return np.array([[one.mean[n] for n in watched] for one in predictor.wholes(states)])


def replaced(text: str, name: str, *lines: str) -> str:
    """A circuit's text with other lines in place of the one of a part."""
    found = [line for line in text.splitlines() if re.match(rf"\w+ {name} ", line)]
    assert len(found) == 1, f"{name} has {len(found)} lines"
    return text.replace(found[0] + "\n", "".join(f"{line}\n" for line in lines))
