"""All that a check has to say about one circuit, gathered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from .arrangement import Arrangement, arrangement
from .engine.service import Service
from .errors import EngineError
from .finding import Finding, Severity, in_reading_order
from .graph import Section
from .netlist import Circuit
from .roles import Role, roles
from .rules import check


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
    effects: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
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
    kind, parts = arrangement(section), roles(section)
    found = check(section)
    drawn = Survey(name, section, tuple(in_reading_order(found)), kind, parts)
    if service is None or not section.sources:
        return drawn
    try:
        return _simulated(drawn, service)
    except EngineError as error:
        return replace(drawn, unanswered=str(error))


def _simulated(drawn: Survey, service: Service) -> Survey:
    """The same, with ratings held against a simulation and effects computed."""
    from .effects import effects  # noqa: PLC0415 - a plain check does not simulate
    from .predictor import Predictor  # noqa: PLC0415
    from .worstcase import stresses  # noqa: PLC0415

    predictor = Predictor(drawn.section, service)
    found = check(drawn.section, stresses(predictor))
    return replace(drawn, findings=tuple(in_reading_order(found)), effects=effects(predictor),
                   simulated=True)  # fmt: skip
