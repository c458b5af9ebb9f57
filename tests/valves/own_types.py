"""A user's own file of types, for the tests: all figures invented."""

from __future__ import annotations

from netcheck.source import Source

OWN = """\
# my types
[MY-34]
kind = "pentode"
also = ["MY-34B"]
source = "maker's leaflet"
status = "read"
note = "from the drawer"
rows = [
  { plate_V = 250, screen_V = 265, grid_V = -13.5, plate_mA = 100, screen_mA = 14.9 },
  { plate_V = 400, screen_V = 400, grid_V = -36, plate_mA = 30, gm_mA_V = 5, status = "unsure" },
]

[MY-34.limits]
rating = "design center"
plate_W = 25
screen_W = 8
plate_V = 800
screen_V = 500
grid_circuit = [
  { fixed_kohm = 100 },
  { up_to_W = 20, fixed_kohm = 470, cathode_kohm = 1000 },
]
"""


def source(text: str) -> Source:
    """`text` as a file of the user's."""
    return Source("own.toml", text)
