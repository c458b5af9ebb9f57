"""A sound circuit that the examples of the rules change line by line."""

from __future__ import annotations

BASE = """\
circuit "Two 6V6GT on an invented board"
mains 230 V 50 Hz
winding   T1  from ground to tap       48 Vac  source 60 ohm
resistor  R1  from tap to feed         470 ohm  10%  1 W
diode     D1  anode raw cathode feed   1000 V
capacitor C1  plus ground minus raw    47 uF  100 V
resistor  R2  from raw to head         39k  10%  0.5 W
pot       RV1 top head wiper sweep bottom foot  10k  20%  linear  clockwise bottom
resistor  R3  from foot to ground      15k  5%  0.5 W
resistor  R6  from head to sweep       220k  10%  0.5 W
capacitor C2  plus ground minus sweep  10 uF  63 V
resistor  R4  from sweep to grid1      68k  10%  0.5 W
resistor  R5  from sweep to grid2      68k  10%  0.5 W
valve     V1  6V6GT  grid grid1  plate 310 V  screen 280 V  cathode 1 ohm
valve     V2  6V6GT  grid grid2  plate 310 V  screen 280 V  cathode 1 ohm
"""


def changed(lines: list[str]) -> str:
    """The sound circuit with some lines put in place of those of the same part, or added."""
    kept = BASE.splitlines()
    for line in lines:
        words = line.split()
        named = len(words) > 1 and words[0] not in ("mains", "hightension", "elsewhere", "circuit")
        same = [
            k
            for k, old in enumerate(kept)
            if (old.split()[1] == words[1] if named else old.split()[0] == words[0])
        ]
        if same:
            kept[same[0]] = line
        else:
            kept.append(line)
    return "\n".join(kept) + "\n"
