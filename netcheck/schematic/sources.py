"""Planning a whole section: sources at the left edge, bridges, and what nothing led to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..netlist import GROUND, Circuit, Part, Pot, Supply, Valve, Winding
from .flow import Component, components, is_node
from .plan import Arrow, Place, Plan, Row
from .planner import Planner


def planned(circuit: Circuit) -> Plan:
    """A plan of a whole circuit: its components one below the other.

    Parameters
    ----------
    circuit : Circuit
        The circuit.
    """
    plan = Plan()
    found, loose = components(circuit)
    for component in found:
        planner = Planner(component, plan)
        _begin(planner)
        _put_rest(planner)
    _put_loose(plan, loose)
    return plan


def _begin(planner: Planner) -> None:
    """Place what stands at the left edge, and with it all that follows."""
    component, plan = planner.component, planner.plan
    for root in component.roots:
        bridge = _bridge(component, root)
        if bridge is not None:
            _put_bridge(planner, bridge)
        else:
            _put_root(planner, root)
    for start in component.starts:
        if start not in planner.placed:
            row = plan.row_after(None)
            if start in component.elsewhere:
                plan.put_arrow(Arrow(start, row, 0, 180))
            planner.place(start, row, 0, attached=start in component.elsewhere)


# ------------------------------------------------------------------------------- sources


def _put_root(planner: Planner, root: Winding | Supply) -> None:
    """A source with a row for each terminal, and what follows from those."""
    plan, flow = planner.plan, planner.component.flow
    nodes = [node for _, node in root.terminals]
    order = list(range(len(nodes)))
    first_up, first_down = (next((k for k, i in enumerate(way) if nodes[i] in flow), 0)
                            for way in (order, order[::-1]))  # fmt: skip
    if first_down < first_up:
        order.reverse()
    rows: dict[int, Row] = {}
    for index in order:
        if is_node(nodes[index]):
            rows[index] = plan.row_after(None)
    angle = 270 if first_down < first_up else 90
    place = _root_place(root, angle, rows)
    plan.put(place)
    for index in sorted(rows, key=lambda k: (nodes[k] not in flow, order.index(k))):
        if nodes[index] in planner.placed:
            plan.run(nodes[index], rows[index], 0, 0)
        else:
            hangs = index == order[-1] and nodes[index] not in flow
            planner.place(nodes[index], rows[index], 0, attached=not hangs)


def _root_place(root: Part, angle: int, rows: dict[int, Row]) -> Place:
    every = tuple(rows.get(k) for k in range(len(root.terminals)))
    top = next(row for row in (every if angle == 90 else every[::-1]) if row is not None)
    return Place(root, 0, top, angle=angle, mirror=angle == 270, root_rows=every)


@dataclass(frozen=True)
class _Bridge:
    """A winding with parts from both ends to one node and to ground.

    Parameters
    ----------
    winding : Winding
        It has two ends.
    output : str
        The node that both ends lead to.
    legs : tuple
        For each end of the winding the parts to the output and those to ground.
    """

    winding: Winding
    output: str
    legs: tuple[tuple[list[Part], list[Part]], ...]


def _bridge(component: Component, root: Winding | Supply) -> _Bridge | None:
    """Find four rectifiers in a bridge, or a doubler of two diodes and two capacitors."""
    ends = [node for _, node in root.terminals]
    if len(component.roots) > 1 or len(ends) != 2 or not all(map(is_node, ends)):
        return None
    if not isinstance(root, Winding) or ends[0] == ends[1]:
        return None
    to = [_leads(component, end) for end in ends]
    outputs = [n for n in to[0] if n in to[1] and is_node(n) and n not in ends]
    outputs = [n for n in outputs if n in component.flow]
    if not outputs or not all(GROUND in leads for leads in to):
        return None
    legs = tuple((leads[outputs[0]], leads[GROUND]) for leads in to)
    return _Bridge(root, outputs[0], legs)


def _leads(component: Component, node: str) -> dict[str, list[Part]]:
    """The nodes that parts of two terminals lead to from one."""
    found: dict[str, list[Part]] = {}
    for part in component.parts:
        ends = [end for _, end in part.terminals]
        if len(ends) == 2 and node in ends and part not in component.roots:
            found.setdefault(ends[1] if ends[0] == node else ends[0], []).append(part)
    return found


def _put_bridge(planner: Planner, bridge: _Bridge) -> None:
    """The output above, ground below, and the ends of the winding in the middle of two legs."""
    plan = planner.plan
    top, upper, lower = (plan.row_after(None) for _ in range(3))
    ends = [node for _, node in bridge.winding.terminals]
    for up, down in bridge.legs:
        planner.done.update(part.name for part in (*up, *down))
    plan.put(_root_place(bridge.winding, 90, {0: upper, 1: lower}))
    last = max(planner.place(node, row, 0, attached=True)
               for node, row in zip(ends, (upper, lower), strict=True))  # fmt: skip
    first = last + 1
    for node, row, (up, down) in zip(ends, (upper, lower), bridge.legs, strict=True):
        run = plan.runs_of(node)[0]
        for k in range(max(len(up), len(down))):
            column = plan.take(run, last + 1)
            last = column
            if k < len(up):
                angle = 90 if up[k].terminals[0][1] == bridge.output else 270
                plan.put(Place(up[k], column, top, row, is_upright=True, angle=angle))
            if k < len(down):
                angle = 90 if down[k].terminals[0][1] == node else 270
                plan.put(Place(down[k], column, row, is_upright=True, angle=angle,
                               below=lower if row is upper else None))  # fmt: skip
    planner.place(bridge.output, top, first, until=last)


# ---------------------------------------------------------------------------- the rest


def _put_rest(planner: Planner) -> None:
    """Place whatever nothing has led to: beside what is there, or below all of it."""
    plan, component = planner.plan, planner.component
    for node in component.nodes:
        if node not in planner.placed:
            planner.place(node, plan.row_after(None), 0)
    for part in component.parts:
        if part.name in planner.done or part in component.roots:
            continue
        nodes = [node for _, node in part.terminals]
        planner.done.add(part.name)
        if len(nodes) == 2 and all(map(is_node, nodes)) and nodes[0] != nodes[1]:
            planner.bridges.put(part, nodes[0], nodes[1])
        else:
            _put_apart(plan, part, nodes)


def _put_apart(plan: Plan, part: Part, nodes: Sequence[str]) -> None:
    """A part below everything, each of its terminals with a short run of its own."""
    if isinstance(part, Pot):
        rows = [plan.row_after(None) for _ in nodes]
        for node, row in zip(nodes, rows, strict=True):
            if is_node(node):
                plan.run(node, row, 1, 1)
        plan.put(Place(part, 1, rows[0], rows[2], is_upright=True, angle=90, arm=rows[1]))
    elif isinstance(part, Winding | Supply) and len(nodes) > 2:
        found = {k: plan.row_after(None) for k, node in enumerate(nodes) if is_node(node)}
        for k, row in (found or {0: plan.row_after(None)}).items():
            plan.run(nodes[k], row, 0, 0)
            found[k] = row
        plan.put(_root_place(part, 90, found))
    else:
        plan.put(Place(part, 1, plan.row_after(None)))


def _put_loose(plan: Plan, parts: Sequence[Part]) -> None:
    """Parts that are joined to ground alone, in a row below everything."""
    row = plan.row_after(None) if parts else None
    for k, part in enumerate(parts):
        nodes = [node for _, node in part.terminals]
        if isinstance(part, Winding) and len(nodes) > 2:
            _put_apart(plan, part, nodes)
        elif row is not None:
            is_upright = not isinstance(part, Valve)
            plan.put(Place(part, 2 * k, row, is_upright=is_upright, angle=90 * is_upright))
