"""What a meter's diode test shows, by ngspice: the whole circuit at rest, a current through it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from netcheck.engine.elements import (
    CurrentSource,
    DcSource,
    Element,
    Resistance,
    SineSource,
    SteadyState,
)
from netcheck.engine.service import Service
from netcheck.engine.steady import steady_state
from netcheck.netlist import Circuit, Zener

from .wiring import anchored

V_MOST = 2.0
"""Beyond it the meter shows OL; common practice. [V]"""
I_TEST = 1e-3
"""What the meter drives; common practice. [A]"""
SPREAD = 0.35
"""Of the logarithm of that from meter to meter, a standard deviation; common practice. [1]"""

_R_LIMIT = 1e5  # across the source: no meter drives its current against any volts [ohm]


def shown(circuit: Circuit, elements: Sequence[Element], a: str, b: str, i_test: float,
          service: Service) -> float:  # fmt: skip
    """Volts with the red lead on node a and the black one on b; infinite for OL. [V]

    Parameters
    ----------
    circuit : Circuit
        What the elements are of.
    elements : sequence of Element
        The chassis with its power on.
    a, b : str
        Nodes.
    i_test : float
        What the meter drives. [A]
    service : Service
        The running simulator.
    """
    made = [*(dead(circuit, element) for element in elements),
            CurrentSource("meter", b, a, i_test), Resistance("limit", a, b, _R_LIMIT)]  # fmt: skip
    found: SteadyState = steady_state(anchored(made, opened=True), None, service=service)
    v = float(found.waves.across(a, b)[-1])
    return v if v < V_MOST else math.inf


def dead(circuit: Circuit, element: Element) -> Element:
    """An element with the power off; what stands for a zener's breakdown is no power."""
    own = tuple(f"{zener.name}." for zener in circuit.of(Zener))
    if isinstance(element, SineSource):
        return DcSource(element.name, element.a, element.b, 0.0)
    if isinstance(element, DcSource) and not (own and element.name.startswith(own)):
        return replace(element, v=0.0)
    return element
