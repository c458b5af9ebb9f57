"""All that a check has to say about one circuit, gathered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, TypeAlias

from .arrangement import Arrangement, arrangement
from .engine.service import Service
from .errors import EngineError
from .finding import Finding, Severity, in_reading_order
from .graph import Section
from .netlist import Circuit
from .roles import Role, roles
from .stress import Stresses

if TYPE_CHECKING:
    from concurrent.futures import Future

Moves: TypeAlias = Mapping[str, Mapping[str, float]]
"""Change of each grid when a part's value is raised by a tenth, by part and node. [V]"""


@dataclass(frozen=True)
class Survey:
    """One circuit, checked.

    Parameters
    ----------
    name : str
        Of the file, as the user gave it.
    section : Section
        The circuit with its graph.
    findings : tuple of Finding
        In the order of the text.
    arrangement : Arrangement
        What kind of bias supply it is.
    roles : mapping of part name to Role
        What each part is there for.
    effects : mapping of part name to mapping of node to float
        Change of each grid when the part's value is raised by a tenth; empty without
        simulation. [V]
    simulated : bool
        Whether ratings were held against a simulation.
    unanswered : str
        Why the simulation could not answer; empty if it did or was not wanted.
    """

    name: str
    section: Section
    findings: tuple[Finding, ...]
    arrangement: Arrangement
    roles: Mapping[str, Role]
    effects: Moves = field(default_factory=dict)
    simulated: bool = False
    unanswered: str = ""

    @property
    def matters(self) -> bool:
        """Whether there is more than notes."""
        return any(finding.severity is not Severity.NOTE for finding in self.findings)


def survey(circuit: Circuit, name: str, service: Service | None) -> Survey:
    """Check a circuit.

    Parameters
    ----------
    circuit : Circuit
        The circuit.
    name : str
        How to call its file.
    service : Service or None
        The simulator; None to look at the drawing only.

    Returns
    -------
    Survey
        Of the drawing alone, with the reason, where the simulator cannot answer.
    """
    if service is not None:
        service.start()
    section = Section(circuit)
    simulation = None
    if service is not None and section.sources:
        simulation = _begun(section, service)
    drawn = Survey(name, section, (), arrangement(section), roles(section))
    from .rules import check  # noqa: PLC0415 - read while the simulator is at work

    reason = ""
    if simulation is not None:
        try:
            stresses, effects = simulation.result()
        except EngineError as error:
            reason = str(error)
        else:
            found = in_reading_order(check(section, stresses))
            return replace(drawn, findings=tuple(found), effects=effects, simulated=True)
    return replace(drawn, findings=tuple(in_reading_order(check(section))), unanswered=reason)


def _begun(section: Section, service: Service) -> Future[tuple[Stresses, Moves]]:
    """Have ratings simulated and effects computed, while the caller looks at the drawing."""
    from concurrent.futures import ThreadPoolExecutor  # noqa: PLC0415

    # Read here and not in the thread, for which the caller would have to wait.
    from .effects import effects  # noqa: PLC0415 - a plain check does not simulate
    from .predictor import Predictor  # noqa: PLC0415
    from .worstcase import stresses  # noqa: PLC0415

    predictor = Predictor(section, service)
    pool = ThreadPoolExecutor(1)
    found: Future[tuple[Stresses, Moves]] = pool.submit(
        lambda: (stresses(predictor), effects(predictor))
    )
    pool.shutdown(wait=False)
    return found
