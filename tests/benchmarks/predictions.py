"""One prediction by the ways there are, all as accurate as 0.1 % of the grid voltage."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from netcheck.commands.common import load
from netcheck.engine.elements import Floats
from netcheck.engine.service import Service
from netcheck.engine.steady import transient
from netcheck.graph import Section
from netcheck.model import Values, elements, spreads
from netcheck.netlist import Capacitor, Diode, Pot, Winding
from netcheck.predictor import Predictor
from netcheck.readings import Kind
from netcheck.readout.coordinates import Priors
from netcheck.readout.model import SectionModel
from netcheck.readout.readout import Readout
from netcheck.roles import Role, roles
from tests.chassis import plans
from tests.chassis.chassis import Chassis

from .clock import median_time

EQUAL = 1e-3
"""Of the grid voltage: a transient counts as settled from there on. [1]"""
BATCH = 10_000
FRONT_BATCH = 2_000
PATIENT = 10.0
"""What is waited for where nobody knows how long a section takes: of the shipped ones three
take longer. [s]"""
_LONGEST = 60.0


def measure(circuit: str, runs: int) -> None:
    """Time one prediction of a circuit by each way.

    Parameters
    ----------
    circuit : str
        A file, or the name of an example.
    runs : int
        Of which the median counts. [count]
    """
    section = Section(load(circuit))
    with Service() as service:
        predictor = Predictor(section, service)
        values = predictor.values()
        wanted = predictor.whole(values).mean[section.watched[0]]
        length, plain = _settled(predictor, values, wanted, runs)
        long = median_time(lambda: _mean_after(predictor, values, PATIENT), max(1, runs // 3))
        others = _chassis(predictor)
        rows = [
            (f"plain transient of {length:.1f} s, settled to 0.1 %", plain),
            (f"plain transient of {PATIENT:.0f} s", long),
            ("steady state by shooting, from zero",
             median_time(lambda: Predictor(section, service).whole(values), runs)),
            ("steady state by shooting, from a chassis nearby",
             median_time(lambda: predictor.whole(next(others)), runs)),
        ]  # fmt: skip
        if predictor.network is not None:
            rows += _fast(predictor, runs)
    print(f"\n{'one prediction':<50}{'median':>13}{'settled is':>12}{f'{PATIENT:.0f} s is':>10}")
    for name, taken in rows:
        print(f"{name:<50}{taken * 1e3:>10.4f} ms{plain / taken:>10.1f} x{long / taken:>8.1f} x")


def _chassis(predictor: Predictor) -> Iterator[Values]:
    """One chassis after the other: no two alike, for what was simulated is remembered."""
    rng, values = np.random.default_rng(2), predictor.values()
    spread = spreads(predictor.section.circuit)
    while True:
        yield {name: value * (1.0 + spread.get(name, 0.0) * rng.uniform(-1.0, 1.0))
               for name, value in values.items()}  # fmt: skip


def _settled(predictor: Predictor, values: Values, wanted: float, runs: int) -> tuple[float, float]:
    """Seconds of the shortest transient that ends within `EQUAL`, and how long it takes. [s]"""
    length = 0.1
    while abs(_mean_after(predictor, values, length) / wanted - 1.0) > EQUAL and length < _LONGEST:
        length *= 1.25
    taken = median_time(lambda: _mean_after(predictor, values, length), max(1, runs // 3))
    return length, taken


def _mean_after(predictor: Predictor, values: Values, length: float) -> float:
    """Mean of the first grid over the last period of a transient. [V]"""
    parts = elements(predictor.section.circuit, values)
    waves = transient(parts, predictor.frequency, length, service=predictor.service,
                      record="last")  # fmt: skip
    node = predictor.section.watched[0]
    return float(np.trapezoid(waves.v[node], waves.t) / (waves.t[-1] - waves.t[0]))


def _fast(predictor: Predictor, runs: int) -> list[tuple[str, float]]:
    """The fast paths: behind the rectifier, and with the rectifier's own parts changed."""
    section, service = predictor.section, predictor.service
    rng = np.random.default_rng(1)
    values = predictor.values()
    behind = values | {f"{pot.name}.travel": rng.uniform(size=BATCH)
                       for pot in section.circuit.of(Pot)}  # fmt: skip
    traced = median_time(lambda: Predictor(section, service).curves, runs)
    fast = median_time(lambda: predictor.means(behind, BATCH), runs) / BATCH
    rows = [("tracing the port, once", traced),
            (f"fast path behind the port, {BATCH:,} at once", fast)]  # fmt: skip
    made = median_time(lambda: SectionModel(Predictor(section, service)), max(1, runs // 3))
    readout, x = _front(SectionModel(predictor), rng)
    taken = median_time(lambda: readout.predict(x), runs) / FRONT_BATCH
    rows += [("simulating the rectifier's family, once", made),
             (f"fast path in front of it, {FRONT_BATCH:,} at once", taken)]  # fmt: skip
    return rows


def _front(model: SectionModel, rng: np.random.Generator) -> tuple[Readout, Floats]:
    """A reading of the first grid on chassis whose winding, dropper, diode, reservoir differ."""
    section = model.section
    plan = [item for item in plans.voltages(model.predictor)
            if item.kind is Kind.DC and item.plus == section.watched[0]]  # fmt: skip
    readings = Chassis(section, [], 1, model.predictor.service).readings(plan[-1:])
    readout = Readout(model, readings, 2026)
    known = roles(section)
    moved = [part.name for part in section.circuit.parts
             if isinstance(part, Winding | Diode | Capacitor)
             or known.get(part.name) is Role.DROPPER]  # fmt: skip
    coordinates = readout.coordinates
    score = np.zeros((FRONT_BATCH, len(coordinates)))
    for name, k in coordinates.index.items():
        if name.partition(".")[0] in moved:
            score[:, k] = rng.standard_normal(FRONT_BATCH)
    x, _ = Priors([coordinates.sound]).at(score, np.zeros(FRONT_BATCH, dtype=int))
    return readout, x
