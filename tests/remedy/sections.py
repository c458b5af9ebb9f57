"""Small circuits to be put right, and what is done to them."""

from __future__ import annotations

from netcheck.engine.service import Service
from netcheck.netlist import Circuit
from netcheck.parse import parse_circuit
from netcheck.predictor import Predictor
from netcheck.remedy.start import Start, as_drawn
from netcheck.remedy.study import Remedies, remedies
from netcheck.source import Source
from netcheck.sweeping import swept_pots

DIVIDER = """\
circuit "A divider on a supply"
supply S1 plus ground minus raw {supply} 1% source 100 ohm
resistor R1 from raw to head {series} 5% 0.5 W   # series
pot RV1 top head wiper sweep bottom foot 10k 20% linear clockwise bottom
resistor R2 from foot to ground {foot} 5% 0.5 W # foot
resistor R3 from sweep to grid1 68k
resistor R4 from sweep to grid2 68k
valve V1 6V6GTA grid grid1 plate 345 V screen 310 V cathode 1 ohm{first}
valve V2 6V6GTA grid grid2 plate 345 V screen 310 V cathode 1 ohm{second}
"""


def circuit_of(text: str) -> Circuit:
    """The circuit in a text without errors."""
    circuit, findings = parse_circuit(Source("test.bias", text))
    assert circuit is not None, findings
    return circuit


def divider(supply: str = "42 V", series: str = "15k", foot: str = "27k", first: str = "",
            second: str = "") -> Circuit:  # fmt: skip
    """Behind a direct supply: means are those of a resistive network, exactly."""
    return circuit_of(
        DIVIDER.format(supply=supply, series=series, foot=foot, first=first, second=second)
    )


def of(predictor: Predictor) -> tuple[str, ...]:
    """The pots that set the bias."""
    return swept_pots(predictor)


def quiet(what: str, done: int, total: int) -> None:
    """Nobody watches."""


def put_right(circuit: Circuit | Start, service: Service, v_grid: float | None = None) -> Remedies:
    """What could be done to a circuit."""
    start = as_drawn(circuit) if isinstance(circuit, Circuit) else circuit
    return remedies(start, service, quiet, v_grid=v_grid)
