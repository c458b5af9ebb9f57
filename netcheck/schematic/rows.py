"""How far each row lies below those above it, and where symbols and signs for ground stand."""

from __future__ import annotations

from collections.abc import Iterator

from .measured import ARROW_LENGTH, LEAD, SIGN, Spaced, last_row, stops_of, up
from .plan import Arrow, Place, Row
from .symbols import GRID, LEAST_STEP, REACH

_GAP = 8.0  # between what hangs on one row and what stands on the next
_LONGEST_LEAD = 250.0  # to a sign for ground on the line of the others


class Rows:
    """Finds where the rows lie."""

    def __init__(self, found: Spaced, spread: float) -> None:
        self.found = found
        self.plan = found.plan
        self.gap = _GAP * spread
        self.above: dict[Row, dict[int, float]] = {row: {} for row in self.plan.rows}
        self.below: dict[Row, dict[int, float]] = {row: {} for row in self.plan.rows}
        self.pairs: dict[Row, list[tuple[Row, float]]] = {row: [] for row in self.plan.rows}
        self._aside: dict[tuple[Row, int], float] = {}

    def settle(self) -> None:
        """Set the rows, the middles of the symbols and the signs for ground."""
        for run in self.plan.runs:
            for column in range(run.first, run.last + 1):
                self._need(run.row, column, 0.0, 0.0)
        for label in self.found.labels:
            self._need(label.row, label.column, -label.box.top, label.box.bottom)
            if not label.is_above:
                self._aside[label.row, label.column] = up(label.box.bottom + 4.0)
        for place in self.plan.places:
            if place.root_rows:
                self._root(place)
            elif place.is_upright:
                self._upright(place)
            else:
                boxes = self.found.fits[place].boxes
                self._need(place.row, place.column, -min(b.top for b in boxes),
                           max(b.bottom for b in boxes))  # fmt: skip
        for arrow in self.plan.arrows:
            self._arrow(arrow)
        self._solve()
        self._middles()
        self._feet()

    def _need(self, row: Row, column: int, above: float, below: float) -> None:
        ups, downs = self.above[row], self.below[row]
        ups[column] = max(ups.get(column, 0.0), above)
        downs[column] = max(downs.get(column, 0.0), below)

    def _arrow(self, arrow: Arrow) -> None:
        is_down = arrow.angle == 90
        self._need(arrow.row, arrow.column, 8.0, LEAD + ARROW_LENGTH if is_down else 8.0)

    def _upright(self, place: Place) -> None:
        """Room for an upright part between its rows, or down to ground."""
        reach = self.found.fits[place].reach
        for row in (place.row, place.lower):
            if row is not None:
                self._need(row, place.column, 0.0, 0.0)
        head = self._lead(place.below or place.row, place.column)
        if place.arm is not None:
            self._pair(place.row, place.arm, reach + head - LEAD)
            if place.lower is not None:
                self._pair(place.arm, place.lower, reach + self._tail(place))
            else:
                self._need(place.arm, place.column, reach, reach + SIGN)
        elif place.lower is None:
            start = place.below or place.row
            self._need(start, place.column, 0.0, head + 2 * reach + SIGN)
        else:
            crossed = self.plan.crossed(place.column, place.row, place.lower)
            start = crossed[-1] if crossed else place.row
            room = (2 * LEAD if crossed else head) + 2 * reach
            room += self._tail(place)
            self._pair(start, place.lower, room)

    def _lead(self, row: Row, column: int) -> float:
        """From a row to what is upright there: past a label beside the two. [unit]"""
        return max(LEAD, self._aside.get((row, column), 0.0))

    def _tail(self, place: Place) -> float:
        """Room for a label beside the row that an upright part ends at. [unit]"""
        assert place.lower is not None
        return self._aside.get((place.lower, place.column), 0.0)

    def _pair(self, upper: Row, lower: Row, room: float) -> None:
        self.pairs[lower].append((upper, room))

    def _root(self, place: Place) -> None:
        """Room for a source between the rows of its terminals."""
        rows = place.root_rows if place.angle == 90 else place.root_rows[::-1]
        steps = 0
        before: Row | None = None
        for row in rows:
            steps += 1
            if row is not None:
                if before is not None:
                    least = 2 * REACH if len(rows) == 2 else LEAST_STEP
                    self._pair(before, row, least * steps)
                before, steps = row, 0
        assert before is not None
        step = 2 * REACH if len(rows) == 2 else LEAST_STEP
        self._need(before, place.column, 10.0, steps * step + (SIGN if steps else 10.0))
        leading = next(k for k, row in enumerate(rows) if row is not None)
        first = rows[leading]
        assert first is not None
        self._need(first, place.column, leading * step + 10.0, 0.0)

    def _solve(self) -> None:
        """Each row as high as those above it allow."""
        rows = self.plan.rows
        for k, row in enumerate(rows):
            y = max((upper.y + room for upper, room in self.pairs[row]), default=0.0)
            for upper in rows[:k]:
                apart = self._apart(upper, row)
                y = y if apart is None else max(y, upper.y + apart)
            row.y = up(y)

    def _apart(self, upper: Row, lower: Row) -> float | None:
        """How far two rows must be apart; None if they share no column. [unit]"""
        shared = self.below[upper].keys() & self.above[lower].keys()
        needs = [self.below[upper][c] + self.above[lower][c] for c in shared]
        return max(needs) + self.gap if needs else None

    def _middles(self) -> None:
        for place, fitted in self.found.fits.items():
            reach = fitted.reach
            if not place.is_upright:
                self.found.middles[place] = place.row.y
            elif place.arm is not None:
                self.found.middles[place] = place.arm.y
            elif place.lower is None:
                row = place.below or place.row
                self.found.middles[place] = row.y + self._lead(row, place.column) + reach
            else:
                crossed = self.plan.crossed(place.column, place.row, place.lower)
                top = place.row.y + self._lead(place.row, place.column)
                top = crossed[-1].y + LEAD if crossed else top
                foot = place.lower.y - self._tail(place)
                middle = min((top + foot) / 2, foot - reach)
                self.found.middles[place] = GRID * (middle // GRID)

    def _feet(self) -> None:
        """Signs for ground: on one line at the bottom where nothing else lies below."""
        low: dict[Place, float] = {}
        free: set[Place] = set()
        for thing, row, column, foot in self._grounded():
            low[thing] = foot
            if not any(column in self.above[other] for other in self.plan.rows
                       if other.y > row.y):  # fmt: skip
                free.add(thing)
        base = max((low[thing] for thing in free), default=0.0)
        high = {thing for thing in free if base - low[thing] > _LONGEST_LEAD}
        middle = max((low[thing] for thing in high), default=0.0)
        self.found.feet = {t: middle if t in high else base if t in free else y
                           for t, y in low.items()}  # fmt: skip

    def _grounded(self) -> Iterator[tuple[Place, Row, int, float]]:
        """What ends at ground, with its row, its column and where the sign could begin."""
        for place in self.plan.places:
            if place.root_rows:
                rows = place.root_rows if place.angle == 90 else place.root_rows[::-1]
                if rows[-1] is None:
                    middle, stops = stops_of(place)
                    yield place, last_row(rows), place.column, middle + max(map(abs, stops))
            elif place.is_upright and place.lower is None:
                yield (place, place.below or place.arm or place.row, place.column,
                       self.found.middles[place] + self.found.fits[place].reach)  # fmt: skip
