"""What is taken for granted where the circuit file is silent, in one place.

The tolerances are on the generous side on purpose: a tolerance assumed too small blames
sound parts, one assumed too large only widens a band.
"""

from __future__ import annotations

from dataclasses import replace

from .netlist import Capacitor, Circuit, Diode, Mains, Part, Pot, Resistor, Supply, Winding, Zener

V_THERMAL = 8.617333e-5 * 300.15
"""k T / q at 27 degrees Celsius, the temperature of every simulation. [V]"""

I_DROP = 10e-3
"""The forward current at which a diode's drop is stated. [A]"""

TOLERANCE_RESISTOR = 0.10
"""Unmarked resistors of valve days were 20 %, later ones 10 or 5 %; common practice. [1]"""
TOLERANCE_POT = 0.20
"""The usual marking of carbon tracks; common practice. [1]"""
TOLERANCE_ELECTROLYTIC = 0.20
"""Today's usual marking; common practice. [1]"""
TOLERANCE_CAPACITOR = 0.10
"""Film and paper; common practice. [1]"""
TOLERANCE_WINDING = 0.05
"""Turns are exact, the load of the other windings is not; common practice. [1]"""
TOLERANCE_SUPPLY = 0.10
"""An unregulated high tension; common practice. [1]"""
TOLERANCE_ZENER = 0.05
"""The usual suffix A of the 1N47xx series; from memory. [1]"""

SOURCE_OHM_PER_VOLT = 1.0
"""A small bias winding or tap of 50 V measures some 50 ohm, the primary's share included;
common practice. [ohm/V]"""
POT_END_SHARE = 0.01
"""End resistance of a pot, as a share of its track; common practice. [1]"""
AUDIO_MID = 0.10
"""Share of the track of an audio taper at half rotation (MIL-R-94, taper C; from memory). [1]"""

DROP = {"silicon": 0.70, "selenium": 2.0, "vacuum": 0.3}
"""Forward drop at `I_DROP`, by material; a selenium stack has about 1 V a plate and two or
three plates in a bias supply; common practice. [V]"""
SERIES = {"silicon": 0.05, "selenium": 50.0, "vacuum": 250.0}
"""Forward resistance by material; the vacuum figure is that of a small full-wave rectifier's
half (22 V at 70 mA for a 6X4 half, data sheet, from memory). [ohm]"""

REVERSE_RATING = {
    "1N4001": 50.0, "1N4002": 100.0, "1N4003": 200.0, "1N4004": 400.0, "1N4005": 600.0,
    "1N4006": 800.0, "1N4007": 1000.0, "1N4148": 100.0, "1N914": 100.0, "UF4007": 1000.0,
    "1N5404": 400.0, "1N5406": 600.0, "1N5408": 1000.0,
}  # fmt: skip
"""Repetitive peak reverse volts of registered types (their data sheets; from memory). [V]"""


def mains_tolerance(mains: Mains) -> float:
    """How far the mains may lie from nominal, as a fraction. [1]

    1 % once it was measured. Else as stated; else 5 % at 100 to 127 V (ANSI C84.1 range A;
    from memory) and 10 % above (EN 50160).
    """
    if mains.v_actual is not None:
        return 0.01
    if mains.tolerance is not None:
        return mains.tolerance
    return 0.05 if mains.v_nominal < 150.0 else 0.10


def tolerance(part: Part) -> float:
    """A part's tolerance, stated or assumed, as a fraction; 0 for a part that has none. [1]"""
    stated: float | None = getattr(part, "tolerance", None)
    if stated is not None:
        return stated
    if isinstance(part, Capacitor):
        return TOLERANCE_ELECTROLYTIC if part.polarised else TOLERANCE_CAPACITOR
    assumed: dict[type[Part], float] = {
        Resistor: TOLERANCE_RESISTOR,
        Pot: TOLERANCE_POT,
        Winding: TOLERANCE_WINDING,
        Supply: TOLERANCE_SUPPLY,
        Zener: TOLERANCE_ZENER,
    }
    return assumed.get(type(part), 0.0)


def r_source(winding: Winding) -> float:
    """Source resistance of a winding (of each half if it has a centre). [ohm]"""
    if winding.r_source is not None:
        return winding.r_source
    return SOURCE_OHM_PER_VOLT * winding.v_rms


def r_end(pot: Pot) -> float:
    """Resistance left at a pot's stop, at least 1 mohm. [ohm]"""
    stated = POT_END_SHARE * pot.r if pot.r_end is None else pot.r_end
    return min(max(stated, 1e-3), 0.25 * pot.r)


def reverse_rating(diode: Diode) -> float | None:
    """Peak reverse volts a diode stands, stated or by its type; None if unknown. [V]"""
    if diode.v_reverse is not None:
        return diode.v_reverse
    return REVERSE_RATING.get((diode.type or "").upper())


def r_zener(zener: Zener) -> float:
    """Dynamic resistance of a zener. [ohm]

    A power law through the 1N4739A (9.1 V, 5 ohm) and the 1N4756A (47 V, 80 ohm) of the
    1N4728A-1N4764A data sheet; from memory.
    """
    if zener.r_zener is not None:
        return zener.r_zener
    return 5.0 * float((zener.v_zener / 9.1) ** 1.69)


def statements(circuit: Circuit) -> list[str]:
    """The assumptions that this circuit needs, one short sentence each."""
    said = []
    bare = [p.name for p in circuit.of(Resistor) if p.tolerance is None]
    if bare:
        said.append(f"{_list(bare)}: no tolerance stated, {TOLERANCE_RESISTOR:.0%} taken")
    for winding in circuit.of(Winding):
        if winding.r_source is None:
            said.append(f"{winding.name}: source resistance not stated, "
                        f"{r_source(winding):.3g} ohm taken")  # fmt: skip
        if winding.tolerance is None:
            said.append(f"{winding.name}: no tolerance stated, {TOLERANCE_WINDING:.0%} taken")
    said += [f"{p.name}: end resistance not stated, {r_end(p):.3g} ohm taken"
             for p in circuit.of(Pot) if p.r_end is None]  # fmt: skip
    for diode in circuit.of(Diode):
        if diode.v_drop is None and diode.material != "silicon":
            said.append(f"{diode.name}: {diode.material} rectifier, "
                        f"{DROP[diode.material]:.2g} V at 10 mA taken")  # fmt: skip
    return said


def _list(names: list[str]) -> str:
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]


def comes_with(part: Part, value: float) -> dict[str, float]:
    """What comes with another part of a value: the stops of a pot, a zener's resistance.

    Parameters
    ----------
    part : Part
        The part in whose place it is put.
    value : float
        Track of the pot, volts of the zener. [SI unit]

    Returns
    -------
    dict of parameter name to float
        [SI unit]
    """
    if isinstance(part, Pot):
        return {f"{part.name}.end": r_end(replace(part, r=value, r_end=None))}
    if isinstance(part, Zener):
        return {f"{part.name}.series": r_zener(replace(part, v_zener=value, r_zener=None))}
    return {}
