"""What the parts have to bear when mains and tolerances are at their worst.

Mains, windings and supplies stand at the top of their tolerance; with them all resistances
together at the bottom, at nominal and at the top, and the pots at both ends and in the
middle. Low resistances make the largest currents, high ones leave the largest voltages.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from .model import Value, spreads
from .netlist import Pot, Resistor, Supply, Winding
from .partwork import PartWork, largest, part_work
from .predictor import Predictor
from .stress import Stress, Stresses, ValveRange
from .sweeping import swept_pots
from .switchon import switch_on
from .tolerance import Band, tolerances
from .valvetravel import ValveTravel, valves_travel

_POSITIONS = (0.0, 0.5, 1.0)


def stresses(predictor: Predictor) -> Stresses:
    """Simulate the worst corners of a section.

    Parameters
    ----------
    predictor : Predictor
        Of the section.

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    section = predictor.section
    nominal = [predictor.values(at) for at in _POSITIONS]
    corners = [_corner(predictor, values, side) for values in nominal for side in (-1.0, 0.0, 1.0)]
    drawn = predictor.wholes([(values, ()) for values in nominal])
    answers = predictor.wholes([(values, ()) for values in corners])
    work = largest([
        part_work(section.circuit, values, answer.state.waves)
        for values, answer in zip(corners, answers, strict=True)
    ])  # fmt: skip
    watched = {node: [answer.mean[node] for answer in drawn]
               for node in section.watched}  # fmt: skip
    mains = section.circuit.mains
    share = float(corners[0].get("mains", 1.0)) if corners else 1.0
    return Stresses(
        {name: _stress(part) for name, part in work.items()},
        0.0 if mains is None else share * mains.v_nominal,
        {node: min(volts) for node, volts in watched.items()},
        _valves(predictor),
        _start(predictor, {node: volts[1] for node, volts in watched.items()}),
    )


def _start(predictor: Predictor, final: Mapping[str, float]) -> Mapping[str, float | None]:
    """How fast the bias comes up, where the high tension may come faster."""
    supply = predictor.section.circuit.high_tension
    if supply is None or not (supply.standby or supply.rectifier in ("silicon", "selenium")):
        return {}
    start = switch_on(predictor, predictor.values(), final)
    return {} if start is None else start.times


def _valves(predictor: Predictor) -> dict[str, ValveRange]:
    """What the travel makes of each valve."""
    section = predictor.section
    if not section.grids:
        return {}
    # A section that cannot be cut is simulated whole at each position: there, few will do.
    at = np.linspace(0.0, 1.0, 3 if predictor.network is None else 41)
    swept = {f"{pot}.travel": at for pot in swept_pots(predictor)}
    means = predictor.means(predictor.values() | swept, at.size)
    grids = np.stack([means.at(section.joined[node]) for node in section.watched], axis=1)
    found = valves_travel(section, at, grids, Band(grids, grids, grids, grids, {}))
    return {one.valve.name: _range(one) for one in found.valves}


def _range(one: ValveTravel) -> ValveRange:
    middle = 0.5 * sum(one.window) * one.limit
    v_plate, v_screen = one.valve.v_plate or 0.0, one.valve.v_screen or 0.0
    p_screen = middle / v_plate * one.idling.screen_share * v_screen if v_plate else 0.0
    return ValveRange(
        share_least=one.share_least,
        share_most=one.share_most,
        i_least=one.i_least,
        i_most=one.i_most,
        at_least=one.at_least,
        at_most=one.at_most,
        window=one.window,
        covered=one.inside is not None,
        p_total=middle + p_screen,
    )


def _corner(predictor: Predictor, values: Mapping[str, Value], side: float) -> dict[str, Value]:
    """All sources at the top of their tolerance, all resistances at one side of theirs."""
    circuit = predictor.section.circuit
    corner = dict(values)
    sources = {part.name for part in circuit.parts if isinstance(part, Winding | Supply)}
    resistances = {part.name for part in circuit.parts if isinstance(part, Resistor | Pot)}
    for name, tolerance in spreads(circuit).items():
        if name in sources:
            corner[name] = corner[name] * (1.0 + tolerance)
        elif name in resistances:
            corner[name] = corner[name] * (1.0 + side * tolerance)
    mains = tolerances(predictor.section, predictor.changes).get("mains", 0.0)
    if "mains" in corner:
        corner["mains"] = corner["mains"] * (1.0 + mains)
    return corner


def _stress(work: PartWork) -> Stress:
    return Stress(max(work.v_high, 0.0), max(-work.v_low, 0.0), work.power, work.i_rms)
