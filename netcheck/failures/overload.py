"""What else a failure takes with it: parts that bear more than they are made for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum

from ..assumed import reverse_rating
from ..engine.elements import Resistance, SteadyState
from ..model import Values
from ..netlist import Capacitor, Diode, Part, Pot, Resistor, Winding, Zener
from ..partwork import PartWork, part_work
from ..quantity import Dimension
from .wiring import Wiring, pieces

COPPER_LOSS, COPPER_LOSS_HIGH = 2.0, 10.0
"""What makes a small bias winding hot, and one of the high tension (of `V_HIGH` and more), which
is made for the whole amplifier; common practice. [W]"""
V_HIGH = 150.0
"""A winding of more volts than this makes the high tension. [V rms]"""
V_REVERSED = 1.0
"""An electrolytic stands no more than this the wrong way round; common practice. [V]"""


class Strain(Enum):
    """What is too much for a part; the value is its name."""

    POWER = "dissipation"
    COPPER = "copper loss"
    VOLTS = "volts"
    REVERSED = "volts the wrong way round"
    BLOCKED = "reverse volts"

    @property
    def dimension(self) -> Dimension:
        """What it is measured in."""
        is_power = self in (Strain.POWER, Strain.COPPER)
        return Dimension.WATT if is_power else Dimension.VOLT


@dataclass(frozen=True, slots=True)
class Overload:
    """A part beyond its rating.

    Parameters
    ----------
    part : str
        Its name.
    strain : Strain
        What is too much.
    bears : float
        How much it is. [SI unit]
    rated : float
        What it is rated for, or where nobody rates it what it stands. [SI unit]
    """

    part: str
    strain: Strain
    bears: float
    rated: float

    @property
    def what(self) -> tuple[str, Strain]:
        """The part and what is too much for it."""
        return self.part, self.strain


def overloads(wiring: Wiring, states: Sequence[Values], found: Sequence[SteadyState]
              ) -> tuple[Overload, ...]:  # fmt: skip
    """The parts of a wiring that bear too much in any of some states.

    Parameters
    ----------
    wiring : Wiring
        The wiring.
    states : sequence of mapping of str to float
        Values of the parameters.
    found : sequence of SteadyState
        What was simulated in each.
    """
    rated = {(part.name, strain): limit for part in wiring.circuit.parts
             for strain, limit in _ratings(part)}  # fmt: skip
    worst: dict[tuple[str, Strain], float] = {}
    for values, state in zip(states, found, strict=True):
        for what, borne in _borne(wiring, values, state):
            worst[what] = max(worst.get(what, 0.0), borne)
    return tuple(Overload(*what, worst[what], limit) for what, limit in rated.items()
                 if worst.get(what, 0.0) > limit)  # fmt: skip


def _ratings(part: Part) -> Iterator[tuple[Strain, float]]:
    """What a part stands, as far as that is known."""
    if isinstance(part, Resistor | Pot | Zener) and part.power is not None:
        yield Strain.POWER, part.power
    if isinstance(part, Resistor | Capacitor) and part.v_rated is not None:
        yield Strain.VOLTS, part.v_rated
    if isinstance(part, Capacitor) and part.polarised:
        yield Strain.REVERSED, V_REVERSED
    if isinstance(part, Diode) and (v := reverse_rating(part)) is not None:
        yield Strain.BLOCKED, v
    if isinstance(part, Winding):
        yield Strain.COPPER, COPPER_LOSS_HIGH if part.v_rms >= V_HIGH else COPPER_LOSS


def _borne(wiring: Wiring, values: Values, state: SteadyState
           ) -> Iterator[tuple[tuple[str, Strain], float]]:  # fmt: skip
    watts = {e.name: state.power(e) for e in wiring.elements(values) if isinstance(e, Resistance)}
    works = part_work(wiring.circuit, {**values, **wiring.changes}, state.waves)
    for part in wiring.circuit.parts:
        names = pieces(part)
        heat = sum(watts.get(name, 0.0) for name in names)
        if isinstance(part, Winding):  # of which one half may be broken
            yield (part.name, Strain.COPPER), heat
        elif part.name in works and not wiring.removed & set(names):
            yield from _of_part(part, works[part.name], heat, values)


def _of_part(part: Part, work: PartWork, heat: float, values: Values
             ) -> Iterator[tuple[tuple[str, Strain], float]]:  # fmt: skip
    """What a part bears that is not broken; `heat` is what its resistances dissipate. [W]"""
    if isinstance(part, Pot):
        # The rating is for the whole track: a piece of it bears that track's current.
        heat = max(heat, work.i_rms**2 * float(values[part.name]))
    elif isinstance(part, Zener):
        heat = work.power
    yield (part.name, Strain.POWER), heat
    yield (part.name, Strain.VOLTS), max(work.v_high, -work.v_low)
    yield (part.name, Strain.REVERSED), -work.v_low
    yield (part.name, Strain.BLOCKED), work.v_high
