"""Chassis drawn at random beside the computed band, and both beside ngspice and arithmetic."""

from __future__ import annotations

import itertools
import json
from collections.abc import Sequence

import jsonschema
import numpy as np
import pytest

from netcheck.cli import run
from netcheck.engine.elements import Floats
from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.model import Value
from netcheck.montecarlo import Drawn, Scatter, interval, scatter
from netcheck.parse import parse_circuit
from netcheck.predictor import Predictor
from netcheck.report.data import schema
from netcheck.resources import folder
from netcheck.source import Source
from netcheck.sweeping import swept_pots
from netcheck.tolerance import Band, BandFinder, half_width_95

EXAMPLES = sorted(path.stem for path in folder("circuits").glob("*.bias"))
SOME = ["two-5881-vacuum-rectifier", "two-6v6gt-foot", "two-7591-bridge", "two-el34-ht-dropper",
        "two-el34-zener"]  # fmt: skip
SAMPLES = 2000
FORMULA = 0.0541
"""By how much of the full width the formula for a sum may overstate a limit: see below. [1]"""


def predictor_of(name: str, service: Service) -> Predictor:
    text = (folder("circuits") / f"{name}.bias").read_text("utf-8")
    circuit, findings = parse_circuit(Source(name, text))
    assert circuit is not None, findings
    return Predictor(Section(circuit), service)


def both(predictor: Predictor, at: Sequence[float], seed: int = 1) -> tuple[Band, Scatter]:
    travel = np.asarray(at)
    swept = swept_pots(predictor)
    settings = {f"{pot.name}.travel": travel if pot.name in swept else np.full_like(travel, 0.5)
                for pot in predictor.pots()}  # fmt: skip
    settings = settings or {"none.travel": travel}
    watched = predictor.section.watched
    band = BandFinder(predictor, settings, watched).find()
    return band, scatter(predictor, settings, watched, SAMPLES, seed)


def exact_half_width(parts: Sequence[float]) -> float:
    """The 97.5 % point of a sum of evenly spread errors, its density convolved on a grid."""
    steps = 4000
    step = sum(parts) / steps
    density = np.ones(1)
    for part in parts:
        count = max(round(2.0 * part / step), 1)
        density = np.convolve(density, np.ones(count) / count)
    below = np.cumsum(density)
    place = float(np.interp(0.975, below, np.arange(density.size) + 0.5))
    return (place - 0.5 * (density.size - 1)) * step


def test_the_formula_for_a_sum_never_understates_and_overstates_by_a_twentieth() -> None:
    """Two evenly spread errors, 1 and r: the tail of their trapezoid in closed form.

    Its outer slope falls from 1 - r to 1 + r: beyond x lies (1 + r - x)^2 / (8 r), which is
    2.5 % at x = 1 + r - sqrt(0.2 r) as long as that is above 1 - r, that is from r = 0.05 on.
    """
    over = []
    for r in np.linspace(0.05, 1.0, 96):
        exact = 1.0 + r - np.sqrt(0.2 * r)
        assert exact == pytest.approx(exact_half_width([1.0, r]), abs=2e-3)
        over.append((float(half_width_95(np.array([1.0, r]))) - exact) / (2.0 * exact))
    # Kurtosis cannot see that the edges of one even spread are sharp; where none leads it is fine.
    assert min(over) > -0.002
    assert max(over) < 0.061  # of the exact width, 5.4 % of the computed one
    computed = half_width_95(np.array([1.0, 0.16]))
    assert (computed - (1.16 - np.sqrt(0.032))) / (2.0 * computed) == pytest.approx(
        FORMULA, abs=1e-4
    )
    alike = [1.0, 0.9, 0.8, 0.7]
    assert half_width_95(np.array(alike)) == pytest.approx(exact_half_width(alike), rel=5e-3)


@pytest.fixture(scope="module")
def shipped(service: Service, request: pytest.FixtureRequest) -> dict[str, tuple[Band, Scatter]]:
    """Every example with `--thorough`, else some of them."""
    names = EXAMPLES if request.config.getoption("--thorough") else SOME
    return {name: both(predictor_of(name, service), (0.1, 1.0)) for name in names}


def test_both_bands_agree_within_sampling_error_over_the_examples(
    shipped: dict[str, tuple[Band, Scatter]],
) -> None:
    """Where no part makes most of the spread they agree; elsewhere the formula's bound holds.

    Each limit has 1 chance in 1000 to be out by sampling; the fast path itself may err by
    0.3 % of the width beside that (what two parts do together is not the sum of each alone).
    """
    agreeing = 0
    for name, (band, drawn) in shipped.items():
        width = band.high_95 - band.low_95
        squares = np.array([e**2 for n, e in band.effects.items() if n != "mains"])
        leads = squares.max(axis=0) / squares.sum(axis=0)
        for over in (side / width for side in drawn.beyond(band)):
            assert np.all(over > -0.003), name
            assert np.all(over < FORMULA), name
            alike = leads < 0.5
            assert np.all(over[alike] < 0.003), name
            agreeing += int(np.sum(alike))
    assert agreeing > len(shipped)


def test_what_parts_them_is_what_the_formula_makes_of_one_large_part(
    shipped: dict[str, tuple[Band, Scatter]],
) -> None:
    """With the exact distribution of the sum in place of the formula nothing is left.

    Half of the interval of either limit is what sampling leaves; 1.5 % more for what bends:
    a resistance 20 % up and down does not move a divider by the same.
    """
    for name, (band, drawn) in shipped.items():
        for n, k in itertools.product(range(band.low.shape[0]), range(band.low.shape[1])):
            parts = [abs(float(e[n, k])) for p, e in band.effects.items() if p != "mains"]
            formula = float(half_width_95(np.array(parts)))
            exact = exact_half_width([part for part in parts if part > 1e-3 * max(parts)])
            computed = 0.5 * float(band.high_95[n, k] - band.low_95[n, k])
            measured = 0.5 * float(drawn.high[n, k] - drawn.low[n, k])
            left_open = sum(float(high[n, k] - low[n, k]) for low, high in
                            (drawn.low_within, drawn.high_within)) / 4.0  # fmt: skip
            # The limits' errors are nearly independent: together less than their sum.
            assert computed * exact / formula == pytest.approx(
                measured, abs=0.75 * left_open + 0.015 * measured
            ), (name, n, k)


@pytest.mark.parametrize("name", ["two-6l6gc-selenium", "two-el34-coupled", "two-el34-zener"])
def test_drawn_chassis_are_those_that_ngspice_simulates(name: str, service: Service) -> None:
    """The first 25 chassis, simulated whole: parts in front move the port as a parabola says."""
    predictor = predictor_of(name, service)
    drawn = Drawn(predictor, ["grid1"], 25, 7)
    fast = drawn.means({"RV1.travel": 0.3})[:, 0]
    states: list[tuple[dict[str, Value], tuple[()]]] = []
    for k in range(25):
        values = predictor.values(0.3)
        for part, factor in drawn.factors.items():
            values[part] = values.get(part, 1.0) * float(factor[k])
        states.append((values, ()))
    whole = np.array([answer.mean["grid1"] for answer in predictor.wholes(states)])
    spread = float(np.std(whole))
    assert spread > 0.3
    # Left out are the products of two parts in front, and what another load makes of each.
    assert np.max(np.abs(fast - whole)) < 0.06 * spread


def test_the_interval_of_a_limit_holds_it() -> None:
    """2000 draws of 400 even numbers: the 97.5 % point, 0.975, is inside but once in 1000."""
    random = np.random.default_rng(5)
    every: Floats = np.sort(random.uniform(0.0, 1.0, (2000, 400, 1)), axis=1)
    low, high = interval(every, 0.975)
    missed = np.sum((low > 0.975) | (high < 0.975))
    assert missed <= 8  # mean 2 at most, s.d. 1.4
    assert np.mean(high - low) < 0.055  # 2 x 3.3 s.d. of 0.0078


def test_the_same_seed_draws_the_same_chassis(service: Service) -> None:
    predictor = predictor_of("two-6v6gt-foot", service)
    _, first = both(predictor, (0.5,))
    _, again = both(predictor, (0.5,))
    _, other = both(predictor, (0.5,), seed=2)
    assert np.array_equal(first.low, again.low)
    assert not np.array_equal(first.low, other.low)
    assert other.low[0, 0] >= first.low_within[0][0, 0]
    assert other.low[0, 0] <= first.low_within[1][0, 0]


def test_the_command_sets_both_side_by_side(capsys: pytest.CaptureFixture[str]) -> None:
    call = ["predict", "two-6v6gta-direct", "--no-plot"]
    assert run(call) == 0
    plain = capsys.readouterr().out
    assert run([*call, "--samples", "1000", "--seed", "3"]) == 0
    drawn = capsys.readouterr().out
    blocks = drawn.split("\n\n")
    assert "\n\n".join(block for block in blocks if "drawn at" not in block) == plain
    words = " ".join(drawn.split())
    assert "of 1000 drawn at random (seed 3)" in words
    assert "S1 alone makes" in drawn
    assert max(map(len, drawn.splitlines())) <= 80


def test_agreement_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["predict", "two-7591-bridge", "--no-plot", "--samples", "500", "--at", "40%"]) == 0
    assert "Both agree within what so many samples leave open." in capsys.readouterr().out


@pytest.mark.usefixtures("service")
def test_json_with_drawn_chassis_obeys_its_schema(capsys: pytest.CaptureFixture[str]) -> None:
    call = ["predict", "two-el34-zener", "--json", "--at", "50%"]
    assert run(call) == 0
    assert "monte_carlo" not in json.loads(capsys.readouterr().out)
    assert run([*call, "--samples", "300", "--meter", "1M"]) == 0
    data = json.loads(capsys.readouterr().out)
    jsonschema.validate(data, schema("predict"))
    grid = data["monte_carlo"]["grids"]["grid1"]
    assert data["monte_carlo"]["samples"] == 300
    (low,), (high,) = grid["low_95_between"]
    assert low <= grid["low_95"][0] <= high < data["grids"]["grid1"]["volts"][0]


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--samples", "10"], "200<=x<=100000"),
        (["--samples", "many"], "not a valid integer"),
        (["--seed", "3"], "--seed: there is nothing to draw without --samples"),
    ],
)
def test_what_cannot_be_drawn(
    options: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["predict", "two-6v6gt-foot", *options]) == 2
    assert told in capsys.readouterr().err


@pytest.mark.usefixtures("service")
def test_a_section_that_cannot_be_cut_says_so(
    tmp_path_factory: pytest.TempPathFactory, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (folder("circuits") / "two-6v6gt-foot.bias").read_text("utf-8")
    path = tmp_path_factory.mktemp("clamped") / "clamped.bias"
    path.write_text(f"{text}\ndiode D9 anode grid1 cathode ground 1000 V\n", encoding="utf-8")
    assert run(["predict", str(path), "--samples", "500", "--at", "50%"]) == 2
    assert "every chassis would be a simulation of its own" in capsys.readouterr().err
