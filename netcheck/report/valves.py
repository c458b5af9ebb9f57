"""Valve types for the terminal: a list, and the sheet of one with its sources."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from ..quantity import Dimension, show_part
from ..valves import GridCircuit, Limits, Row, Status, ValveType
from .tables import paragraph, table

_DOUBT = {Status.READ: "", Status.MEMORY: "from memory", Status.UNSURE: "from memory, unsure",
          Status.UNSTATED: "source not stated"}  # fmt: skip


def in_brackets(status: Status) -> str:
    """How far a source is to be trusted, to stand behind its name: " (from memory)"."""
    return f" ({_DOUBT[status]})" if _DOUBT[status] else ""


def listing(types: Iterable[ValveType]) -> str:
    """One line a type: its limits, and how far to trust them."""
    rows = [
        [
            valve.name,
            ", ".join(valve.also),
            _watts(valve.limits.p_plate),
            _volts(valve.limits.v_plate),
            _volts(valve.limits.v_screen),
            _grid(valve.limits.grid_circuit),
            _DOUBT[valve.limits.origin.status] or "read",
        ]
        for valve in types
    ]
    head = ["type", "same data", "plate", "plate", "screen", "grid circuit", "data sheet"]
    lines = table(head, rows, 2)
    note = ("Limits by the data sheets; the grid circuit is the largest resistance allowed with "
            'fixed bias. "netcheck valves TYPE" names the sheet.')  # fmt: skip
    return "\n".join([*lines, "", *paragraph(note)])


def sheet(valve: ValveType) -> str:
    """All that is known of one type."""
    lines = [f"{valve.name}, {valve.kind.value}"]
    if valve.also:
        lines += paragraph(f"same data: {', '.join(valve.also)}")
    if valve.note:
        lines += paragraph(valve.note)
    for limits in filter(None, (valve.limits, valve.absolute)):
        lines += ["", *_limits(limits)]
    if valve.rows:
        lines += ["", "operating points, per valve, against the cathode:", *_rows(valve.rows)]
    return "\n".join(lines)


def _limits(limits: Limits) -> list[str]:
    rows = [
        ["plate", _watts(limits.p_plate), _volts(limits.v_plate)],
        ["screen", _watts(limits.p_screen), _volts(limits.v_screen)],
    ]
    lines = [f"limits ({limits.rating.value})", *table(["", "dissipation", "voltage"], rows)]
    for circuit in limits.grid_circuit:
        where = "" if circuit.p_up_to is None else f" up to {_watts(circuit.p_up_to)}"
        fixed, cathode = _ohms(circuit.r_fixed), _ohms(circuit.r_cathode)
        lines += paragraph(f"grid circuit{where}: {fixed} with fixed bias, {cathode} with "
                           "cathode bias")  # fmt: skip
    return [
        *lines,
        *paragraph(f"source: {limits.origin.source}{in_brackets(limits.origin.status)}"),
    ]


def _rows(rows: Iterable[Row]) -> list[str]:
    cells = [
        [
            _volts(row.v_plate),
            _volts(row.v_screen),
            show_part(row.v_grid, Dimension.VOLT),
            show_part(row.i_plate, Dimension.AMPERE),
            "" if row.i_screen is None else show_part(row.i_screen, Dimension.AMPERE),
            "" if row.gm is None else f"{row.gm * 1e3:.3g} mA/V",
            _DOUBT[row.origin.status] or "read",
        ]
        for row in rows
    ]
    return table(["plate", "screen", "grid", "plate", "screen", "gm", ""], cells, 0)


def _watts(p: float | None) -> str:
    return "" if p is None else show_part(p, Dimension.WATT)


def _volts(v: float | None) -> str:
    return "" if v is None else show_part(v, Dimension.VOLT)


def _ohms(r: float | None) -> str:
    return "not stated" if r is None else show_part(r)


def _grid(circuits: tuple[GridCircuit, ...]) -> str:
    if not circuits:
        return "not stated"
    return " / ".join(_ohms(circuit.r_fixed) for circuit in circuits)


def type_data(valve: ValveType) -> dict[str, Any]:
    """A type as plain data, SI units."""
    return {
        "type": valve.name,
        "kind": valve.kind.value,
        "same_data": list(valve.also),
        "note": valve.note,
        "limits": _limits_data(valve.limits),
        "absolute_limits": None if valve.absolute is None else _limits_data(valve.absolute),
        "rows": [
            {"plate_volts": row.v_plate, "screen_volts": row.v_screen, "grid_volts": row.v_grid,
             "plate_amperes": row.i_plate, "screen_amperes": row.i_screen,
             "siemens": row.gm, "source": row.origin.source, "status": row.origin.status.value}
            for row in valve.rows
        ],
    }  # fmt: skip


def _limits_data(limits: Limits) -> dict[str, Any]:
    return {
        "rating": limits.rating.value,
        "plate_watts": limits.p_plate,
        "screen_watts": limits.p_screen,
        "plate_volts": limits.v_plate,
        "screen_volts": limits.v_screen,
        "grid_circuit": [{"up_to_watts": c.p_up_to, "fixed_bias_ohms": c.r_fixed,
                          "cathode_bias_ohms": c.r_cathode} for c in limits.grid_circuit],
        "source": limits.origin.source,
        "status": limits.origin.status.value,
    }  # fmt: skip
