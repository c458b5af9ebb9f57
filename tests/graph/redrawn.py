"""The same circuit drawn another way: other names, another order, ends swapped, wires put in."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

from hypothesis import strategies as st

from netcheck.netlist import (
    GROUND,
    OPEN,
    Capacitor,
    Circuit,
    Link,
    Part,
    Pot,
    Resistor,
    Tap,
    Winding,
)

_NODE_FIELDS = ("start", "end", "centre", "plus", "minus", "anode", "cathode", "top", "wiper",
                "bottom", "grid")  # fmt: skip


@dataclass(frozen=True)
class Redrawn:
    """A circuit drawn anew, and what its parts were called before."""

    circuit: Circuit
    former: dict[str, str]


def _node_fields(part: Part) -> list[str]:
    """The fields of a part that hold a node of its own."""
    names = {field.name for field in fields(part)} & set(_NODE_FIELDS)
    return sorted(n for n in names if getattr(part, n) not in (None, OPEN))


def _moved(part: Part, names: dict[str, str]) -> Part:
    """The part with its nodes renamed."""
    changes: dict[str, object] = {n: names[getattr(part, n)] for n in _node_fields(part)}
    if isinstance(part, Winding):
        changes["taps"] = tuple(Tap(names[tap.node], tap.v_rms) for tap in part.taps)
    return replace(part, **changes)  # type: ignore[arg-type]


def _swapped(part: Part) -> Part:
    """The part with its ends exchanged where that makes no difference."""
    if isinstance(part, Resistor | Link) or (isinstance(part, Capacitor) and not part.polarised):
        return replace(part, start=part.end, end=part.start)
    if isinstance(part, Pot):
        other = "bottom" if part.clockwise == "top" else "top"
        return replace(part, top=part.bottom, bottom=part.top, clockwise=other)
    return part


@st.composite
def redrawn(draw: st.DrawFn, circuit: Circuit) -> Redrawn:
    """Draw a circuit anew."""
    nodes = [node for node in circuit.nodes if node != GROUND]
    new_nodes = dict(zip(nodes, (f"n{i}" for i in draw(st.permutations(range(len(nodes))))),
                         strict=True))  # fmt: skip
    new_nodes[GROUND] = GROUND
    order = draw(st.permutations(range(len(circuit.parts))))
    parts: list[Part] = []
    former = {}
    for place, index in enumerate(order):
        part = _moved(circuit.parts[index], new_nodes)
        if draw(st.booleans()):
            part = _swapped(part)
        former[f"P{place}"] = part.name
        part = replace(part, name=f"P{place}")
        if draw(st.integers(0, 3)) == 0 and not isinstance(part, Link):
            part, wire = _behind_a_wire(draw, part)
            parts.append(wire)
        parts.append(part)
    elsewhere = tuple(new_nodes[node] for node in circuit.elsewhere)
    return Redrawn(replace(circuit, parts=tuple(parts), elsewhere=elsewhere), former)


def _behind_a_wire(draw: st.DrawFn, part: Part) -> tuple[Part, Link]:
    """The part with a wire between one of its terminals and the node."""
    field = draw(st.sampled_from(_node_fields(part)))
    node = getattr(part, field)
    inner = f"{node}.{part.name}"
    ends = (node, inner) if draw(st.booleans()) else (inner, node)
    wire = Link(name=f"W{part.name}", start=ends[0], end=ends[1])
    changes: dict[str, object] = {field: inner}
    return replace(part, **changes), wire  # type: ignore[arg-type]
