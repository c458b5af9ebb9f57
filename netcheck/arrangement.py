"""What kind of bias supply a section is, in words: from how it is wired alone."""

from __future__ import annotations

from dataclasses import dataclass

from .graph import Section
from .netlist import GROUND, OPEN, Capacitor, Diode, Pot, Supply, Winding
from .roles import Cast, Role
from .topology import Topology


@dataclass(frozen=True, slots=True)
class Arrangement:
    """A bias supply in words.

    Parameters
    ----------
    supply : str
        How the direct voltage is made: "half-wave from a winding".
    setting : str
        How it is set: "pot above a foot resistor".
    extras : tuple of str
        Further features: "wiper smoothed".
    grids : int
        Grids that are fed. [count]
    """

    supply: str
    setting: str
    extras: tuple[str, ...]
    grids: int

    @property
    def sentence(self) -> str:
        """All of it in one sentence."""
        feeds = f"feeds {self.grids} grid{'' if self.grids == 1 else 's'}"
        return "; ".join([self.supply, self.setting, *self.extras, feeds])


def arrangement(section: Section) -> Arrangement:
    """Recognise the arrangement of a section.

    Parameters
    ----------
    section : Section
        The section; names, values and the order of its lines make no difference.
    """
    cast = Cast(Topology(section))
    return Arrangement(_supply(cast), _setting(cast), tuple(_extras(cast)), len(section.grids))


# ------------------------------------------------------------------------ the supply


def _supply(cast: Cast) -> str:
    topology = cast.topology
    windings = list(topology.section.circuit.of(Winding))
    diodes = [d for d in topology.rectifiers if cast.roles[d.name] is not Role.DIODE]
    if cast.named(Role.BACK_BIAS):
        return "back bias from the current of the high tension"
    if not diodes:
        if any(isinstance(part, Supply) for part in topology.section.circuit.parts):
            return "from a direct supply made elsewhere"
        return "no rectifier" if windings else "no supply in the section"
    return f"{_rectifier(cast, diodes)} {_source(windings)}"


def _rectifier(cast: Cast, diodes: list[Diode]) -> str:
    materials = {d.material for d in diodes} - {"silicon"}
    by = f" ({', '.join(sorted(materials))})" if materials else ""
    if cast.named(Role.DOUBLER):
        return f"voltage doubler{by}"
    if cast.named(Role.FRONT_COUPLING):
        coupled = [cast.topology.section.circuit.part(n) for n in cast.named(Role.FRONT_COUPLING)]
        if any(isinstance(c, Capacitor) and not c.polarised for c in coupled):
            return f"capacitor-coupled{by}"
        return f"voltage doubler{by}"
    if len(diodes) >= 4 and _is_bridge(cast, diodes):
        return f"full-wave bridge{by}"
    if len(diodes) >= 2 and _has_centre(cast):
        return f"full-wave{by}"
    return f"half-wave{by}"


def _is_bridge(cast: Cast, diodes: list[Diode]) -> bool:
    """Two diodes at each of two nodes that alternate against each other."""
    at = cast.topology.at
    ends = [node for d in diodes for node in (at(d.anode), at(d.cathode))]
    hot = {node for node in ends if node in cast.topology.hot and ends.count(node) >= 2}
    return len(hot) >= 2


def _has_centre(cast: Cast) -> bool:
    """Whether a winding is held at its middle, or two stand back to back."""
    topology = cast.topology
    for winding in topology.section.circuit.of(Winding):
        if winding.centre is not None and topology.at(winding.centre) in topology.quiet:
            return True
    held = [w for w in topology.section.circuit.of(Winding)
            if {topology.at(w.start), topology.at(w.end)} & topology.quiet]  # fmt: skip
    return len(held) > 1


def _source(windings: list[Winding]) -> str:
    """Where the alternating voltage comes from.

    Above 150 V a winding is there for the high tension: bias windings have 30 to 80 V.
    """
    if any(winding.taps for winding in windings):
        return "from a tap on a winding"
    if any(winding.v_rms > 150.0 for winding in windings):
        return "from a high-tension winding"
    return "from a bias winding"


# ----------------------------------------------------------------------- the setting


def _setting(cast: Cast) -> str:
    bias, balance = cast.named(Role.BIAS_POT), cast.named(Role.BALANCE_POT)
    circuit = cast.topology.section.circuit
    pots = [pot for pot in circuit.of(Pot) if pot.name in bias]
    if not bias and not balance:
        return "fixed, no pot"
    if not bias:
        return "balance only"
    kinds = dict.fromkeys(_pot_kind(cast, pot) for pot in pots)
    said = " and ".join(kinds)
    if len(bias) > 1:
        said = f"{_how_many(cast, len(bias))}, each a {said}"
    return f"bias and balance: {said}, and a balance pot" if balance else said


def _how_many(cast: Cast, count: int) -> str:
    grids = len(cast.topology.grids)
    return "one pot per valve" if count == grids else f"{count} pots"


def _pot_kind(cast: Cast, pot: Pot) -> str:
    at = cast.topology.at
    ends = [at(node) for node in (pot.top, pot.bottom) if node != OPEN]
    if len(ends) < 2 or at(pot.wiper) in ends:
        return _rheostat_kind(cast, pot)
    if cast.named(Role.FOOT):
        return "pot above a foot resistor"
    if GROUND in ends:
        return "pot across the supply"
    return "pot as divider"


def _rheostat_kind(cast: Cast, pot: Pot) -> str:
    """A pot of which two terminals are used: towards ground or towards the supply."""
    divider, at = cast.divider, cast.topology.at
    nodes = {at(node) for _, node in pot.terminals if node != OPEN}
    if GROUND in nodes:
        return "pot as rheostat in the foot"
    edges = [e for e in divider.edges if e.part is pot]
    others = {e.key for e in divider.edges if e.part is not pot}
    for edge in edges:
        for end in (edge.a, edge.b):
            below = cast.topology.reach([end], lambda e: e.key in others, lambda n: n != GROUND)
            if not below & divider.outputs and not below & divider.line:
                return "pot as rheostat in the foot"
    return "pot as rheostat in series"


def _extras(cast: Cast) -> list[str]:
    words = {
        Role.REGULATOR: "zener-regulated",
        Role.SMOOTHING: "smoothed in stages",
        Role.LINE_SMOOTHING: "wiper smoothed",
        Role.WIPER_SAFETY: "wiper held by a resistor",
    }
    return [word for role, word in words.items() if cast.named(role)]
