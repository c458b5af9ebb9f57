"""When two readings are of one thing."""

from __future__ import annotations

from ..readings import ANYWHERE, Kind, Position, Reading

_BETWEEN = frozenset({Kind.DC, Kind.AC, Kind.RIPPLE, Kind.OHMS})  # nodes, whatever lies there


def same_spot(a: Reading, b: Reading) -> bool:
    """Whether two readings are of one thing, wherever the pots stand."""
    return _spot(a) == _spot(b)


def _spot(reading: Reading) -> tuple[object, ...]:
    kind = Kind.CURRENT if reading.kind is Kind.CATHODE else reading.kind
    ends = tuple(sorted((reading.plus, reading.minus)))
    return kind, ends, "" if reading.kind in _BETWEEN else reading.part


def thing(reading: Reading) -> tuple[object, ...]:
    """What two readings share if the later one is a correction of the earlier.

    A pot at a stop is there again; one set by eye only as long as it is not touched.
    """
    state = reading.state
    places: tuple[object, ...] = ()
    if reading.kind not in ANYWHERE:
        places = tuple(sorted((n, _place(p)) for n, p in state.pots.items()))
        places += () if state.pots else (state.turn,)
    return (*_spot(reading), reading.meter.name, state.stage, state.live, state.valves_out, places)


def _place(position: Position) -> tuple[float, int]:
    return position.travel, position.turn if position.by_eye else -1
