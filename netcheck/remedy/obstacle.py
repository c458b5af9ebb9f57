"""Where nothing serves: what stands in the way, and what would have to change."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..engine.service import Service
from ..graph import Section
from ..netlist import Circuit, Supply, Winding
from ..predictor import Predictor
from ..quantity import Dimension, show, show_part
from .aim import Aim, Mark
from .option import Option
from .score import NEAR_END
from .search import Tried
from .words import listed, way_words

_HEADROOM = 1.25
"""A supply gives so many times what the grids want, for a divider to work with; common
practice. [1]"""
_NOTHING = 0.1  # volts of a supply that is none


def obstacle(circuit: Circuit, service: Service, goal: Aim, reference: Option,
             tried: Sequence[Tried]) -> Iterator[str]:  # fmt: skip
    """What stands in the way, sentences.

    Parameters
    ----------
    circuit : Circuit
        That nothing served.
    service : Service
        The running simulator.
    goal : Aim
        What is wanted.
    reference : Option
        The circuit as it is.
    tried : sequence of Tried
        All that was tried.

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    deepest = min(goal.marks, key=lambda mark: mark.v_middle)
    node, volts = _supply(circuit, service)
    yield _wanted(goal, deepest, reference)
    if not node:
        yield "Nothing in the section makes a negative voltage."
        return
    if volts > deepest.v_middle:
        yield (f"The supply gives {_v(volts)} at {node}, and nothing behind it can make more of "
               "that.")  # fmt: skip
        yield _more_volts(circuit, deepest.v_middle / volts)
        return
    if not tried:
        yield "No resistor and no pot of the section acts on the grids."
        return
    best = max(tried, key=lambda one: one.total)
    yield f"Nearest comes this: {way_words(circuit, best.way)}: {_falls_short(best)}."
    yield "Two values would have to change at once, or the supply's volts."


def _v(volts: float) -> str:
    return show(volts, Dimension.VOLT)


def _wanted(goal: Aim, mark: Mark, reference: Option) -> str:
    """What is wanted, and what there is."""
    v = reference.v_grids[:, mark.column]
    least, most = float(v.min()), float(v.max())
    has = f"{_v(least)} to {_v(most)}" if most - least > 0.05 else _v(least)
    if goal.v_grid is not None:
        return f"{mark.node} is to have {_v(mark.v_middle)}; as it is it has {has}."
    return (f"{mark.name} wants {_v(mark.v_cold)} to {_v(mark.v_hot)} at its grid; as it is it has "
            f"{has}.")  # fmt: skip


def _supply(circuit: Circuit, service: Service) -> tuple[str, float]:
    """The most negative node that a rectifier or a supply holds, and its volts; else empty.

    Pots stand at the middle. [V]
    """
    section = Section(circuit)
    predictor = Predictor(section, service)
    mean = predictor.whole(predictor.values()).mean
    nodes = list(section.cut.ports) if section.cut is not None else []
    nodes += [part.minus for part in circuit.of(Supply)]
    if not nodes and any(section.sources):
        nodes = list(mean)
    node = min(nodes, key=lambda n: mean.get(n, 0.0), default="")
    return (node, mean[node]) if mean.get(node, 0.0) < -_NOTHING else ("", 0.0)


def _more_volts(circuit: Circuit, times: float) -> str:
    """What the source would have to give."""
    sources = [(p.name, p.v_rms, Dimension.VOLT_AC) for p in circuit.of(Winding)]
    sources += [(p.name, p.v, Dimension.VOLT) for p in circuit.of(Supply)]
    change = "valves, plate or screen volts that want less bias"
    if len(sources) != 1:
        return f"It takes a supply that is more negative, or {change}."
    name, now, dimension = sources[0]
    wanted = show(times * now * _HEADROOM, dimension, 2)
    now_there = f"{show_part(now, dimension)} of {name}"
    return f"It takes about {wanted} in place of the {now_there}, or {change}."


def _falls_short(best: Tried) -> str:
    """Where the best of all falls short."""
    found = best.figures
    if not found.has_travel:
        return "the grid is still too negative" if found.off < 0 else "the grid is still too hot"
    out = [fall for fall in found.falls if fall.middle is None]
    if out:
        names = listed([fall.mark.name for fall in out])
        cold = all(fall.v_most < fall.mark.v_middle for fall in out)
        return f"{names} still runs out of travel, too {'cold' if cold else 'hot'} at its end"
    middle = found.middle or 0.0
    side = "anticlockwise" if middle < NEAR_END else "clockwise"
    return f"the window is still near the {side} end, its middle at {middle * 100:.0f} %"
