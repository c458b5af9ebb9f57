"""A technician who reads what is asked for on a chassis made up for the test."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from netcheck.quantity import show_reading
from netcheck.readings import OVERLOAD, Reading, dimension_of
from netcheck.session.notebook import Outcome
from netcheck.session.session import Session
from tests.chassis.chassis import Chassis
from tests.chassis.plans import Item


class Technician:
    """Reads what is asked for on a chassis.

    Parameters
    ----------
    chassis : Chassis
        The chassis.
    """

    def __init__(self, chassis: Chassis) -> None:
        self.chassis = chassis
        self._turn = 0

    def reads(self, session: Session) -> str:
        """What the meter shows at what is asked for, as it is typed."""
        asked = session.asked
        assert asked is not None
        # A pot that is not touched stands where it stood, judged by eye or not.
        self._turn += asked.state.turn != session.notebook.state.turn
        state = replace(asked.state, turn=self._turn)
        item = Item(asked.kind, asked.plus, asked.minus, asked.part, state)
        (reading,) = self.chassis.readings([item])
        return typed(reading)


def typed(reading: Reading) -> str:
    """A reading as a technician types it."""
    if reading.nominal == OVERLOAD:
        return "OL"
    step = Decimal(repr(reading.last_digit)).normalize()
    return show_reading(reading.nominal, dimension_of(reading.kind), step)


def play(session: Session, technician: Technician, most: int = 30) -> list[str]:
    """Answer every question until the session has come to its end; what was typed."""
    answers: list[str] = []
    while session.asked is not None and len(answers) < most:
        text = technician.reads(session)
        reply = session.take(text)
        if reply.outcome is Outcome.DOUBTED:
            reply = session.take(text)
        assert reply.readings, (text, reply)
        answers.append(text)
    return answers
