"""The points that the data of an SVG path leads through, as far as schematics use it."""

from __future__ import annotations

import re
from collections.abc import Iterator

_TOKEN = re.compile(r"[MLHVaZ]|-?\d+(?:\.\d+)?(?:e-?\d+)?")


def points_of(data: str) -> Iterator[tuple[float, float]]:
    """The corners of a path, and for each arc its end and the far side of its circle."""
    tokens = _TOKEN.findall(data)
    x = y = 0.0
    command = ""
    k = 0
    while k < len(tokens):
        if tokens[k].isalpha():
            command = tokens[k]
            k += 1
            if command == "Z":
                continue
        if command in "ML":
            x, y = float(tokens[k]), float(tokens[k + 1])
            k += 2
        elif command == "H":
            x = float(tokens[k])
            k += 1
        elif command == "a":
            rx, ry, _, large, sweep, dx, dy = map(float, tokens[k : k + 7])
            k += 7
            middle = x + dx / 2, y + dy / 2
            # Half a circle bulges by its radius; of the two halves of a whole one each does.
            yield middle[0], middle[1] + (ry if (dx > 0) != bool(sweep) else -ry)
            assert large in (0.0, 1.0)
            assert abs(dx) <= 2 * rx + 1e-6
            x, y = x + dx, y + dy
        else:
            raise ValueError(f"no path of a schematic: {data}")
        yield x, y
