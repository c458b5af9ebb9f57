"""ngspice as a shared library, by way of PySpice; for the worker process alone.

PySpice 1.5 takes harmless notes for errors and misses some real ones, so nothing is
concluded from its exceptions: a run counts when its data are complete and finite and
ngspice did not say one of the things that spoil a result.

After a refusal by `ngSpice_Circ` itself every later run fails, and a library that asked
to be unloaded cannot be used again. Both end the process (`LibraryLostError`).
"""

from __future__ import annotations

import ctypes
import ctypes.util
import logging
import math
import os
import re
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import PySpice
from PySpice.Spice.NgSpice.Shared import NgSpiceShared, ffi, ffi_string_utf8
from PySpice.Spice.NgSpice.SimulationType import LAST_VERSION, SIMULATION_TYPE

from ..errors import EngineError, EngineMissing
from .deck import METHOD, Deck, build, number
from .elements import GROUND, Elements, Floats, Waveforms
from .preflight import shown

PATH_VARIABLE = "NGSPICE_LIBRARY_PATH"
"""Environment variable with the path of the library."""

HOW_TO_GET = (
    "on Debian or Ubuntu: apt-get install libngspice0; on macOS: brew install libngspice; "
    "on Windows: conda install -c conda-forge pyspice, or "
    "pyspice-post-installation --install-ngspice-dll; "
    f"if it is installed in an unusual place, set {PATH_VARIABLE} to its file"
)
"""What to do where the library is missing."""

# What spoils a result though ngspice goes on: it has changed the circuit, or guessed.
_FAULTS = (
    "singular matrix",
    "timestep too small",
    "resistance to low",
    "unrecognized parameter",
    "unknown parameter",
    "unable to find definition",
    "iteration limit reached",
    "no convergence",
)

# A current source that finds no other way is driven by ngspice through the picosiemens that
# it puts across every diode, at whatever voltage that takes. [V]
_V_ABSURD = 100e3

# Tried in turn. A smaller step and another rule of integration change nothing in the circuit;
# a gigohm from every node to ground does, so it comes last.
_ATTEMPTS = ((1, METHOD), (2, METHOD), (1, "method=gear"), (1, f"{METHOD} rshunt=1e9"))


class LibraryLostError(Exception):
    """The library can no longer be used in this process."""


def find_library() -> str:
    """Path or name of a library that can be loaded and is ngspice.

    Raises
    ------
    EngineMissing
        Saying how to get it.
    """
    named = os.environ.get(PATH_VARIABLE)
    if named:
        if _loads(named):
            return named
        raise EngineMissing(
            f"{PATH_VARIABLE} is set to {shown(named)}, which cannot be loaded as ngspice"
        )
    for candidate in _candidates():
        if _loads(candidate):
            return candidate
    raise EngineMissing(f"the ngspice library was not found ({HOW_TO_GET})")


def _candidates() -> Iterator[str]:
    """Where the library may be, likely places first."""
    prefixes = [Path(sys.prefix)]
    if conda := os.environ.get("CONDA_PREFIX"):
        prefixes.append(Path(conda))
    if sys.platform == "win32":
        for prefix in prefixes:
            yield str(prefix / "Library" / "bin" / "ngspice.dll")
        # The place that PySpice's own post-installation script fills.
        spice = Path(PySpice.__file__).parent / "Spice" / "NgSpice" / "Spice64_dll"
        yield str(spice / "dll-vs" / "ngspice.dll")
    elif sys.platform == "darwin":
        for folder in (*(p / "lib" for p in prefixes), "/opt/homebrew/lib", "/usr/local/lib"):
            yield str(Path(folder) / "libngspice.dylib")
    else:
        # By name first: the loader's own search is quicker than asking ldconfig.
        yield "libngspice.so.0"
        yield "libngspice.so"
        for prefix in prefixes:
            yield str(prefix / "lib" / "libngspice.so")
    if found := ctypes.util.find_library("ngspice"):
        yield found


def _loads(path: str) -> bool:
    """Whether the library loads and has the entry that makes it ngspice."""
    if sys.platform == "win32" and Path(path).is_file():
        # Its companions lie beside it; the handle is kept open on purpose.
        os.add_dll_directory(str(Path(path).resolve().parent))
    try:
        return hasattr(ctypes.CDLL(path), "ngSpice_Init")
    except OSError:
        return False


class _Shared(NgSpiceShared):  # type: ignore[misc]
    """PySpice's binding, with its judgement taken out and its messages kept."""

    @staticmethod
    def _send_char(message_c: Any, ngspice_id: int, user_data: Any) -> int:
        self = ffi.from_handle(user_data)
        stream, _, content = str(ffi_string_utf8(message_c)).partition(" ")
        self.messages.append(content)
        # PySpice reads the version out of what it believes to be the answer to a command.
        if stream == "stdout":
            self._stdout.append(content)
        return 0

    @staticmethod
    def _exit(*_: Any) -> int:
        # ngspice gives up, and must not be entered again; nothing here is worth flushing.
        os._exit(70)

    def __init__(self) -> None:
        self.messages: list[str] = []
        super().__init__()


class Library:
    """The loaded library. One per process.

    Raises
    ------
    EngineMissing
        When there is none, or it cannot be initialised.
    """

    def __init__(self) -> None:
        path = find_library()
        # The numbers of the vector types that matter have been the same since version 27.
        for version in range(LAST_VERSION + 1, 100):
            SIMULATION_TYPE.setdefault(version, SIMULATION_TYPE[LAST_VERSION])
        logger = logging.getLogger("PySpice")
        logger.addHandler(logging.NullHandler())
        logger.propagate = False
        # PySpice puts the path through str.format.
        _Shared.LIBRARY_PATH = path.replace("{", "{{").replace("}", "}}")
        try:
            with _no_start_up_files():
                self._shared = _Shared()
        except (NameError, OSError) as error:
            raise EngineMissing(f"the ngspice library {shown(path)} cannot be used") from error
        version = self._shared.ngspice_version
        self.version = f"ngspice {version}" if version else "ngspice of unknown version"

    def run(self, text: str, analysis: str, kind: str) -> dict[str, Floats]:
        """Load a deck, run one analysis, forget everything.

        Parameters
        ----------
        text : str
            The deck.
        analysis : str
            Command of the analysis.
        kind : str
            What the name of its plot begins with.

        Returns
        -------
        dict of str to array
            The vectors by their name; empty when there is no such plot.

        Raises
        ------
        LibraryLostError
            When the library has to be given up.
        """
        shared = self._shared
        shared.messages.clear()
        try:
            shared.load_circuit(text)
            shared.exec_command(analysis)
            plot = shared.last_plot
            vectors = shared.plot(None, plot) if plot.startswith(kind) else {}
            found = {name: np.asarray(vector._data) for name, vector in vectors.items()}
            # What is not forgotten slows every later run.
            shared.destroy()
            shared.remove_circuit()
        except NameError as error:
            raise LibraryLostError(str(error)) from error
        shared._ngspice_shared.ngSpice_Command(ffi.NULL)
        return found

    @property
    def messages(self) -> list[str]:
        """What ngspice printed during the last run."""
        return list(self._shared.messages)


class _no_start_up_files:  # noqa: N801 - reads as the statement it is used as
    """While ngspice starts: no `.spiceinit` and no `spinit`, whose commands it would execute."""

    _VARIABLES = ("HOME", "USERPROFILE", "SPICE_LIB_DIR", "SPICE_SCRIPTS", "NGSPICE_INPUT_DIR")

    def __enter__(self) -> None:
        self._saved = {name: os.environ.get(name) for name in self._VARIABLES}
        # Beside this module, where only who may change it could lay such a file.
        here = Path(__file__).resolve().parent
        os.environ.update(dict.fromkeys(self._VARIABLES, str(here / "no start-up files")))
        os.chdir(here)

    def __exit__(self, *_: object) -> None:
        for name, text in self._saved.items():
            if text is None:
                del os.environ[name]
            else:
                os.environ[name] = text
        # Not back to where it was: the user's folder is no business of this process.
        os.chdir(Path(sys.prefix).anchor)


class Ngspice:
    """One circuit, ready to be run from any state.

    Parameters
    ----------
    library : Library
        The loaded library.
    elements : sequence of Element
        A circuit that passed the preflight.
    frequency : float or None
        Frequency of its sine sources. [Hz]
    """

    def __init__(self, library: Library, elements: Elements, frequency: float | None) -> None:
        self._library = library
        self._deck: Deck = build(elements, frequency)
        self._attempts = list(_ATTEMPTS)

    def transient(
        self,
        start: Mapping[str, float],
        nodes: Mapping[str, float],
        duration: float,
        step: float,
        begin: float = 0.0,
    ) -> Waveforms:
        """Run from an initial state, at phase zero of the sine.

        Parameters
        ----------
        start : mapping of capacitance name to float
            Initial voltages of the capacitances. [V]
        nodes : mapping of node name to float
            Initial voltages of the nodes, as far as known: they settle the charge of the
            junctions. [V]
        duration : float
            Time to simulate. [s]
        step : float
            Largest time step. [s]
        begin : float
            Time from which on the points are kept. [s]

        Raises
        ------
        EngineError
            When ngspice could not do it.
        """
        reason = ""
        # What has failed once is not tried again in the next run of the same circuit.
        while self._attempts:
            divide, options = self._attempts[0]
            times = " ".join(number(t) for t in (step / divide, duration, begin, step / divide))
            text = self._deck.text(start, nodes, options)
            vectors = self._library.run(text, f"tran {times} uic", "tran")
            reason = self._objection(vectors, duration)
            if not reason:
                return self._waveforms(vectors, vectors["time"])
            del self._attempts[0]
        raise EngineError(f"ngspice could not simulate this circuit: {reason}")

    def operating_point(self) -> Waveforms:
        """The state of rest, given as two equal points of time.

        Raises
        ------
        EngineError
            When ngspice could not find it.
        """
        vectors = self._library.run(self._deck.text({}, {}), "op", "op")
        reason = self._objection(vectors, None)
        if reason:
            raise EngineError(f"ngspice found no state of rest of this circuit: {reason}")
        twice = {name: np.repeat(values, 2) for name, values in vectors.items()}
        return self._waveforms(twice, np.array([0.0, 1.0]))

    def _objection(self, vectors: Mapping[str, Floats], end: float | None) -> str:
        """Why a result cannot be used; empty when it can."""
        for line in self._library.messages:
            if any(fault in line.lower() for fault in _FAULTS):
                return self._as_typed(line)
        # After a failure there may be a plot all the same, with nothing in it.
        if not vectors or any(values.size == 0 for values in vectors.values()):
            return "it gave no result"
        if not np.isfinite(np.concatenate(list(vectors.values()))).all():
            return "its result is not finite"
        if end is not None and not math.isclose(vectors["time"][-1], end, rel_tol=1e-9):
            return "it stopped before the end"
        nodes = [node for node in self._deck.nodes if node != GROUND]
        voltages = np.array([vectors[self._deck.nodes[node]] for node in nodes])
        for node, v in zip(nodes, np.abs(voltages).max(axis=1), strict=True):
            if v > _V_ABSURD:
                return f"node {shown(node)} would go beyond {_V_ABSURD / 1e3:.0f} kV"
        return ""

    def _as_typed(self, line: str) -> str:
        """A message of ngspice with the user's names in it."""
        names = {short: long for long, short in self._deck.nodes.items() if long != GROUND}
        names |= {at: names[node] for at, node in self._deck.ammeters.items() if node in names}
        names |= {short: long for long, short in self._deck.elements.items()}
        # An ammeter stands for its junction.
        names |= {f"v{at}": names[at.replace("s", "d")] for at in self._deck.ammeters}
        words = re.sub(r"\s+", " ", line.strip().removeprefix("Warning: ")).rstrip(". ")
        return re.sub(
            r'"?\b([a-z]+\d+)\b(#branch)?"?',
            lambda found: shown(names[found[1]]) if found[1] in names else found[0],
            words,
        )

    def _waveforms(self, vectors: Mapping[str, Floats], t: Floats) -> Waveforms:
        v = {node: vectors[name] for node, name in self._deck.nodes.items() if node != GROUND}
        v[GROUND] = np.zeros_like(t)
        i = {name: vectors[vector] for name, vector in self._deck.currents.items()}
        return Waveforms(t=t, v=v, i=i)
