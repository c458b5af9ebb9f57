"""What is asked of the worker process, what it answers, and how both travel.

Only our own two processes talk this way, over pipes that nobody else holds. Importing
this must stay cheap: the worker is started before the parent imports anything heavy.
"""

from __future__ import annotations

import pickle
import struct
from collections.abc import Mapping
from dataclasses import dataclass
from typing import IO, TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from .elements import Element, Slope, SteadyState, Waveforms

_LENGTH = struct.Struct("<Q")


@dataclass(frozen=True, slots=True)
class SteadyJob:
    """Find a periodic steady state.

    Parameters
    ----------
    elements : tuple of Element
        A circuit that passed the preflight.
    frequency : float or None
        Frequency of the sine sources. [Hz]
    start : mapping of capacitance name to float
        Capacitor voltages to begin the search at. [V]
    steps_per_cycle : int
        The largest time step is the period divided by this. [count]
    patient : bool
        Whether to wait for it where the search does not find it.
    slope : Slope or None
        That of a circuit nearby.
    slope_wanted : bool
        Whether to find out the slope at the state, a period for each capacitor.
    """

    elements: tuple[Element, ...]
    frequency: float | None
    start: Mapping[str, float]
    steps_per_cycle: int
    patient: bool = True
    slope: Slope | None = None
    slope_wanted: bool = False


@dataclass(frozen=True, slots=True)
class TransientJob:
    """Run a circuit from a given state.

    Parameters
    ----------
    elements : tuple of Element
        A circuit that passed the preflight.
    frequency : float or None
        Frequency of the sine sources. [Hz]
    start : mapping of capacitance name to float
        Capacitor voltages at the beginning, which is phase zero of the sine. [V]
    nodes : mapping of node name to float
        Node voltages at the beginning, as far as known. [V]
    duration : float
        Time to simulate. [s]
    step : float
        Largest time step. [s]
    begin : float
        Time from which on the points are kept. [s]
    """

    elements: tuple[Element, ...]
    frequency: float | None
    start: Mapping[str, float]
    nodes: Mapping[str, float]
    duration: float
    step: float
    begin: float = 0.0


Job = SteadyJob | TransientJob

Answer: TypeAlias = "SteadyState | Waveforms"


@dataclass(frozen=True, slots=True)
class Ready:
    """The worker's first word: it has loaded the library.

    Parameters
    ----------
    version : str
        Name and version of the simulator.
    pid : int
        The worker's process number.
    """

    version: str
    pid: int


@dataclass(frozen=True, slots=True)
class Failure:
    """The worker's answer where there is no other.

    Parameters
    ----------
    sentence : str
        What went wrong, for the user.
    missing : bool
        True when there is no library to work with.
    lost : bool
        True when the worker ends itself after this.
    """

    sentence: str
    missing: bool = False
    lost: bool = False


def send(stream: IO[bytes], message: object) -> None:
    """Write one message."""
    body = pickle.dumps(message, protocol=pickle.HIGHEST_PROTOCOL)
    stream.write(_LENGTH.pack(len(body)) + body)
    stream.flush()


def receive(stream: IO[bytes]) -> object | None:
    """Read one message; None when the other side is gone."""
    head = stream.read(_LENGTH.size)
    if len(head) < _LENGTH.size:
        return None
    (length,) = _LENGTH.unpack(head)
    body = stream.read(length)
    if len(body) < length:
        return None
    message: object = pickle.loads(body)
    return message
