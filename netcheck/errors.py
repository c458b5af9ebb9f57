"""Exceptions: for input that cannot be used and for an engine that cannot answer.

What is wrong with a user's text is a list of findings, not an exception; `InputError`
only carries that list out of the library to whoever called it.
"""

from __future__ import annotations

from collections.abc import Sequence

from .finding import Finding


class NetcheckError(Exception):
    """Base of all exceptions that this package raises on purpose."""


class InputError(NetcheckError):
    """A file or a value given by the user cannot be used.

    Parameters
    ----------
    message : str
        One sentence for the user.
    findings : sequence of Finding, optional
        The places in the text, when a text is at fault.
    """

    def __init__(self, message: str, findings: Sequence[Finding] = ()) -> None:
        super().__init__(message)
        self.findings = tuple(findings)


class EngineError(NetcheckError):
    """The simulation could not answer: crash, hang, refusal or no steady state."""


class EngineOverdue(EngineError):
    """A run took longer than it may, and was stopped."""


class EngineMissing(EngineError):
    """No usable ngspice library was found on this machine."""
