"""The quantities that a line can hold, each with what is believable."""

from __future__ import annotations

from dataclasses import dataclass

from ..quantity import Dimension

_OHM, _FARAD, _VOLT, _VAC = Dimension.OHM, Dimension.FARAD, Dimension.VOLT, Dimension.VOLT_AC
_AMPERE, _WATT, _PERCENT = Dimension.AMPERE, Dimension.WATT, Dimension.PERCENT


@dataclass(frozen=True, slots=True)
class Slot:
    """A quantity that a line can hold.

    Parameters
    ----------
    noun : str
        What it is, for messages: "resistance".
    dimension : Dimension
        What it is measured in; plain volts serve for alternating ones.
    low, high : float
        Outside of these the value is taken for a slip of the pen. [SI unit of `dimension`]
    example : str
        How to write it.
    if_zero : str
        What to do instead of writing zero.
    """

    noun: str
    dimension: Dimension
    low: float
    high: float
    example: str
    if_zero: str = "leave it out if there is none"

    def takes(self, dimension: Dimension | None) -> bool:
        """Whether a quantity of this dimension goes here."""
        return dimension is self.dimension or (self.dimension is _VAC and dimension is _VOLT)


RESISTANCE = Slot("resistance", _OHM, 0.01, 1e9, "4k7 or 470 ohm", 'a wire is a "link"')
TOLERANCE = Slot("tolerance", _PERCENT, 0.0005, 0.9, "10%")
POWER = Slot("power rating", _WATT, 0.02, 500.0, "0.5 W")
RATING = Slot("voltage rating", _VOLT, 1.0, 10e3, "350 V")
CAPACITANCE = Slot("capacitance", _FARAD, 1e-12, 0.1, "47 uF or 100n")
WINDING_VOLTS = Slot("winding voltage", _VAC, 0.5, 2000.0, "48 Vac")
LOAD = Slot("load current", _AMPERE, 1e-6, 10.0, "20 mA")
SOURCE = Slot("source resistance", _OHM, 1e-3, 100e3, "60 ohm")
SUPPLY_VOLTS = Slot("supply voltage", _VOLT, 0.5, 2000.0, "400 V")
DROP = Slot("forward drop", _VOLT, 0.05, 50.0, "0.7 V")
SERIES = Slot("resistance", _OHM, 1e-3, 10e3, "200 ohm")
ZENER_VOLTS = Slot("zener voltage", _VOLT, 1.5, 400.0, "47 V")
ESR = Slot("series resistance", _OHM, 1e-3, 10e3, "2 ohm")
LEAK_CURRENT = Slot("leakage current", _AMPERE, 1e-12, 1.0, "0.5 mA")
LEAK_RESISTANCE = Slot("leakage resistance", _OHM, 1.0, 1e12, "470k")
MID = Slot("share of the track at half rotation", _PERCENT, 0.01, 0.49, "10%")
END = Slot("end resistance", _OHM, 1e-3, 100e3, "20 ohm")
END_SHARE = Slot("end resistance", _PERCENT, 1e-5, 0.2, "1%")
PLATE = Slot("plate voltage", _VOLT, 60.0, 2000.0, "390 V")
SCREEN = Slot("screen voltage", _VOLT, 40.0, 1200.0, "385 V")
DRAWN = Slot("cathode current", _AMPERE, 1e-5, 2.0, "38 mA")
DRAWN_AT = Slot("grid voltage", _VOLT, -400.0, -0.1, "-36.5 V")
CATHODE = Slot("cathode resistor", _OHM, 0.01, 2000.0, "1 ohm")
HT_SOURCE = Slot("source resistance", _OHM, 0.1, 100e3, "150 ohm")
HT_LOAD = Slot("load current", _AMPERE, 1e-4, 10.0, "90 mA")
TREMOLO_VOLTS = Slot("tremolo voltage", Dimension.VOLT_PP, 0.01, 1000.0, "30 Vpp")
TREMOLO_SOURCE = Slot("source resistance", _OHM, 1e-3, 100e6, "100k")
TREMOLO_FREQUENCY = Slot("tremolo frequency", Dimension.HERTZ, 0.2, 30.0, "4 Hz")
MAINS_VOLTS = Slot("mains voltage", _VAC, 80.0, 480.0, "230 V")
FREQUENCY = Slot("mains frequency", Dimension.HERTZ, 15.0, 1000.0, "50 Hz")

# What a sheet of readings holds. A fault may take any of them to zero.
MAINS_READ = Slot("mains voltage", _VAC, 5.0, 480.0, "236 V")
VOLTS_READ = Slot("direct voltage", _VOLT, -2000.0, 2000.0, "-52.0 V")
AC_READ = Slot("alternating voltage", _VAC, 0.0, 2000.0, "50.1 Vac")
RIPPLE_READ = Slot("ripple", Dimension.VOLT_PP, 0.0, 2000.0, "0.4 Vpp")
PLATE_READ = Slot("plate voltage", _VOLT, 0.0, 2000.0, "402 V")
SCREEN_READ = Slot("screen voltage", _VOLT, 0.0, 1200.0, "398 V")
GRID_READ = Slot("grid voltage", _VOLT, -500.0, 500.0, "-44.0 V")
CURRENT_READ = Slot("cathode current", _AMPERE, 0.0, 2.0, "38.5 mA")
CATHODE_READ = Slot("voltage across the cathode resistor", _VOLT, 0.0, 100.0, "38.5 mV")
TEST_READ = Slot("voltage of a diode test", _VOLT, 0.0, 10.0, "0.56 V")
OHMS_READ = Slot("resistance", _OHM, 0.0, 1e9, "31.2k")
CAPACITANCE_READ = Slot("capacitance", _FARAD, 0.0, 0.1, "41 uF")
ESR_READ = Slot("series resistance", _OHM, 0.0, 100e3, "2.2 ohm")
POSITION = Slot("position", _PERCENT, 0.0, 1.0, "30%")
METER_INPUT = Slot("input resistance", _OHM, 1e3, 1e12, "10 Mohm")
PER_VOLT = Slot("resistance per volt", _OHM, 10.0, 10e6, "20k")
ACCURACY = Slot("accuracy", _PERCENT, 0.0, 0.5, "0.5%")
TEST_VOLTS = Slot("test voltage", _VOLT, 0.01, 50.0, "0.4 V")
