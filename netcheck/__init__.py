"""Predicts the grid bias of a valve amplifier over the travel of its bias pot.

Import what you need from the modules; the DEVELOPERS.md of the project has a map of them.
"""


def __getattr__(name: str) -> str:
    """`__version__`, looked up when it is asked for: that costs more than a plain check may."""
    if name != "__version__":
        raise AttributeError(name)
    from importlib.metadata import PackageNotFoundError, version  # noqa: PLC0415

    try:
        return version("netcheck")
    except PackageNotFoundError:  # run from a source folder that was never installed
        return "0 (not installed)"
