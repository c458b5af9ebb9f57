"""Options that the commands share which ask what would happen."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ..errors import InputError
from .common import load

if TYPE_CHECKING:
    from ..engine.service import Service
    from ..predictor import Predictor


def predictor_for(service: Service, file: str, changes: Sequence[str], mains: str | None
                  ) -> Predictor:  # fmt: skip
    """Read a circuit file, with other values and another mains voltage if asked for.

    Raises
    ------
    InputError
        For a file or an option that cannot be used.
    """
    circuit = load(file)
    from ..changes import read_changes, read_single  # noqa: PLC0415 - keeps --help quick
    from ..graph import Section  # noqa: PLC0415
    from ..predictor import Predictor  # noqa: PLC0415
    from ..quantity import Dimension  # noqa: PLC0415

    changed = read_changes(circuit, changes)
    if mains is not None:
        if circuit.mains is None:
            raise InputError("--mains: the circuit has no mains line")
        volts = read_single(mains, Dimension.VOLT, 20.0, 600.0, "mains voltage")
        changed["mains"] = volts / circuit.mains.v_nominal
    section = Section(circuit)
    if not section.watched:
        raise InputError(f"{file}: there is neither a valve nor a pot whose bias to predict")
    return Predictor(section, service, changed)


def window_for(text: str | None) -> tuple[float, float]:
    """The dissipation wanted, as typed or the usual one. [1]

    Raises
    ------
    InputError
        If it is no window.
    """
    from ..quantity import ValueProblem  # noqa: PLC0415
    from ..valves.practice import WINDOW  # noqa: PLC0415
    from ..window import read_window  # noqa: PLC0415

    if text is None:
        return WINDOW
    try:
        return read_window(text)
    except ValueProblem as problem:
        raise InputError(f"--window: {problem}") from None
