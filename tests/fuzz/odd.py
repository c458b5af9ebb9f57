"""Circuits that nobody would build, taken through the commands, and both ways of predicting them."""

from __future__ import annotations

from pathlib import Path
from random import Random

from netcheck.engine.service import Service
from netcheck.errors import EngineError
from netcheck.graph import Section
from netcheck.model import Value
from netcheck.parse import parse_circuit
from netcheck.predictor import Predictor
from netcheck.source import Source

from .circuits import circuit, readings
from .judged import Called, called

LONGEST = 300.0
"""A diagnosis simulates some 200 states, each of which may be a hard one here. [s]"""

WITHIN = (20e-3, 1e-3)
"""What the fast path may be off, as on sound circuits (tests/published/test_fast_path): absolute,
which is what the search for a steady state and the points of a curve leave, and as a fraction.
[V], [1]"""

IDLE = 1e-8
"""A port that gives less is left out: a capacitor that nothing discharges keeps whatever the search
for a steady state put on it, so that there is no one answer to agree on. [A]"""

_COMMANDS = {
    "check": ["check", "it.bias", "--json"],
    "predict": ["predict", "it.bias", "--json"],
    "compare": ["compare", "it.bias", "it.readings", "--json"],
    "diagnose": ["diagnose", "it.bias", "it.readings", "--json"],
}


def answered(seed: int, commands: tuple[str, ...] = tuple(_COMMANDS)) -> list[Called]:
    """What commands make of a circuit, in the working folder.

    Parameters
    ----------
    seed : int
        Of the circuit and its readings.
    commands : tuple of str
        Which commands.
    """
    text = circuit(seed)
    Path("it.bias").write_text(text, encoding="utf-8")
    Path("it.readings").write_text(readings(text, seed, "it.bias"), encoding="utf-8")
    calls = [called(_COMMANDS[command], limit=LONGEST) for command in commands]
    for call in calls:
        call.wrong += unclear(call)
    return calls


def unclear(call: Called) -> list[str]:
    """What is wrong with how a command said that there is no answer."""
    if call.code == 3 and not call.command.startswith("check"):
        said = call.err.rstrip("\n").split("\n")
        if call.out or len(said) > 1 or not said[0].startswith("no prediction: "):
            return [f"no clear refusal: {call.err[:300]!r}"]
        if "probe" in said[0]:
            return [f"it names a part that is not in the circuit: {said[0]}"]
    return []


def disagreements(text: str, seed: int, service: Service, states: int = 2) -> list[str] | None:
    """Where the fast path and the whole simulation of a circuit differ.

    Parameters
    ----------
    text : str
        The circuit.
    seed : int
        Of where its pots stand.
    service : Service
        The running simulator.
    states : int
        How many positions. [count]

    Returns
    -------
    list of str, or None
        None if one of the two does not answer, or there is no fast path.
    """
    drawn, findings = parse_circuit(Source("it.bias", text))
    assert drawn is not None, findings
    predictor = Predictor(Section(drawn), service)
    if predictor.network is None or not predictor.section.sources:
        return None
    random = Random(f"positions {seed}")
    found: list[str] = []
    for _ in range(states):
        travel = {pot.name: random.choice((0.0, 1.0, random.random())) for pot in predictor.pots()}
        try:
            found += _apart(predictor, predictor.values(travel))
        except EngineError:
            return None
    return found


def _apart(predictor: Predictor, values: dict[str, Value]) -> list[str]:
    """The nodes behind the rectifiers at which the two ways differ in one state."""
    whole, fast = predictor.whole(values), predictor.means(values)
    if not whole.state.converged or any(abs(i[0]) < IDLE for i in fast.i_port.values()):
        return []
    volts = {node: (float(fast.at(node)[0]), whole.mean[node]) for node in fast.nodes}
    return [f"{node}: fast {one:.5g} V, whole {other:.5g} V" for node, (one, other) in volts.items()
            if abs(one - other) > max(WITHIN[0], WITHIN[1] * abs(other))]  # fmt: skip
