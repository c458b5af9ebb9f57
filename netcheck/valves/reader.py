"""Valve types from a TOML text, the shipped ones and a user's own alike.

A type is a heading with its data; figures stand in the units of data sheets::

    [EL34]
    kind = "pentode"                       # or "beam tetrode", "triode"
    also = ["6CA7"]                        # other names for it
    source = "Philips data sheet EL34, 1959"
    status = "read"                        # or "memory", "unsure"
    note = "a remark"
    rows = [                               # operating points, for the current model
      { plate_V = 250, screen_V = 265, grid_V = -13.5, plate_mA = 100, screen_mA = 14.9 },
      { plate_V = 250, screen_V = 245, grid_V = -14.5, plate_mA = 70, gm_mA_V = 9 },
    ]

    [EL34.limits]
    rating = "limiting values"             # or "design centre", "design maximum",
                                           # "absolute maximum"
    plate_W = 25
    screen_W = 8
    plate_V = 800
    screen_V = 500
    grid_circuit = [{ fixed_kohm = 500, cathode_kohm = 700 }]

`gm_mA_V` and `screen_mA` may be left out; a triode has no `screen_` figures. A row and a table
of limits may have a `source` and a `status` of their own. Where the grid-circuit limit depends on
dissipation (plate and screen together), `grid_circuit` has several entries with `up_to_W`.
`[NAME.absolute]`, like `[NAME.limits]`, takes absolute limits given beside design limits.
"""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from ..finding import Finding, Severity
from ..source import Source
from .names import LONGEST_NAME, is_name, normal_name
from .toml_table import Complaints, Quantity, Table, load, shown
from .valve_type import GridCircuit, Kind, Limits, Origin, Rating, Row, Status, ValveType

if TYPE_CHECKING:
    from .places import Path

P_PLATE = Quantity("plate dissipation", "W", 0.5, 1000)
P_SCREEN = Quantity("screen dissipation", "W", 0.1, 200)
P_TOTAL = Quantity("dissipation of plate and screen", "W", 0.5, 1000)
V_PLATE = Quantity("plate voltage", "V", 20, 5000)
V_SCREEN = Quantity("screen voltage", "V", 20, 2000)
V_GRID = Quantity("grid voltage", "V", -500, 0)
I_PLATE = Quantity("plate current", "mA", 0.1, 2000, 1e3)
I_SCREEN = Quantity("screen current", "mA", 0, 500, 1e3)
GM = Quantity("mutual conductance", "mA/V", 0.1, 100, 1e3)
R_GRID = Quantity("grid-circuit resistance", "kohm", 1, 20_000, 1e-3)

_ORIGIN = ("source", "status")
_LIMIT_TABLES = ("limits", "absolute")
_TYPE_WORDS = ("kind", "also", "note", "rows", *_LIMIT_TABLES, *_ORIGIN)
_LIMITS = ("rating", "plate_W", "screen_W", "plate_V", "screen_V", "grid_circuit", *_ORIGIN)
_GRID = ("up_to_W", "fixed_kohm", "cathode_kohm")
_ROW = ("plate_V", "screen_V", "grid_V", "plate_mA", "screen_mA", "gm_mA_V", *_ORIGIN)

_HOTTEST_ROW = 1.2
"""A row may exceed the plate dissipation limit by so much before it is doubted. [1]"""


def read_table(source: Source) -> tuple[list[ValveType], list[Finding]]:
    """Read all valve types in a text.

    Parameters
    ----------
    source : Source
        The text; its layout is in this module's docstring.

    Returns
    -------
    types : list of ValveType
        Those without an error.
    findings : list of Finding
        What is wrong or doubtful, with places.
    """
    document, findings = load(source)
    if findings:
        return [], findings
    complaints = Complaints(source)
    if not document:
        complaints.add((), "types-missing", "there is no valve type in this file")
    read = {name: _read_type(complaints, name, body) for name, body in document.items()}
    types = [valve for valve in read.values() if valve is not None]
    _check_names(complaints, types)
    sound = [each for each in types if not complaints.has_errors(each.name)]
    return sound, complaints.findings()


def _read_type(complaints: Complaints, name: str, body: object) -> ValveType | None:
    """The type under one heading, or None where too much of it is missing."""
    if not isinstance(body, dict):
        what, fix = f'"{shown(name)}" belongs to no valve type', "put it below a heading as [EL34]"
        complaints.add((name,), "types-value", what, fix=fix)
        return None
    table = Table(complaints, (name,), body, _TYPE_WORDS)
    if not table.has("kind"):
        table.missing("the kind of valve", 'add: kind = "pentode", "beam tetrode" or "triode"')
    kind = table.choice("kind", Kind, Kind.PENTODE)
    origin = _read_origin(table, Origin(complaints.source.name, Status.UNSTATED))
    limits, absolute = (_read_limits(table, word, kind, origin) for word in _LIMIT_TABLES)
    read = [_read_row(row, kind, origin) for row in table.tables("rows", _words(_ROW, kind))]
    rows = tuple(row for row in read if row is not None)
    also, note = table.texts("also"), table.text("note")
    if not table.has("limits"):
        table.missing("its limits", f"add a heading [{shown(name)}.limits] and the limits below")
    if limits is None:
        return None
    valve = ValveType(name, kind, limits, absolute, rows, also, note)
    _doubt(table, valve)
    return valve


def _words(words: tuple[str, ...], kind: Kind) -> tuple[str, ...]:
    """The words of a table for this kind of valve: a triode has no screen."""
    if kind is Kind.TRIODE:
        return tuple(word for word in words if not word.startswith("screen_"))
    return words


def _read_origin(table: Table, default: Origin) -> Origin:
    source = table.text("source", default.source)
    return Origin(source, table.choice("status", Status, default.status))


def _read_limits(outer: Table, word: str, kind: Kind, default: Origin) -> Limits | None:
    if not outer.has(word):
        return None
    table = outer.table(word, _words(_LIMITS, kind))
    has_screen = kind is not Kind.TRIODE
    p_plate = table.number("plate_W", P_PLATE, required=True)
    p_screen = table.number("screen_W", P_SCREEN, required=has_screen)
    v_plate = table.number("plate_V", V_PLATE, required=True)
    v_screen = table.number("screen_V", V_SCREEN, required=has_screen)
    rating = table.choice("rating", Rating, Rating.LIMITING)
    grid_circuit = _read_grid_circuit(table)
    origin = _read_origin(table, default)
    if p_plate is None or v_plate is None:
        return None
    return Limits(rating, p_plate, p_screen, v_plate, v_screen, grid_circuit, origin)


def _read_grid_circuit(outer: Table) -> tuple[GridCircuit, ...]:
    """The entries of `grid_circuit`, that for the lowest dissipation first."""
    circuits = []
    for table in outer.tables("grid_circuit", _GRID):
        r_fixed = table.number("fixed_kohm", R_GRID, required=False)
        r_cathode = table.number("cathode_kohm", R_GRID, required=False)
        p_up_to = table.number("up_to_W", P_TOTAL, required=False)
        if not (table.has("fixed_kohm") or table.has("cathode_kohm")):
            table.missing("the grid-circuit resistance in kohm", "add: fixed_kohm = ...")
        circuits.append(GridCircuit(r_fixed, r_cathode, p_up_to))
    if len({circuit.p_up_to for circuit in circuits}) < len(circuits):
        what = "two entries of grid_circuit are for the same dissipation"
        outer.complaints.add(outer.at("grid_circuit"), "types-twice", what, fix="set up_to_W")
    return tuple(sorted(circuits, key=_bound))


def _bound(circuit: GridCircuit) -> float:
    return inf if circuit.p_up_to is None else circuit.p_up_to


def _read_row(table: Table, kind: Kind, default: Origin) -> Row | None:
    v_plate = table.number("plate_V", V_PLATE, required=True)
    v_screen = table.number("screen_V", V_SCREEN, required=kind is not Kind.TRIODE)
    v_grid = table.number("grid_V", V_GRID, required=True)
    i_plate = table.number("plate_mA", I_PLATE, required=True)
    i_screen = table.number("screen_mA", I_SCREEN, required=False)
    gm = table.number("gm_mA_V", GM, required=False)
    origin = _read_origin(table, default)
    if v_plate is None or v_grid is None or i_plate is None:
        return None
    return Row(v_plate, v_screen, v_grid, i_plate, i_screen, gm, origin)


def _check_names(complaints: Complaints, types: list[ValveType]) -> None:
    """Names that are none, and names given to two types."""
    owner: dict[str, str] = {}
    for valve in types:
        paths: list[Path] = [(valve.name,), *[(valve.name, "also")] * len(valve.also)]
        for name, path in zip((valve.name, *valve.also), paths, strict=True):
            normal = normal_name(name)
            if not is_name(name):
                what = f'"{shown(name)}" is no type number'
                why = f"letters, digits, dashes and dots, at most {LONGEST_NAME} of them"
                complaints.add(path, "types-value", what, why)
            elif normal in owner:
                what = f'"{name}" is given twice in this file'
                why = f'it stands for "{owner[normal]}"; dashes and capitals do not count'
                complaints.add(path, "types-twice", what, why, "keep one of them")
            else:
                owner[normal] = valve.name


def _doubt(table: Table, valve: ValveType) -> None:
    """Warn of figures that are possible, but more likely mistyped."""
    limits, absolute = valve.limits, valve.absolute

    def warn(path: Path, what: str, fix: str) -> None:
        table.complaints.add(path, "types-doubtful", what, fix=fix, severity=Severity.WARNING)

    if limits.p_screen is not None and limits.p_screen > limits.p_plate:
        what = "the screen bears more dissipation than the plate"
        warn((*table.at("limits"), "screen_W"), what, "are the two figures interchanged?")
    if absolute is not None and absolute.p_plate < limits.p_plate:
        what = "the absolute limit of plate dissipation is below the other limit"
        warn((*table.at("absolute"), "plate_W"), what, "are the two tables interchanged?")
    for position, row in enumerate(valve.rows):
        p_plate = row.v_plate * row.i_plate
        if p_plate > _HOTTEST_ROW * limits.p_plate:
            what = f"this row is {p_plate:.1f} W on the plate; the limit is {limits.p_plate:g} W"
            warn((*table.at("rows"), position), what, "check its plate volts and plate milliamps")
