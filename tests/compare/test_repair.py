"""Repairs made in the simulator: the same chassis read before and after, and the job closed."""

from __future__ import annotations

import contextlib
import functools
import io
import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from netcheck.cli import run
from netcheck.compare import Comparison, Outcome, Repair, compare, repair
from netcheck.compare.earlier import earlier
from netcheck.compare.repair import changed_parts
from netcheck.engine.elements import Resistance
from netcheck.errors import InputError
from netcheck.graph import Section
from netcheck.model import Value
from netcheck.predictor import Predictor
from netcheck.readings import Kind, Reading, State
from netcheck.readout.model import SectionModel
from netcheck.report.data import schema
from netcheck.tolerance import tolerances

from ..chassis.chassis import DMM
from .conftest import Bench
from .taken import ANTICLOCKWISE, CLOCKWISE, YEAR, ohms

NAME = "two-6v6gt-foot"
WAS = "R3=20.2k"
"""82k across 27k: 82 x 27 / 109 = 20.3; within the digits of a meter."""
PLACES = [(node, end) for node in ("raw", "foot", "grid1") for end in (0.0, 1.0)]


def before_of(model: SectionModel, *was: str) -> SectionModel:
    circuit = earlier(model.section.circuit, was)
    return SectionModel(Predictor(Section(circuit), model.predictor.service))


def chassis(predictor: Predictor, seed: int) -> dict[str, float]:
    """What each part of a chassis is over its nominal value."""
    random = np.random.default_rng(seed)
    limits = tolerances(predictor.section, ())
    return {name: 1.0 + limit * random.uniform(-1.0, 1.0) for name, limit in limits.items()}


def read(model: SectionModel, parts: Mapping[str, float], mains: float,
         exactly: Mapping[str, float] | None = None, off: float = 0.0,
         places: Sequence[tuple[str, float]] = PLACES) -> list[Reading]:  # fmt: skip
    """What a meter of 10 Mohm shows on a chassis, simulated whole; it reads the mains off."""
    predictor, states = model.predictor, []
    for node, travel in places:
        values: dict[str, Value] = predictor.values(travel)
        for name, factor in parts.items():
            values[name] = values.get(name, 1.0) * factor
        values |= exactly or {}
        values["mains"] = mains / 230.0
        states.append((values, [Resistance("meter", model.section.joined[node], "ground", 10e6)]))
    answers = predictor.wholes(states)
    taken = [Reading(Kind.MAINS, round(mains * (1.0 + off), 0), 1.0, State(), DMM)]
    for k, ((node, travel), answer) in enumerate(zip(places, answers, strict=True)):
        at = CLOCKWISE if travel else ANTICLOCKWISE
        state = State(pots={"RV1": replace(at, turn=k)}, turn=k)
        v = round(answer.mean[node], 1)
        taken.append(Reading(Kind.DC, v, 0.1, state, DMM, node, "ground"))
    return taken


def idle(*currents: float) -> list[Reading]:
    state = State(pots={"RV1": replace(CLOCKWISE, travel=0.5, turn=50)}, turn=50)
    return [Reading(Kind.CATHODE, i * 1.0, 1e-4, state, DMM, part=f"V{k}")
            for k, i in enumerate(currents, start=1)]  # fmt: skip


def closed(bench: Bench, found: Sequence[Reading], left: Sequence[Reading],
           window: tuple[float, float] | None = None) -> Repair:  # fmt: skip
    after = bench(NAME)
    # Valves are no part of what the other readings say: it is asked of each set once.
    own = tuple(reading for reading in left if reading.kind is not Kind.CATHODE)
    return repair(_before(after), after, found, left, _compared(after, own), YEAR, window)


@functools.cache
def _before(after: SectionModel) -> SectionModel:
    return before_of(after, WAS)


_KNOWN: list[tuple[tuple[Reading, ...], Comparison]] = []


def _compared(after: SectionModel, left: tuple[Reading, ...]) -> Comparison:
    for known, found in _KNOWN:
        if len(known) == len(left) and all(a is b for a, b in zip(known, left, strict=True)):
            return found
    _KNOWN.append((left, compare(after, left, YEAR)))
    return _KNOWN[-1][1]


@pytest.fixture(scope="module")
def job(bench: Bench) -> tuple[list[Reading], list[Reading]]:
    """A chassis with a strap across its foot resistor, and the same one without."""
    model = bench(NAME)
    parts = chassis(model.predictor, 4)
    r3 = 27e3 * parts["R3"]
    strapped = {"R3": r3 * 82e3 / (r3 + 82e3)}
    pots = {"RV1": replace(CLOCKWISE, turn=9)}
    found = read(model, parts, 236.0, strapped)
    found.append(ohms("foot", "ground", round(strapped["R3"], -1), pots, "R3"))
    left = read(model, parts, 229.0)
    left.append(ohms("foot", "ground", round(r3, -1), pots, "R3"))
    return found, left


def test_a_repair_that_did_what_was_predicted_closes_the_job(
    bench: Bench, job: tuple[list[Reading], list[Reading]]
) -> None:
    found, left = job
    # 12 W x 60 % / 390 V plate: 18.5 mA, and 5 % for the screen.
    done = closed(bench, found, left + idle(20e-3, 21e-3))
    assert done.outcome is Outcome.CLOSED
    assert done.joint.agrees
    assert len(done.changes) == len(PLACES) + 1
    assert not done.not_again
    assert [one.accepted for one in done.idle] == [True, True]
    assert not any(one.is_outside for one in done.changes)
    grid = next(c for c in done.changes if c.left.plus == "grid1")
    assert grid.after < grid.before  # more foot: more negative
    assert grid.wanted == pytest.approx(grid.found.nominal + grid.after - grid.before)


def test_the_change_is_known_better_than_either_reading(
    bench: Bench, job: tuple[list[Reading], list[Reading]]
) -> None:
    """What is the same before and after drops out: the band of the change is the narrower."""
    found, left = job
    done = closed(bench, found, left)
    bands = {id(one.reading): one.band for one in done.as_left.found}
    for one in done.changes:
        if one.left.kind is Kind.DC:
            band = bands[id(one.left)]
            assert band is not None
            assert one.band[1] - one.band[0] < 0.75 * (band[1] - band[0])


def test_without_an_idle_current_it_stays_open(
    bench: Bench, job: tuple[list[Reading], list[Reading]]
) -> None:
    found, left = job
    assert closed(bench, found, left).outcome is Outcome.UNREAD
    one = closed(bench, found, left + idle(20e-3))
    assert one.outcome is Outcome.UNREAD
    assert one.unread == ("V2",)


def test_the_window_decides_on_the_idle_current(
    bench: Bench, job: tuple[list[Reading], list[Reading]]
) -> None:
    """16.5 mA at 390 V: 16.5 / 1.05 x 0.39 = 6.1 W, 51 % of 12 W."""
    found, left = job
    currents = left + idle(16.5e-3, 16.8e-3)
    assert closed(bench, found, currents).outcome is Outcome.CLOSED
    wanted = closed(bench, found, currents, (0.6, 0.7))
    assert wanted.outcome is Outcome.NOT_CLOSED
    assert wanted.joint.agrees
    hot = closed(bench, found, left + idle(33e-3, 20e-3))
    assert hot.outcome is Outcome.NOT_CLOSED
    assert [one.accepted for one in hot.idle] == [False, True]
    assert hot.matched is not None
    assert not hot.matched.matched


def test_a_second_strap_that_stays_is_not_closed(
    bench: Bench, job: tuple[list[Reading], list[Reading]]
) -> None:
    """One of two straps came off: 23.1k is left, nearer to 27k than before, but not it."""
    found, _ = job
    model = bench(NAME)
    left = read(model, chassis(model.predictor, 4), 229.0, {"R3": 23.1e3})
    left.append(ohms("foot", "ground", 23.1e3, {"RV1": replace(CLOCKWISE, turn=9)}, "R3"))
    done = closed(bench, found, left + idle(20e-3, 20e-3))
    assert done.outcome is Outcome.NOT_CLOSED
    assert not done.joint.agrees
    worst = max(done.changes, key=lambda c: abs(c.deviation))
    assert worst.left.part == "R3" or worst.left.plus in {"foot", "grid1"}


def test_nothing_done_is_seen_though_each_reading_is_within_its_band(bench: Bench) -> None:
    """A chassis read twice, nothing soldered between: the change predicted did not come.

    Its foot resistor at 26k lies within reach of either drawing once the tolerances of all
    parts are in; the change from 24.3k to 27k is what tells.
    """
    after = bench(NAME)
    model = before_of(after, "R3=23k")
    parts = {"T1": 1.0}
    places = [("grid1", 0.0), ("grid1", 1.0), ("foot", 0.0), ("foot", 1.0)]
    twice = read(after, parts, 230.0, {"R3": 25.2e3}, places=places)
    as_left = compare(after, twice, YEAR)
    assert not any(one.is_outside for one in as_left.found)
    done = repair(model, after, twice, list(twice), as_left, YEAR)
    assert done.outcome is Outcome.NOT_CLOSED
    # 4 k of 27k are asked for and tolerances of the new part leave 5 %: two to four s.d.
    assert all(abs(one.deviation) > 1.5 for one in done.changes)


def test_deviations_are_those_of_simulated_repairs(bench: Bench) -> None:
    """8 chassis, each repaired with a new R3: the mean square deviation is near 1.

    The six readings of a chassis go together: of some 16 independent ones the mean square is
    known to sqrt(2 / 16), 0.35.
    """
    after = bench(NAME)
    before = before_of(after, WAS)
    squares, outside, count = [], 0, 0
    random = np.random.default_rng(8)
    as_left = compare(after, read(after, {}, 230.0), YEAR)  # says nothing of a change
    for seed in range(8):
        parts = chassis(after.predictor, 100 + seed)
        mains = 230.0 * parts.pop("mains")
        old, new = 20.2e3 * random.uniform(0.95, 1.05), 27e3 * random.uniform(0.95, 1.05)
        # The meter's 1 % is two standard deviations, half of the variance the same each time.
        gain, *own = random.normal(0.0, 0.005 / np.sqrt(2.0), 3)
        found = read(after, parts, mains, {"R3": old}, gain + own[0])
        left = read(after, parts, mains, {"R3": new}, gain + own[1])
        done = repair(before, after, found, left, as_left, YEAR)
        assert done.joint.agrees or done.joint.chance > 1e-4
        squares += [one.deviation**2 for one in done.changes]
        outside += sum(one.is_outside for one in done.changes)
        count += len(done.changes)
    assert 0.3 < np.mean(squares) < 2.1
    assert outside / count < 0.22  # 5 %, and three times its s.d. of 5.5 %


def test_what_was_changed_is_what_differs(bench: Bench) -> None:
    after = bench(NAME)
    circuit = after.section.circuit
    assert changed_parts(circuit, circuit) == frozenset()
    assert changed_parts(earlier(circuit, [WAS]), circuit) == {"R3"}
    less = replace(circuit, parts=tuple(p for p in circuit.parts if p.name != "R6"))
    assert changed_parts(less, circuit) == {"R6"}


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("R33=20k", 'no part "R33"'),
        ("R3", "is no change"),
        ("R3=47 uF", "R3=47 uF"),
        ("C1.leak=100k", "for --before"),
        ("D1=open", "no value to change"),
    ],
)
def test_what_no_part_can_have_been(bench: Bench, text: str, told: str) -> None:
    with pytest.raises(InputError) as caught:
        earlier(bench(NAME).section.circuit, [text])
    assert told in str(caught.value)


# ------------------------------------------------------------------ the command

SHEET = """\
readings for two-6v6gt-foot.bias
meter dmm  10M  dcv 0.5% + 2 digits  range 200 V resolution 0.1 V  ohms 0.8% + 1 digit
as found
  mains  236 V
  RV1 at clockwise
    grid1  -26.1 V
    foot   -26.1 V
  RV1 at anticlockwise
    grid1  -37.8 V
  power off  discharged
    R3   20.2k
as left
  mains  232 V
  RV1 at clockwise
    grid1  -30.5 V
  RV1 at anticlockwise
    grid1  -40.6 V
  power off  discharged
    R3   27.1k
  power on
  RV1 at 50%
    V1     cathode 20.2 mV  plate 398 V
    V2     cathode 19.0 mV  plate 398 V
"""


class Said:
    """What a run of the command came to."""

    def __init__(self, *arguments: str) -> None:
        out, err = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            self.code = run(["compare", *arguments])
        self.out, self.err = out.getvalue(), err.getvalue()
        assert "Traceback" not in self.err


@pytest.fixture
def sheet(tmp_path: Path) -> str:
    path = tmp_path / "job.readings"
    path.write_text(SHEET, encoding="utf-8")
    return str(path)


@pytest.mark.usefixtures("service")
def test_the_verdict_on_the_job_comes_first(sheet: str) -> None:
    said = Said(NAME, sheet, "--was", WAS, "--no-plot")
    assert said.code == 0
    assert said.out.startswith("The job: closed.")
    assert "All 3 readings taken before and after changed as the repair predicts." in said.out
    assert "foot, RV1 cw" in said.out  # was not read again
    assert max(map(len, said.out.splitlines())) <= 80
    assert "lethal" in said.out.split("\n\n")[-1]


@pytest.mark.usefixtures("service")
def test_the_circuit_before_may_be_a_file(sheet: str, tmp_path: Path) -> None:
    """The sheet names the circuit after the repair; before it another file stood for it."""
    from netcheck.resources import folder  # noqa: PLC0415

    text = (folder("circuits") / f"{NAME}.bias").read_text(encoding="utf-8")
    before = tmp_path / "before.bias"
    before.write_text(text.replace("27k   5%", "20.2k 5%"), encoding="utf-8")
    said = Said(NAME, sheet, "--before", str(before), "--json")
    assert said.code == 0
    assert said.err == ""
    data = json.loads(said.out)
    jsonschema.validate(data, schema("compare"))
    first = data["repair"]["changes"][0]
    readings = [stage["readings"] for stage in data["stages"]]
    assert readings[0][first["found"]]["of"] == readings[1][first["left"]]["of"] == "grid1"
    assert first["volts"]["found"] == -26.1
    assert first["volts"]["left"] == -30.5
    assert data["repair"]["outcome"] == "closed"


@pytest.mark.usefixtures("service")
def test_a_repair_that_failed_exits_with_1(sheet: str) -> None:
    text = SHEET.replace("-30.5", "-27.0").replace("-40.6", "-38.3").replace("27.1k", "20.3k")
    Path(sheet).write_text(text, encoding="utf-8")
    said = Said(NAME, sheet, "--was", WAS, "--no-plot", "--window", "60-70%")
    assert said.code == 1
    assert said.out.startswith("The job: not closed.")
    assert "Changed otherwise than the repair predicts: " in said.out
    assert f"netcheck diagnose {NAME}" in said.out
    assert "--stage left" in said.out


@pytest.mark.usefixtures("service")
def test_a_part_that_one_circuit_only_has_is_read_in_its_stage(sheet: str, tmp_path: Path) -> None:
    """A resistor that the repair took out was read as found, and is not there as left."""
    from netcheck.resources import folder  # noqa: PLC0415

    text = (folder("circuits") / f"{NAME}.bias").read_text(encoding="utf-8")
    before = tmp_path / "strapped.bias"
    before.write_text(f"{text}\nresistor R99 from foot to ground 82k 5%\n", encoding="utf-8")
    Path(sheet).write_text(SHEET.replace("20.2k", "20.2k\n    R99  lifted 82.1k"), encoding="utf-8")
    said = Said(NAME, sheet, "--before", str(before), "--no-plot")
    assert said.code == 0
    assert "R99 lifted" in said.out
    plain = Said(NAME, sheet, "--no-plot")
    assert plain.code == 2
    assert "R99" in plain.err


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--was", WAS, "--stage", "left"], "--stage: a repair is seen from"),
        (["--window", "60-70%"], "--window: what is wanted counts"),
        (["--was", WAS, "--window", "hot"], "--window"),
        (["--before", "no-such-circuit"], "no-such-circuit"),
        (["--was", "R3=20.2 V"], "R3=20.2 V"),
    ],
)
def test_what_cannot_be_asked_of_a_repair(sheet: str, options: list[str], told: str) -> None:
    said = Said(NAME, sheet, *options)
    assert said.code == 2
    assert told in said.err


def test_both_stages_are_needed(sheet: str) -> None:
    Path(sheet).write_text(SHEET.partition("as left")[0], encoding="utf-8")
    said = Said(NAME, sheet, "--was", WAS)
    assert said.code == 2
    assert "it holds no reading as left" in said.err
