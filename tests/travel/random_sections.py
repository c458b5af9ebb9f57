"""Bias sections drawn at random, of every arrangement of the trade."""

from __future__ import annotations

import math

from hypothesis import strategies as st

E12 = (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)

HALF_WAVE = """\
winding T1 from ground to tap {v} Vac source {source}
resistor R1 from tap to feed {dropper}
diode D1 anode raw cathode feed 1000 V"""
FULL_WAVE = """\
winding T1 from ac1 centre ground to ac2 {v}-0-{v} Vac source {source}
diode D1 anode raw cathode ac1 1000 V
diode D2 anode raw cathode ac2 1000 V"""
BRIDGE = """\
winding T1 from ac1 to ac2 {v} Vac source {source}
diode D1 anode raw cathode ac1 1000 V
diode D2 anode raw cathode ac2 1000 V
diode D3 anode ac1 cathode ground 1000 V
diode D4 anode ac2 cathode ground 1000 V"""
DOUBLER = """\
winding T1 from ground to ac {v} Vac source {source}
capacitor C8 plus ac minus pump 100 uF
diode D1 anode pump cathode ground 1000 V
diode D2 anode raw cathode pump 1000 V"""
COUPLED = """\
winding T1 from ground to ht {v} Vac source 140 ohm
capacitor C8 from ht to couple {coupling} nF
resistor R1 from couple to pump 1k
diode D1 anode pump cathode ground 1000 V
diode D2 anode raw cathode pump 1000 V"""
DROPPED = """\
winding T1 from ground to ht {v} Vac source 140 ohm
resistor R1 from ht to feed {dropper}
diode D1 anode raw cathode feed 1000 V"""

POTS = {
    "above a foot": "pot RV1 top {top} wiper arm bottom foot {pot} {taper}\n"
                    "resistor R3 from foot to ground {foot}",
    "across": "pot RV1 top {top} wiper arm bottom ground {pot} {taper}",
    "rheostat in the foot": "resistor R5 from {top} to arm {foot}\n"
                            "pot RV1 top arm wiper arm bottom foot {pot} {taper}\n"
                            "resistor R3 from foot to ground {foot}",
    "rheostat with an open end": "pot RV1 top {top} wiper arm bottom open {pot} {taper}\n"
                                 "resistor R3 from arm to ground {foot}",
    "one per valve": "pot RV1 top {top} wiper arm bottom foot {pot} {taper}\n"
                     "pot RV2 top {top} wiper arm2 bottom foot {pot} linear\n"
                     "resistor R3 from foot to ground {foot}\n"
                     "resistor R8 from arm2 to grid2 {leak}\n"
                     "valve V2 EL34 grid grid2",
}  # fmt: skip


@st.composite
def ohms(draw: st.DrawFn, low: float, high: float) -> str:
    """A preferred value between two limits."""
    r = 10 ** draw(st.floats(math.log10(low), math.log10(high)))
    decade = 10 ** (math.floor(math.log10(r)) - 1)
    return f"{min(E12, key=lambda step: abs(step * decade - r)) * decade:.7g} ohm"


@st.composite
def supplies(draw: st.DrawFn) -> str:
    """Mains, winding, rectifiers and reservoir: a negative supply at node "raw"."""
    kind, low, high = draw(st.sampled_from([
        (HALF_WAVE, 15, 120), (FULL_WAVE, 20, 80), (BRIDGE, 15, 80), (DOUBLER, 6, 40),
        (COUPLED, 200, 350), (DROPPED, 200, 350),
    ]))  # fmt: skip
    high_tension = kind in (COUPLED, DROPPED)
    lines = kind.format(
        v=draw(st.integers(low, high)),
        source=draw(ohms(1, 300)),
        dropper=draw(ohms(47e3, 220e3) if high_tension else ohms(10, 2200)),
        coupling=draw(st.sampled_from([22, 47, 100])),
    )
    mains = draw(st.sampled_from(["230 V 50 Hz", "120 V 60 Hz"]))
    reservoir = draw(st.sampled_from([8, 22, 47, 100, 220]))
    return f"mains {mains}\n{lines}\ncapacitor C1 plus ground minus raw {reservoir} uF\n"


@st.composite
def sections(draw: st.DrawFn) -> str:
    """A whole bias section: supply, smoothing, pot, loads."""
    lines = [draw(supplies())]
    top = "raw"
    if draw(st.booleans()):
        lines.append(f"resistor R2 from raw to head {draw(ohms(1e3, 27e3))}")
        top = "head"
        if draw(st.booleans()):
            leak = draw(st.sampled_from(["", " leakage 100k"]))
            lines.append(f"capacitor C2 plus ground minus head 22 uF{leak}")
    taper = draw(st.sampled_from(["linear", "audio", "reverse audio"]))
    clockwise = draw(st.sampled_from(["top", "bottom"]))
    lines.append(draw(st.sampled_from(sorted(POTS.values()))).format(
        top=top, pot=draw(ohms(4.7e3, 56e3)), foot=draw(ohms(4.7e3, 56e3)),
        leak=draw(ohms(22e3, 470e3)), taper=f"{taper} clockwise {clockwise}",
    ))  # fmt: skip
    if draw(st.booleans()):
        lines.append("capacitor C3 plus ground minus arm 10 uF")
    if draw(st.booleans()):
        lines.append(f"resistor R6 from arm to ground {draw(ohms(22e3, 1e6))}")
    if draw(st.booleans()):
        lines.append(f"resistor R7 from raw to ground {draw(ohms(10e3, 1e6))}")
    lines += [
        f"resistor R4 from arm to grid1 {draw(ohms(22e3, 470e3))}",
        "valve V1 EL34 grid grid1",
    ]
    return "\n".join(lines) + "\n"
