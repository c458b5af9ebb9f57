"""How long the commands take, as ratios measured in one run.

    python tests/benchmarks/speed.py [CIRCUIT] [--runs N]

Prints whole-process times of the commands beside a bare interpreter, and the time of one
prediction by the ways there are: the fast path, the steady state found by shooting, and a
plain transient that is waited for. Ratios are what to compare; absolute times depend on the
machine and on what else it does.
"""

from __future__ import annotations

import argparse
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Sequence

import numpy as np

from netcheck.commands.common import load
from netcheck.engine.service import Service
from netcheck.engine.steady import transient
from netcheck.graph import Section
from netcheck.model import elements
from netcheck.netlist import Pot
from netcheck.predictor import Predictor

SETTLED = 10.0
"""A plain transient is run this long: bias supplies with large capacitors need it. [s]"""


def median_time(action: Callable[[], object], runs: int) -> float:
    """Median time of an action after one call that is not counted. [s]"""
    action()
    times = []
    for _ in range(runs):
        begun = time.perf_counter()
        action()
        times.append(time.perf_counter() - begun)
    return statistics.median(times)


def process(arguments: Sequence[str]) -> Callable[[], object]:
    """An action that runs the interpreter with these arguments."""
    return lambda: subprocess.run([sys.executable, *arguments], capture_output=True, check=False)


def processes(circuit: str, runs: int) -> None:
    """Whole processes."""
    bare = median_time(process(["-c", "pass"]), runs)
    rows = [
        ("bare interpreter", ["-c", "pass"]),
        ("import lark, networkx", ["-c", "import lark, networkx"]),
        ("check --no-simulation", ["-m", "netcheck", "check", "--no-simulation", circuit]),
        ("check", ["-m", "netcheck", "check", circuit]),
        ("predict", ["-m", "netcheck", "predict", circuit]),
    ]
    print(f"{'whole process':<28}{'median':>10}{'to bare':>10}")
    for name, arguments in rows:
        taken = median_time(process(arguments), runs)
        print(f"{name:<28}{taken * 1e3:>7.0f} ms{taken / bare:>10.1f}")


def predictions(circuit: str, runs: int) -> None:
    """One prediction, by the ways there are."""
    section = Section(load(circuit))
    with Service() as service:
        predictor = Predictor(section, service)
        values = predictor.values()
        predictor.whole(values)
        state = median_time(lambda: predictor.whole(values), runs)
        cold = median_time(lambda: Predictor(section, service).whole(values), runs)
        parts = elements(section.circuit, values)
        plain = median_time(
            lambda: transient(parts, predictor.frequency, SETTLED, service=service, record="last"),
            max(1, runs // 3),
        )
        rows = [("plain transient, 10 s", plain), ("steady state from zero", cold),
                ("steady state, near guess", state)]  # fmt: skip
        if predictor.network is not None:
            traced = median_time(lambda: Predictor(section, service).curves, runs)
            batch = 10_000
            many = values | {f"{pot.name}.travel": np.linspace(0, 1, batch)
                             for pot in section.circuit.of(Pot)}  # fmt: skip
            fast = median_time(lambda: predictor.means(many, batch), runs) / batch
            rows += [("tracing the port, once", traced), ("fast path, batch of 10,000", fast)]
    print(f"\n{'one prediction':<28}{'median':>12}{'plain is':>12}")
    for name, taken in rows:
        print(f"{name:<28}{taken * 1e3:>9.4f} ms{plain / taken:>10.0f} x")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("circuit", nargs="?", default="two-6v6gt-foot")
    parser.add_argument("--runs", type=int, default=7)
    given = parser.parse_args()
    processes(given.circuit, given.runs)
    predictions(given.circuit, given.runs)


if __name__ == "__main__":
    main()
