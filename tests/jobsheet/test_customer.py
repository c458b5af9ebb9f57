"""The customer's page: no word that only the trade knows, and nothing claimed that is not known."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from netcheck.commands.common import load
from netcheck.compare import Repair
from netcheck.compare.earlier import earlier
from netcheck.diagnose.account import Account
from netcheck.diagnose.diagnosis import Verdict
from netcheck.diagnose.hypotheses import Hypothesis, misread, pairs, single
from netcheck.diagnose.suspects import Mode, Suspect
from netcheck.graph import Section
from netcheck.idle import Stage, target
from netcheck.jobsheet import customer
from netcheck.jobsheet.changed import changed
from netcheck.jobsheet.plain import fault_words
from netcheck.jobsheet.request import Missing
from netcheck.remedy.study import Remedies
from netcheck.remedy.ways import Kind as WayKind
from netcheck.remedy.ways import Way
from netcheck.resources import folder
from netcheck.valves import lookup
from netcheck.valves.practice import WINDOW

from ..suspected import account_of
from .conftest import FOOT, Made
from .markup import Page

JARGON = re.compile(
    r"\b(bias|grid|cathode|plate|anode|screen|dissipat\w*|quiescent|wiper|foot|dropper|reservoir"
    r"|electrolytic|zener|smoothing|bleeder|trimmer|potentiometer|pot|ohms?|volts|milliamps"
    r"|tolerance|ripple|rectifier|leak resistor|standard deviation|s\.d\.|node|netlist|null|none"
    r"|nan|true|false|undefined)\b", re.IGNORECASE)  # fmt: skip
SECTION = Section(load(FOOT))
EVERY = sorted(path.stem for path in folder("circuits").glob("*.bias"))


def page_words(made: Made) -> str:
    """The customer's page without the caution, which is the same everywhere."""
    page = Page(made.page)
    caution = page.by_id("customer-caution").parent
    assert caution is not None
    told = page.by_id("customer").all_text.replace(caution.all_text, "")
    return " ".join(told.split())


def test_the_page_has_no_jargon(foot: Made) -> None:
    told = page_words(foot)
    assert not JARGON.findall(told)
    assert "The resistor R3 has less than its proper value." in told
    assert "The resistor R3 is to be put back to what it should be, or replaced." in told
    assert "1 resistor 27k (R3)" in told
    assert "What is proposed" in told
    assert len(told.split()) < 400


def test_two_parts_are_told_in_the_plural(foot: Made) -> None:
    ways = foot.job.remedies
    assert isinstance(ways, Remedies)
    both = replace(ways.options[0], before=None, way=Way(WayKind.RESTORE, ("R3", "RV1")))
    told = customer.done_words(replace(foot.job, remedies=replace(ways, options=(both,))))
    assert told[0] == ("The resistor R3 and the adjusting control RV1 are to be put back to what "
                       "they should be, or replaced.")  # fmt: skip


def test_a_rectifier_is_replaced(foot: Made) -> None:
    ways = foot.job.remedies
    assert isinstance(ways, Remedies)
    diode = replace(ways.options[0], before=None, way=Way(WayKind.RESTORE, ("D1",)))
    told = customer.done_words(replace(foot.job, remedies=replace(ways, options=(diode,))))
    assert told[0] == "The diode D1 is to be replaced."


def test_the_list_of_jargon_finds_some(foot: Made) -> None:
    bench = Page(foot.page).by_id("bench").all_text
    assert {"grid", "cathode", "plate", "dissipation"} <= {w.lower() for w in JARGON.findall(bench)}


@pytest.mark.parametrize("name", EVERY)
def test_every_fault_can_be_said_in_plain_words(name: str) -> None:
    section = Section(load(name))
    every: list[Hypothesis] = [h for h in single(section, []) if h.parts]
    every += [next(pairs(section)), *misread_of(section)]
    for hypothesis in every:
        suspect = Suspect(hypothesis.parts, 1.0, (Mode(hypothesis, 1.0, (), 0.0),))
        told = fault_words(section.circuit, suspect)
        assert not JARGON.findall(told), told
        assert re.fullmatch(r"[A-Z].*\.", told), told
        if hypothesis.reading is None and hypothesis.parts[0] != "mains":
            assert all(part.removeprefix("meter ") in told for part in hypothesis.parts), told


def misread_of(section: Section) -> list[Hypothesis]:
    one = replace(Hypothesis((), "sound"), parts=("reading 1",), reading=0)
    return [one, *misread([], [])]


def test_what_is_right_is_the_window_as_a_current(foot: Made) -> None:
    kind = lookup("6V6GT", ())
    assert kind is not None
    # 60 to 70 % of 12 W at 390 V on the plate, the screen's share of the current on top.
    low, high = (target(Stage(kind, 390.0, 385.0, r_cathode=1.0), share).i_cathode.nominal
                 for share in WINDOW)  # fmt: skip
    share = kind.screen_share.nominal if kind.screen_share else 0.05
    assert low == pytest.approx(0.6 * 12.0 / 390.0 * (1.0 + share), rel=1e-3)
    (first, *_) = customer.idling(foot.job)
    assert first.wanted == f"{low * 1e3:.0f} to {high * 1e3:.0f} mA"


def test_a_current_at_a_stop_is_not_what_it_idled_at(foot: Made) -> None:
    """As found the currents were read fully anticlockwise, where one begins: the fault made them
    too high where the pot stood."""
    for one in customer.idling(foot.job):
        assert one.before.endswith("too high (calculated)")
    assert "was not measured" in customer.idling_note(foot.job)
    without = replace(foot.job, came_in={})
    for one in customer.idling(without):
        assert one.before.endswith("too low (control at its end)")


def test_nothing_is_claimed_to_be_done_that_is_not_known(bad: Made) -> None:
    """Readings as left tell that something was done, and an uncertain diagnosis not what."""
    job = bad.job
    assert job.is_done
    assert isinstance(job.account, Account)
    assert job.account.diagnosis.verdict is Verdict.GROUP
    assert job.repair is None
    assert customer.done_words(job) == ["What was done has not been written down."]
    assert customer.parts(job)[0] == []
    assert "24.0 mA, right" in [one.after for one in customer.idling(job)]


def test_what_was_stated_is_told(foot: Made) -> None:
    left = load(FOOT)
    before = earlier(left, ["R3=20.2k", "R6=open"])
    job = replace(
        foot.job,
        request=replace(foot.job.request, before=before),
        changed=tuple(changed(before, left)),
        remedies=None,
        came_in={},
    )
    assert job.is_done
    assert [one.words for one in job.changed] == ["R3 was 20k2 and is 27k now",
                                                  "R6 was open and is 220k now"]  # fmt: skip
    assert customer.found_words(job) == ["The resistor R3 was not of the value that is needed.",
                                         "The resistor R6 was broken."]  # fmt: skip
    assert customer.done_words(job) == ["The resistor R3 was replaced or put right.",
                                        "The resistor R6 was replaced or put right."]  # fmt: skip
    fitted, worth = customer.parts(job)
    assert fitted == ["1 resistor 27k (R3)", "1 resistor 220k (R6)"]
    assert worth == ["1 resistor 27k (R3)"]


def test_without_readings_nothing_is_said_to_be_found(foot: Made) -> None:
    job = replace(foot.job, account=None, stages=(), remedies=None, came_in={})
    assert customer.found_words(job) == [
        "Nothing has been measured yet: this sheet is made from the drawing."]  # fmt: skip
    gone = replace(foot.job, account=Missing("no answer", True), remedies=Missing("no answer"))
    assert customer.done_words(gone) == ["What is to be done has not been settled yet."]


@pytest.mark.parametrize("verdict", Verdict)
def test_every_verdict_has_plain_words(foot: Made, verdict: Verdict) -> None:
    assert isinstance(foot.job.account, Account)
    found = replace(foot.job.account.diagnosis, verdict=verdict)
    if verdict is Verdict.GROUP:
        found = replace(found, group=(*found.group, replace(found.group[0], parts=("R2",))))
    job = replace(foot.job, account=replace(foot.job.account, diagnosis=found))
    told = " ".join(customer.found_words(job))
    assert told
    assert not JARGON.findall(told)


def test_a_part_that_is_at_fault_in_any_case_is_told(foot: Made) -> None:
    account = account_of(SECTION, Verdict.GROUP, ("R2", 0.6), ("R2 R5", 0.35))
    (told, *_) = customer.found_words(replace(foot.job, account=account))
    assert ": the resistor R2, alone or together with the resistor R5. One more" in told


def test_a_pot_that_can_over_run_is_warned_of(foot: Made) -> None:
    assert any("ruins the output valves" in words for words in customer.mind(foot.job))
    gone = replace(foot.job, prediction=Missing("no answer"))
    assert not any("ruins" in words for words in customer.mind(gone))


def test_an_unfinished_job_is_said_to_be_one(foot: Made) -> None:
    assert not isinstance(foot.job.repair, Repair)
    assert isinstance(foot.job.remedies, Remedies)
    assert not any("not finished" in words for words in customer.mind(foot.job))
