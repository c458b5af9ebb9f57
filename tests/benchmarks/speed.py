"""How long things take and what they need, as ratios measured in one run.

    python tests/benchmarks/speed.py [CIRCUIT] [--runs N] [--only processes|predictions|growth]

Prints whole-process times of the commands beside a bare interpreter, with the memory they take;
the time of one prediction by the ways there are, at equal accuracy; and how both grow with parts,
pots, valves and readings. Ratios are what to compare; absolute times depend on the machine and on
what else it does.
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# Else every process compiles the package anew.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks import growth, predictions, processes


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("circuit", nargs="?", default="two-6v6gt-foot")
    parser.add_argument("--runs", type=int, default=7)
    parser.add_argument("--only", choices=["processes", "predictions", "growth"])
    given = parser.parse_args()
    if given.only in (None, "processes"):
        processes.measure(given.circuit, given.runs)
    if given.only in (None, "predictions"):
        predictions.measure(given.circuit, given.runs)
    if given.only in (None, "growth"):
        growth.measure(given.runs)


if __name__ == "__main__":
    main()
