"""Sound bias sections of many arrangements, invented, with what each part is there for.

The roles are written down by hand, from the drawing.
"""

from __future__ import annotations

from dataclasses import dataclass

from netcheck.graph import Section
from netcheck.netlist import Circuit
from netcheck.parse import parse_circuit
from netcheck.source import Source

_HEAD = 'circuit "invented"\nmains 230 V 50 Hz\n'
_HALF = """\
winding T1 from ground to tap 50 Vac source 60 ohm
diode D1 anode raw cathode tap 1000 V
capacitor C1 plus ground minus raw 47 uF 100 V
"""
_HALF_ROLES = "D1 rectifier, C1 reservoir"
_TAIL = """\
resistor R2 from raw to head 10k 10% 0.5 W
pot RV1 top head wiper sweep bottom foot 10k
resistor R3 from foot to ground 18k 5% 0.5 W
resistor R6 from head to sweep 220k
capacitor C2 plus ground minus sweep 10 uF 100 V
resistor R4 from sweep to grid1 150k
resistor R5 from sweep to grid2 150k
valve V1 EL34 grid grid1 plate 420 V
valve V2 EL34 grid grid2 plate 420 V
"""
_TAIL_ROLES = (
    "R2 series, RV1 bias pot, R3 foot, R6 wiper safety, C2 wiper smoothing, R4 grid leak, "
    "R5 grid leak"
)
_HT = "winding T1 from a centre ground to b 330-0-330 Vac source 100 ohm\n"
_BRIDGE = """\
winding T1 from a to b 40 Vac source 60 ohm
diode D1 anode raw cathode a 1000 V
diode D2 anode raw cathode b 1000 V
diode D3 anode a cathode ground 1000 V
diode D4 anode b cathode ground 1000 V
capacitor C1 plus ground minus raw 47 uF 100 V
"""
_BRIDGE_ROLES = "D1 rectifier, D2 rectifier, D3 rectifier, D4 rectifier, C1 reservoir"


@dataclass(frozen=True)
class Sound:
    """A section, its parts' roles as "R2 series, C1 reservoir", and how its supply is called."""

    lines: str
    roles: str
    supply: str
    setting: str = "pot above a foot resistor"

    @property
    def text(self) -> str:
        return _HEAD + self.lines

    @property
    def expected_roles(self) -> dict[str, str]:
        return dict(pair.split(" ", 1) for pair in self.roles.split(", ") if pair)


def parsed(text: str, name: str = "example") -> Circuit:
    circuit, findings = parse_circuit(Source(name, text))
    assert circuit is not None, [finding.what for finding in findings]
    return circuit


def section_of(lines: str) -> Section:
    """The section of a text without its first two lines."""
    return Section(parsed(_HEAD + lines))


def _with_tail(front: str, roles: str, supply: str) -> Sound:
    return Sound(front + _TAIL, f"{roles}, {_TAIL_ROLES}".removeprefix(", "), supply)


SOUND = {
    "half-wave": _with_tail(_HALF, _HALF_ROLES, "half-wave from a bias winding"),
    "surge resistor behind the diode": _with_tail(
        "winding T1 from ground to tap 50 Vac source 60 ohm\n"
        "diode D1 anode inner cathode tap 1000 V\n"
        "resistor R1 from inner to raw 470\n"
        "capacitor C1 plus ground minus raw 47 uF 100 V\n",
        "D1 rectifier, R1 dropper, C1 reservoir",
        "half-wave from a bias winding",
    ),
    "two diodes in series, volts shared out": _with_tail(
        "winding T1 from ground to tap 50 Vac source 60 ohm\n"
        "diode D1 anode inner cathode tap 1000 V\n"
        "diode D2 anode raw cathode inner 1000 V\n"
        "resistor R8 from inner to tap 1M\n"
        "resistor R9 from inner to raw 1M\n"
        "capacitor C1 plus ground minus raw 47 uF 100 V\n",
        "D1 rectifier, D2 rectifier, R8 dropper, R9 dropper, C1 reservoir",
        "half-wave from a bias winding",
    ),
    "capacitors against spikes": _with_tail(
        _HALF.replace("cathode tap", "cathode feed") + "resistor R1 from tap to feed 470\n"
        "capacitor C7 from tap to ground 47n 400 V\n"
        "capacitor C8 from feed to ground 10n 400 V\n"
        "capacitor C9 from raw to feed 10n 400 V\n",
        "D1 rectifier, C1 reservoir, R1 dropper, C7 snubber, C8 snubber, C9 snubber",
        "half-wave from a bias winding",
    ),
    "two windings in series": _with_tail(
        "winding T1 from ground to middle 25 Vac source 30 ohm\n"
        "winding T2 from middle to tap 25 Vac source 30 ohm\n"
        "diode D1 anode raw cathode tap 1000 V\n"
        "capacitor C1 plus ground minus raw 47 uF 100 V\n",
        "D1 rectifier, C1 reservoir",
        "half-wave from a bias winding",
    ),
    "two reservoirs in series": _with_tail(
        "winding T1 from ground to tap 50 Vac source 60 ohm\n"
        "diode D1 anode raw cathode tap 1000 V\n"
        "capacitor C1 plus ground minus middle 100 uF 63 V\n"
        "capacitor C3 plus middle minus raw 100 uF 63 V\n"
        "resistor R8 from raw to middle 100k\n"
        "resistor R9 from middle to ground 100k\n",
        "D1 rectifier, C1 reservoir, C3 reservoir, R8 bleeder, R9 bleeder",
        "half-wave from a bias winding",
    ),
    "full-wave": _with_tail(
        "winding T1 from a centre ground to b 45-0-45 Vac source 60 ohm\n"
        "diode D1 anode raw cathode a 1000 V\n"
        "diode D2 anode raw cathode b 1000 V\n"
        "capacitor C1 plus ground minus raw 47 uF 100 V\n",
        "D1 rectifier, D2 rectifier, C1 reservoir",
        "full-wave from a bias winding",
    ),
    "bridge": _with_tail(
        _BRIDGE + "capacitor C8 from a to ground 10n 400 V\n"
        "capacitor C9 from b to ground 10n 400 V\n"
        "capacitor C7 from raw to a 10n 400 V\n",
        f"{_BRIDGE_ROLES}, C8 snubber, C9 snubber, C7 snubber",
        "full-wave bridge from a bias winding",
    ),
    "doubler with a capacitor in series": _with_tail(
        "winding T1 from ground to ac 12.6 Vac source 0.3 ohm\n"
        "capacitor C7 plus ac minus pump 220 uF 35 V\n"
        "diode D1 anode pump cathode ground 1000 V\n"
        "diode D2 anode raw cathode pump 1000 V\n"
        "capacitor C1 plus ground minus raw 220 uF 63 V\n",
        "C7 rectifier coupling, D1 clamp, D2 rectifier, C1 reservoir",
        "voltage doubler from a heater winding",
    ),
    "doubler with two capacitors": _with_tail(
        "winding T1 from a to b 25 Vac source 30 ohm\n"
        "diode D1 anode raw cathode a 1000 V\n"
        "diode D2 anode a cathode ground 1000 V\n"
        "capacitor C7 plus b minus raw 100 uF 63 V\n"
        "capacitor C1 plus ground minus b 100 uF 63 V\n",
        "D1 rectifier, D2 rectifier, C7 doubler, C1 doubler",
        "voltage doubler from a bias winding",
    ),
    "coupled, clamped, through a resistor": _with_tail(
        "elsewhere a\n" + _HT + "capacitor C9 from b to pump 47n 1000 V\n"
        "diode D1 anode pump cathode ground 1000 V\n"
        "resistor R1 from pump to raw 10k 1 W\n"
        "capacitor C1 plus ground minus raw 22 uF 160 V\n",
        "C9 rectifier coupling, D1 clamp, R1 dropper, C1 reservoir",
        "capacitor-coupled from a high-tension winding",
    ),
    "coupled, with a resistor to ground": _with_tail(
        "elsewhere a\n" + _HT + "capacitor C9 from b to pump 47n 1000 V\n"
        "resistor R1 from pump to ground 47k 1 W\n"
        "diode D1 anode raw cathode pump 1000 V\n"
        "capacitor C1 plus ground minus raw 22 uF 160 V\n",
        "C9 rectifier coupling, R1 return, D1 rectifier, C1 reservoir",
        "capacitor-coupled from a high-tension winding",
    ),
    "divided down from the high tension": _with_tail(
        "elsewhere a\n" + _HT + "resistor R1 from b to feed 100k 3 W\n"
        "resistor R9 from feed to ground 33k 1 W\n"
        "diode D1 anode raw cathode feed 1000 V\n"
        "capacitor C1 plus ground minus raw 22 uF 160 V\n",
        "R1 dropper, R9 return, D1 rectifier, C1 reservoir",
        "half-wave from a high-tension winding",
    ),
    "beside the high-tension rectifier": _with_tail(
        _HT + "diode D1 anode a cathode ht 2000 V\n"
        "diode D2 anode b cathode ht 2000 V\n"
        "capacitor C9 plus ht minus ground 47 uF 600 V\n"
        "resistor R9 from ht to ground 100k 5 W\n"
        "resistor R1 from a to feed 100k 3 W\n"
        "diode D3 anode raw cathode feed 1000 V\n"
        "capacitor C1 plus ground minus raw 22 uF 160 V\n",
        "D1 rectifier, D2 rectifier, C9 other, R9 other, R1 dropper, D3 rectifier, C1 reservoir",
        "half-wave from a high-tension winding",
    ),
    "back bias": _with_tail(
        _HT.replace("centre ground", "centre raw") + "diode D1 anode a cathode ht 2000 V\n"
        "diode D2 anode b cathode ht 2000 V\n"
        "capacitor C9 plus ht minus ground 47 uF 600 V\n"
        "resistor R9 from ht to ground 4k7 50 W\n"
        "resistor R1 from raw to ground 330 10 W\n"
        "capacitor C1 plus ground minus raw 100 uF 63 V\n",
        "D1 rectifier, D2 rectifier, C9 other, R9 other, R1 back bias, C1 reservoir",
        "back bias from the current of the high tension",
    ),
    "direct supply, its plus grounded by a link": _with_tail(
        "supply S1 plus hot minus raw 42 V source 1k5\nlink W1 from hot to ground\n",
        "",
        "from a direct supply made elsewhere",
    ),
    "driver's coupling and grid stoppers": Sound(
        "elsewhere drive1 drive2\n"
        + _HALF
        + _TAIL.replace("to grid", "to leak")
        + "capacitor C11 from drive1 to leak1 100n 630 V\n"
        "capacitor C12 from drive2 to leak2 100n 630 V\n"
        "resistor R11 from leak1 to grid1 4k7\n"
        "resistor R12 from leak2 to grid2 4k7\n",
        f"{_HALF_ROLES}, {_TAIL_ROLES}, C11 coupling, C12 coupling, R11 grid stopper, "
        "R12 grid stopper",
        "half-wave from a bias winding",
    ),
    "one leak for two valves in parallel": Sound(
        "elsewhere drive\n"
        + _HALF
        + _TAIL.replace("sweep to grid1", "sweep to leak").replace(
            "sweep to grid2", "leak to grid2"
        )
        + "capacitor C11 from drive to leak 100n 630 V\n"
        "resistor R11 from leak to grid1 4k7\n",
        f"{_HALF_ROLES}, {_TAIL_ROLES.replace('R5 grid leak', 'R5 grid stopper')}, C11 coupling, "
        "R11 grid stopper",
        "half-wave from a bias winding",
    ),
    "smoothed in the bias line": Sound(
        _HALF
        + _TAIL.replace("from sweep to grid", "from line to grid").replace(
            "minus sweep", "minus line"
        )
        + "resistor R7 from sweep to line 22k\n",
        f"{_HALF_ROLES}, {_TAIL_ROLES}, R7 feed",
        "half-wave from a bias winding",
    ),
    "a diode keeps the line from going positive": Sound(
        _HALF + _TAIL + "diode D9 anode sweep cathode ground 1000 V\n",
        f"{_HALF_ROLES}, {_TAIL_ROLES}, D9 diode",
        "half-wave from a bias winding",
    ),
    "tremolo let in": Sound(
        "elsewhere tremolo\n" + _HALF + _TAIL + "resistor R9 from tremolo to sweep 1M\n",
        f"{_HALF_ROLES}, {_TAIL_ROLES}, R9 other",
        "half-wave from a bias winding",
    ),
    "high tension in the drawing": Sound(
        "supply S1 plus ht minus ground 400 V\nresistor R20 from ht to ground 47k 5 W\n"
        + _HALF
        + _TAIL,
        f"R20 other, {_HALF_ROLES}, {_TAIL_ROLES}",
        "half-wave from a bias winding",
    ),
    "two zeners in series hold the supply": Sound(
        _HALF
        + _TAIL.replace("raw to head", "raw to held")
        + "zener Z1 anode held cathode inner 24 V\n"
        "zener Z2 anode inner cathode ground 22 V\n"
        "resistor R9 from held to head 1k\n",
        f"{_HALF_ROLES}, {_TAIL_ROLES}, Z1 series zener, Z2 regulator, R9 series",
        "half-wave from a bias winding",
    ),
    "a zener takes volts off": Sound(
        _HALF
        + _TAIL.replace("from raw to head", "from less to head")
        + "zener Z1 anode raw cathode less 10 V\n",
        f"{_HALF_ROLES}, {_TAIL_ROLES}, Z1 series zener",
        "half-wave from a bias winding",
    ),
    "bleeder, padder, wiper load": Sound(
        _HALF
        + _TAIL.replace("220k", "47k").replace("18k", "33k")
        + "resistor R7 from raw to ground 100k\n"
        "resistor R8 from head to foot 47k\n"
        "resistor R9 from sweep to ground 1M\n"
        "resistor R10 from sweep to foot 1M\n",
        f"{_HALF_ROLES}, {_TAIL_ROLES}, R7 bleeder, R8 across the pot, R9 wiper load, "
        "R10 wiper load",
        "half-wave from a bias winding",
    ),
    "rheostat with an open end": Sound(
        _HALF + "resistor R2 from raw to line 10k 10% 0.5 W\n"
        "pot RV1 top line wiper foot bottom open 10k\n"
        "resistor R3 from foot to ground 18k 5% 0.5 W\n"
        "resistor R4 from line to grid1 150k\n"
        "valve V1 EL34 grid grid1 plate 420 V\n",
        f"{_HALF_ROLES}, R2 series, RV1 bias pot, R3 foot, R4 grid leak",
        "half-wave from a bias winding",
        "pot as rheostat in the foot",
    ),
    "rheostat in series": Sound(
        _HALF + "resistor R2 from raw to head 22k\n"
        "pot RV1 top head wiper line bottom line 10k\n"
        "resistor R3 from line to ground 22k\n"
        "resistor R4 from line to grid1 150k\n"
        "valve V1 EL34 grid grid1 plate 420 V\n",
        f"{_HALF_ROLES}, R2 series, RV1 bias pot, R3 wiper load, R4 grid leak",
        "half-wave from a bias winding",
        "pot as rheostat in series",
    ),
    "no pot": Sound(
        _HALF + "resistor R2 from raw to line 22k\n"
        "resistor R3 from line to ground 22k\n"
        "resistor R4 from line to grid1 150k\n"
        "valve V1 EL34 grid grid1 plate 420 V\n",
        f"{_HALF_ROLES}, R2 series, R3 wiper load, R4 grid leak",
        "half-wave from a bias winding",
        "fixed, no pot",
    ),
    "pot in front of the rectifier": Sound(
        "winding T1 from ground to tap 60 Vac source 60 ohm\n"
        "resistor R1 from tap to high 1k 1 W\n"
        "pot RV9 top high wiper feed bottom low 4k7\n"
        "resistor R8 from low to ground 10k 1 W\n"
        "resistor R9 from high to feed 47k\n"
        "diode D1 anode raw cathode feed 1000 V\n"
        "capacitor C1 plus ground minus raw 47 uF 160 V\n"
        "resistor R2 from raw to line 10k\n"
        "resistor R3 from line to ground 47k\n"
        "capacitor C2 plus ground minus line 10 uF 100 V\n"
        "resistor R4 from line to grid1 150k\n"
        "valve V1 EL34 grid grid1 plate 420 V\n",
        "R1 dropper, RV9 level pot, R8 return, R9 dropper, D1 rectifier, C1 reservoir, "
        "R2 series, R3 wiper load, C2 wiper smoothing, R4 grid leak",
        "half-wave from a bias winding",
        "pot in front of the rectifier",
    ),
    "one pot per valve": Sound(
        _HALF + "resistor R2 from raw to head 10k\n"
        "pot RV1 top head wiper sweep1 bottom foot 22k\n"
        "pot RV2 top head wiper sweep2 bottom foot 22k\n"
        "resistor R3 from foot to ground 18k\n"
        "resistor R6 from head to sweep1 220k\n"
        "resistor R7 from head to sweep2 220k\n"
        "resistor R4 from sweep1 to grid1 150k\n"
        "resistor R5 from sweep2 to grid2 150k\n"
        "valve V1 EL34 grid grid1 plate 420 V\n"
        "valve V2 EL34 grid grid2 plate 420 V\n",
        f"{_HALF_ROLES}, R2 series, RV1 bias pot, RV2 bias pot, R3 foot, R6 wiper safety, "
        "R7 wiper safety, R4 grid leak, R5 grid leak",
        "half-wave from a bias winding",
        "one pot per valve, each a pot above a foot resistor",
    ),
    "balance fed at its wiper": Sound(
        _HALF + "resistor R2 from raw to head 10k\n"
        "pot RV1 top head wiper sweep bottom foot 10k\n"
        "resistor R3 from foot to ground 27k\n"
        "resistor R6 from head to sweep 47k\n"
        "pot RV2 top side1 wiper sweep bottom side2 10k\n"
        "resistor R7 from side1 to ground 470k\n"
        "resistor R8 from side2 to ground 470k\n"
        "resistor R9 from side1 to sweep 47k\n"
        "resistor R10 from side2 to sweep 47k\n"
        "resistor R4 from side1 to grid1 150k\n"
        "resistor R5 from side2 to grid2 150k\n"
        "valve V1 EL34 grid grid1 plate 420 V\n"
        "valve V2 EL34 grid grid2 plate 420 V\n",
        f"{_HALF_ROLES}, R2 series, RV1 bias pot, R3 foot, R6 wiper safety, RV2 balance pot, "
        "R7 wiper load, R8 wiper load, R9 wiper safety, R10 wiper safety, R4 grid leak, "
        "R5 grid leak",
        "half-wave from a bias winding",
        "bias and balance: pot above a foot resistor, and a balance pot",
    ),
}
"""By a name for the test's report."""
