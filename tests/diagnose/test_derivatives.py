"""The derivatives of predicted readings against central differences, in random conditions."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt
import pytest

from netcheck.diagnose.hypotheses import single
from netcheck.engine.elements import Floats
from netcheck.graph import Section
from netcheck.netlist import Pot, Resistor, Valve
from netcheck.readings import Kind, Reading
from netcheck.readout.coordinates import Priors
from netcheck.readout.model import SectionModel
from netcheck.readout.readout import Readout

from ..chassis.plans import front_nodes, quiet_nodes
from .conftest import Models
from .sections import METER, YEAR, at, dc, ohms

CIRCUITS = ["two-6v6gt-foot", "two-el84-doubler", "two-el34-zener", "two-6v6gta-direct"]
STEP = 2e-4
Flags = npt.NDArray[np.bool_]


def readings_of(section: Section) -> Iterator[Reading]:
    """Every kind of reading of a section."""
    pots = [pot.name for pot in section.circuit.of(Pot)]
    places: tuple[float | str, ...] = (0.0, "middle", 0.7)
    for turn, travel in enumerate(places):
        state = at(dict.fromkeys(pots, travel), turn=turn)
        for node in [*quiet_nodes(section), *front_nodes(section)]:
            yield dc(node, -30.0, state)
        for valve in section.circuit.of(Valve):
            yield Reading(Kind.CURRENT, 20e-3, 1e-4, state, METER, part=valve.name)
    for node in quiet_nodes(section):
        yield Reading(Kind.AC, 0.3, 1e-3, state, METER, node, "ground")
        yield Reading(Kind.RIPPLE, 0.3, 1e-3, state, METER, node, "ground")
    off = at(dict.fromkeys(pots, "middle"), live=False, turn=9)
    for resistor in section.circuit.of(Resistor):
        yield ohms((resistor.start, resistor.end), 10e3, off, resistor.name)


def conditions(model: SectionModel, readout: Readout, count: int) -> tuple[Floats, Flags]:
    """Random chassis, each with one of the faults, and which coordinates a fit may move there."""
    rng = np.random.default_rng(4)
    every = single(model.section, readout.readings)
    picked = [every[k] for k in rng.choice(len(every), count, replace=False)]
    priors = Priors([readout.coordinates.row(h.changes) for h in picked])
    u = np.clip(rng.normal(size=(count, len(readout.coordinates))), -2.5, 2.5)
    return priors.at(u, np.arange(count))[0], priors.free


@pytest.mark.parametrize("name", CIRCUITS)
def test_every_derivative(name: str, models: Models) -> None:
    model = models(name)
    readout = Readout(model, list(readings_of(model.section)), YEAR)
    sigma = np.array([m.sigma for m in readout.measured])
    x, free = conditions(model, readout, 24)
    y, slope = readout.predict(x)
    assert np.all(np.isfinite(y))
    shares = []
    for k in range(len(readout.coordinates)):
        rows = np.flatnonzero(free[:, k])
        if not rows.size:
            continue
        up, down = x[rows], x[rows]
        up[:, k] += STEP
        down[:, k] -= STEP
        found = (readout.predict(up)[0] - readout.predict(down)[0]) / (2.0 * STEP)
        shares.append((np.abs(slope[rows, :, k] - found) / (np.abs(found) + sigma)).ravel())
    share = np.concatenate(shares)
    # The rectifier's curve is a table, straight between its points, and what a meter changes in
    # the curve's own slope is left out: where either shows, a fit takes a step more, no other way.
    assert np.mean(share > 0.01) < 0.01
    assert np.max(share) < 1.0
