"""Diodes that conduct while a resistance is read in the circuit."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..assumed import I_DROP
from ..engine.elements import Floats
from ..model import I_SATURATION
from ..netlist import Diode, Zener
from ..readings import OVERLOAD, Kind, Reading
from .coordinates import Coordinates, position
from .model import SectionModel

I_BEGIN = 0.1e-3
"""A junction that carries so much conducts, as far as an ohmmeter is concerned: on a range of
some kilohms it drives about that; common practice. [A]"""
V_MOST = 3.0
"""Test volts that a meter may have which does not state them: hand-held ones have some 0.3 to
3 V; common practice. [V]"""
_R_ON = 1.0  # of a junction beyond its drop [ohm]


@dataclass(frozen=True, slots=True)
class Conduction:
    """Junctions that conduct with the meter's leads one way round.

    Parameters
    ----------
    junctions : tuple of str
        Diodes and zeners.
    red : str
        The node of the red lead, which is the positive one on ohms.
    r : float
        The least that the meter may show then: all its test volts are at the leads. [ohm]
    v_test : float
        The test volts. [V]
    """

    junctions: tuple[str, ...]
    red: str
    r: float
    v_test: float


def v_begin(drop: float) -> float:
    """Where a junction begins to conduct, by the exponential law. [V]

    Parameters
    ----------
    drop : float
        Its drop at 10 mA. [V]
    """
    return drop * math.log(I_BEGIN / I_SATURATION) / math.log(I_DROP / I_SATURATION)


def junction_branches(model: SectionModel) -> dict[str, int]:
    """The branch with the power off that each junction lies beside, by the part's name."""
    names = {p.name for p in model.section.circuit.parts if isinstance(p, Diode | Zener)}
    return {b.coordinate.removesuffix(".leak"): k for k, b in enumerate(model.off)
            if b.coordinate.removesuffix(".leak") in names}  # fmt: skip


def conductions(model: SectionModel, coordinates: Coordinates, x: Floats, reading: Reading,
                v_test: float) -> list[Conduction]:  # fmt: skip
    """The ways in which junctions may conduct while a resistance is read.

    Of a part that was read across, nobody wrote down which way round the leads were: both ways
    are looked at.

    Parameters
    ----------
    model : SectionModel
        The section.
    coordinates : Coordinates
        Of the readout that the reading is in.
    x : array, shape (coordinates,)
        The chassis as drawn.
    reading : Reading
        A resistance in circuit.
    v_test : float
        Volts of the meter at its open leads. [V]
    """
    if reading.kind is not Kind.OHMS or reading.nominal == OVERLOAD:
        return []
    named = {name: x[k : k + 1] for k, name in enumerate(coordinates.names)}
    ways = [(reading.plus, reading.minus)]
    if reading.part:
        ways.append((reading.minus, reading.plus))
    meter = _Meter(model, named, reading)
    found = (meter.read(plus, minus, v_test) for plus, minus in ways)
    return [one for one in found if one is not None]


class _Meter:
    """A meter on ohms at a section whose power is off.

    Parameters
    ----------
    model : SectionModel
        The section.
    x : mapping of coordinate name to array, shape (1,)
        The chassis.
    reading : Reading
        What is read.
    """

    def __init__(self, model: SectionModel, x: Mapping[str, Floats], reading: Reading) -> None:
        self._model = model
        pots = [pot.name for pot in model.predictor.pots()]
        travel = {pot: x[position(pot, reading.state)] for pot in pots}
        self._g = 1.0 / model.resistances(model.off, x, travel)[0]
        self._branch = junction_branches(model)
        self._junctions = {name: v for name, v in self._drops(x).items() if name in self._branch}

    def _drops(self, x: Mapping[str, Floats]) -> dict[str, float]:
        """Where each junction begins to conduct; a valve rectifier is cold and never does. [V]"""
        circuit = self._model.section.circuit
        found = {zener.name: v_begin(0.7) for zener in circuit.of(Zener)}
        for diode in circuit.of(Diode):
            if diode.material != "vacuum":
                found[diode.name] = v_begin(math.exp(float(x[f"{diode.name}.drop"][0])))
        return found

    def read(self, plus: str, minus: str, v_test: float) -> Conduction | None:
        """What it shows with the leads this way round; None if no junction conducts."""
        wiring, joined = self._model.off_wiring, self._model.section.joined
        if joined[plus] == joined[minus]:  # a part whose ends are one node: the leads are shorted
            return None
        leads = wiring.probe(joined[plus], joined[minus])
        on: list[str] = []
        while True:
            z, r, v_own = self._solved(leads, on)
            # All nodes with the test volts at the leads and the drops of what conducts.
            v = z @ leads * (v_test - v_own) / r + self._emf(z, on)
            more = [name for name, begin in self._junctions.items()
                    if name not in on and self._across(name) @ v > begin]  # fmt: skip
            if not more:
                break
            on += more
        if not on or v_test <= v_own:
            return None
        return Conduction(tuple(on), plus, r * v_test / (v_test - v_own), v_test)

    def _across(self, name: str) -> Floats:
        picked: Floats = self._model.off_wiring.incidence[self._branch[name]]
        return picked

    def _emf(self, z: Floats, on: Sequence[str]) -> Floats:
        """Node volts that the drops of conducting junctions make alone. [V]"""
        driven = np.zeros(z.shape[0])
        for name in on:
            driven += self._across(name) * self._junctions[name] / _R_ON
        return np.asarray(z @ driven)

    def _solved(self, leads: Floats, on: Sequence[str]) -> tuple[Floats, float, float]:
        """The inverse, the resistance at the leads, and the volts there that drops make."""
        g = self._g.copy()
        for name in on:
            g[0, self._branch[name]] += 1.0 / _R_ON
        z = np.asarray(self._model.off_wiring.inverse(g), dtype=float)[0]
        return z, float(leads @ z @ leads), float(leads @ self._emf(z, on))
