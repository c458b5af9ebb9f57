"""Ripple behind the rectifier: what smoothing leaves of the port's, at its main frequency."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from ..engine.elements import GROUND, Floats
from ..netlist import Capacitor
from .nodal import Wiring

if TYPE_CHECKING:
    from .live import LiveState
    from .model import SectionModel

Complex = npt.NDArray[np.complex128]

_TIED = 1e3  # admittance that holds the port at its voltage [S]


class Alternating:
    """Shares of the port's ripple at nodes behind it.

    Parameters
    ----------
    model : SectionModel
        The section.
    nodes : tuple of str
        The nodes that are asked for.

    Notes
    -----
    A whole simulation of the drawn section gives the ripple of each node; what another
    condition makes of it follows from linear alternating-current analysis at the frequency of
    the port's ripple.
    """

    def __init__(self, model: SectionModel, nodes: tuple[str, ...]) -> None:
        self._model = model
        assert model.front is not None
        assert model.predictor.frequency is not None
        self._omega = 2.0 * np.pi * model.predictor.frequency * model.front.harmonic
        at = model.section.joined
        self._capacitors = [
            (at[c.start], at[c.end], c.name) for c in model.section.circuit.of(Capacitor)
            if at[c.start] != at[c.end]
            and not {at[c.start], at[c.end]} & model.front_nodes
            and {at[c.start], at[c.end]} != {model.port, GROUND}
        ]  # fmt: skip
        ends = [(b.a, b.b) for b in model.live] + [(a, b) for a, b, _ in self._capacitors]
        self._wiring = Wiring(ends, model.live_wiring.nodes)
        self._calibration = self._calibrate(nodes)

    def _calibrate(self, nodes: tuple[str, ...]) -> dict[tuple[str, str], float]:
        """What the simulated share of each node is of the one by linear analysis."""
        from .coordinates import coordinates  # noqa: PLC0415
        from .live import LiveState  # noqa: PLC0415

        model = self._model
        values = model.predictor.values()
        whole = model.predictor.whole(values)
        drawn = coordinates(model.section, [], 0, model.undrawn)
        x = {name: np.array([_middle(prior.kind, prior.a, prior.b)])
             for name, prior in zip(drawn.names, drawn.sound, strict=True)}  # fmt: skip
        for capacitor in model.section.circuit.of(Capacitor):
            x[f"{capacitor.name}.esr"] = np.array([np.log(max(capacitor.esr, 0.05))])
        positions = {}
        for name, at in values.items():
            if name.endswith(".travel"):
                positions[name.removesuffix(".travel")] = name
                x[name] = np.array([float(at)])
        state = LiveState(model, x, positions, True, {name: k for k, name in enumerate(x)})
        self.solve(state)
        waves = whole.state.waves

        def rms(node: str) -> float:
            wave = waves.v[node]
            return waves.rms(wave - waves.mean(wave))

        found = {}
        for node in nodes:
            share = abs(self._transfer[0, self._wiring.index[node]])
            rms_share = rms(node) / max(rms(str(model.port)), 1e-9)
            pp_share = whole.ripple[node] / max(whole.ripple[str(model.port)], 1e-9)
            found[node, "ripple"] = float(rms_share / max(share, 1e-12))
            found[node, "ripple pp"] = float(pp_share / max(share, 1e-12))
        return found

    def _admittances(self, state: LiveState) -> Complex:
        rows, x = state.rows, state.x
        y = np.zeros((rows, len(self._wiring.incidence)), dtype=complex)
        y[:, : state.g.shape[1]] = state.g
        for k, (_, _, name) in enumerate(self._capacitors, start=state.g.shape[1]):
            reactance = 1.0 / (1j * self._omega * np.exp(x[name]))
            y[:, k] = 1.0 / (np.exp(x[f"{name}.esr"]) + reactance)
        return y

    def solve(self, state: LiveState) -> None:
        """Prepare the shares of one state."""
        self._state, self._y = state, self._admittances(state)
        p, n = self._wiring.index[str(self._model.port)], len(self._wiring.nodes)
        matrix = (self._y @ self._wiring.outer).reshape(-1, n, n)
        matrix[:, range(n), range(n)] += 1e-12
        matrix[:, p, p] += _TIED
        self._z = np.linalg.inv(matrix)
        # Node voltages for 1 V at the port.
        self._transfer = _TIED * self._z[:, :, p]
        self._across = self._transfer @ self._wiring.incidence.T

    def share(self, node: str, kind: str) -> tuple[Floats, Floats]:
        """Share of the port's ripple at a node in the state that was solved.

        Parameters
        ----------
        node : str
            The node.
        kind : str
            "ripple" or "ripple pp".

        Returns
        -------
        share : array, shape (rows,)
            [1]
        by : array, shape (rows, coordinates)
            Its derivative.
        """
        state, o = self._state, self._wiring.index[node]
        calibration = self._calibration[node, kind]
        here = self._transfer[:, o]
        size = np.abs(here)
        along = self._z[:, o] @ self._wiring.incidence.T
        # By the logarithm of each admittance.
        turned = np.conj(here) / np.maximum(size, 1e-15)
        change = -along * self._across * self._y * turned[:, None]
        resistive = state.g.shape[1]
        by = state.to_coordinates(-change[:, None, :resistive].real)[:, 0]
        for k, (_, _, name) in enumerate(self._capacitors, start=resistive):
            esr = np.exp(state.x[f"{name}.esr"])
            reactance = 1.0 / (1j * self._omega * np.exp(state.x[name]))
            for coordinate, part in ((name, reactance), (f"{name}.esr", -esr)):
                by[:, state.index[coordinate]] += (change[:, k] * self._y[:, k] * part).real
        return calibration * size, calibration * by


def _middle(kind: int, a: float, b: float) -> float:
    """The middle of a prior, such as the nominal value of a part."""
    from .coordinates import BOX, EVEN  # noqa: PLC0415

    if kind == BOX:
        return float(np.log(0.5 * (np.exp(a) + np.exp(b))))
    return 0.5 * (a + b) if kind == EVEN else a
