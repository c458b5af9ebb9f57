"""What the reports of a substitution box share: names of parts, values and valves in words."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from ..netlist import Capacitor, Part, Pot, Resistor, Supply, Winding, Zener
from ..quantity import Dimension, show, show_part
from ..roles import Role, roles
from ..substitution import LEAST, Chart, Knob, Setting, Substitution, Way
from ..valvetravel import ValveTravel
from .findings import WIDTH
from .picture import plain
from .tables import paragraph

V, OHM, WATT = Dimension.VOLT, Dimension.OHM, Dimension.WATT
NOTHING = "nothing"
"""What stands for an open box."""


def joined_blocks(blocks: Iterable[list[str]]) -> str:
    """Blocks of lines as one text, an empty line between them."""
    return "\n\n".join("\n".join(block) for block in blocks if block)


def title_of(title: str) -> str:
    """A circuit's title without control characters, also where it has none."""
    return plain(title).strip() or "(no title)"


def items(texts: Iterable[str]) -> list[str]:
    """Short texts side by side, none of them broken."""
    lines: list[str] = []
    for text in texts:
        longer = f"{lines[-1]}   {text}" if lines else ""
        if lines and len(longer) <= WIDTH:
            lines[-1] = longer
        else:
            lines.append(text)
    return lines


def percent(share: float) -> str:
    """A share as a percentage."""
    return f"{share * 100:.0f} %"


def volts(v: float) -> str:
    """Volts to a tenth, without their unit."""
    text = f"{v:.1f}"
    return "0.0" if text == "-0.0" else text


def milli(i: float) -> str:
    """A current in milliamperes, without its unit."""
    return f"{i * 1e3:.1f}" if i < 0.1 else f"{i * 1e3:.0f}"


# ------------------------------------------------------------------- the circuit


def head(s: Substitution | Chart) -> list[str]:
    """The title, and what the command has changed."""
    circuit = s.section.circuit
    said = []
    mains, v_mains = circuit.mains, mains_volts(s)
    if mains is not None and v_mains is not None:
        said.append(f"Mains {show(v_mains, V)}, {mains.frequency:g} Hz.")
    changed = [f"{name} at {show_part(value, _dimension(s, name))}"
               for name, value in s.changes.items() if name != "mains"]  # fmt: skip
    if changed:
        said.append(f"With {', '.join(changed)}.")
    said.append("Mean voltages over a period, against ground; parts at their nominal values.")
    return [*paragraph(title_of(circuit.title)), *paragraph(" ".join(said))]


def mains_volts(s: Substitution | Chart) -> float | None:
    """The mains voltage that was simulated; None without mains. [V]"""
    mains = s.section.circuit.mains
    if mains is None:
        return None
    drawn = 1.0 if mains.v_actual is None else mains.v_actual / mains.v_nominal
    return s.changes.get("mains", drawn) * mains.v_nominal


def _dimension(s: Substitution | Chart, name: str) -> Dimension:
    """What a parameter of the circuit measures."""
    part = s.section.circuit.part(name)
    if part is None:
        return V if name.endswith(".drop") else OHM
    if isinstance(part, Capacitor):
        return Dimension.FARAD
    if isinstance(part, Winding):
        return Dimension.VOLT_AC
    return V if isinstance(part, Supply | Zener) else OHM


# --------------------------------------------------------------- what is turned


def label(knob: Knob, value: float | None) -> str:
    """A value of a knob, "nothing" for none across."""
    return NOTHING if value is None else show_part(value, knob.dimension)


def marked(knob: Knob, value: float | None) -> str:
    """A value of a knob for a table, with a sign where it is the one that is fitted."""
    is_fitted = knob.way is Way.IN_PLACE and value == knob.fitted
    return label(knob, value) + (" =" if is_fitted else "")


def with_value(knob: Knob, value: float | None) -> str:
    """A value in words, such as "with 150k across" or "with 22k"."""
    return f"with {label(knob, value)}" + (" across" if knob.way is Way.ACROSS else "")


def named(s: Substitution | Chart, knob: Knob) -> str:
    """A part with its value and what it is there for."""
    value = _drawn(knob.part) if knob.fitted is None else show_part(knob.fitted, knob.dimension)
    if isinstance(knob.part, Winding) and knob.part.i_load:
        value += " without load"
    role = roles(s.section).get(knob.part.name, Role.OTHER)
    told = "" if role is Role.OTHER else f", {role.word}"
    return f"{knob.part.name} ({value}{told})"


def _drawn(part: Part) -> str:
    """What is drawn beside the name of a part."""
    if isinstance(part, Resistor | Pot):
        return show_part(part.r)
    if isinstance(part, Capacitor):
        return show_part(part.c, Dimension.FARAD)
    if isinstance(part, Winding):
        return show_part(part.v_rms, Dimension.VOLT_AC)
    if isinstance(part, Supply):
        return show_part(part.v, V)
    return show_part(part.v_zener, V) if isinstance(part, Zener) else part.kind


def together(s: Substitution | Chart) -> str:
    """The pots that are turned, and where the others stand."""
    pots = s.swept[0] if len(s.swept) == 1 else (
        f"{', '.join(s.swept[:-1])} and {s.swept[-1]} together")  # fmt: skip
    return pots + "".join(f", {pot} at {percent(at)}" for pot, at in s.fixed.items())


# --------------------------------------------------------------------- valves


def valves_at(one: Setting) -> tuple[ValveTravel, ...]:
    """The valves at a setting; none where it could not be simulated."""
    return () if one.valves is None else one.valves.valves


def names_of(s: Substitution | Chart, group: list[int]) -> str:
    """The names of a group of valves."""
    valves = valves_at(s.answered[0])
    return ", ".join(valves[k].valve.name for k in group)


def grids_of(s: Substitution | Chart, group: list[int]) -> list[str]:
    """The grids of a group of valves, each once."""
    valves = valves_at(s.answered[0])
    return list(dict.fromkeys(valves[k].valve.grid for k in group))


def is_moved(s: Substitution | Chart, group: list[int]) -> bool:
    """Whether the grid of a group of valves is moved at all."""
    grid = valves_at(s.answered[0])[group[0]].valve.grid
    return bool(s.moved[s.section.watched.index(grid)] > LEAST)


def window_words(s: Substitution | Chart, one: ValveTravel) -> str:
    """The dissipation wanted of a valve, in words."""
    low, high = s.window
    return f"the window of {low * 100:.0f} to {high * 100:.0f} % of {show_part(one.limit, WATT)}"


def bare_nodes(s: Substitution | Chart) -> list[list[str]]:
    """Watched nodes that are moved and have no valve with a table, those alike together."""
    told = {valve.valve.grid for valve in valves_at(s.answered[0])}
    means = np.array([one.mean for one in s.answered])
    groups: list[list[str]] = []
    for k, node in enumerate(s.section.watched):
        if node in told or s.moved[k] <= LEAST:
            continue
        for group in groups:
            other = s.section.watched.index(group[0])
            if np.allclose(means[..., k], means[..., other], atol=2e-3):
                group.append(node)
                break
        else:
            groups.append([node])
    return groups
