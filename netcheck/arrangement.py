"""What kind of bias supply a section is, in words: from how it is wired.

Values make no difference, but that a winding's volts tell what else it is there for.
"""

from __future__ import annotations

from dataclasses import dataclass

from .graph import Section
from .netlist import GROUND, OPEN, Capacitor, Diode, Pot, Supply, Winding
from .polarity import MeanNetwork
from .roles import Cast, Role
from .topology import Topology

_HIGH_TENSION, _HEATER = 150.0, 15.0  # volts of windings: more than this, less than this
_NO_SHARE = 1e-6  # of a rectifier's volts, at the output of another one


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
        The section; names and the order of its lines make no difference.
    """
    cast = Cast(Topology(section))
    return Arrangement(_supply(cast), _setting(cast), tuple(_extras(cast)), len(section.grids))


# ------------------------------------------------------------------------ the supply


def _supply(cast: Cast) -> str:
    topology = cast.topology
    if cast.named(Role.BACK_BIAS):
        return "back bias from the current of the high tension"
    diodes = _feeding(cast)
    if not diodes:
        parts = topology.section.circuit.parts
        if any(isinstance(part, Supply) for part in parts):
            return "from a direct supply made elsewhere"
        has_winding = any(isinstance(part, Winding) for part in parts)
        return "no rectifier" if has_winding else "no supply in the section"
    materials = {d.material for d in diodes} - {"silicon"}
    by = f" ({', '.join(sorted(materials))})" if materials else ""
    return f"{_rectifier(cast, diodes)}{by} {_source(cast, diodes)}"


def _feeding(cast: Cast) -> list[Diode]:
    """The rectifiers that move the bias; others may make the high tension."""
    network = MeanNetwork(cast.topology, plain=True)
    volts = [v for node in cast.divider.outputs if (v := network.volts(node)) is not None]
    return [
        source
        for k, source in enumerate(network.sources)
        if isinstance(source, Diode) and any(abs(v[k]) > _NO_SHARE for v in volts)
    ]


def _rectifier(cast: Cast, diodes: list[Diode]) -> str:
    if cast.named(Role.DOUBLER):
        return "voltage doubler"
    if cast.named(Role.FRONT_COUPLING):
        coupled = [cast.topology.section.circuit.part(n) for n in cast.named(Role.FRONT_COUPLING)]
        if any(isinstance(c, Capacitor) and not c.polarised for c in coupled):
            return "capacitor-coupled"
        return "voltage doubler"
    at_phase = [len(found) for found in _phases(cast, diodes)]
    if len(at_phase) < 2:
        return "half-wave"
    return "full-wave bridge" if min(at_phase) >= 2 else "full-wave"


def _phases(cast: Cast, diodes: list[Diode]) -> list[list[Diode]]:
    """The diodes at each end of a winding; what resistance joins is one end."""
    topology, found = cast.topology, []
    left = topology.winding_side
    while left:
        start = next(iter(left))
        phase = topology.reach([start], topology.drives, lambda n: n in topology.winding_side)
        left -= phase
        here = [d for d in diodes if {topology.at(d.anode), topology.at(d.cathode)} & phase]
        if here:
            found.append(here)
    return found


def _source(cast: Cast, diodes: list[Diode]) -> str:
    """Where the alternating voltage comes from.

    Windings of more than 150 V are there for the high tension, of less than 15 V for heaters:
    bias windings have 20 to 80 V.
    """
    topology = cast.topology
    ends = {topology.at(node) for d in diodes for node in (d.anode, d.cathode)}
    near = topology.reach(
        ends - topology.quiet,
        lambda edge: topology.drives(edge) or isinstance(edge.part, Capacitor | Diode),
        lambda node: node not in topology.quiet,
    )
    live = near - topology.quiet
    windings = [w for w in topology.section.circuit.of(Winding)
                if {topology.at(node) for _, node in w.terminals} & live]  # fmt: skip
    tapped = any(topology.at(tap.node) in live for w in windings for tap in w.taps)
    v_most = max((w.v_rms for w in windings), default=0.0)
    if v_most > _HIGH_TENSION:
        return f"from a {'tap on the ' if tapped else ''}high-tension winding"
    kind = "heater" if v_most < _HEATER else "bias"
    return f"from a tap on a {kind} winding" if tapped else f"from a {kind} winding"


# ----------------------------------------------------------------------- the setting


def _setting(cast: Cast) -> str:
    bias, balance = cast.named(Role.BIAS_POT), cast.named(Role.BALANCE_POT)
    circuit = cast.topology.section.circuit
    pots = [pot for pot in circuit.of(Pot) if pot.name in bias]
    if cast.named(Role.LEVEL_POT):
        return "pot in front of the rectifier"
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
