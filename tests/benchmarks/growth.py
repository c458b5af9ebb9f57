"""How times grow with the size of a section: parts, pots, valves, readings."""

from __future__ import annotations

import time
from collections.abc import Iterator

from netcheck.diagnose.diagnosis import diagnose
from netcheck.engine.service import Service
from netcheck.errors import EngineError
from netcheck.graph import Section
from netcheck.parse import parse_circuit
from netcheck.predictor import Predictor
from netcheck.readout.model import SectionModel
from netcheck.rules import check
from netcheck.source import Source
from netcheck.travel import predict
from tests.chassis import plans
from tests.chassis.chassis import Chassis

from .clock import median_time

_HEAD = """circuit "a ladder, invented"
mains 230 V 50 Hz
winding   T1  from ground to tap  48 Vac  source 60 ohm
diode     D1  anode raw cathode tap  type 1N4007
capacitor C1  plus ground minus raw  47 uF 100 V
"""


USUAL = 12
"""Readings of a usual job. [count]"""


def ladder(parts: int, pots: int = 1, valves: int = 2) -> str:
    """A supply whose series resistance is in pieces, with pots side by side. [counts]"""
    lines = [_HEAD]
    pieces = max(parts - 5 - 3 * pots - 2 * valves, 1)
    for k in range(pieces):
        start, end = ("raw" if k == 0 else f"n{k}"), ("head" if k == pieces - 1 else f"n{k + 1}")
        lines.append(f"resistor R{k + 1} from {start} to {end} {15e3 / pieces:.1f} 5% 0.5 W\n")
    for k in range(pots):
        lines += [f"pot RV{k + 1} top head wiper arm{k} bottom foot{k} {10 * pots}k linear\n",
                  f"resistor R{900 + k} from foot{k} to ground {27 * pots}k 5% 0.5 W\n",
                  f"capacitor C{900 + k} plus ground minus arm{k} 10 uF 63 V\n"]  # fmt: skip
    for k in range(valves):
        lines += [f"resistor R{800 + k} from arm{k % pots} to grid{k} 68k 5% 0.5 W\n",
                  f"valve V{k + 1} 6V6GT grid grid{k} plate 390 V screen 385 V cathode 1 ohm\n"]  # fmt: skip
    return "".join(lines)


def measure(runs: int) -> None:
    """Print how times grow."""
    print(
        f"\n{'section':<28}{'check':>10}{'predict':>10}{'model':>10}{'diagnose':>10}{'readings':>10}"
    )
    with Service(workers=2) as service:
        for name, text, readings in _sections():
            _row(name, text, readings, service, runs)


def _sections() -> Iterator[tuple[str, str, int]]:
    for parts in (12, 25, 50, 100):
        yield f"{parts} parts", ladder(parts), USUAL
    for pots in (2, 3, 5):
        yield f"{pots} pots", ladder(40, pots, pots), USUAL
    for valves in (4, 8, 12):
        yield f"{valves} valves", ladder(40, 1, valves), USUAL
    for readings in (6, 25, 50, 100):
        yield f"40 parts, {readings} readings", ladder(40), readings
    # Last, for it takes longer than all others together.
    yield "200 parts", ladder(200), USUAL


def _row(name: str, text: str, count: int, service: Service, runs: int) -> None:
    circuit, findings = parse_circuit(Source("ladder.bias", text))
    assert circuit is not None, findings
    section = Section(circuit)
    checked = median_time(lambda: check(Section(circuit)), max(1, runs // 3))
    predicted = median_time(lambda: predict(Predictor(section, service)), 1)
    predictor = Predictor(section, service)
    cells = [f"{checked * 1e3:>7.0f} ms", f"{predicted * 1e3:>7.0f} ms"]
    try:
        begun = time.perf_counter()
        model = SectionModel(predictor)
        cells.append(f"{(time.perf_counter() - begun) * 1e3:>7.0f} ms")
        chassis = Chassis(section, [], 1, service)
        plan = plans.voltages_and_resistances(predictor)
        readings = chassis.readings(plan[:: max(1, len(plan) // count)][:count])
        taken = median_time(lambda: diagnose(model, readings, 2026), 1)
        cells += [f"{taken * 1e3:>7.0f} ms", f"{len(readings):>10}"]
    except EngineError as error:
        cells.append(f"  {error}")
    print(f"{name:<28}{''.join(cells)}", flush=True)
