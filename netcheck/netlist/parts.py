"""The parts of a bias section as plain data, SI units.

Spans take no part in comparison: two parts are equal when they say the same thing, wherever it
stands in the file.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import ClassVar

from ..source import NOWHERE, Span

GROUND = "ground"
"""The reserved node name: chassis, the reference of every voltage."""

OPEN = "open"
"""The reserved word for a pot end to which nothing is soldered."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """What every part has.

    Parameters
    ----------
    name : str
        Designator as typed, such as "R3".
    note : str or None
        The user's remark on this part.
    year : int or None
        Year of manufacture, where known. [year]
    span : Span
        The part's name in the file.
    marks : mapping of str to Span
        Where each field stands in the file, by field name.
    """

    kind: ClassVar[str] = "part"
    name: str
    note: str | None = None
    year: int | None = None
    span: Span = field(default=NOWHERE, compare=False, repr=False)
    marks: Mapping[str, Span] = field(default_factory=dict, compare=False, repr=False, hash=False)

    @property
    def terminals(self) -> tuple[tuple[str, str], ...]:
        """(word for the terminal, node) in the order in which they are written."""
        raise TypeError(f"{type(self).__name__} has no terminals of its own")

    def mark(self, name: str) -> Span:
        """Where field `name` stands, or else where the part's name stands."""
        return self.marks.get(name, self.span)


@dataclass(frozen=True, slots=True)
class Tap:
    """A tap on a winding: its node and its no-load volts from the start of the winding.

    On a centre-tapped winding the volts count from the centre towards `to`. [V rms]
    """

    node: str
    v_rms: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Winding(Part):
    """A transformer winding; all windings of one circuit are in phase, from `start` to `end`.

    Parameters
    ----------
    start, end : str
        Nodes of the two ends; `end` is positive while the mains is.
    v_rms : float
        Volts between the ends, or of each half if there is a centre, at nominal mains. [V rms]
    centre : str or None
        Node of the centre tap.
    taps : tuple of Tap
        Further taps.
    i_load : float or None
        The load current at which `v_rms` was stated; None for no-load volts. [A rms]
    r_source : float or None
        Copper resistance, the primary's share included, of the winding (of each half if
        there is a centre); None if not stated. [ohm]
    tolerance : float or None
        Of the volts, as a fraction; None if not stated. [1]
    """

    kind: ClassVar[str] = "winding"
    start: str
    end: str
    v_rms: float
    centre: str | None = None
    taps: tuple[Tap, ...] = ()
    i_load: float | None = None
    r_source: float | None = None
    tolerance: float | None = None

    @property
    def terminals(self) -> tuple[tuple[str, str], ...]:
        centre = (("centre", self.centre),) if self.centre is not None else ()
        taps = tuple(("tap", tap.node) for tap in self.taps)
        return (("from", self.start), *centre, *taps, ("to", self.end))


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply(Part):
    """A direct voltage made elsewhere in the amplifier, such as the high tension.

    Parameters
    ----------
    plus, minus : str
        Nodes.
    v : float
        Volts at nominal mains, positive. [V]
    r_source : float
        Internal resistance. [ohm]
    tolerance : float or None
        As a fraction; None if not stated. [1]
    """

    kind: ClassVar[str] = "supply"
    plus: str
    minus: str
    v: float
    r_source: float = 0.0
    tolerance: float | None = None

    @property
    def terminals(self) -> tuple[tuple[str, str], ...]:
        return (("plus", self.plus), ("minus", self.minus))


@dataclass(frozen=True, slots=True, kw_only=True)
class Resistor(Part):
    """A fixed resistor.

    Parameters
    ----------
    start, end : str
        Nodes.
    r : float
        Nominal resistance. [ohm]
    tolerance : float or None
        As a fraction; None if not stated. [1]
    power : float or None
        Rated dissipation. [W]
    v_rated : float or None
        Rated working voltage. [V]
    bands : tuple of str
        The colour bands, when the value was entered that way.
    """

    kind: ClassVar[str] = "resistor"
    start: str
    end: str
    r: float
    tolerance: float | None = None
    power: float | None = None
    v_rated: float | None = None
    bands: tuple[str, ...] = ()

    @property
    def terminals(self) -> tuple[tuple[str, str], ...]:
        return (("from", self.start), ("to", self.end))


@dataclass(frozen=True, slots=True, kw_only=True)
class Capacitor(Part):
    """A capacitor; electrolytic when `polarised`.

    Parameters
    ----------
    start, end : str
        Nodes; `start` is the plus side of an electrolytic.
    c : float
        Nominal capacitance. [F]
    polarised : bool
        True for an electrolytic (entered with plus and minus).
    tolerance : float or None
        As a fraction; None if not stated. [1]
    v_rated : float or None
        Rated direct voltage. [V]
    esr : float
        Series resistance. [ohm]
    i_leak : float or None
        Leakage current at rated voltage. [A]
    r_leak : float or None
        Leakage as a resistance, when entered that way. [ohm]
    """

    kind: ClassVar[str] = "capacitor"
    start: str
    end: str
    c: float
    polarised: bool
    tolerance: float | None = None
    v_rated: float | None = None
    esr: float = 0.0
    i_leak: float | None = None
    r_leak: float | None = None

    @property
    def terminals(self) -> tuple[tuple[str, str], ...]:
        words = ("plus", "minus") if self.polarised else ("from", "to")
        return ((words[0], self.start), (words[1], self.end))


@dataclass(frozen=True, slots=True, kw_only=True)
class Diode(Part):
    """A rectifier.

    Parameters
    ----------
    anode, cathode : str
        Nodes.
    material : str
        "silicon", "selenium" or "vacuum".
    v_reverse : float or None
        Rated repetitive peak reverse voltage. [V]
    type : str or None
        Type number, such as "1N4007".
    v_drop : float or None
        Forward drop at 10 mA; None for the usual of its material. [V]
    r_series : float or None
        Forward resistance; None for the usual of its material. [ohm]
    """

    kind: ClassVar[str] = "diode"
    anode: str
    cathode: str
    material: str = "silicon"
    v_reverse: float | None = None
    type: str | None = None
    v_drop: float | None = None
    r_series: float | None = None

    @property
    def terminals(self) -> tuple[tuple[str, str], ...]:
        return (("anode", self.anode), ("cathode", self.cathode))


@dataclass(frozen=True, slots=True, kw_only=True)
class Zener(Part):
    """A zener diode.

    Parameters
    ----------
    anode, cathode : str
        Nodes.
    v_zener : float
        Nominal zener voltage. [V]
    tolerance : float or None
        As a fraction; None if not stated. [1]
    power : float or None
        Rated dissipation. [W]
    r_zener : float or None
        Dynamic resistance; None for the usual of its voltage. [ohm]
    """

    kind: ClassVar[str] = "zener"
    anode: str
    cathode: str
    v_zener: float
    tolerance: float | None = None
    power: float | None = None
    r_zener: float | None = None

    @property
    def terminals(self) -> tuple[tuple[str, str], ...]:
        return (("anode", self.anode), ("cathode", self.cathode))


@dataclass(frozen=True, slots=True, kw_only=True)
class Link(Part):
    """A wire, a strap, a closed switch or a fuse: no resistance to speak of."""

    kind: ClassVar[str] = "link"
    start: str
    end: str

    @property
    def terminals(self) -> tuple[tuple[str, str], ...]:
        return (("from", self.start), ("to", self.end))


@dataclass(frozen=True, slots=True, kw_only=True)
class Pot(Part):
    """A potentiometer; a rheostat when an end is open or strapped to the wiper.

    Parameters
    ----------
    top, wiper, bottom : str
        Nodes; an end may be `OPEN`.
    r : float
        End-to-end resistance. [ohm]
    tolerance : float or None
        As a fraction; None if not stated. [1]
    power : float or None
        Rated dissipation. [W]
    taper : str
        "linear", "audio" or "reverse audio".
    mid : float or None
        Share of the resistance between the slow end and the wiper at half rotation, for an
        audio taper; None for the usual. [1]
    clockwise : str
        The end that the wiper reaches when turned fully clockwise: "top" or "bottom".
    r_end : float or None
        Resistance left between wiper and end at the stop; None for the usual. [ohm]
    """

    kind: ClassVar[str] = "pot"
    top: str
    wiper: str
    bottom: str
    r: float
    tolerance: float | None = None
    power: float | None = None
    taper: str = "linear"
    mid: float | None = None
    clockwise: str = "top"
    r_end: float | None = None

    @property
    def terminals(self) -> tuple[tuple[str, str], ...]:
        return (("top", self.top), ("wiper", self.wiper), ("bottom", self.bottom))


@dataclass(frozen=True, slots=True, kw_only=True)
class Tremolo(Part):
    """A slow alternating voltage that is led to the bias line to modulate it.

    Parameters
    ----------
    start, end : str
        Nodes.
    v_pp : float
        No-load volts, peak to peak, at the deepest setting. [Vpp]
    frequency : float
        Its slowest frequency. [Hz]
    r_source : float
        Internal resistance. [ohm]
    """

    kind: ClassVar[str] = "tremolo"
    start: str
    end: str
    v_pp: float
    frequency: float
    r_source: float = 0.0

    @property
    def terminals(self) -> tuple[tuple[str, str], ...]:
        return (("from", self.start), ("to", self.end))


@dataclass(frozen=True, slots=True)
class IdleReading:
    """A cathode current as measured at a known grid voltage.

    Parameters
    ----------
    i_cathode : float
        Plate and screen current together. [A]
    v_grid : float
        Grid against ground, negative in normal use. [V]
    """

    i_cathode: float
    v_grid: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Valve(Part):
    """An output valve, here the load of the bias line: its grid.

    Parameters
    ----------
    type : str
        Type number as typed.
    grid : str
        Node of the control grid.
    v_plate, v_screen : float or None
        Against ground. [V]
    r_cathode : float
        Resistor between cathode and ground. [ohm]
    readings : tuple of IdleReading
        What this very valve was measured to draw; two at the most.
    """

    kind: ClassVar[str] = "valve"
    type: str
    grid: str
    v_plate: float | None = None
    v_screen: float | None = None
    r_cathode: float = 0.0
    readings: tuple[IdleReading, ...] = ()

    @property
    def terminals(self) -> tuple[tuple[str, str], ...]:
        return (("grid", self.grid),)
