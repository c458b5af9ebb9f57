"""What the worker does with a job: the only place where engine and jobs meet."""

from __future__ import annotations

import traceback
from pathlib import Path

from ..errors import EngineError
from . import ngspice, shooting
from .jobs import Answer, Failure, Job, SteadyJob


class Solver:
    """ngspice, loaded and ready.

    Raises
    ------
    EngineMissing
        When there is no usable library.
    """

    def __init__(self) -> None:
        self._library = ngspice.Library()

    @property
    def version(self) -> str:
        """Name and version of the simulator."""
        return self._library.version

    def answer(self, job: Job) -> Answer | Failure:
        """Do one job; whatever happens is an answer."""
        try:
            return self._result(job)
        except EngineError as error:
            return Failure(str(error))
        except ngspice.LibraryLostError:
            return Failure("ngspice gave up on this circuit", lost=True)
        except MemoryError:
            return Failure("the simulation needed too much memory", lost=True)
        except Exception as error:
            # A mistake of ours: it must not look like an answer, nor take the session down.
            frame = traceback.extract_tb(error.__traceback__)[-1]
            place = f"{Path(frame.filename).name}:{frame.lineno}"
            return Failure(f"the simulation failed: {type(error).__name__} at {place}", lost=True)

    def _result(self, job: Job) -> Answer:
        circuit = ngspice.Ngspice(self._library, job.elements, job.frequency)
        if isinstance(job, SteadyJob):
            return shooting.find(
                circuit,
                job.elements,
                job.frequency,
                job.start,
                job.steps_per_cycle,
                patient=job.patient,
                slope=job.slope,
                slope_wanted=job.slope_wanted,
            )
        return circuit.transient(job.start, job.nodes, job.duration, job.step, job.begin)
