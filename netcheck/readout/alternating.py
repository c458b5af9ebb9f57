"""Ripple behind the rectifier: what smoothing leaves of the port's, at its main frequency."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..engine.elements import GROUND, Floats
from ..netlist import Capacitor
from .nodal import Wiring

if TYPE_CHECKING:
    from .model import SectionModel
    from .readout import LiveState

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
        assert model.front is not None and model.predictor.frequency is not None
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
        from .readout import LiveState  # noqa: PLC0415

        model = self._model
        values = model.predictor.values()
        whole = model.predictor.whole(values)
        drawn = coordinates(model.section, [], 0)
        x = {name: np.array([_middle(prior.kind, prior.a, prior.b)])
             for name, prior in zip(drawn.names, drawn.sound, strict=True)}  # fmt: skip
        for capacitor in model.section.circuit.of(Capacitor):
            x[f"{capacitor.name}.esr"] = np.array([np.log(max(capacitor.esr, 0.05))])
        travel = {name.removesuffix(".travel"): np.array([float(at)])
                  for name, at in values.items() if name.endswith(".travel")}  # fmt: skip
        state = LiveState(model, x, travel, True)
        waves = whole.state.waves

        def rms(node: str) -> float:
            wave = waves.v[node]
            return waves.rms(wave - waves.mean(wave))

        found = {}
        for node in nodes:
            share = abs(self._transfer(state)[0][0, self._wiring.index[node]])
            rms_share = rms(node) / max(rms(str(model.port)), 1e-9)
            pp_share = whole.ripple[node] / max(whole.ripple[str(model.port)], 1e-9)
            found[node, "ripple"] = float(rms_share / max(share, 1e-12))
            found[node, "ripple pp"] = float(pp_share / max(share, 1e-12))
        return found

    def _admittances(self, state: LiveState
                     ) -> tuple[np.ndarray, list[tuple[int, str, np.ndarray]]]:  # fmt: skip
        rows, x = state.g.shape[0], state.x
        y = np.zeros((rows, len(self._wiring.incidence)), dtype=complex)
        y[:, : state.g.shape[1]] = state.g
        slopes = [(k, name, -state.g[:, k] * slope) for k, name, slope in state.slopes]
        for k, (_, _, name) in enumerate(self._capacitors, start=state.g.shape[1]):
            esr = np.exp(x[f"{name}.esr"])
            reactance = 1.0 / (1j * self._omega * np.exp(x[name]))
            y[:, k] = 1.0 / (esr + reactance)
            slopes.append((k, name, y[:, k] ** 2 * reactance))
            slopes.append((k, f"{name}.esr", -(y[:, k] ** 2) * esr))
        return y, slopes

    def _transfer(self, state: LiveState
                  ) -> tuple[np.ndarray, np.ndarray, list[tuple[int, str, np.ndarray]]]:  # fmt: skip
        """Node voltages for 1 V at the port, the inverse, and derivatives of admittances."""
        y, slopes = self._admittances(state)
        p = self._wiring.index[str(self._model.port)]
        n = len(self._wiring.nodes)
        matrix = (y @ self._wiring.outer).reshape(-1, n, n)
        matrix[:, range(n), range(n)] += 1e-12
        matrix[:, p, p] += _TIED
        z = np.linalg.inv(matrix)
        return _TIED * z[:, :, p], z, slopes

    def share(self, node: str, kind: str, state: LiveState) -> tuple[Floats, dict[str, Floats]]:
        """Share of the port's ripple at a node, with its derivatives.

        Parameters
        ----------
        node : str
            The node.
        kind : str
            "ripple" or "ripple pp".
        state : LiveState
            The conditions.
        """
        calibration = self._calibration[node, kind]
        transfer, z, slopes = self._transfer(state)
        o = self._wiring.index[node]
        size = np.abs(transfer[:, o])
        incidence = self._wiring.incidence
        along, across = z[:, o] @ incidence.T, transfer @ incidence.T
        by: dict[str, Floats] = {}
        for k, name, slope in slopes:
            d = -along[:, k] * across[:, k] * slope
            change = np.real(d * np.conj(transfer[:, o])) / np.maximum(size, 1e-15)
            by[name] = by.get(name, 0.0) + calibration * change
        return calibration * size, by


def _middle(kind: int, a: float, b: float) -> float:
    """The middle of a prior, such as the nominal value of a part."""
    from .coordinates import BOX, EVEN  # noqa: PLC0415

    if kind == BOX:
        return float(np.log(0.5 * (np.exp(a) + np.exp(b))))
    return 0.5 * (a + b) if kind == EVEN else a

