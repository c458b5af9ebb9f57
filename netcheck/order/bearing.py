"""What parts have to bear: loaded, as the worst case has it, and with the load gone.

The volts of a bias supply are held down by what it feeds. When the track of the pot breaks or
the foot resistor opens, all electrolytics behind the rectifier rise to its peak: they are rated
for that. A supply that is dropped from far higher volts would rise beyond any capacitor; there
the rating is for the load that is drawn, as practice has it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..errors import EngineError
from ..netlist import GROUND, Capacitor, Pot, Resistor, Supply, Winding
from ..partwork import part_work
from ..predictor import Predictor
from ..roles import Role, roles
from ..stress import Stress, Stresses
from ..tolerance import tolerances
from ..worstcase import stresses

_LOADS = frozenset({Role.FOOT, Role.BLEEDER, Role.WIPER_LOAD})
_GONE = 1e5  # so many times its value is as good as open [1]
_DROPPED = 2.0
"""A supply that rises to more than so many times without its load is dropped by it. [1]"""


@dataclass(frozen=True)
class Bearing:
    """What parts have to bear.

    Parameters
    ----------
    loaded : Stresses or None
        At the worst corner of mains and tolerances; None without a simulation.
    unloaded : mapping of capacitor name to float
        Of those behind the rectifier: largest volts with mains and sources at the top of their
        tolerance and the load gone; empty where that cannot be simulated. [V]
    rise : float
        The largest mean volts behind the rectifier without the load, over those with it. [1]
    """

    loaded: Stresses | None = None
    unloaded: Mapping[str, float] = field(default_factory=dict)
    rise: float = 1.0

    def stress(self, name: str) -> Stress:
        """What a part bears with the load in place."""
        return Stress() if self.loaded is None else self.loaded.parts.get(name, Stress())

    @property
    def is_dropped(self) -> bool:
        """Whether the load holds down far higher volts."""
        return self.rise > _DROPPED

    @property
    def _largest(self) -> float:
        return max((self.stress(name).v_peak for name in self.unloaded), default=0.0)

    def to_stand(self, name: str) -> float:
        """The volts that a capacitor is rated for. [V]"""
        loaded, unloaded = self.stress(name).v_peak, self.unloaded.get(name, 0.0)
        if self.is_dropped:
            unloaded = min(unloaded, self._largest)
        return max(loaded, unloaded)


def bearing(predictor: Predictor) -> Bearing:
    """Simulate what the parts of a section have to bear.

    Parameters
    ----------
    predictor : Predictor
        Of a section with a source.

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    unloaded, rise = _unloaded(predictor)
    return Bearing(stresses(predictor), unloaded, rise)


def _unloaded(predictor: Predictor) -> tuple[dict[str, float], float]:
    """Largest volts of capacitors without the load, and how far the supply rises."""
    section = predictor.section
    circuit, values = section.circuit, predictor.values()
    sources = {part.name for part in circuit.parts if isinstance(part, Winding | Supply)}
    for name, tolerance in tolerances(section, predictor.changes).items():
        if name in sources or name == "mains":
            values[name] = values[name] * (1.0 + tolerance)
    bare = values | {name: _GONE * values[name] for name in _loads(predictor)}
    loaded, answer = predictor.tries([(values, ()), (bare, ())])
    if isinstance(answer, EngineError) or isinstance(loaded, EngineError):
        return {}, 1.0
    work = part_work(circuit, bare, answer.state.waves)
    cut = section.cut
    front, inside = (frozenset(), frozenset()) if cut is None else (cut.front, cut.front_nodes)
    found = {c.name: max(abs(work[c.name].v_high), abs(work[c.name].v_low))
             for c in circuit.of(Capacitor) if c.name in work and c.name not in front}  # fmt: skip
    behind = [node for node in answer.mean if section.at(node) not in inside]
    most = [max((abs(one.mean[node]) for node in behind), default=0.0) for one in (loaded, answer)]
    return found, most[1] / most[0] if most[0] else 1.0


def _loads(predictor: Predictor) -> list[str]:
    """The parts through which the supply's current reaches ground."""
    section, known = predictor.section, roles(predictor.section)
    found = [r.name for r in section.circuit.of(Resistor) if known.get(r.name) in _LOADS]
    for pot in section.circuit.of(Pot):
        ends = {section.at(node) for _, node in pot.terminals}
        if GROUND in ends and known.get(pot.name) is Role.BIAS_POT:
            found.append(pot.name)
    return found
