"""How often the diagnosis names the right part, and how sure it is when it does.

    python tests/benchmarks/naming.py [--study NAME] [--cases N] [--circuits NAME ...] [--seed N]

Random chassis with one fault and as many sound ones, every other part random within its
tolerance, meters and pot positions with their errors; all readings by full ngspice simulation
(`tests/chassis`), never by the path that the diagnosis itself uses. Studies:

voltages, both, four
    What is read: volts of all nodes at both ends and the middle of travel; the same and the
    resistance across every part, soldered in; four volts.
loose, normal
    As "both", with true tolerances 1.5 times those stated, or normally spread.
pairs
    As "both", two resistors off at once.
stray
    As "both", a leak that is no part of the drawing.
strays
    As "both", two such leaks at once, which is nothing that the diagnosis thinks of.
guided
    One reading after the other, as `netcheck bench` asks for them, against fixed orders.

Beside the accuracy stands its ceiling: the expected probability of the most probable part (of
the two most probable, for top-2) under the posterior by importance sampling, which is what a
reader that knows all tolerances and does the integrals exactly is right in. Probabilities are
also checked for what they promise (expected calibration error, bins of equal mass), beside the
value that a perfect reader with as many cases shows.
"""

from __future__ import annotations

import argparse
import math
import multiprocessing
import os
import sys
import time
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np

from netcheck.commands.common import load
from netcheck.diagnose.diagnosis import SURE, Diagnosis, Verdict, diagnose
from netcheck.diagnose.hypotheses import NOTHING
from netcheck.diagnose.suspects import joined
from netcheck.engine.service import Service
from netcheck.errors import EngineError
from netcheck.graph import Section
from netcheck.predictor import Predictor
from netcheck.readings import Kind, Reading, State
from netcheck.readout.model import SectionModel, is_undrawn, undrawn_leak
from netcheck.resources import folder
from netcheck.session.choice import Place, chosen
from netcheck.session.session import WORTH_ASKING
from netcheck.sweeping import swept_pots
from tests.chassis import plans
from tests.chassis.chassis import DMM, Chassis, Errors
from tests.chassis.faults import METER, READING, STRAY, Fault, draw_fault, draw_pair, draw_stray

YEAR = 2026
SOUND_BEFORE = 0.5
"""Half of the chassis are sound, and the diagnosis is told so. [1]"""
SAMPLES = 300
"""Draws for each hypothesis of the exact posterior. [count]"""
ONE_IN = 8
"""So many cases go without the exact posterior for each that has it. [count]"""
_LISTED = 40
MOST_READINGS = 25
"""A guided session is given up after so many. [count]"""
SLIPS_WITHIN = 4
"""Where one of its readings is misread, it is one of so many. [count]"""
STRAYS = {"stray": 1, "strays": 2}
PLANS = {"voltages": plans.voltages, "four": plans.four_voltages}
ERRORS = {"loose": Errors(tolerances=1.5), "normal": Errors(normal=True)}


@dataclass(frozen=True)
class Case:
    """What became of one chassis."""

    circuit: str
    true: str
    mode: str
    said: str
    rank: int
    top: float
    in_group: bool
    group: int
    verdict: str
    exact_top: float
    exact_two: float
    exact_right: float
    value_error: float
    covered: float
    seconds: float
    readings: int = 0

    @property
    def is_sound(self) -> bool:
        """Whether nothing was wrong."""
        return self.true == NOTHING

    @property
    def said_one(self) -> bool:
        """Whether of two parts at fault one was named, and no other: the second may not show."""
        label = self.said.rpartition(",")[0]
        return " and " not in label and label.split()[0] in self.true.split(" and ")


@dataclass(frozen=True)
class Bench:
    """A circuit with all that its chassis share."""

    name: str
    service: Service
    section: Section
    predictor: Predictor
    model: SectionModel

    def plan(self, study: str) -> list[plans.Item]:
        """What is read in a study."""
        if study in PLANS:
            return PLANS[study](self.predictor)
        return (plans.voltages_and_resistances(self.predictor)
                + plans.other_resistances(self.section))  # fmt: skip

    def faults(self, study: str, rng: np.random.Generator, number: int) -> list[Fault]:
        """What is wrong with chassis number so and so: every other one is sound."""
        if study == "pairs":
            return list(draw_pair(self.section, rng)) if number % 4 == 0 else (
                [draw_fault(self.section, rng)] if number % 2 else [])  # fmt: skip
        if number % 2 == 0:
            return []
        if study in STRAYS:
            return [draw_stray(self.section, rng) for _ in range(STRAYS[study])]
        return [draw_fault(self.section, rng)]


def set_up(name: str, service: Service) -> Bench:
    """A circuit, ready."""
    section = Section(load(name))
    predictor = Predictor(section, service)
    return Bench(name, service, section, predictor, SectionModel(predictor))


def label_of(faults: Sequence[Fault], struck: int | None, taken: Sequence[Reading],
             diagnosis: Diagnosis) -> str:  # fmt: skip
    """The label by which the diagnosis would name what is wrong; `struck` is what was misread."""
    names = []
    for fault in faults:
        if fault.part == METER:
            names.append(f"meter {DMM.name}")
        elif fault.part == READING:
            used = diagnosis.readout.readings
            if struck is not None and taken[struck] in used:
                names.append(f"reading {used.index(taken[struck]) + 1}")
        elif fault.part == STRAY:
            ways = [undrawn_leak(*fault.nodes), undrawn_leak(*reversed(fault.nodes))]
            names.append(next((w for w in ways if w in diagnosis.readout.model.undrawn), ways[0]))
        else:
            names.append(fault.part)
    order = [part.name for part in diagnosis.readout.model.section.circuit.parts]
    known = sorted(names, key=lambda n: order.index(n) if n in order else -1)
    return " and ".join(known) or NOTHING


def one_case(bench: Bench, study: str, seed: int, number: int) -> Case | None:
    """One chassis, read and diagnosed; None if ngspice could not simulate it."""
    rng = np.random.default_rng([seed, zlib.crc32(bench.name.encode()), number])
    faults = bench.faults(study, rng, number)
    plan = bench.plan(study)
    chassis = Chassis(bench.section, faults, int(rng.integers(2**31)), bench.service,
                      errors=ERRORS.get(study, Errors()))  # fmt: skip
    try:
        taken = chassis.readings(plan)
    except EngineError:
        return None
    begun = time.perf_counter()
    found = diagnose(bench.model, taken, YEAR, sound_before=SOUND_BEFORE)
    seconds = time.perf_counter() - begun
    true = label_of(faults, chassis.misread(plan), taken, found)
    labels = [suspect.label for suspect in found.suspects]
    rank = labels.index(true) if true in labels else len(labels)
    exact = (math.nan, math.nan, math.nan)
    if number % ONE_IN < 2:
        by_label = exact_posterior(found, rng)
        best, *others = sorted(by_label, key=lambda label: -by_label[label])
        both = sum(by_label[label] for label in (best, *others[:1]))
        exact = by_label[best], both, float(best == true)
    error, covered = value_error(faults, chassis, found, rank)
    return Case(
        bench.name, true, str(faults[0]) if faults else "", said(found), rank, found.suspects[0].probability,
        true in [suspect.label for suspect in found.group], len(found.group),
        found.verdict.value, *exact, error, covered, seconds,
    )  # fmt: skip


def said(found: Diagnosis) -> str:
    """What the diagnosis puts first."""
    first = found.suspects[0]
    return f"{first.label} {first.mode.hypothesis.mode}, chance {found.chance:.2g}"


def value_error(faults: Sequence[Fault], chassis: Chassis, found: Diagnosis,
                rank: int) -> tuple[float, float]:  # fmt: skip
    """Relative error of a fitted resistance, and whether its range holds the true one."""
    nothing = math.nan, math.nan
    if len(faults) != 1 or rank != 0 or faults[0].mode not in {"off", "neighbour", "decade",
                                                               "strapped", "other value"}:  # fmt: skip
        return nothing
    fitted = [f for f in found.suspects[0].mode.fitted if f.coordinate == faults[0].part]
    true = chassis.wiring.values.get(faults[0].part)
    if not fitted or true is None:
        return nothing
    return abs(math.log(fitted[0].nominal / true)), float(fitted[0].low <= true <= fitted[0].high)


def exact_posterior(found: Diagnosis, rng: np.random.Generator) -> dict[str, float]:
    """Probabilities of the labels by importance sampling around each best fit."""
    total: dict[str, float] = {}
    every = joined(found.fits)
    log_laplace = np.concatenate([f.log_evidence for f in found.fits])
    for place, (fits, k) in enumerate(every):
        share = found.posterior[place]
        if share < 1e-4:
            continue
        label = fits.hypotheses[k].label
        log_exact = log_evidence(found, fits, k, rng) if fits.hypotheses[k].reading is None else (
            log_laplace[place])  # fmt: skip
        total[label] = total.get(label, 0.0) + share * math.exp(
            np.clip(log_exact - log_laplace[place], -20, 20))  # fmt: skip
    norm = sum(total.values())
    return {label: value / norm for label, value in total.items()}


def log_evidence(found: Diagnosis, fits: object, k: int, rng: np.random.Generator) -> float:
    """Logarithm of the readings' density under one hypothesis, by importance sampling.

    Draws come from a multivariate t of five degrees of freedom with the curvature of the best
    fit, whose tails are wider than those of what is integrated.
    """
    from netcheck.diagnose.fit import Fits  # noqa: PLC0415

    assert isinstance(fits, Fits)
    covariance, readout, nu = fits.covariance(k), found.readout, 5.0
    values, vectors = np.linalg.eigh(covariance)
    values = np.maximum(values, 1e-12)
    size = values.size
    z = rng.standard_normal((SAMPLES, size)) / np.sqrt(rng.chisquare(nu, SAMPLES) / nu)[:, None]
    u = fits.u[k] + (z * np.sqrt(values)) @ vectors.T
    x, _ = fits.priors.at(u, np.full(SAMPLES, k))
    y, _ = readout.predict(x, fits.exact_of(k, SAMPLES))
    measured = np.array([m.y for m in readout.measured])
    sigma = np.array([m.sigma for m in readout.measured])
    log_target = -0.5 * np.sum(((y - measured) / sigma) ** 2, axis=1) - np.sum(
        np.log(sigma)) - 0.5 * measured.size * math.log(2 * math.pi)  # fmt: skip
    log_target += -0.5 * np.sum(u**2, axis=1) - 0.5 * size * math.log(2 * math.pi)
    log_proposal = (
        math.lgamma((nu + size) / 2) - math.lgamma(nu / 2) - 0.5 * size * math.log(nu * math.pi)
        - 0.5 * np.sum(np.log(values)) - 0.5 * (nu + size) * np.log1p(np.sum(z**2, axis=1) / nu)
    )  # fmt: skip
    log_weight = log_target - log_proposal
    most = float(log_weight.max())
    return most + math.log(float(np.mean(np.exp(log_weight - most))))


# ---------------------------------------------------------------------- one after the other


def guided_case(bench: Bench, seed: int, number: int) -> list[Case]:
    """One chassis, read until one part stands at 95 %, in several orders."""
    rng = np.random.default_rng([seed, zlib.crc32(bench.name.encode()), number])
    faults = bench.faults("both", rng, number)
    chassis = Chassis(bench.section, faults, int(rng.integers(2**31)), bench.service)
    found = []
    for order in ("guided", "ohms first", "volts first", "random"):
        try:
            found.append(one_session(bench, chassis, faults, order, rng))
        except EngineError:
            return []
    return found


def one_session(bench: Bench, chassis: Chassis, faults: Sequence[Fault], order: str,
                rng: np.random.Generator) -> Case:  # fmt: skip
    """Readings in one order until one part stands at 95 %."""
    taken: list[Reading] = []
    slip = Slip(bench, chassis, faults)
    begun = time.perf_counter()
    fixed = list(fixed_order(bench, order, rng))
    while True:
        found = diagnose(bench.model, taken, YEAR, sound_before=SOUND_BEFORE)
        sure = found.suspects[0].probability >= 0.95
        item = next_item(bench, found, taken, order, fixed)
        if sure or item is None or len(taken) >= MOST_READINGS:
            break
        taken += slip.reader(item, len(taken)).readings([item])
    true = label_of(faults, slip.struck, taken, found)
    right = found.suspects[0].label == true
    return Case(bench.name, true, order, said(found), 0 if right else 1, found.suspects[0].probability, sure,
                len(found.group), found.verdict.value, *(math.nan,) * 5,
                time.perf_counter() - begun, len(taken))  # fmt: skip


class Slip:
    """Which reading of a session is misread, if one is: one of the first that can be."""

    def __init__(self, bench: Bench, chassis: Chassis, faults: Sequence[Fault]) -> None:
        slip = next((fault for fault in faults if fault.part == READING), None)
        rest = [fault for fault in faults if fault is not slip]
        self._misreading = chassis
        self._right = Chassis(bench.section, rest, chassis.seed, bench.service)
        self._before = -1 if slip is None else int((slip.second or 0.0) * SLIPS_WITHIN)
        self.struck: int | None = None

    def reader(self, item: plans.Item, place: int) -> Chassis:
        """Who reads an item, which will be at a place among the readings."""
        if self._before < 0 or self._misreading.misread([item]) is None:
            return self._right
        self._before -= 1
        if self._before >= 0:
            return self._right
        self.struck = place
        return self._misreading


def fixed_order(bench: Bench, order: str, rng: np.random.Generator) -> Iterator[plans.Item]:
    """The readings of both plans, in an order that does not look at the answers."""
    items = bench.plan("both")
    if order == "random":
        items = [items[int(k)] for k in rng.permutation(len(items))]
    elif order == "ohms first":
        items.sort(key=lambda item: item.kind is not Kind.OHMS)
    yield from items


def next_item(bench: Bench, found: Diagnosis, taken: Sequence[Reading], order: str,
              fixed: list[plans.Item]) -> plans.Item | None:  # fmt: skip
    """What is read next; None when nothing tells more. Guided is what `bench` would ask for."""
    if order != "guided":
        return fixed.pop(0) if fixed else None
    state = taken[-1].state if taken else State()
    place = Place(state, state.live if taken else None, bool(taken), DMM)
    ranked = chosen(bench.model, found, taken, swept_pots(bench.predictor), place, YEAR)
    best = next((n for n in ranked if n.bits >= WORTH_ASKING), None)
    if best is None:
        return None
    reading = best.candidate.reading
    return plans.Item(reading.kind, reading.plus, reading.minus, reading.part, reading.state)


# ------------------------------------------------------------------------------- all of it


def run_circuit(task: tuple[str, str, int, int]) -> list[Case]:
    """All cases of one circuit."""
    name, study, count, seed = task
    with Service(workers=1) as service:
        service.start()
        bench = set_up(name, service)
        if study == "guided":
            return [c for n in range(count) for c in guided_case(bench, seed, n)]
        cases = [one_case(bench, study, seed, n) for n in range(count)]
        return [case for case in cases if case is not None]


def calibration(top: np.ndarray, right: np.ndarray, bins: int = 15) -> float:
    """Expected calibration error over bins of equal mass. [1]"""
    order = np.argsort(top, kind="stable")
    parts = np.array_split(order, min(bins, top.size))
    return float(sum(abs(top[p].mean() - right[p].mean()) * p.size for p in parts) / top.size)


def perfect_calibration(top: np.ndarray, runs: int = 200) -> float:
    """What a reader shows whose probabilities are exactly right. [1]"""
    rng = np.random.default_rng(0)
    return float(np.mean([calibration(top, rng.uniform(size=top.size) < top) for _ in range(runs)]))


def report(study: str, cases: Sequence[Case]) -> None:
    """Print the figures of a study."""
    if study == "guided":
        report_guided(cases)
        return
    print(f"study {study}: {len(cases)} chassis, {sum(c.is_sound for c in cases)} of them sound")
    header = f"{'circuit':<27}{'cases':>6}{'top-1':>8}{'top-2':>8}{'ceiling':>9}{'group':>8}"
    print(header + f"{'alarms':>8}")
    for name in sorted({case.circuit for case in cases}):
        line(name, [case for case in cases if case.circuit == name])
    line("all", cases)
    line("all faulty", [case for case in cases if not case.is_sound])
    top = np.array([case.top for case in cases])
    right = np.array([case.rank == 0 for case in cases])
    print(f"\nexpected calibration error {calibration(top, right):.3f}, of a perfect reader "
          f"{perfect_calibration(top):.3f}")  # fmt: skip
    sure = top >= SURE
    print(f"right where it says {SURE:.0%} or more: {right[sure].mean():.3f} of {sure.sum()}")
    exact = np.array([case.exact_top for case in cases])
    known = np.isfinite(exact)
    if known.any():
        best = np.array([case.exact_right for case in cases])[known]
        second = np.array([case.rank < 2 for case in cases])[known]
        both = np.array([case.exact_two for case in cases])[known]
        print(f"on the {known.sum()} cases with an exact posterior: top-1 {right[known].mean():.3f}, "
              f"expected {exact[known].mean():.3f}, reached by it {best.mean():.3f}; "
              f"top-2 {second.mean():.3f}, expected {both.mean():.3f}")  # fmt: skip
    errors = np.array([c.value_error for c in cases if math.isfinite(c.value_error)])
    if errors.size:
        covered = np.mean([c.covered for c in cases if math.isfinite(c.covered)])
        print(f"fitted value of {errors.size}: median error {np.median(errors):.2%}, 90th percentile "
              f"{np.percentile(errors, 90):.2%}; 90 % ranges hold {covered:.1%}")  # fmt: skip
    none = Verdict.NONE_FITS.value
    stray = [case for case in cases if is_undrawn(case.true)]
    if stray:
        told = np.mean([c.verdict == none or is_undrawn(c.said) for c in stray])
        print(f"not drawn: {told:.3f} of {len(stray)} told to fit no part")
    both = [case for case in cases if " and " in case.true and not is_undrawn(case.true)]
    if both:
        single = [c for c in cases if not c.is_sound and " and " not in c.true]
        pair = np.mean([case.rank == 0 for case in both])
        one = np.mean([case.rank > 0 and case.said_one for case in both])
        print(f"pairs: exact pair first in {pair:.3f} of {len(both)}, one of the two alone in "
              f"{one:.3f}")  # fmt: skip
        print(f"singles: right {np.mean([c.rank == 0 for c in single]):.3f} of {len(single)}")
    for case in [c for c in cases if c.rank > 0 and c.top >= SURE][:_LISTED]:
        print(f"sure and wrong: {case.circuit}: {case.mode or 'sound'}; said {case.said}")
    unfit = [c for c in cases if c.verdict == none and not is_undrawn(c.true)]
    print(f"{len(unfit)} of the others told to fit none")
    for case in unfit[:_LISTED]:
        print(f"told to fit none: {case.circuit}: {case.mode or 'sound'}; said {case.said}")
    seconds = np.array([case.seconds for case in cases])
    print(f"a diagnosis takes {np.median(seconds):.2f} s (median), "
          f"{np.percentile(seconds, 95):.2f} s (95th percentile)")  # fmt: skip


def line(name: str, cases: Sequence[Case]) -> None:
    """One line of the table."""
    rank = np.array([case.rank for case in cases])
    exact = np.array([case.exact_top for case in cases])
    ceiling = np.nanmean(exact) if np.isfinite(exact).any() else math.nan
    sound = [case for case in cases if case.is_sound]
    alarms = (
        np.mean([c.verdict in {"named", "group", "none fits"} for c in sound]) if sound else 0.0
    )
    print(f"{name:<27}{len(cases):>6}{np.mean(rank == 0):>8.3f}{np.mean(rank < 2):>8.3f}"
          f"{ceiling:>9.3f}{np.mean([c.in_group for c in cases]):>8.3f}{alarms:>8.3f}")  # fmt: skip


def report_guided(cases: Sequence[Case]) -> None:
    """Print how many readings each order needs."""
    for what in ("faulty", "sound"):
        print(
            f"{what:<16}{'sessions':>9}{'readings':>10}{'90th pct':>10}{'reached':>9}{'right':>8}"
        )
        for order in ("guided", "ohms first", "volts first", "random"):
            own = [c for c in cases if c.mode == order and c.is_sound == (what == "sound")]
            if not own:
                continue
            count = np.array([case.readings for case in own])
            print(f"  {order:<14}{len(own):>9}{count.mean():>10.2f}{np.percentile(count, 90):>10.0f}"
                  f"{np.mean([c.in_group for c in own]):>9.3f}"
                  f"{np.mean([c.rank == 0 for c in own]):>8.3f}")  # fmt: skip


def main() -> None:
    """Run a study and print its figures."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    studies = ("voltages", "both", "four", "loose", "normal", "pairs", "stray", "strays", "guided")
    parser.add_argument("--study", choices=studies, default="both")
    parser.add_argument("--cases", type=int, default=40, help="chassis for each circuit")
    parser.add_argument("--circuits", nargs="*", default=None)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    asked = parser.parse_args()
    names = asked.circuits or sorted(path.stem for path in folder("circuits").glob("*.bias"))
    tasks = [(name, asked.study, asked.cases, asked.seed) for name in names]
    with multiprocessing.get_context("spawn").Pool(asked.processes) as pool:
        cases = [case for found in pool.imap(run_circuit, tasks) for case in found]
    report(asked.study, cases)


if __name__ == "__main__":
    main()
