"""Arrangements that differ in where the pot is, all fed by half-wave rectification."""

from __future__ import annotations

from ..pieces import (
    EL34,
    EL84,
    L6,
    V6,
    Arrangement,
    Piece,
    capacitor,
    diode,
    mains,
    needed_resistor,
    pot,
    resistor,
    smoothing,
    strap,
    title,
    valves,
    winding,
)

_LIFT = "It holds the grids negative when the wiper of the pot lifts."


def half_wave(volts: str = "48 Vac", reservoir: str = "47 uF 100 V") -> tuple[Piece, ...]:
    """Bias winding, dropper, diode and reservoir."""
    return (
        winding("winding T1 from @ground to @tap", volts, "60 ohm", "bias winding"),
        resistor("resistor R1 from @tap to @feed", "dropper, from the winding to the rectifier",
                 "470 ohm 10% 1 W", joined=("feed", "tap")),
        diode("diode D1 anode @raw cathode @feed", "rectifier"),
        capacitor("capacitor C1 plus @ground minus @raw", "reservoir", reservoir, needed=True),
    )  # fmt: skip


def safety(head: str, sweep: str, typical: str = "220k 10% 0.5 W") -> Piece:
    """The resistor from the negative end of a pot to its wiper."""
    return resistor(f"resistor R5 from @{head} to @{sweep}", "wiper safety resistor", typical,
                    hint=_LIFT)  # fmt: skip


def wiper_capacitor(node: str, typical: str = "10 uF 100 V") -> Piece:
    """The capacitor from the bias line to ground."""
    return capacitor(f"capacitor C3 plus @ground minus @{node}",
                     "smoothing capacitor on the bias line", typical)  # fmt: skip


def divider_pot(
    r_foot: str, track: str = "10k 20%", clockwise: str = "bottom"
) -> tuple[Piece, ...]:
    """A pot between head and foot, its foot resistor, and what protects and smooths its wiper."""
    return (
        pot("pot RV1 top @head wiper @sweep bottom @foot", "bias pot", track, clockwise),
        resistor("resistor R3 from @foot to @ground", "foot resistor, from the pot to ground",
                 r_foot, joined=("foot", "ground"),
                 hint="Without it the grids get no bias at one end of the pot."),
        safety("head", "sweep"),
        wiper_capacitor("sweep"),
    )  # fmt: skip


FOOT = Arrangement(
    "foot",
    "Pot above a foot resistor",
    "The pot taps the bias line between a series resistor and a foot resistor, which keeps "
    "the wiper away from ground.",
    r"""
              D1
  +----[R1]---|<--+-----+-[R2]--+------+-----+
  |               |     |       |      |     |
  |               |     |       |      |    [R5]
T1)           C1 ===   [R4] C2 ===   [RV1]<--+---+---+---[R11]--[R21]-- V1
  )               |     |       |      |         |   |
  )               |     |       |     [R3]   C3 ===  +---[R12]--[R22]-- V2
  |               |     |       |      |         |
  +---------------+-----+-------+------+---------+------ ground
""",
    (
        title("Two 6V6GT, trimmer above a foot resistor"),
        mains(),
        *half_wave(),
        *smoothing("18k 10% 0.5 W"),
        *divider_pot("27k 5% 0.5 W"),
        *valves("sweep", V6),
    ),
)

FOOT_RHEOSTAT = Arrangement(
    "foot-rheostat",
    "Pot as rheostat in the foot",
    "The pot is a variable resistor between the bias line and ground: more of it makes the "
    "grids more negative.",
    r"""
              D1
  +----[R1]---|<--+-----+-[R2]--+------+-------+---[R11]--[R21]-- V1
  |               |     |       |      |       |
  |               |     |       |    [RV1]<-+  +---[R12]--[R22]-- V2
T1)           C1 ===   [R4] C2 ===     |    |
  )               |     |       |      +----+
  )               |     |       |      |
  |               |     |       |     [R3]
  |               |     |       |      |
  +---------------+-----+-------+------+---- ground
""",
    (
        title("Two EL34, rheostat in the foot"),
        mains(),
        *half_wave("45 Vac"),
        *smoothing("12k 10% 0.5 W", "bias", "22 uF 100 V"),
        pot("pot RV1 top @bias wiper @foot", "bias pot, used as a rheostat", "10k 20%", "top",
            strap("RV1", "bottom", "foot")),
        resistor("resistor R3 from @foot to @ground", "foot resistor, from the pot to ground",
                 "18k 5% 0.5 W", joined=("foot", "ground"),
                 hint="Without it the grids get no bias at one end of the pot."),
        *valves("bias", EL34),
    ),
)  # fmt: skip

SERIES_RHEOSTAT = Arrangement(
    "series-rheostat",
    "Pot as series rheostat",
    "The pot is a variable resistor between the rectifier and the bias line: more of it makes "
    "the grids less negative.",
    r"""
                                  +--+
              D1                  v  |
  +----[R1]---|<--+-----+-[R2]-+-[RV1]--+--------+---+---[R11]--[R21]-- V1
  |               |     |      |        |        |   |
T1)           C1 ===  [R4] C2 ===      [R3]  C3 ===  +---[R12]--[R22]-- V2
  )               |     |      |        |        |
  |               |     |      |        |        |
  +---------------+-----+------+--------+--------+------ ground
""",
    (
        title("Two EL84, rheostat in series"),
        mains(),
        *half_wave("24 Vac", "100 uF 63 V"),
        *smoothing("22k 10% 0.5 W"),
        pot("pot RV1 top @head wiper @bias", "bias pot, used as a rheostat", "10k 20%", "bottom",
            strap("RV1", "bottom", "bias")),
        needed_resistor("resistor R3 from @bias to @ground", "foot resistor, from the bias line "
                        "to ground", "18k 5% 0.5 W"),
        wiper_capacitor("bias", "10 uF 63 V"),
        *valves("bias", EL84),
    ),
)  # fmt: skip

ACROSS = Arrangement(
    "across",
    "Pot across the supply",
    "The pot lies across the whole bias supply; resistors from its wiper and from the "
    "negative end to the bias line limit how far it reaches.",
    r"""
              D1
  +----[R1]---|<--+-----+-[R2]--+------+--------+
  |               |     |       |      |        |
  |               |     |       |      |       [R5]
T1)           C1 ===   [R4] C2 ===   [RV1]<-[R6]+----+---[R11]--[R21]-- V1
  )               |     |       |      |        |    |
  )               |     |       |      |    C3 ===   +---[R12]--[R22]-- V2
  |               |     |       |      |        |
  +---------------+-----+-------+------+--------+------- ground
""",
    (
        title("Two EL34, pot across the bias supply"),
        mains(),
        *half_wave("35 Vac"),
        *smoothing("1k 10% 0.5 W"),
        pot("pot RV1 top @head wiper @sweep bottom @ground", "bias pot", "47k 20%", "bottom"),
        resistor("resistor R6 from @sweep to @bias", "resistor from the wiper to the bias line",
                 "220k 5% 0.5 W", joined=("bias", "sweep"),
                 hint="Without it the grids get no bias at one end of the pot."),
        safety("head", "bias", "100k 5% 0.5 W"),
        wiper_capacitor("bias"),
        *valves("bias", EL34),
    ),
)  # fmt: skip

POT_PER_VALVE = Arrangement(
    "pot-per-valve",
    "One pot per valve",
    "Each valve has a pot of its own between a common negative line and a common foot "
    "resistor.",
    r"""
              D1
  +----[R1]---|<--+-----+-[R2]--+------+-----+--------- the same for V2:
  |               |     |       |      |     |          RV2, R52, C32,
  |               |     |       |      |    [R51]       R12 and R22
T1)           C1 ===   [R4] C2 ===   [RV1]<--+---+-----[R11]--[R21]-- V1
  )               |     |       |      |         |
  )               |     |       |      +---------|----- foot of RV2
  |               |     |       |     [R3]  C31 ===
  |               |     |       |      |         |
  +---------------+-----+-------+------+---------+------ ground
""",
    (
        title("Two 6L6GC, a pot for each"),
        mains(),
        *half_wave("56 Vac"),
        *smoothing("5k6 10% 0.5 W"),
        pot("pot RV{n} top @head wiper @sweep{n} bottom @foot", "bias pot of each valve",
            "10k 20%", "bottom", key="pot"),
        resistor("resistor R3 from @foot to @ground", "foot resistor, common to the pots",
                 "15k 5% 0.5 W", joined=("foot", "ground"),
                 hint="Without it the grids get no bias at one end of the pots."),
        resistor("resistor R5{n} from @head to @sweep{n}", "wiper safety resistor",
                 "220k 10% 0.5 W", key="safety", hint=_LIFT),
        capacitor("capacitor C3{n} plus @ground minus @sweep{n}", "smoothing of the wiper",
                  "10 uF 100 V", key="smoothing"),
        *valves("sweep{n}", L6),
    ),
)  # fmt: skip

BALANCE = Arrangement(
    "balance",
    "Bias and balance",
    "One pot in the foot sets the bias of both sides of a push-pull stage, another one shares "
    "it out between them.",
    r"""
              D1
  +----[R1]---|<--+----+-[R2]-+-[R5]--+-------+----------[R11]--[R21]-- V1
  |               |    |      |       |       |
  |               |    |      |     [RV2]<-+  |
T1)           C1 === [R4]     |       |    |  |
  )               |    |      +-[R6]--+----|--|---+------[R12]--[R22]-- V2
  )               |    |      |            |  |   |
  |               |    |      |      +->[RV1] |   |
  |               |    |  C2 ===     |     |  |   |
  |               |    |      |      +-----+ === ===
  |               |    |      |          [R3] C3  C4
  |               |    |      |            |  |   |
  +---------------+----+------+------------+--+---+----- ground
""",
    (
        title("Two EL34, bias and balance"),
        mains(),
        *half_wave("50 Vac"),
        *smoothing("1k 10% 0.5 W"),
        needed_resistor("resistor R5 from @head to @side1", "feed of the first side",
                        "33k 5% 0.5 W"),
        needed_resistor("resistor R6 from @head to @side2", "feed of the second side",
                        "33k 5% 0.5 W"),
        pot("pot RV2 top @side1 wiper @middle bottom @side2", "balance pot", "10k 20%", "top"),
        pot("pot RV1 top @middle wiper @foot", "bias pot, used as a rheostat", "10k 20%", "top",
            strap("RV1", "bottom", "foot")),
        resistor("resistor R3 from @foot to @ground", "foot resistor, from the pot to ground",
                 "18k 5% 0.5 W", joined=("foot", "ground"),
                 hint="Without it the grids get no bias at one end of the pot."),
        capacitor("capacitor C3 plus @ground minus @side1", "smoothing capacitor, first side",
                  "10 uF 100 V"),
        capacitor("capacitor C4 plus @ground minus @side2", "smoothing capacitor, second side",
                  "10 uF 100 V"),
        *valves("side{s}", EL34, paired=True),
    ),
)  # fmt: skip

FIXED = Arrangement(
    "fixed",
    "Fixed bias without a pot",
    "Two resistors divide the bias supply down; nothing can be adjusted.",
    r"""
              D1
  +----[R1]---|<--+-----+-[R2]--+------+----+---[R11]--[R21]-- V1
  |               |     |       |      |    |
T1)           C1 ===   [R4] C2 ===    [R3]  +---[R12]--[R22]-- V2
  )               |     |       |      |
  |               |     |       |      |
  +---------------+-----+-------+------+------ ground
""",
    (
        title("Two EL84, fixed bias without a pot"),
        mains(),
        *half_wave("20 Vac", "100 uF 63 V"),
        *smoothing("22k 5% 0.5 W", "bias", "47 uF 63 V"),
        needed_resistor("resistor R3 from @bias to @ground", "foot resistor, from the bias line "
                        "to ground", "20k 5% 0.5 W"),
        *valves("bias", EL84),
    ),
)  # fmt: skip

ARRANGEMENTS = (FOOT, FOOT_RHEOSTAT, SERIES_RHEOSTAT, ACROSS, POT_PER_VALVE, BALANCE, FIXED)
