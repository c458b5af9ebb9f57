"""Which part is meant, and which values are tried: as asked for, or what is sensible."""

from __future__ import annotations

import difflib
from dataclasses import dataclass

import numpy as np

from ..changes import read_single
from ..errors import InputError
from ..netlist import Capacitor, Circuit, Part, Pot, Resistor, Valve, Zener
from ..predictor import Predictor
from ..preferred import Series, neighbours, values_between
from ..quantity import Dimension, show_part
from .knob import DIMENSION, Knob, Way

MOST = 120
"""Values of one knob. [count]"""
_ACROSS = (0.5, 30.0)  # of the part's own value: from a third of it left to 3 % off
_ACROSS_UNKNOWN = (1e3, 1e6)  # across what has no resistance of its own [ohm]
_DECADE = (0.1, 10.0)
_FILM = (0.3, 3.4)  # a coupling capacitor is exchanged for one of about its size
_VOLTS = (0.5, 1.5)
_VOLT_STEPS = 11
_NAMED, _LONGEST = 12, 30  # parts, and characters of what was typed, that an error shows
_BOUNDS = {
    Dimension.OHM: (1e-3, 1e12, "resistance"),
    Dimension.FARAD: (1e-12, 1.0, "capacitance"),
    Dimension.VOLT: (1e-3, 5e3, "voltage"),
    Dimension.VOLT_AC: (1e-3, 5e3, "voltage"),
}


@dataclass(frozen=True, slots=True)
class Asked:
    """What the user asked for, as typed; None where nothing was said.

    Parameters
    ----------
    way : Way or None
        Across or in place.
    low, high : str or None
        Ends of the range.
    series : Series or None
        Preferred values to take.
    steps : int or None
        So many values instead, evenly spaced: by ratio, or volts by difference. [count]
    """

    way: Way | None = None
    low: str | None = None
    high: str | None = None
    series: Series | None = None
    steps: int | None = None


def knob_for(predictor: Predictor, name: str, asked: Asked, *, coarse: bool = False) -> Knob:
    """The knob that a part makes.

    Parameters
    ----------
    predictor : Predictor
        Of the section.
    name : str
        The part, as typed.
    asked : Asked
        The rest of what was asked for.
    coarse : bool
        Whether the usual values are to be few, as for a chart of two parts.

    Raises
    ------
    InputError
        For a part that does not exist or has nothing to turn, and for values that cannot be.
    """
    part = _part(predictor.section.circuit, name)
    dimension = DIMENSION.get(type(part))
    by_itself = Way.ACROSS if dimension is None or isinstance(part, Resistor) else Way.IN_PLACE
    way = asked.way or by_itself
    if way is Way.IN_PLACE and dimension is None:
        raise InputError(f"{part.name} is a {part.kind}, which has no value to change; "
                         "--across puts a resistor across it")  # fmt: skip
    fitted = None if dimension is None else float(predictor.values()[part.name])
    if way is Way.ACROSS:
        if dimension is not Dimension.OHM:
            fitted = None
        dimension = Dimension.OHM
    assert dimension is not None
    values = _values(part, way, dimension, fitted, asked, coarse)
    knob = Knob(part, way, dimension, fitted, _in_order(values, way, fitted))
    if len(knob.values) == 1:
        raise InputError(f"{show_part(fitted or 0.0, dimension)} is what {part.name} has already: "
                         "there is nothing to turn")  # fmt: skip
    return knob


def _part(circuit: Circuit, name: str) -> Part:
    part = circuit.part(name)
    if isinstance(part, Valve):
        raise InputError(f"{part.name} is a valve: name a part of the bias section")
    if part is not None:
        return part
    names = [part.name for part in circuit.parts if not isinstance(part, Valve)]
    by_letters = {one.casefold(): one for one in names}
    near = difflib.get_close_matches(name.casefold(), by_letters, n=1, cutoff=0.5)
    if near:
        hint = f'; did you mean "{by_letters[near[0]]}"?'
    else:
        shown = ", ".join(names[:_NAMED]) + (", ..." if len(names) > _NAMED else "")
        hint = f"\n  there are: {shown}"
    raise InputError(f'there is no part "{name[:_LONGEST]}" in the circuit{hint}')


def _in_order(values: list[float], way: Way, fitted: float | None) -> tuple[float | None, ...]:
    """As the knob is turned: from nothing across downwards; in place from low to high."""
    if way is Way.ACROSS:
        return (None, *sorted(values, reverse=True))
    if fitted is not None and not any(np.isclose(fitted, v, rtol=1e-9, atol=0.0) for v in values):
        values = [*values, fitted]
    # The very float that is fitted, so that it is found again.
    same = [fitted if fitted is not None and np.isclose(fitted, v, rtol=1e-9, atol=0.0) else v
            for v in values]  # fmt: skip
    return tuple(sorted(same))


def _usual(part: Part, way: Way, dimension: Dimension, fitted: float | None
           ) -> tuple[float, float]:  # fmt: skip
    """The range that is tried where none was asked for."""
    if fitted is None:
        return _ACROSS_UNKNOWN
    if way is Way.ACROSS:
        shares = _ACROSS
    elif isinstance(part, Capacitor) and not part.polarised:
        shares = _FILM
    elif dimension in (Dimension.OHM, Dimension.FARAD):
        shares = _DECADE
    else:
        shares = _VOLTS
    return shares[0] * fitted, shares[1] * fitted


def _range(part: Part, way: Way, dimension: Dimension, fitted: float | None, asked: Asked
           ) -> tuple[float, float]:  # fmt: skip
    """The range as asked for; an end that was not is a usual one, or follows the other."""
    usual = _usual(part, way, dimension, fitted)
    low = None if asked.low is None else _read("--from", part, asked.low, dimension)
    high = None if asked.high is None else _read("--to", part, asked.high, dimension)
    if low is not None and high is not None:
        if low > high:
            raise InputError(f"{part.name}, --from {show_part(low, dimension)} lies above --to "
                             f"{show_part(high, dimension)}")  # fmt: skip
        return low, high
    ratio = usual[1] / usual[0]
    if low is not None:
        return low, usual[1] if low < usual[1] else low * ratio
    if high is not None:
        return usual[0] if high > usual[0] else high / ratio, high
    return usual


def _series(part: Part, way: Way, dimension: Dimension, coarse: bool) -> Series | None:
    """The preferred values that a technician has of such a part; None where there are none."""
    if dimension in (Dimension.VOLT, Dimension.VOLT_AC):
        return Series.E24 if isinstance(part, Zener) else None
    if way is Way.ACROSS or isinstance(part, Resistor):
        return Series.E6 if coarse else Series.E12
    if isinstance(part, Capacitor) and not part.polarised:
        return Series.E6 if coarse else Series.E12
    # Pots are made in two or three values a decade, electrolytics in three to six.
    return Series.E3 if coarse or isinstance(part, Pot) else Series.E6


def _values(part: Part, way: Way, dimension: Dimension, fitted: float | None, asked: Asked,
            coarse: bool) -> list[float]:  # fmt: skip
    low, high = _range(part, way, dimension, fitted, asked)
    if asked.steps is not None and not 1 <= asked.steps <= MOST:
        raise InputError(f"--steps: from 1 to {MOST}")
    series = asked.series or _series(part, way, dimension, coarse)
    is_volts = dimension in (Dimension.VOLT, Dimension.VOLT_AC)
    if asked.series is not None and is_volts and not isinstance(part, Zener):
        raise InputError(f"{part.name}, --series: the volts of a {part.kind} come in no series; "
                         "take --steps")  # fmt: skip
    if low == high:
        return [low]
    if asked.steps is not None or series is None:
        return _spaced(low, high, _VOLT_STEPS if asked.steps is None else asked.steps, is_volts)
    found = list(values_between(low, high, series))
    ends = f"{show_part(low, dimension)} and {show_part(high, dimension)}"
    if not found:
        below, above = (show_part(v, dimension) for v in neighbours(low, series))
        raise InputError(f"no value of {series.name} lies between {ends}; the nearest are {below} "
                         f"and {above}")  # fmt: skip
    if len(found) > MOST:
        raise InputError(f"{len(found)} values of {series.name} lie between {ends}; at most {MOST} "
                         "can be tried")  # fmt: skip
    return found


def _spaced(low: float, high: float, steps: int, is_volts: bool) -> list[float]:
    """Evenly spaced values, rounded to the three digits that are shown."""
    values = np.linspace(low, high, steps) if is_volts else np.geomspace(low, high, steps)
    return list(dict.fromkeys(float(f"{v:.3g}") for v in values))


def _read(option: str, part: Part, text: str, dimension: Dimension) -> float:
    low, high, noun = _BOUNDS[dimension]
    try:
        # Volts of a winding may be typed as "48 V" or "48 Vac".
        plain = Dimension.VOLT if dimension is Dimension.VOLT_AC else dimension
        return read_single(text, plain, low, high, noun)
    except InputError as error:
        raise InputError(f"{part.name}, {option} {error}") from None
