"""Whole sessions on chassis made up for the test, which ngspice reads and not the fast path."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.commands.common import load
from netcheck.diagnose.diagnosis import Verdict
from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.predictor import Predictor
from netcheck.readings import Kind, Reading
from netcheck.readout.model import SectionModel
from netcheck.session.notebook import Outcome
from netcheck.session.session import WORTH_ASKING, Reached, Session
from netcheck.session.wording import verdict
from tests.chassis.chassis import Chassis
from tests.chassis.faults import Fault

from .conftest import BALANCE, YEAR, begun
from .played import Technician, play

STRAPPED = 20.2e3
"""82k across the 27k drawn: 1 / (1/27k + 1/82k) = 20.3k, less a little. [ohm]"""


def on(session: Session, service: Service, *faults: Fault, seed: int = 1) -> Technician:
    return Technician(Chassis(session.section, faults, seed, service))


def weighed(session: Session) -> list[tuple[tuple[str, ...], float]]:
    return [(s.parts, s.probability) for s in session.diagnosis.suspects]


@pytest.mark.parametrize("seed", [2, 4])
def test_a_strapped_foot_resistor_is_named_within_seven_readings(
    session: Session, service: Service, seed: int
) -> None:
    typed = play(session, on(session, service, Fault("R3", "off", STRAPPED), seed=seed))
    assert len(typed) <= 7
    assert (session.reached, session.diagnosis.verdict) == (Reached.SURE, Verdict.NAMED)
    assert [s.parts for s in session.diagnosis.group] == [("R3",)]
    (fitted,) = session.diagnosis.group[0].mode.fitted
    # The ohmmeter's 1 % and two digits are most of the uncertainty.
    assert fitted.nominal == pytest.approx(STRAPPED, rel=0.03)
    assert not session.is_sound


def test_a_valve_that_draws_grid_current_is_named(session: Session, service: Service) -> None:
    """5 uA make 0.34 V across its grid leak of 68k, and hardly show anywhere else."""
    play(session, on(session, service, Fault("V1", "draws grid current", 5e-6), seed=3))
    assert [s.parts for s in session.diagnosis.group] == [("V1",)]
    across = [r for r in session.notebook.readings if r.kind is Kind.DC and r.part == "R4"]
    assert abs(across[0].nominal) == pytest.approx(0.34, rel=0.15)


def test_another_circuit_with_two_pots(service: Service, tmp_path: Path) -> None:
    section = Section(load(BALANCE))
    model = SectionModel(Predictor(section, service))
    session = Session(model, begun(tmp_path / "amp.readings", section), YEAR)
    typed = play(session, on(session, service, Fault("R3", "off", 27e3)))
    assert [s.parts for s in session.diagnosis.group] == [("R3",)]
    assert len(typed) <= 10


def test_everything_skipped_leaves_nothing_to_ask(session: Session) -> None:
    skipped: list[Reading] = []
    while (asked := session.skip()) is not None:
        skipped.append(asked)
    assert session.reached is Reached.NOTHING_MORE
    assert not session.is_sound
    things = {(r.kind, r.plus, r.minus, r.part, *r.state.pots.items()) for r in skipped}
    assert len(things) == len(skipped) > 20
    # Written as across the pot, half of its track would be read back as all of it.
    halves = [r for r in skipped if r.kind is Kind.OHMS and "sweep" in (r.plus, r.minus)]
    assert [r.part for r in halves if {r.plus, r.minus} & {"head", "foot"}] == ["", ""]
    session.go_on()
    assert session.question is None or session.question.bits < WORTH_ASKING  # what told less


def test_a_session_goes_on_where_it_stood(session: Session, service: Service) -> None:
    technician = on(session, service)
    for _ in range(4):
        assert session.take(technician.reads(session)).outcome is Outcome.NOTED
    again = Session(session.model, session.notebook, YEAR)
    assert weighed(again) == weighed(session)
    had = {(r.kind, r.plus, r.minus, r.part) for r in session.notebook.readings}
    assert again.asked is not None
    assert (again.asked.kind, again.asked.plus, again.asked.minus, again.asked.part) not in had


def test_undo_brings_the_diagnosis_back(session: Session, service: Service) -> None:
    technician = on(session, service, Fault("R3", "off", STRAPPED))
    session.take(technician.reads(session))
    before = weighed(session)
    session.take(technician.reads(session))
    assert session.undo().outcome is Outcome.TAKEN_BACK
    assert weighed(session) == before


def test_going_on_asks_for_more(session: Session, service: Service) -> None:
    technician = on(session, service, Fault("R3", "off", STRAPPED))
    play(session, technician)
    assert session.asked is None
    session.go_on()
    if session.asked is not None:
        assert session.take(technician.reads(session)).outcome is Outcome.NOTED


def test_as_left_begins_anew(session: Session) -> None:
    session.take("RV1 at clockwise")
    session.take("raw -61.9 V")
    session.take("as left")
    assert session.reached is None
    assert session.diagnosis.readout.readings == ()
    assert session.asked is not None
    assert session.asked.state.stage == "as left"
    session.take("RV1 at clockwise")
    session.take("raw -60 V")
    text = session.notebook.file.path.read_text("utf-8")
    assert text.endswith("as left\n  RV1 at clockwise\n    raw -60 V\n")


def test_a_slip_of_the_pen_is_to_be_read_again(session: Session) -> None:
    for typed in ("RV1 at clockwise", "raw -61.8 V", "foot -33.0 V", "grid1 -3.31 V"):
        session.take(typed)
    told = list(verdict(session.diagnosis, session.section, Reached.SURE))
    assert told == [
        "> 99%: the reading of grid1 (RV1 cw) looks like -3.31 V for -33.1 V.",
        "Read it again: what you type then takes the place of the first.",
    ]
    session.take("grid1 -33.1 V")
    assert [r.nominal for r in session.notebook.readings] == [-61.8, -33.0, -33.1]
    assert session.diagnosis.suspects[0].parts == ()
