"""Predicts the grid bias of a valve amplifier over the travel of its bias pot.

Import what you need from the modules; the DEVELOPERS.md of the project has a map of them.
"""

from importlib.metadata import PackageNotFoundError, version

try:
    __version__ = version("netcheck")
except PackageNotFoundError:  # run from a source folder that was never installed
    __version__ = "0 (not installed)"
