"""Rules about the values that are drawn."""

from __future__ import annotations

from collections.abc import Iterator

from ..bands import likely_turned
from ..finding import Severity
from ..netlist import Capacitor, Pot, Resistor
from ..preferred import is_round, is_usual, likely_meant, series_for
from ..quantity import Dimension, show_part
from .rule import Case, Problem, Rule

_SERVICE_LIFE = 20
"""Past 15 to 20 years an electrolytic is replaced; common practice. [year]"""


def _look_unusual(case: Case) -> Iterator[Problem]:
    """A nominal value is a preferred value of its tolerance's series.

    bad: resistor R2 from raw to head 81k 10%
    good: resistor R2 from raw to head 18k 10%
    """
    for part in case.section.circuit.parts:
        if isinstance(part, Resistor):
            value, dimension, field = part.r, Dimension.OHM, "r"
        elif isinstance(part, Capacitor):
            value, dimension, field = part.c, Dimension.FARAD, "c"
        elif isinstance(part, Pot):
            value, dimension, field = part.r, Dimension.OHM, "r"
        else:
            continue
        if is_usual(value, part.tolerance) or (not isinstance(part, Resistor) and is_round(value)):
            continue
        likely = likely_meant(value, series_for(part.tolerance))
        meant = " or ".join(f"{show_part(v, dimension)} ({why})" for v, why in likely[:2])
        turned = likely_turned(part.bands) if isinstance(part, Resistor) and part.bands else None
        if turned is not None:
            meant = f"{show_part(float(turned.r))} (the bands read from the other end)"
        yield Problem(
            part.mark(field),
            f"{show_part(value, dimension)} is no preferred value: {part.name} may be misread",
            f"perhaps {meant}" if meant else "",
        )


def _look_unrated(case: Case) -> Iterator[Problem]:
    """The voltage rating of an electrolytic is stated.

    bad: capacitor C1 plus ground minus raw 47 uF
    good: capacitor C1 plus ground minus raw 47 uF 100 V
    """
    for capacitor in case.section.circuit.of(Capacitor):
        if capacitor.polarised and capacitor.v_rated is None:
            yield Problem(
                capacitor.span,
                f"the voltage rating of {capacitor.name} is not stated",
                "add what is printed on it",
            )


def _look_old(case: Case) -> Iterator[Problem]:
    """An electrolytic is within its service life.

    bad: capacitor C1 plus ground minus raw 47 uF 100 V year 1968
    good: capacitor C1 plus ground minus raw 47 uF 100 V
    """
    for capacitor in case.section.circuit.of(Capacitor):
        if not capacitor.polarised or capacitor.year is None:
            continue
        age = case.year - capacitor.year
        if age > _SERVICE_LIFE:
            yield Problem(
                capacitor.mark("year"),
                f"{capacitor.name} is {age} years old",
                "replace it: the same or somewhat more capacitance, a higher voltage rating",
            )


RULES = (
    Rule("unusual-value", Severity.WARNING, "A value is no preferred value (IEC 60063).",
         "parts are made in preferred values; another one is most likely misread or misprinted",
         "Look at the part and the schematic once more.", _look_unusual),
    Rule("rating-unstated", Severity.NOTE, "An electrolytic's voltage rating is not stated.",
         "it cannot be held against the volts that it has to bear",
         "Add the rating.", _look_unrated),
    Rule("electrolytic-old", Severity.NOTE, "An electrolytic is past its service life.",
         "electrolytics dry out: capacitance falls, leakage and hum rise, and the bias with them",
         "Replace it.", _look_old),
)  # fmt: skip
