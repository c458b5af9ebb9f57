"""Arrangements that differ in how the negative volts are made; most end in the same pot."""

from __future__ import annotations

from dataclasses import replace

from ..pieces import (
    EL34,
    EL84,
    V6,
    Arrangement,
    Question,
    bleeder,
    capacitor,
    diode,
    mains,
    needed_resistor,
    resistor,
    smoothing,
    supply,
    title,
    valves,
    winding,
    zener,
)
from .pots import divider_pot, half_wave

TAP = Arrangement(
    "tap",
    "Tap on the high-tension winding",
    "The bias comes from a tap on the high-tension winding, through a dropper.",
    r"""
  to the high-tension rectifier
  |            D1
  )  +--[R1]---|<--+-----+-[R2]--+------+-----+
  )  |             |     |       |      |     |
  +--+             |     |       |      |    [R5]
T1)            C1 ===   [R4] C2 ===   [RV1]<--+--+---+---[R11]--[R21]-- V1
  )                |     |       |      |        |   |
  +--+             |     |       |     [R3]  C3 ===  +---[R12]--[R22]-- V2
  )  |             |     |       |      |        |
  )  +-------------+-----+-------+------+--------+------ ground
  |
  to the high-tension rectifier
""",
    (
        title("Two EL34, tap on the high-tension winding"),
        mains(),
        winding("winding T1 from @ht1 centre @ground to @ht2", "330-0-330 Vac", "140 ohm",
                "high-tension winding",
                Question("T1.tap", "Volts of the tap, from the centre", "50 Vac",
                         "The tap lies between the centre and one end.",
                         write="tap @tap {}", fills="tap")),
        resistor("resistor R1 from @tap to @feed", "dropper, from the tap to the rectifier",
                 "2k2 10% 1 W", joined=("feed", "tap")),
        diode("diode D1 anode @raw cathode @feed"),
        capacitor("capacitor C1 plus @ground minus @raw", "reservoir", "47 uF 100 V",
                  needed=True),
        *smoothing("8k2 10% 0.5 W"),
        *divider_pot("27k 5% 0.5 W"),
        *valves("sweep", EL34),
    ),
    outside=("ht1", "ht2"),
)  # fmt: skip

DROPPER = Arrangement(
    "dropper",
    "Dropper from the high-tension winding",
    "A large dropper takes the bias from one end of the high-tension winding; it sets the "
    "volts together with the load, and gets warm.",
    r"""
  to the high-tension rectifier
  |            D1
  +-----[R1]---|<--+-----+-[R2]--+------+-----+
  )                |     |       |      |     |
  )                |     |       |      |    [R5]
T1)            C1 ===   [R4] C2 ===   [RV1]<--+--+---+---[R11]--[R21]-- V1
  )                |     |       |      |        |   |
  +--+             |     |       |     [R3]  C3 ===  +---[R12]--[R22]-- V2
  )  |             |     |       |      |        |
  )  +-------------+-----+-------+------+--------+------ ground
  |
  to the high-tension rectifier
""",
    (
        title("Two EL34, dropper from the high-tension winding"),
        mains(),
        winding("winding T1 from @ht1 centre @ground to @ht2", "330-0-330 Vac", "140 ohm",
                "high-tension winding"),
        needed_resistor("resistor R1 from @ht2 to @feed", "dropper, from the winding to the "
                        "rectifier", "100k 5% 3 W 500 V"),
        diode("diode D1 anode @raw cathode @feed"),
        capacitor("capacitor C1 plus @ground minus @raw", "reservoir", "22 uF 160 V",
                  needed=True),
        *smoothing("12k 10% 0.5 W"),
        *divider_pot("27k 5% 0.5 W"),
        *valves("sweep", replace(EL34, plate="440 V", screen="435 V")),
    ),
    outside=("ht1",),
)  # fmt: skip

COUPLED = Arrangement(
    "coupled",
    "Capacitor-coupled from the high-tension winding",
    "A capacitor from one end of the high-tension winding pumps a small charge through two "
    "diodes at each swing of the mains; no direct current flows in the winding.",
    r"""
  to the high-tension rectifier
  |   C1           D2
  +---||--[R1]--+--|<--+-----+-[R2]--+-----+-----+
  )             |      |     |       |     |     |
  )             |      |     |       |     |    [R5]
T1)             v  C2 ===   [R4] C4 ===  [RV1]<--+--+---+--[R11]-[R21]-- V1
  )         D1 ---     |     |       |     |        |   |
  +--+          |      |     |       |    [R3]  C3 ===  +--[R12]-[R22]-- V2
  )  |          |      |     |       |     |        |
  )  +----------+------+-----+-------+-----+--------+----- ground
  |
  to the high-tension rectifier
""",
    (
        title("Two EL34, bias pumped from the high-tension winding"),
        mains(),
        winding("winding T1 from @ht1 centre @ground to @ht2", "330-0-330 Vac", "140 ohm",
                "high-tension winding"),
        capacitor("capacitor C1 from @ht2 to @couple", "coupling capacitor", "47n 10% 1000 V",
                  needed=True),
        resistor("resistor R1 from @couple to @pump", "resistor behind the coupling capacitor",
                 "1k 10% 1 W", joined=("couple", "pump")),
        diode("diode D1 anode @pump cathode @ground", "clamp diode"),
        diode("diode D2 anode @raw cathode @pump"),
        capacitor("capacitor C2 plus @ground minus @raw", "reservoir", "47 uF 100 V",
                  needed=True),
        *smoothing("2k2 10% 0.5 W", c_name="C4"),
        *divider_pot("15k 5% 0.5 W", "4k7 20%"),
        *valves("sweep", EL34),
    ),
    outside=("ht1",),
)  # fmt: skip

FULL_WAVE = Arrangement(
    "full-wave",
    "Full-wave from a centre-tapped winding",
    "Two diodes take turns on the halves of a centre-tapped bias winding.",
    r"""
          D1
  +-------|<---+---+-----+-[R2]--+------+-----+
  |            |   |     |       |      |     |
  )            |   |     |       |      |    [R5]
T1)            |  === C1 |       |      |     |
  )            |   |    [R4] C2 ===   [RV1]<--+--+---+---[R11]--[R21]-- V1
  +----+       |   |     |       |      |        |   |
  )    |       |   |     |       |     [R3]  C3 ===  +---[R12]--[R22]-- V2
  )    |  D2   |   |     |       |      |        |
  +----|--|<---+   |     |       |      |        |
       |           |     |       |      |        |
       +-----------+-----+-------+------+--------+------ ground
""",
    (
        title("Two EL34, full-wave bias supply"),
        mains(),
        winding("winding T1 from @ac1 centre @ground to @ac2", "45-0-45 Vac", "40 ohm",
                "bias winding"),
        diode("diode D1 anode @raw cathode @ac1", "rectifier, one half"),
        diode("diode D2 anode @raw cathode @ac2", "rectifier, other half"),
        capacitor("capacitor C1 plus @ground minus @raw", "reservoir", "47 uF 100 V",
                  needed=True),
        *smoothing("18k 10% 0.5 W"),
        *divider_pot("27k 5% 0.5 W"),
        *valves("sweep", EL34),
    ),
)  # fmt: skip

BRIDGE = Arrangement(
    "bridge",
    "Bridge from a floating winding",
    "Four diodes rectify both halves of a bias winding that is not joined to ground itself.",
    r"""
         D1
  +---+--|<----+---+-----+-[R2]--+------+-----+
  |   |  D3    |   |     |       |      |     |
  )   +-->|-+  |   |     |       |      |    [R5]
T1)         |  |  === C1 |       |      |     |
  )   +-->|-+  |   |    [R4] C2 ===   [RV1]<--+--+---+---[R11]--[R21]-- V1
  |   |  D4 |  |   |     |       |      |        |   |
  |   |  D2 |  |   |     |       |     [R3]  C3 ===  +---[R12]--[R22]-- V2
  +---+--|<-|--+   |     |       |      |        |
            |      |     |       |      |        |
            +------+-----+-------+------+--------+------ ground
""",
    (
        title("Two EL34, bridge from a floating winding"),
        mains(),
        winding("winding T1 from @ac1 to @ac2", "45 Vac", "80 ohm", "bias winding"),
        diode("diode D1 anode @raw cathode @ac1", "bridge, negative side"),
        diode("diode D2 anode @raw cathode @ac2", "bridge, negative side"),
        diode("diode D3 anode @ac1 cathode @ground", "bridge, ground side"),
        diode("diode D4 anode @ac2 cathode @ground", "bridge, ground side"),
        capacitor("capacitor C1 plus @ground minus @raw", "reservoir", "47 uF 100 V",
                  needed=True),
        *smoothing("18k 10% 0.5 W"),
        *divider_pot("27k 5% 0.5 W"),
        *valves("sweep", EL34),
    ),
)  # fmt: skip

DOUBLER = Arrangement(
    "doubler",
    "Voltage doubler",
    "A low winding, here a heater winding, is doubled: the first capacitor is charged on one "
    "swing and added to the winding on the other.",
    r"""
      C1           D2
  +---||-----+-----|<--+-----+-[R2]--+-----+-----+
  |          |         |     |       |     |     |
  |          |         |     |       |     |    [R5]
T1)          v     C2 ===   [R4] C4 ===  [RV1]<--+--+---+--[R11]-[R21]-- V1
  )      D1 ---        |     |       |     |        |   |
  )          |         |     |       |    [R3]  C3 ===  +--[R12]-[R22]-- V2
  |          |         |     |       |     |        |
  +----------+---------+-----+-------+-----+--------+----- ground
""",
    (
        title("Two EL84, doubler from a low winding"),
        mains(),
        winding("winding T1 from @ground to @ac", "12.6 Vac", "1 ohm", "low winding"),
        capacitor("capacitor C1 plus @ac minus @pump", "pump capacitor", "100 uF 50 V",
                  needed=True),
        diode("diode D1 anode @pump cathode @ground", "clamp diode", "type 1N4004"),
        diode("diode D2 anode @raw cathode @pump", "rectifier", "type 1N4004"),
        capacitor("capacitor C2 plus @ground minus @raw", "reservoir", "100 uF 63 V",
                  needed=True),
        *smoothing("22k 10% 0.5 W", c_name="C4"),
        *divider_pot("10k 5% 0.5 W", "4k7 20%"),
        *valves("sweep", EL84),
    ),
)  # fmt: skip

ZENER = Arrangement(
    "zener",
    "Regulated by a zener",
    "A zener holds the top of the pot steady against the mains.",
    r"""
              D1
  +----[R1]---|<--+-----+-[R2]--+------+-----+
  |               |     |       |      |     |
  |               |     |       |      |    [R5]
T1)           C1 ===   [R4]     v    [RV1]<--+---+---+---[R11]--[R21]-- V1
  )               |     |   Z1 ---     |         |   |
  )               |     |       |     [R3]   C3 ===  +---[R12]--[R22]-- V2
  |               |     |       |      |         |
  +---------------+-----+-------+------+---------+------ ground
""",
    (
        title("Two EL34, bias regulated by a zener"),
        mains(),
        *half_wave("55 Vac", "47 uF 100 V"),
        bleeder(),
        needed_resistor("resistor R2 from @raw to @head", "series resistor in front of the "
                        "zener", "4k7 10% 1 W"),
        zener("zener Z1 anode @head cathode @ground", "43 V 5% 1.3 W"),
        *divider_pot("27k 5% 0.5 W"),
        *valves("sweep", EL34),
    ),
)  # fmt: skip

DIRECT = Arrangement(
    "direct",
    "Direct negative supply",
    "The negative volts come from elsewhere in the amplifier as a direct supply.",
    r"""
  +-------+-[R2]--+------+-----+
  |       |       |      |     |
  |       |       |      |    [R5]
 S1      [R4] C2 ===   [RV1]<--+---+---+---[R11]--[R21]-- V1
  |       |       |      |         |   |
  |       |       |     [R3]   C3 ===  +---[R12]--[R22]-- V2
  |       |       |      |         |
  +-------+-------+------+---------+------ ground
""",
    (
        title("Two 6V6GT, negative supply from elsewhere"),
        supply("supply S1 plus @ground minus @raw", "62 V", "1k"),
        *smoothing("18k 10% 0.5 W"),
        *divider_pot("27k 5% 0.5 W"),
        *valves("sweep", V6),
    ),
)  # fmt: skip

ARRANGEMENTS = (TAP, DROPPER, COUPLED, FULL_WAVE, BRIDGE, DOUBLER, ZENER, DIRECT)
