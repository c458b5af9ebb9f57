"""Predicts the grid bias of a valve amplifier over the travel of its bias pot.

    import netcheck
    amplifier = netcheck.load("two-6v6gt-foot")
    bias = amplifier.predict()
    bias                                              # shows itself: curve and tables
    matplotlib.pyplot.plot(bias.travel, bias.nodes["grid1"])

More is in `netcheck.library`; the DEVELOPERS.md of the project has a map of all modules.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .errors import EngineError, InputError
    from .library import Amplifier, load

__all__ = ["Amplifier", "EngineError", "InputError", "load"]


def __getattr__(name: str) -> Any:
    """What is public, and `__version__`: looked up when asked for, so that a check is quick."""
    if name == "__version__":
        return _version()
    home = {"Amplifier": "library", "load": "library"}.get(name, "errors")
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    import importlib  # noqa: PLC0415

    return getattr(importlib.import_module(f"{__name__}.{home}"), name)


def _version() -> str:
    from importlib.metadata import PackageNotFoundError, version  # noqa: PLC0415

    try:
        return version("netcheck")
    except PackageNotFoundError:  # run from a source folder that was never installed
        return "0 (not installed)"
