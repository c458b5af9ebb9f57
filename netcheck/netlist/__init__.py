"""A bias section as plain data: what the circuit file says, in SI units."""

from .circuit import Circuit, HighTension, Mains
from .parts import (
    GROUND,
    OPEN,
    Capacitor,
    Diode,
    IdleReading,
    Link,
    Part,
    Pot,
    Resistor,
    Supply,
    Tap,
    Tremolo,
    Valve,
    Winding,
    Zener,
)

__all__ = [
    "GROUND",
    "OPEN",
    "Capacitor",
    "Circuit",
    "Diode",
    "HighTension",
    "IdleReading",
    "Link",
    "Mains",
    "Part",
    "Pot",
    "Resistor",
    "Supply",
    "Tap",
    "Tremolo",
    "Valve",
    "Winding",
    "Zener",
]
