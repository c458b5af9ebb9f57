"""Many inputs, each read by the commands, and a count of what became of them.

    python -m tests.fuzz.run --inputs 100000 --seed 1 --processes 2
    python -m tests.fuzz.run --circuits 1000 --processes 2

Inputs are texts, most of them with errors in them; circuits are legal ones that nobody would
build, which are checked, predicted and diagnosed, and simulated beside the fast path. Ends with 1
if anything was wrong or took too much memory; inputs at fault are kept in a folder that is named.
"""

from __future__ import annotations

import argparse
import faulthandler
import os
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, field
from multiprocessing import get_context
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from netcheck.engine.service import Service

from .circuits import circuit
from .inputs import CHUNK, inputs
from .judged import LONGEST_SIMULATED, MOST_MEMORY, Called, called, in_folder, judged, memory
from .odd import LONGEST, answered, disagreements

_FEW = 10  # odd circuits in a chunk [count]
_AT_ONCE = 20  # chunks that a process takes before it is ended [count]
SIMULATED = 50
"""One input in so many is checked with the simulation as well. [count]"""

_STUCK = 3 * max(LONGEST_SIMULATED, LONGEST)
"""When a command cannot even be interrupted, its process ends itself and says where. [s]"""


@dataclass
class Tally:
    """What became of some inputs.

    Parameters
    ----------
    made : Counter
        Inputs by how they were made. [count]
    codes : Counter
        Calls by command and exit code. [count]
    slowest : dict of str to (float, int)
        Of each command the longest time, and the number of its input. [s]
    memory : int
        The most that one process had. [byte]
    wrong : list of (int, str, bytes)
        Inputs at fault: number, name of the file and what is wrong; what is in it.
    """

    made: Counter[str] = field(default_factory=Counter)
    codes: Counter[tuple[str, int]] = field(default_factory=Counter)
    slowest: dict[str, tuple[float, int]] = field(default_factory=dict)
    memory: int = 0
    wrong: list[tuple[int, str, bytes]] = field(default_factory=list)

    def note(self, number: int, call: Called) -> None:
        """Count one call."""
        self.codes[call.command, call.code] += 1
        slowest = self.slowest.get(call.command, (0.0, number))
        self.slowest[call.command] = max(slowest, (call.seconds, number))

    def add(self, other: Tally) -> None:
        """Count what another has counted."""
        self.made += other.made
        self.codes += other.codes
        for command, slowest in other.slowest.items():
            self.slowest[command] = max(self.slowest.get(command, (0.0, 0)), slowest)
        self.memory = max(self.memory, other.memory)
        self.wrong += other.wrong


def examined(seed: int, first: int, count: int, simulated: int = SIMULATED) -> Tally:
    """Judge some of the inputs of a seed.

    Parameters
    ----------
    seed : int
        The seed.
    first, count : int
        The number of the first, and how many. [count]
    simulated : int
        One in so many is simulated as well; none if 0. [count]
    """
    tally = Tally()
    with tempfile.TemporaryDirectory() as folder, in_folder(folder):
        for example in ("two-6v6gt-foot", "two-6v6gt-foot.readings"):
            called(["check", "--no-simulation", example])  # loads what the first one needs
        for one in inputs(seed, first, count):
            tally.made[one.kind] += 1
            with_simulation = simulated > 0 and one.number % simulated == 0
            for call in judged(one, simulated=with_simulation):
                tally.note(one.number, call)
                tally.wrong += [(one.number, f"{one.name}: {call.command}: {what}", one.body)
                                for what in call.wrong]  # fmt: skip
    tally.memory = memory()
    return tally


def odd_examined(first: int, count: int) -> Tally:
    """Take some odd circuits through the commands, and compare both ways of predicting them."""
    tally = Tally()
    with tempfile.TemporaryDirectory() as folder, in_folder(folder), Service() as service:
        for number in range(first, first + count):
            text = circuit(number)
            tally.made["odd circuit"] += 1
            for call in answered(number):
                tally.note(number, call)
                tally.wrong += [(number, f"it.bias: {call.command}: {what}", text.encode())
                                for what in call.wrong]  # fmt: skip
            apart = disagreements(text, number, service)
            tally.made["compared with the fast path"] += apart is not None
            tally.wrong += [(number, f"it.bias: {what}", text.encode()) for what in apart or ()]
    tally.memory = memory()
    return tally


def _chunk(task: Callable[..., Tally], *what: int) -> Tally:
    """A task in a process of its own, which ends itself when it is stuck."""
    faulthandler.dump_traceback_later(_STUCK * what[-1], exit=True)
    try:
        return task(*what)
    finally:
        faulthandler.cancel_dump_traceback_later()


def main() -> int:
    """Judge as many inputs as asked for."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--inputs", type=int, default=0)
    parser.add_argument("--circuits", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    asked = parser.parse_args()
    total, began = Tally(), time.monotonic()
    others = (asked.seed - 1) * 1_000_000  # so that another seed has other circuits
    tasks: list[tuple[Any, ...]] = [
        (examined, asked.seed, first, min(CHUNK, asked.inputs - first))
        for first in range(0, asked.inputs, CHUNK)
    ]
    tasks += [
        (odd_examined, others + first, min(_FEW, asked.circuits - first))
        for first in range(0, asked.circuits, _FEW)
    ]
    done = 0
    while done < len(tasks):
        some = tasks[done : done + _AT_ONCE * asked.processes]
        # New processes now and then: what the libraries keep is not what is measured.
        with ProcessPoolExecutor(asked.processes, get_context("spawn")) as pool:
            for finished in as_completed([pool.submit(_chunk, *task) for task in some]):
                total.add(finished.result())
                done += 1
                print(f"\r{done} of {len(tasks)} chunks, {len(total.wrong)} wrong",
                      end="", file=sys.stderr, flush=True)  # fmt: skip
    print(file=sys.stderr)
    print("\n".join(_report(total, time.monotonic() - began)))
    return 1 if total.wrong or total.memory > MOST_MEMORY else 0


def _report(total: Tally, seconds: float) -> Iterator[str]:
    yield f"after {seconds / 60:.0f} minutes"
    for kind, count in sorted(total.made.items()):
        yield f"  {count:7}  {kind}"
    yield "calls by exit code, and the slowest of each command"
    for command, (longest, number) in sorted(total.slowest.items()):
        codes = {code: n for (name, code), n in sorted(total.codes.items()) if name == command}
        shown = "  ".join(f"{code}: {n}" for code, n in codes.items())
        yield f"  {command:30} {shown:40} {longest:.2f} s (input {number})"
    yield f"at most {total.memory / 1e6:.0f} MB in one process"
    yield f"{len(total.wrong)} wrong"
    if total.wrong:
        kept = Path(tempfile.mkdtemp(prefix="netcheck-fuzz-"))
        for number, what, body in total.wrong:
            name, _, said = what.partition(": ")
            (kept / f"{number}-{name}").write_bytes(body)
            with (kept / f"{number}-{name}.txt").open("a", encoding="utf-8") as file:
                file.write(f"{said}\n")
        yield f"the inputs at fault are in {kept}"


if __name__ == "__main__":
    sys.exit(main())
