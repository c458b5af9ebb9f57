"""Circuits that the language allows and nobody would build, and readings nobody took of them.

Rings of diodes and of links, no source or several, capacitors in loops, windings on one
another, valves with their grid on ground, pots without an end, values from the least to the
largest that a line can hold: as text, so that they come the way that a user's come.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from decimal import Decimal
from random import Random

from netcheck.parse import slots
from netcheck.parse.slots import Slot

_E12 = (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
_NAMES = ("raw", "head", "sweep", "foot", "ac", "feed", "pump", "grid1", "grid2", "side")
_TYPES = ("EL34", "6V6GT", "6L6GC", "EL84", "KT88", "5881")
_CORES = (
    "supply S1 plus ground minus raw 60 V\n",
    "winding T1 from ground to ac 48 Vac source 60 ohm\ndiode D1 anode raw cathode ac\n"
    "capacitor C1 plus ground minus raw 47 uF\n",
    "winding T1 from a1 centre ground to a2 50-0-50 Vac\ndiode D1 anode raw cathode a1\n"
    "diode D2 anode raw cathode a2\ncapacitor C1 plus ground minus raw 47 uF\n",
    "winding T1 from ground to ht 320 Vac source 140 ohm\ncapacitor C2 from ht to pump 47 nF\n"
    "diode D1 anode pump cathode ground\ndiode D2 anode raw cathode pump\n"
    "capacitor C1 plus ground minus raw 47 uF\n",
    "",
)
_DIVIDER = "resistor R1 from raw to head 10k\npot RV1 top head wiper sweep bottom foot 10k\n" \
           "resistor R2 from foot to ground 15k\nresistor R3 from sweep to grid1 220k\n" \
           "valve V1 EL34 grid grid1 plate 400 V\n"  # fmt: skip


def circuit(seed: int) -> str:
    """The text of a circuit, the same one for the same seed.

    Its nodes have at least two parts each, or go on elsewhere: it is refused for no name.
    """
    return _Drawing(Random(f"circuit {seed}")).text()


def _plain(value: float) -> str:
    """A value in figures, without a power of ten."""
    return f"{Decimal(f'{value:.6g}'):f}"


class _Drawing:
    """A circuit that is being drawn."""

    def __init__(self, random: Random) -> None:
        self.random = random
        self.nodes = ["ground", *random.sample(_NAMES, random.randint(1, 6))]
        self.count: Counter[str] = Counter()
        self.lines: list[str] = []

    def text(self) -> str:
        """All of it."""
        random = self.random
        core = random.choice(_CORES)
        if core and random.random() < 0.7:
            core += _DIVIDER
        self.count.update({"T": 2, "S": 1, "D": 2, "C": 2, "R": 3, "RV": 1, "V": 1})
        self.lines = core.splitlines()
        if core:
            self.nodes += [n for n in ("raw", "head", "sweep", "foot", "grid1", "ac", "pump")
                           if f" {n} " in core]  # fmt: skip
        makers: list[Callable[[], str]] = [
            self._resistor, self._capacitor, self._diode, self._link, self._pot, self._winding,
            self._supply, self._zener, self._valve, self._tremolo,
        ]  # fmt: skip
        weights = [random.choice((0, 1, 1, 3, 9)) * w for w in (5, 3, 3, 1, 2, 1, 1, 1, 2, 0.5)]
        if not any(weights):
            weights[0] = 1
        for make in random.choices(makers, weights, k=random.randint(0 if core else 3, 12)):
            self.lines.append(make())
        return self._finished()

    def _finished(self) -> str:
        """With a mains line, and no node that is left alone."""
        random, lines = self.random, self.lines
        uses: dict[str, set[int]] = {}
        for number, line in enumerate(lines):
            for word in line.split():
                if word in (*self.nodes, "a1", "a2", "ht", *_NAMES):
                    uses.setdefault(word, set()).add(number)
        alone = [n for n, at in uses.items() if len(at) == 1 and n != "ground"]
        for node in alone:
            if random.random() < 0.5:
                lines.append(f"elsewhere {node}")
            else:
                other = random.choice([n for n in (*uses, "ground") if n != node])
                lines.append(f"resistor {self._name('R')} from {node} to {other} {self._ohms()}")
        if "ground" not in uses:
            lines.append(f"resistor {self._name('R')} from {next(iter(uses))} to ground 1k")
        if random.random() < 0.9 or any(line.startswith("winding") for line in lines):
            lines.insert(0, random.choice(("mains 230 V 50 Hz", "mains 120 V 60 Hz actual 117 V")))
        if random.random() < 0.1:
            lines.append("hightension source 150 ohm")
        return "\n".join(lines) + "\n"

    def _name(self, kind: str) -> str:
        self.count[kind] += 1
        return f"{kind}{self.count[kind]}"

    def _two(self) -> tuple[str, str]:
        """Two nodes; now and then one node twice."""
        if self.random.random() < 0.04:
            return (self.random.choice(self.nodes),) * 2
        a, b = self.random.sample(sorted(set(self.nodes)), 2)
        return a, b

    def _value(self, slot: Slot) -> float:
        """A value within what is believed: a usual one, any, or the least or largest."""
        random = self.random
        low, high = max(slot.low, 1e-13), slot.high
        if random.random() < 0.08:
            return random.choice((low, high))
        value = math.exp(random.uniform(math.log(low), math.log(high)))
        decade = 10.0 ** math.floor(math.log10(value))
        return min(max(low, random.choice(_E12) * decade), high)

    def _ohms(self, slot: Slot = slots.RESISTANCE, *, usual: bool = True) -> str:
        if usual and self.random.random() < 0.6:
            r = self.random.choice(_E12) * 10.0 ** self.random.randint(1, 5)
        else:
            r = self._value(slot)
        return f"{_plain(r)} ohm"

    def _maybe(self, chance: float, text: str) -> str:
        return f" {text}" if self.random.random() < chance else ""

    def _resistor(self) -> str:
        a, b = self._two()
        return f"resistor {self._name('R')} from {a} to {b} {self._ohms()}"

    def _capacitor(self) -> str:
        a, b = self._two()
        words = self.random.choice((("plus", "minus"), ("from", "to")))
        c = self.random.choice((10e-6, 47e-6, 100e-9, self._value(slots.CAPACITANCE)))
        return (
            f"capacitor {self._name('C')} {words[0]} {a} {words[1]} {b} {_plain(c * 1e12)} pF"
            + self._maybe(0.2, f"leakage {self._ohms(slots.LEAK_RESISTANCE, usual=False)}")
            + self._maybe(0.2, f"esr {self._ohms(slots.ESR, usual=False)}")
        )

    def _diode(self) -> str:
        a, b = self._two()
        return (
            f"diode {self._name('D')} anode {a} cathode {b}"
            + self._maybe(0.3, self.random.choice(("silicon", "selenium", "vacuum")))
            + self._maybe(0.1, f"drop {_plain(self._value(slots.DROP))} V")
            + self._maybe(0.1, f"resistance {self._ohms(slots.SERIES, usual=False)}")
        )

    def _zener(self) -> str:
        a, b = self._two()
        return f"zener {self._name('Z')} anode {a} cathode {b} {_plain(self._value(slots.ZENER_VOLTS))} V"

    def _link(self) -> str:
        a, b = self._two()
        return f"link {self._name('W')} from {a} to {b}"

    def _pot(self) -> str:
        top, bottom = self._two()
        wiper = self.random.choice(self.nodes)
        if self.random.random() < 0.1:
            top = "open"
        elif self.random.random() < 0.1:
            bottom = "open"
        return (
            f"pot {self._name('RV')} top {top} wiper {wiper} bottom {bottom} {self._ohms()}"
            + self._maybe(0.3, self.random.choice(("audio", "reverse audio", "linear")))
            + self._maybe(0.3, f"clockwise {self.random.choice(('top', 'bottom'))}")
        )

    def _winding(self) -> str:
        a, b = self._two()
        source = self._maybe(0.7, f"source {self._ohms(slots.SOURCE, usual=False)}")
        v = self.random.choice((6.3, 48.0, 320.0, self._value(slots.WINDING_VOLTS)))
        if self.random.random() < 0.2 and len(set(self.nodes)) > 2:
            centre = self.random.choice([n for n in self.nodes if n not in (a, b)])
            return f"winding {self._name('T')} from {a} centre {centre} to {b} {_plain(v)}-0-{_plain(v)} Vac{source}"
        tap = ""
        if self.random.random() < 0.2 and v > 2.0:
            tap = f" tap {self.random.choice(self.nodes)} {_plain(v / 2)} Vac"
        return f"winding {self._name('T')} from {a}{tap} to {b} {_plain(v)} Vac{source}"

    def _supply(self) -> str:
        a, b = self._two()
        source = self._maybe(0.5, f"source {self._ohms(slots.SOURCE, usual=False)}")
        v = self.random.choice((60.0, 400.0, self._value(slots.SUPPLY_VOLTS)))
        return f"supply {self._name('S')} plus {a} minus {b} {_plain(v)} V{source}"

    def _valve(self) -> str:
        grid = self.random.choice(self.nodes)
        return (
            f"valve {self._name('V')} {self.random.choice(_TYPES)} grid {grid}"
            + self._maybe(0.7, f"plate {_plain(self._value(slots.PLATE))} V")
            + self._maybe(0.4, f"screen {_plain(self._value(slots.SCREEN))} V")
            + self._maybe(0.4, "cathode 1 ohm")
            + self._maybe(0.2, "draws 38 mA at -36.5 V")
        )

    def _tremolo(self) -> str:
        a, b = self._two()
        return (
            f"tremolo {self._name('X')} from {a} to {b} {_plain(self._value(slots.TREMOLO_VOLTS))} Vpp 4 Hz"
            + self._maybe(0.5, f"source {self._ohms(slots.TREMOLO_SOURCE)}")
        )


def readings(text: str, seed: int, name: str) -> str:
    """A sheet of readings of a circuit, with values that nobody read.

    Parameters
    ----------
    text : str
        The circuit.
    seed : int
        The same one gives the same readings.
    name : str
        Of the circuit's file.
    """
    random = Random(f"readings {seed}")
    words = [line.split() for line in text.splitlines()]
    pots = [w[1] for w in words if w[0] == "pot"]
    nodes = sorted({w[k + 1] for w in words for k in range(len(w) - 1)
                    if w[k] in ("from", "to", "top", "wiper", "minus", "plus", "anode", "grid")
                    and w[k + 1] not in ("ground", "open")})  # fmt: skip
    lines = [f"readings for {name}", "as found"]
    for where in random.sample(("clockwise", "anticlockwise", "middle"), random.randint(1, 2)):
        lines += [f"{pot} at {where}" for pot in pots]
        for node in random.sample(nodes, min(len(nodes), random.randint(0, 3))):
            volts = random.choice((0.0, -0.1, -35.0, -60.0, 12.0, -1999.0))
            lines.append(f"{node} {volts * random.uniform(0.5, 1.0):.1f} V")
    lines += [f"{w[1]} cathode {random.choice((0.0, 12.0, 38.5, 1500.0))} mA"
              for w in words if w[0] == "valve" and random.random() < 0.4]  # fmt: skip
    lines.append("power off discharged")
    lines += [f"{w[1]} {random.choice(('0.2 ohm', '27k', 'OL', '1.2M'))}"
              for w in words if w[0] in ("resistor", "diode") and random.random() < 0.4]  # fmt: skip
    lines += [f"{w[1]} lifted 41 uF  esr 2.2 ohm"
              for w in words if w[0] == "capacitor" and random.random() < 0.3]  # fmt: skip
    return "\n".join(lines) + "\n"
