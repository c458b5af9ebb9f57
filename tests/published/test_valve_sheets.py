"""Valve data and the current model against published data sheets.

The figures are transcribed here a second time, apart from the data files, in the
notation "plate volts/screen volts/grid volts -> plate mA + screen mA (gm in mA/V)"; a pair's
currents are halved. "read" means read in a copy of the sheet named; "memory" means from
memory of it and not read again, and "unsure" that it may be wrong.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt
import pytest

from netcheck.valves import Kind, Limits, Rating, Row, Status, ValveType, lookup, shipped_types
from netcheck.valves import fit as fitting
from netcheck.valves.curve import Curve
from netcheck.valves.fit import left_out_errors
from netcheck.valves.model import curve_of, plate_current, row_errors, transconductance
from netcheck.valves.practice import (
    SAMPLE_SPREAD,
)


def known(name: str) -> ValveType:
    valve = lookup(name)
    assert valve is not None, name
    return valve


# type | plate W/screen W | plate V/screen V | kohm fixed/cathode | rating system | status of the
# limits | source. "-" stands for a figure that is not known.
LIMITS = """
EL34   | 25/8    | 800/500 | 500/700  | limiting values | read   | Philips data sheet EL34, 1959
EL84   | 12/2    | 300/300 | 300/1000 | limiting values | read   | Philips data sheet EL84
6V6GT  | 12/2    | 315/285 | 100/500  | design centre   | read   | AWV data sheet 6V6GT, Dec 1944
7591   | 19/3.3  | 550/440 | 300/1000 | design maximum  | read   | Sylvania data sheet 7591, Oct 1961
6L6GC  | 30/5    | 500/450 | 100/500  | design maximum  | memory | RCA Receiving Tube Manual
5881   | 23/3    | 400/400 | 100/500  | design centre   | unsure | Tung-Sol data sheet 5881
6550   | 35/6    | 600/400 | 50/250   | design centre   | memory | Tung-Sol data sheet 6550
6550A  | 42/6    | 660/440 | 50/250   | design maximum  | memory | GE data sheet 6550A
KT88   | 35/6    | 800/600 | 220/470  | design maximum  | memory | M-O Valve data sheet KT88
KT66   | 25/3.5  | 500/500 | 250/1000 | design maximum  | unsure | M-O Valve data sheet KT66
7027A  | 35/5    | 600/500 | 100/500  | design maximum  | memory | RCA data sheet 7027A
6973   | 12/2    | 440/330 | 500/1000 | design maximum  | unsure | RCA data sheet 6973
7189   | 12/2    | 400/300 | 300/1000 | design centre   | unsure | RCA Receiving Tube Manual, 7189
6V6GTA | 14/2.2  | 350/315 | 100/500  | design maximum  | memory | RCA Receiving Tube Manual
6AQ5   | 12/2    | 250/250 | 100/500  | design centre   | memory | RCA Receiving Tube Manual
6L6    | 19/2.5  | 360/270 | 100/500  | design centre   | memory | RCA Receiving Tube Manual
6F6    | 11/3.75 | 375/285 | 100/500  | design centre   | memory | RCA Receiving Tube Manual
6K6GT  | 8.5/2.8 | 315/285 | 100/500  | design centre   | memory | RCA Receiving Tube Manual
7581A  | 35/5    | 500/450 | 100/500  | design maximum  | unsure | GE data sheet 7581A
807    | 25/3.5  | 600/300 | 100/500  | absolute maximum | unsure | RCA data sheet 807
8417   | 35/5    | 660/500 | -/-      | design maximum  | unsure | GE data sheet 8417
ECL82  | 7/1.8   | 300/300 | 1000/2000 | limiting values | unsure | Philips data sheet ECL82, pentode part
ECL86  | 9/1.8   | 300/300 | -/1000   | limiting values | unsure | Philips data sheet ECL86, pentode part
KT120  | 60/8    | 850/650 | 51/240   | limiting values | unsure | Tung-Sol data sheet KT120
KT150  | 70/9    | 850/650 | 51/240   | limiting values | unsure | Tung-Sol data sheet KT150
2A3    | 15/-    | 300/-   | 50/500   | design centre   | memory | RCA Receiving Tube Manual
300B   | 40/-    | 450/-   | 50/250   | limiting values | unsure | Western Electric data sheet 300B, 1950
"""

# Sources as in LIMITS; rows from other sheets are marked in the data files.
ROWS = """
EL34, read: 250/265/-13.5 -> 100+14.9 (11); 250/245/-14.5 -> 70+10 (9);
    370/370.6/-32 -> 35+4.7; 420/416/-38 -> 30+4.4
EL34, memory: 800/395.5/-39 -> 25+3
EL84, read: 250/250/-7.3 -> 48+5.5 (11.3); 250/210/-6.4 -> 36+3.9 (10.4); 250/250/-11.6 -> 10+1.1
EL84, memory: 300/300/-14.7 -> 7.5+0.8
6V6GT, read: 180/180/-8.5 -> 29+3 (3.7); 250/250/-12.5 -> 45+4.5 (4.1);
    315/225/-13 -> 34+2.2 (3.75); 250/250/-15 -> 35+2.5
6V6GT, memory: 285/285/-19 -> 35+2
7591, read: 300/300/-10 -> 60+8 (10.2); 350/350/-15.5 -> 46+6.5; 400/350/-16 -> 42.5+5.5
7591, unsure: 450/400/-21 -> 33+4.7
6L6GC, memory: 250/250/-14 -> 72+5 (6.0); 350/250/-18 -> 54+2.5 (5.2);
    270/270/-17.5 -> 67+5.5 (5.7); 360/270/-22.5 -> 44+2.5; 450/400/-37 -> 58+2.8
5881, memory: 250/250/-14 -> 75+4.3 (6.1); 350/250/-18 -> 53+2.5 (5.2)
5881, unsure: 360/270/-22.5 -> 44+2.5
6550, memory: 250/250/-14 -> 140+12 (11); 400/225/-16.5 -> 87+4 (9); 450/310/-29 -> 75+4.5
6550, unsure: 400/275/-23 -> 90+4.5
6550A, memory: 250/250/-14 -> 140+12 (11); 400/225/-16.5 -> 87+4 (9)
6550A, unsure: 400/275/-23 -> 90+4.5; 450/310/-29 -> 75+4.5; 600/300/-33 -> 50+1.5
KT88, memory: 250/250/-15 -> 140+3 (11.5); 553/300/-34 -> 60+1.7
KT66, memory: 250/250/-15 -> 85+6.3 (7)
KT66, unsure: 415/300/-27 -> 52+2.5
7027A, memory: 400/300/-25 -> 51+3; 540/400/-38 -> 50+2.5
7027A, unsure: 250/250/-14 -> 72+5 (6.0)
6973, memory: 250/250/-15 -> 46+3.5 (4.8); 400/290/-25 -> 25+1.25
6973, unsure: 350/280/-22 -> 29+1.75
7189, unsure: 250/250/-7.3 -> 48+5.5 (11.3); 400/300/-15 -> 7.5+0.8
6V6GTA, memory: 180/180/-8.5 -> 29+3 (3.7); 250/250/-12.5 -> 45+4.5 (4.1);
    315/225/-13 -> 34+2.2 (3.75); 250/250/-15 -> 35+2.5; 285/285/-19 -> 35+2
6AQ5, memory: 180/180/-8.5 -> 29+3 (3.7); 250/250/-12.5 -> 45+4.5 (4.1); 250/250/-15 -> 35+2.5
6L6, memory: 250/250/-14 -> 72+5 (6.0); 300/200/-12.5 -> 48+2.5 (5.3);
    350/250/-18 -> 54+2.5 (5.2); 250/250/-16 -> 60+5; 270/270/-17.5 -> 67+5.5 (5.7);
    360/270/-22.5 -> 44+2.5; 360/225/-18 -> 39+1.75
7581A, unsure: 250/250/-14 -> 72+5 (6.0); 350/250/-18 -> 54+2.5 (5.2); 450/400/-37 -> 58+2.8
6F6, memory: 250/250/-16.5 -> 34+6.5 (2.5); 285/285/-20 -> 38+7 (2.55)
6K6GT, memory: 100/100/-7 -> 9+1.6 (1.5); 250/250/-18 -> 32+5.5 (2.3);
    315/250/-21 -> 25.5+4 (2.1)
807, unsure: 250/250/-14 -> 72+5 (6.0); 500/200/-14.5 -> 50+1.6 (6.0);
    600/300/-30 -> 30+2.5; 750/300/-32 -> 30+2.5
8417, unsure: 300/300/-12 -> 100+5.5 (23)
ECL82, memory: 100/100/-6 -> 26+5 (6.8); 170/170/-11.5 -> 41+8 (7.5);
    200/170/-12.5 -> 35+6.5 (6.8); 200/200/-16 -> 35+7 (6.4)
ECL86, memory: 250/250/-7 -> 36+6 (10)
2A3, memory: 250/-/-45 -> 60 (5.25); 300/-/-62 -> 40
300B, unsure: 300/-/-61 -> 62 (5.5); 350/-/-74 -> 60; 450/-/-97 -> 80
"""

Figures = tuple[float | None, ...]


def number(text: str | None) -> float | None:
    return None if text in (None, "-") else float(str(text))


def transcribed_rows() -> Iterator[tuple[str, str, Figures]]:
    """(type, status, (plate V, screen V, grid V, plate mA, screen mA, gm mA/V)) for each row."""
    for line in re.sub(r"\n +", " ", ROWS).strip().splitlines():
        heading, _, rows = line.partition(":")
        name, status = heading.split(", ")
        for row in rows.split(";"):
            match = re.fullmatch(
                r" ?(\S+)/(\S+)/(\S+) -> ([\d.]+)(?:\+([\d.]+))?(?: \(([\d.]+)\))?", row
            )
            assert match, row
            yield name, status, tuple(number(each) for each in match.groups())


def in_sheet_units(row: Row) -> Figures:
    def milli(figure: float | None) -> float | None:
        return None if figure is None else round(figure * 1e3, 9)

    volts = (row.v_plate, row.v_screen, row.v_grid)
    return (*volts, milli(row.i_plate), milli(row.i_screen), milli(row.gm))


def row_name(valve: ValveType, row: Row) -> str:
    """Names the operating point, the sheet and the status in the test's name."""
    point = f"{row.v_plate:g}/{row.v_screen or 0:g}/{row.v_grid:g}"
    return f"{valve.name} {point} {row.origin.source} ({row.origin.status})"


EACH_ROW = [(valve, row) for valve in shipped_types() for row in valve.rows]
EACH_GM = [(valve, row, row.gm) for valve, row in EACH_ROW if row.gm is not None]


# --- the data files -------------------------------------------------------------------------


@pytest.mark.parametrize("line", LIMITS.strip().splitlines())
def test_limits_are_those_of_the_sheet(line: str) -> None:
    name, power, volts, kohm, rating, status, source = (each.strip() for each in line.split("|"))
    limits = known(name).limits
    fixed, cathode = limits.r_grid_circuit(fixed=True), limits.r_grid_circuit(fixed=False)
    assert (limits.p_plate, limits.p_screen) == tuple(map(number, power.split("/")))
    assert (limits.v_plate, limits.v_screen) == tuple(map(number, volts.split("/")))
    kilohms = tuple(None if r is None else r / 1e3 for r in (fixed, cathode))
    assert kilohms == tuple(map(number, kohm.split("/")))
    assert (limits.rating, limits.origin.status, limits.origin.source) == (rating, status, source)


def test_no_type_is_without_a_second_copy_of_its_rows() -> None:
    transcribed = {line.split("|")[0].strip() for line in LIMITS.strip().splitlines()}
    assert {valve.name for valve in shipped_types()} == transcribed


@pytest.mark.parametrize(
    ("name", "p_total", "fixed", "cathode"),
    [
        # M-O Valve data sheet KT88, memory; the 270 kohm unsure.
        ("KT88", 35.0, 220e3, 470e3),
        ("KT88", 35.1, 100e3, 270e3),
        # M-O Valve data sheet KT66, memory, unsure.
        ("KT66", 27.0, 250e3, 1e6),
        ("KT66", 27.1, 100e3, 500e3),
    ],
)
def test_grid_circuit_limit_that_depends_on_dissipation(
    name: str, p_total: float, fixed: float, cathode: float
) -> None:
    limits = known(name).limits
    assert limits.r_grid_circuit(p_total=p_total) == fixed
    assert limits.r_grid_circuit(fixed=False, p_total=p_total) == cathode


@pytest.mark.parametrize(
    ("name", "p_plate", "p_screen"),
    # M-O Valve data sheets KT88 and KT66, memory, the latter unsure.
    [("KT88", 42.0, 8.0), ("KT66", 30.0, 4.5)],
)
def test_absolute_limits_beside_design_limits(name: str, p_plate: float, p_screen: float) -> None:
    absolute = known(name).absolute
    assert isinstance(absolute, Limits)
    assert absolute.rating is Rating.ABSOLUTE_MAXIMUM
    assert (absolute.p_plate, absolute.p_screen) == (p_plate, p_screen)


def test_rows_are_those_of_the_sheets() -> None:
    stored = [
        (valve.name, str(row.origin.status), in_sheet_units(row))
        for valve in shipped_types()
        for row in valve.rows
    ]
    assert sorted(stored, key=str) == sorted(transcribed_rows(), key=str)


def test_every_figure_has_a_source_and_a_status() -> None:
    for valve in shipped_types():
        origins = [valve.limits.origin, *(row.origin for row in valve.rows)]
        if valve.absolute:
            origins.append(valve.absolute.origin)
        for origin in origins:
            assert origin.status is not Status.UNSTATED, valve.name
            assert "data sheet" in origin.source or "Manual" in origin.source, valve.name


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [("6L6GC", 0.04, 0.08), ("KT88", 0.02, 0.03)],
)
def test_screen_share_of_plate_current(name: str, low: float, high: float) -> None:
    """Published shares of plate current: 6L6GC 4-8 % (memory), KT88 2-3 % (memory).

    Half a per cent is added because the shares are quoted in whole per cents.
    """
    share = known(name).screen_share
    assert share is not None
    assert low - 0.005 <= share.low <= share.nominal <= share.high <= high + 0.005


@pytest.mark.parametrize("name", ["EL34", "7591"])
def test_screen_share_of_cathode_current(name: str) -> None:
    """EL34 and 7591: 11-13 % (read), which on their sheets is of cathode current.

    Half a per cent is added because the shares are quoted in whole per cents.
    """
    for row in known(name).rows:
        assert row.i_screen is not None
        if row.origin.status is Status.READ:
            assert 0.105 <= row.i_screen / (row.i_plate + row.i_screen) <= 0.135


# --- the current model ----------------------------------------------------------------------

V_FITTED = 1.5
"""Samples of one type differ by some 22 % in current, which is about so many volts. [V]"""

V_LEFT_OUT = 2.5
"""A row that the curve has never seen may be missed by so much. [V]"""


@pytest.mark.parametrize(("valve", "row"), EACH_ROW, ids=[row_name(*each) for each in EACH_ROW])
def test_fitted_row(valve: ValveType, row: Row) -> None:
    error = row_errors(valve)[valve.rows.index(row)]
    assert abs(error) < V_FITTED


def rows_for_currents() -> list[object]:
    cause = "near cut-off, the 0.5 V by which the fit misses the grid are a quarter of 7.5 mA"
    return [
        pytest.param(
            *(valve, row),
            id=row_name(valve, row),
            marks=[pytest.mark.xfail(reason=cause)] * (valve.name == "7189" and row.v_grid == -15),
        )
        for valve, row in EACH_ROW
    ]


@pytest.mark.parametrize(("valve", "row"), rows_for_currents())
def test_current_at_the_published_grid_voltage(valve: ValveType, row: Row) -> None:
    """Within one standard deviation between samples: closer, no valve could be told from it."""
    current = float(plate_current(valve, row.v_plate, row.v_screen, row.v_grid))
    assert abs(np.log(current / row.i_plate)) < SAMPLE_SPREAD


@pytest.mark.parametrize(
    ("valve", "row", "gm"), EACH_GM, ids=[row_name(valve, row) for valve, row, _ in EACH_GM]
)
def test_transconductance_of_a_row(valve: ValveType, row: Row, gm: float) -> None:
    """Sheets give two digits, and currents of the fit are off by up to a tenth: 15 %."""
    found = float(transconductance(valve, row.v_plate, row.v_screen, row.v_grid))
    assert found == pytest.approx(gm, rel=0.15)


def several_rows() -> list[object]:
    """Types with three rows or more: without one of them, two are left to fit to."""
    cause = (
        "without the row at -15 V, the only one with a transconductance, two rows at nearly the"
        " same drive are left, and they do not tell the amplification factor"
    )
    marks = {"6973": [pytest.mark.xfail(reason=cause)]}
    return [
        pytest.param(valve, id=valve.name, marks=marks.get(valve.name, []))
        for valve in shipped_types()
        if len(valve.rows) >= 3
    ]


@pytest.mark.parametrize("valve", several_rows())
def test_row_left_out_of_the_fit(valve: ValveType) -> None:
    assert max(abs(error) for error in left_out_errors(valve)) < V_LEFT_OUT


@pytest.mark.parametrize(
    ("name", "mu"),
    [
        # Amplification factor of grid 2 on grid 1, Philips data sheets, memory.
        ("EL34", 11.0),
        ("EL84", 19.0),
        ("ECL82", 9.5),
        ("ECL86", 21.0),
        # The same, M-O Valve data sheets, memory.
        ("KT66", 8.0),
        ("KT88", 8.0),
        # Amplification factor, RCA Receiving Tube Manual, memory.
        ("2A3", 4.2),
        # Amplification factor, Western Electric data sheet, memory, unsure.
        ("300B", 3.85),
    ],
)
def test_amplification_factor(name: str, mu: float) -> None:
    """The fit has not seen these figures. Sheets round to one in twenty; samples differ as much."""
    assert curve_of(known(name)).mu == pytest.approx(mu, rel=0.1)


@pytest.mark.parametrize(
    ("name", "v_plate", "v_screen", "v_grid", "r_plate"),
    [
        # Philips data sheets, memory.
        ("EL34", 250, 265, -13.5, 15e3),
        ("EL84", 250, 250, -7.3, 38e3),
        ("ECL82", 200, 170, -12.5, 20.5e3),
        ("ECL86", 250, 250, -7, 48e3),
        # RCA Receiving Tube Manual, memory.
        ("6V6GT", 250, 250, -12.5, 50e3),
        ("6L6GC", 250, 250, -14, 22.5e3),
        ("6L6GC", 350, 250, -18, 33e3),
        ("2A3", 250, None, -45, 800),
        # M-O Valve, Tung-Sol, Sylvania and Western Electric data sheets, memory.
        ("KT88", 250, 250, -15, 12e3),
        ("KT66", 250, 250, -15, 22.5e3),
        ("6550", 250, 250, -14, 12e3),
        ("7591", 300, 300, -10, 29e3),
        ("300B", 300, None, -61, 700),
        pytest.param(
            *("6973", 250, 250, -15, 73e3),
            marks=pytest.mark.xfail(
                reason="the plate share follows from few rows; its plate resistance is unusual"
            ),
        ),
    ],
)
def test_plate_resistance(
    name: str, v_plate: float, v_screen: float | None, v_grid: float, r_plate: float
) -> None:
    """The fit has not seen these figures.

    Of a pentode they vary by a third between sheets for the same point. At 50 % error, 50 V on
    the plate are mistaken for a quarter of a volt on the grid.
    """
    valve = known(name)
    up, down = (plate_current(valve, v_plate + dv, v_screen, v_grid) for dv in (1.0, -1.0))
    assert 2.0 / float(up - down) == pytest.approx(r_plate, rel=0.5)


# --- the published form ---------------------------------------------------------------------


def koren(v_screen: float, v_grid: float, v_plate: float) -> float:
    """N. Koren, Glass Audio 8(5), 1996, with the parameters of that article for the 6L6GC."""
    mu, ex, kg1, kp, kvb = 8.7, 1.35, 1460.0, 48.0, 12.0
    e1 = v_screen / kp * np.log(1 + np.exp(kp * (1 / mu + v_grid / v_screen)))
    return float(2 * e1**ex / kg1 * np.arctan(v_plate / kvb))


def test_our_form_is_the_published_one_but_for_plate_and_exponent() -> None:
    """With exponent 3/2, no plate share and a plate far above the knee, both are the same.

    KP of the article is sharpness times mu, and KG1 is pi over the perveance.
    """
    mu, kp, kg1 = 8.7, 48.0, 1460.0
    curve = Curve(perveance=np.pi / kg1, mu=mu, plate_share=0.0, sharpness=kp / mu)
    for v_screen, v_grid in [(250.0, -14.0), (400.0, -37.0), (300.0, -60.0)]:
        e1 = v_screen / kp * np.log(1 + np.exp(kp * (1 / mu + v_grid / v_screen)))
        published = 2 * e1**1.5 / kg1 * (np.pi / 2)
        assert float(curve.plate_current(2000.0, v_screen, v_grid)) == pytest.approx(published)


def test_the_article_is_farther_from_the_sheet_than_the_fit() -> None:
    """Koren's 6L6GC at 250/250/-14 gives 81.0 mA (article's form and parameters); sheet: 72 mA."""
    article = koren(250.0, -14.0, 250.0)
    assert article == pytest.approx(81.0e-3, abs=0.05e-3)
    valve = known("6L6GC")
    for row in valve.rows:
        assert row.v_screen is not None
        ours = float(plate_current(valve, row.v_plate, row.v_screen, row.v_grid))
        article = koren(row.v_screen, row.v_grid, row.v_plate)
        assert abs(ours - row.i_plate) < abs(article - row.i_plate)


Array = npt.NDArray[np.float64]


class KorenCurve:
    """Koren's pentode as published, exponent free; stands in for `Curve` in the fit."""

    def __init__(self, perveance: float, mu: float, sharpness: float, exponent: float) -> None:
        self.perveance, self.mu, self.sharpness = perveance, mu, sharpness
        self.exponent = exponent

    def plate_current(self, plate: Array, screen: Array, grid: Array) -> Array:
        cutoff = screen / self.mu
        drive = cutoff / self.sharpness * np.logaddexp(0, self.sharpness * (1 + grid / cutoff))
        return np.asarray(self.perveance * drive**self.exponent * self._knee(plate))

    def transconductance(self, plate: Array, screen: Array, grid: Array) -> Array:
        step = 1e-4
        up, down = (self.plate_current(plate, screen, grid + dv) for dv in (step, -step))
        return np.asarray((up - down) / (2 * step))

    def grid_voltage(self, plate: Array, screen: Array, current: Array) -> Array:
        cutoff = screen / self.mu
        drive = (current / (self.perveance * self._knee(plate))) ** (1 / self.exponent)
        scaled = self.sharpness * drive / cutoff
        return np.asarray(cutoff * (np.log(np.expm1(scaled)) / self.sharpness - 1))

    @staticmethod
    def _knee(plate: Array) -> Array:
        return np.asarray(2 / np.pi * np.arctan(plate / 12.0))


def left_out_rms() -> float:
    errors = [
        error
        for valve in shipped_types()
        if valve.kind is not Kind.TRIODE and len(valve.rows) >= 3
        for error in left_out_errors(valve)
    ]
    return float(np.sqrt(np.mean(np.square(errors))))


def test_our_form_meets_rows_left_out_better_than_the_published_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The reason given for the form: rows left out are missed by 0.8 V and by 0.5 V r.m.s."""
    ours = left_out_rms()
    with monkeypatch.context() as patch:
        patch.setattr(fitting, "_curve", lambda logs: KorenCurve(*map(float, np.exp(logs))))
        # The third shape parameter, else the plate share, is the exponent here.
        patch.setattr(fitting, "FIRST_GUESS", fitting.Prior(9.0, 6.0, 1.4))
        patch.setattr(fitting, "SHARE_SCATTER", 0.1)
        fitting.family_prior.cache_clear()
        published = left_out_rms()
    fitting.family_prior.cache_clear()
    assert ours == pytest.approx(0.5, abs=0.1)
    assert published == pytest.approx(0.8, abs=0.1)
