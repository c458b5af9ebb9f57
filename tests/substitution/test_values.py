"""Which values are tried: against the package `eseries`, and every range that is refused."""

from __future__ import annotations

import eseries
import pytest

from netcheck.engine.service import Service
from netcheck.errors import InputError
from netcheck.predictor import Predictor
from netcheck.preferred import Series
from netcheck.substitution import Asked, Knob, Way, knob_for
from netcheck.substitution.choice import MOST

from .sections import DIVIDER, example, predictor_of

ALONE = Service()
"""Nothing is simulated here: this one is never started."""


@pytest.fixture(scope="module")
def divider() -> Predictor:
    return predictor_of(DIVIDER, ALONE)


def tried(knob: Knob) -> list[float]:
    """The values across or in place, as the knob is turned."""
    return [value for value in knob.values if value is not None]


def between(series: Series, low: float, high: float) -> list[float]:
    """By the package eseries."""
    return [float(f"{v:.6g}") for v in eseries.erange(eseries.ESeries[series.name], low, high)]


@pytest.mark.parametrize("series", [Series.E3, Series.E6, Series.E12, Series.E24, Series.E48])
@pytest.mark.parametrize(("low", "high"), [("1k", "100k"), ("4k7", "39k"), ("12.3k", "98.7k")])
def test_preferred_values_between_limits(
    divider: Predictor, series: Series, low: str, high: str
) -> None:
    """IEC 60063 by the package eseries, both ends included; from the highest downwards."""
    knob = knob_for(divider, "R2", Asked(Way.ACROSS, low, high, series))
    ends = [float(text.replace("4k7", "4.7k").removesuffix("k")) * 1e3 for text in (low, high)]
    assert knob.values[0] is None
    assert tried(knob) == pytest.approx(between(series, *ends)[::-1], rel=1e-12)


def test_in_place_the_part_that_is_fitted_is_among_them(divider: Predictor) -> None:
    knob = knob_for(divider, "R1", Asked(Way.IN_PLACE, "10k", "20k", Series.E3))
    assert knob.values == (10e3, 15e3)
    assert knob.values[knob.at_fitted] == 15e3
    same = knob_for(divider, "R1", Asked(Way.IN_PLACE, "10k", "22k", Series.E12))
    assert list(same.values) == between(Series.E12, 10e3, 22e3)


def test_what_is_usual_where_nothing_is_asked(divider: Predictor) -> None:
    """Resistors E12 across, pots E3, electrolytics E6, zeners E24; around what is fitted."""
    across = knob_for(divider, "R2", Asked())
    assert (across.way, across.fitted) == (Way.ACROSS, 27e3)
    assert tried(across) == between(Series.E12, 0.5 * 27e3, 30 * 27e3)[::-1]
    pot = knob_for(divider, "RV1", Asked())
    assert pot.way is Way.IN_PLACE
    assert tried(pot) == between(Series.E3, 1e3, 100e3)
    rectified = example("two-6v6gt-foot", ALONE)
    reservoir = knob_for(rectified, "C1", Asked())
    assert tried(reservoir) == pytest.approx(between(Series.E6, 4.7e-6, 470e-6))
    zener = knob_for(example("two-el34-zener", ALONE), "Z1", Asked())
    assert tried(zener) == between(Series.E24, 0.5 * 47, 1.5 * 47)
    assert zener.fitted == 47.0
    film = knob_for(example("two-el34-coupled", ALONE), "C1", Asked())
    assert tried(film) == pytest.approx(between(Series.E12, 0.3 * 47e-9, 3.4 * 47e-9))


def test_volts_are_spaced_evenly(divider: Predictor) -> None:
    supply = knob_for(divider, "S1", Asked())
    assert tried(supply) == pytest.approx([21.0 + 4.2 * n for n in range(11)])
    winding = knob_for(
        example("two-6v6gt-foot", ALONE), "T1", Asked(None, "40 Vac", "56V", None, 3)
    )
    assert tried(winding) == [40.0, 48.0, 56.0]


def test_steps_are_spaced_by_ratio_and_rounded_to_what_is_shown(divider: Predictor) -> None:
    knob = knob_for(divider, "R2", Asked(None, "10k", "100k", None, 4))
    assert tried(knob) == [100e3, 46.4e3, 21.5e3, 10e3]
    narrow = knob_for(divider, "R2", Asked(None, "10k", "10.02k", None, 50))
    assert tried(narrow) == [10e3]  # they are all one to three digits


def test_across_anything_a_resistor_is_put(divider: Predictor) -> None:
    """A part without a resistance of its own takes 1k to 1M."""
    rectified = example("two-6v6gt-foot", ALONE)
    for part in ("C1", "D1", "T1"):
        knob = knob_for(rectified, part, Asked(Way.ACROSS))
        assert tried(knob) == between(Series.E12, 1e3, 1e6)[::-1]
        assert knob.fitted is None
        assert knob.acts_as(22e3) is None
    assert knob_for(rectified, "D1", Asked()).way is Way.ACROSS  # there is no other way


def test_a_box_across_is_in_parallel(divider: Predictor) -> None:
    """Theory: 1/(1/27k + 1/22k)."""
    knob = knob_for(divider, "R2", Asked())
    assert knob.acts_as(22e3) == pytest.approx(1 / (1 / 27e3 + 1 / 22e3))
    assert knob.acts_as(None) == 27e3
    assert knob_for(divider, "R2", Asked(Way.IN_PLACE)).acts_as(22e3) is None


def test_a_chart_takes_fewer_values(divider: Predictor) -> None:
    knob = knob_for(divider, "R2", Asked(), coarse=True)
    assert tried(knob) == between(Series.E6, 0.5 * 27e3, 30 * 27e3)[::-1]


def test_changes_of_the_command_count_as_fitted() -> None:
    changed = predictor_of(DIVIDER, ALONE, {"R2": 33e3})
    assert knob_for(changed, "R2", Asked()).fitted == 33e3


@pytest.mark.parametrize(
    ("low", "high", "first", "last"),
    [
        ("1M", None, 1e6, 56e6),  # beyond the usual end: the range keeps its width
        (None, "1k", 1e3, 18.0),
        ("100k", None, 100e3, 680e3),
        (None, "100k", 100e3, 15e3),
        ("33.3k", "33.3k", 33.3e3, 33.3e3),  # one value, preferred or not
    ],
)
def test_an_end_that_is_not_given(
    divider: Predictor, low: str | None, high: str | None, first: float, last: float
) -> None:
    values = tried(knob_for(divider, "R2", Asked(None, low, high)))
    assert sorted((values[0], values[-1])) == sorted((first, last))


@pytest.mark.parametrize(
    ("part", "asked", "said"),
    [
        ("R9", Asked(), 'there is no part "R9" in the circuit; did you mean'),
        ("r1", Asked(), 'did you mean "R1"?'),
        ("bleeder", Asked(), "there are: S1, R1, RV1, R2, R3, R4"),
        ("V1", Asked(), "V1 is a valve: name a part of the bias section"),
        ("R2", Asked(low="0"), "R2, --from \"0\" is no believable resistance"),
        ("R2", Asked(low="-5"), "is no believable resistance"),
        ("R2", Asked(high="10T"), "is no believable resistance"),
        ("R2", Asked(low="5V"), "5V is a voltage; here a resistance is wanted"),
        ("R2", Asked(high="10 uF"), "10 uF is a capacitance"),
        ("R2", Asked(low="lots"), '"lots" is not a value'),
        ("R2", Asked(low=""), "--from"),
        ("S1", Asked(low="10k"), "here a voltage is wanted, such as 48 V"),
        ("R2", Asked(low="10k", high="1k"), "--from 10k lies above --to 1k"),
        ("R2", Asked(low="48k", high="50k"), "no value of E12 lies between 48k and 50k; the "
                                             "nearest are 47k and 56k"),
        ("R2", Asked(low="1", high="1T", series=Series.E24), "289 values of E24 lie between"),
        ("R2", Asked(steps=0), f"--steps: from 1 to {MOST}"),
        ("R2", Asked(steps=-3), "--steps: from 1"),
        ("R2", Asked(steps=MOST + 1), "--steps: from 1"),
        ("S1", Asked(series=Series.E12), "the volts of a supply come in no series"),
        ("R2", Asked(Way.IN_PLACE, "27k", "27k"), "27k is what R2 has already"),
        ("S1", Asked(low="42V", high="42V"), "42 V is what S1 has already"),
    ],
)  # fmt: skip
def test_what_is_refused(divider: Predictor, part: str, asked: Asked, said: str) -> None:
    with pytest.raises(InputError) as refused:
        knob_for(divider, part, asked)
    assert said in str(refused.value)
    assert max(map(len, str(refused.value).split("\n"))) <= 100


def test_a_diode_has_no_value() -> None:
    with pytest.raises(InputError, match="D1 is a diode, which has no value to change; --across"):
        knob_for(example("two-6v6gt-foot", ALONE), "D1", Asked(Way.IN_PLACE))
