"""What a remedy begins with: the section as drawn, or as it was diagnosed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..diagnose.diagnosis import Diagnosis, Verdict
from ..diagnose.suspects import Suspect
from ..diagnose.words import suspect_name, suspect_words
from ..engine.service import Service
from ..errors import EngineError
from ..graph import Section
from ..model import nominal_values
from ..netlist import Circuit
from ..predictor import Predictor
from ..readings import Kind, Reading
from .faulty import Faulty, NoCircuit, faulty
from .measured import Drawn, currents, shifted


@dataclass(frozen=True)
class Start:
    """What a remedy begins with.

    Parameters
    ----------
    drawn : Circuit
        As drawn, its valves as they were measured.
    circuit : Circuit
        As it stands on the bench: as drawn, or with the fault that was diagnosed.
    faults : tuple of str
        The parts that differ from the drawing.
    is_livable : bool
        Whether one could leave the fault and work around it.
    words : tuple of str
        What the readings said and what was made of it, sentences.
    first : str
        What has to be settled before anything is soldered in, a sentence; empty where nothing
        has to.
    fault_words : str
        What is wrong, in one phrase; empty where nothing is.
    is_certain : bool
        Whether the readings leave no other suspect.
    measured : tuple of Drawn
        The cathode currents that the valves were shifted to.
    """

    drawn: Circuit
    circuit: Circuit
    faults: tuple[str, ...] = ()
    is_livable: bool = True
    words: tuple[str, ...] = ()
    first: str = ""
    fault_words: str = ""
    is_certain: bool = True
    measured: tuple[Drawn, ...] = ()


def as_drawn(circuit: Circuit) -> Start:
    """Begin with the drawing."""
    return Start(circuit, circuit)


def as_diagnosed(circuit: Circuit, service: Service, found: Diagnosis,
                 readings: Sequence[Reading]) -> Start:  # fmt: skip
    """Begin with what a diagnosis found.

    Parameters
    ----------
    circuit : Circuit
        As drawn.
    service : Service
        The running simulator.
    found : Diagnosis
        The diagnosis.
    readings : sequence of Reading
        All readings of its stage.

    Raises
    ------
    EngineError
        If the simulator cannot answer.
    """
    said = _Said(found)
    fault = said.fault(circuit)
    bench = circuit if fault is None else fault.circuit
    drawn, more = _measured(bench, service, readings)
    words = (*said.words, *more)
    if fault is None:
        both = shifted(circuit, drawn)
        return Start(both, both, words=words, first=said.first, measured=tuple(drawn))
    return Start(
        shifted(circuit, drawn),
        shifted(bench, drawn),
        fault.parts,
        fault.is_livable,
        words,
        said.first,
        said.told,
        found.verdict is Verdict.NAMED,
        tuple(drawn),
    )


_WITHOUT_FAULT = {
    Verdict.SOUND: "The readings agree with the drawing: this begins with it.",
    Verdict.UNDETERMINED: "The readings do not tell whether anything is wrong: this begins with "
                          "the drawing.",
    Verdict.NONE_FITS: "Nothing that is thought of explains the readings: this begins with the "
                       "drawing, and may be beside the point.",
}  # fmt: skip


class _Said:
    """What is said of a diagnosis.

    Parameters
    ----------
    found : Diagnosis
        The diagnosis.
    """

    def __init__(self, found: Diagnosis) -> None:
        self._found = found
        self.words: list[str] = []
        self.first = ""
        self.told = ""

    def fault(self, circuit: Circuit) -> Faulty | None:
        """The leading suspect as a circuit; None where it is none, or there is none."""
        found = self._found
        if found.verdict in _WITHOUT_FAULT:
            self.words.append(_WITHOUT_FAULT[found.verdict])
            if found.verdict is Verdict.NONE_FITS:
                self.first = "Find out first what is wrong: nothing fits the readings."
            return None
        suspect = next(s for s in found.suspects if s.parts)
        self.told = suspect_words(found.readout.model.section, suspect, found.readout.readings)
        lead = "The readings say" if found.verdict is Verdict.NAMED else "Most probable"
        self.words.append(f"{lead}: {self.told}.")
        self._others(suspect)
        try:
            return faulty(circuit, suspect)
        except NoCircuit as reason:
            self.words.append(f"This begins with the drawing: {reason}.")
            if not self.first and suspect.parts != ("mains",):
                self.first = f"First put right what the readings say: {self.told}."
            return None

    def _others(self, suspect: Suspect) -> None:
        found = self._found
        if found.verdict is Verdict.GROUP:
            others = [suspect_name(s, found.readout.readings) for s in found.group
                      if s is not suspect]  # fmt: skip
            self.first = "Find out first what is wrong: the readings leave more than one part."
            self.words.append(f"They leave {', '.join(others)} as well: settle that first, with "
                              "the reading that netcheck diagnose proposes.")  # fmt: skip


def _measured(bench: Circuit, service: Service, readings: Sequence[Reading]
              ) -> tuple[list[Drawn], list[str]]:  # fmt: skip
    """The cathode currents, read off on the circuit as it stood."""
    if not any(r.kind in {Kind.CURRENT, Kind.CATHODE} for r in readings):
        return [], []
    changes = {}
    mains = next((r.nominal for r in readings if r.kind is Kind.MAINS), None)
    if mains is not None and bench.mains is not None and "mains" in nominal_values(bench):
        changes = {"mains": mains / bench.mains.v_nominal}
    try:
        drawn = currents(Predictor(Section(bench), service, changes), readings)
    except EngineError:
        return [], ["The cathode currents that were read are left out: the circuit as diagnosed "
                    "cannot be simulated."]  # fmt: skip
    return drawn, []
