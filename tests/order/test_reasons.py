"""Ages, selenium, readings, the diagnosis, valves and remedies: what each puts on the list."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest

from netcheck.engine.service import Service
from netcheck.netlist import Circuit, Valve
from netcheck.order.bearing import Bearing
from netcheck.order.found import alone_needs
from netcheck.order.needs import Need, Reason, dated
from netcheck.order.purchase import Purchase
from netcheck.order.selenium import silicon
from netcheck.order.shopping import Evidence, lines
from netcheck.order.valves import asked_needs, measured_needs, must_draw
from netcheck.predictor import Predictor
from netcheck.readings import OVERLOAD, Kind, Reading, State
from netcheck.remedy.samples import Sample
from netcheck.resources import folder

from ..chassis.chassis import DMM
from .conftest import YEAR, Lister, line_for, section_of

TODAY = datetime.date.today().year


def example(name: str) -> str:
    return (folder("circuits") / f"{name}.bias").read_text(encoding="utf-8")


def circuit_of(name: str) -> Circuit:
    return section_of(example(name)).circuit


# --------------------------------------------------------------------------- ages


@pytest.mark.parametrize(("age", "is_old"), [(20, False), (21, True), (60, True)])
def test_electrolytics_are_replaced_past_20_years(age: int, is_old: bool, listed: Lister) -> None:
    text = example("two-6v6gt-foot").replace("47 uF   100 V", f"47 uF 100 V year {TODAY - age}")
    line = line_for(listed(text), "C1")
    assert (line is not None) is is_old
    if line is not None:
        assert line.parts == ("C1",)  # C2 has no year: nothing is known of it
        assert line.purchase.text == "electrolytic 47 uF 100 V 105 C"


def test_the_year_of_the_amplifier_is_for_parts_without_one(listed: Lister) -> None:
    text = example("two-6v6gt-foot").replace("10 uF   100 V", f"10 uF 100 V year {TODAY - 5}")
    aged = dated(section_of(text).circuit, 1968)
    part = aged.part("C2")
    assert part is not None
    assert part.year == TODAY - 5
    assert {p.year for p in aged.parts} == {1968, TODAY - 5}


def test_a_film_capacitor_does_not_age(listed: Lister) -> None:
    text = example("two-6v6gt-foot").replace(
        "C2   plus ground  minus sweep   10 uF", "C2   from ground  to sweep   100n  year 1968 #"
    )
    assert line_for(listed(text), "C2") is None


# ----------------------------------------------------------------------- selenium


def test_silicon_in_place_of_selenium_with_its_resistor_gives_the_same_bias(
    listed: Lister, service: Service
) -> None:
    """The two parts on the list, typed into the circuit and simulated: the bias is back."""
    text = example("two-6l6gc-selenium")
    made = listed(text)
    assert line_for(made, "D1") is not None
    added = line_for(made, "in series with D1")
    assert added is not None
    assert added.purchase.value is not None
    before = Predictor(section_of(text), service)
    line = next(line for line in text.splitlines() if line.startswith("diode"))
    after = {}
    for r in (1e-2, added.purchase.value):
        fitted = text.replace(line, "diode D1 anode raw cathode feed type 1N4007\n"
                                    f"resistor R9 from tap to feed {r:g} ohm")  # fmt: skip
        predictor = Predictor(section_of(fitted), service)
        after[r] = predictor.whole(predictor.values()).mean["grid1"]
    was = before.whole(before.values()).mean["grid1"]
    without, with_it = after.values()
    assert without - was == pytest.approx(-1.9, abs=0.1)
    # E12 steps are 20 % apart, so that at most a tenth of the shift is left.
    assert abs(with_it - was) < 0.12 * abs(without - was)


def test_a_dropper_that_is_there_grows(listed: Lister) -> None:
    text = example("two-6l6gc-selenium").replace(
        "winding   T1   from ground to tap ", "resistor R9 from bare to tap 220 ohm 10% 1 W\n"
        "winding   T1   from ground to bare ")  # fmt: skip
    line = line_for(listed(text), "R9")
    assert line is not None
    assert line.purchase.value in (330.0, 390.0, 470.0)
    assert line.purchase.power == 1.0  # never less than was fitted
    assert "from 220 ohm to" in line.reasons[0].reason.text


def test_no_selenium_nothing_to_say(service: Service) -> None:
    found = silicon(section_of(example("two-6v6gt-foot")), service)
    assert found is not None
    assert found.shift == pytest.approx(0.0, abs=1e-3)
    assert found.r_added is None


# ----------------------------------------------------------------------- readings


def alone(part: str, kind: Kind, nominal: float, last: float) -> Reading:
    return Reading(kind, nominal, last, State(live=False, discharged=True), DMM, part=part)


def wanted(reading: Reading) -> str:
    """The purchase that a reading of the 6V6GT example leads to; empty for none."""
    needs = list(alone_needs(circuit_of("two-6v6gt-foot"), [reading], Bearing()))
    assert len(needs) <= 1
    return needs[0].purchase.text if needs else ""


@pytest.mark.parametrize(
    ("reading", "bought"),
    [
        # 27k 5 %: up to 28.35k, and the meter's 0.8 % with two digits.
        (alone("R3", Kind.LIFTED, 28.3e3, 100.0), ""),
        (alone("R3", Kind.LIFTED, 28.6e3, 100.0), ""),
        (alone("R3", Kind.LIFTED, 29.2e3, 100.0), "resistor 27k 5% 0.5 W"),
        (alone("R3", Kind.LIFTED, OVERLOAD, 0.0), "resistor 27k 5% 0.5 W"),
        (alone("RV1", Kind.LIFTED, 11.5e3, 100.0), ""),
        (alone("RV1", Kind.LIFTED, 14.9e3, 100.0), "pot 10k linear 0.25 W"),
        (alone("C1", Kind.CAPACITANCE, 41e-6, 0.1e-6), ""),
        (alone("C1", Kind.CAPACITANCE, 21e-6, 0.1e-6), "electrolytic 47 uF 100 V 105 C"),
        (alone("C1", Kind.CAPACITANCE, 66e-6, 0.1e-6), ""),
        (alone("C1", Kind.ESR, 0.4, 0.01), ""),
        (alone("C1", Kind.ESR, 12.0, 0.1), "electrolytic 47 uF 100 V 105 C"),
        (alone("T1", Kind.LIFTED, 60.0, 0.1), ""),
    ],
)
def test_parts_that_were_measured_alone(reading: Reading, bought: str) -> None:
    assert wanted(reading) == bought


def test_what_a_drifted_part_measures_is_said(listed: Lister) -> None:
    found = listed(example("two-6v6gt-foot"),
                   Evidence([alone("R2", Kind.LIFTED, 23.4e3, 100.0)]))  # fmt: skip
    line = line_for(found, "R2")
    assert line is not None
    (why,) = line.reasons
    assert why.reason == Reason(
        "measures 23.4k alone where 18k is drawn: +30 %, beyond its 10 %", "the readings"
    )


# ------------------------------------------------------------------------- valves


def test_a_matched_set_with_what_it_must_draw() -> None:
    """12 W x 0.60 / 390 V and x 0.70: 18.5 and 21.5 mA of plate current, and the screen's."""
    circuit = circuit_of("two-6v6gt-foot")
    (need,) = asked_needs(circuit)
    assert need.count == 2
    assert need.part == "V1 and V2"
    assert need.purchase.text == "valve 6V6GT, matched pair"
    valve = circuit.part("V1")
    assert isinstance(valve, Valve)
    told = must_draw(circuit, valve, (0.6, 0.7))
    low, high = (float(word) for word in told.split("draw ")[1].split(" mA")[0].split(" to "))
    for share, i in ((0.6, low), (0.7, high)):
        plate = share * 12.0 / 390.0 * 1e3
        assert plate * 1.02 < i < plate * 1.15  # published screen shares
    assert must_draw(circuit, replace(valve, v_plate=None), (0.6, 0.7)) == ""


def test_four_make_a_quartet() -> None:
    (need,) = asked_needs(circuit_of("four-el34-foot"))
    assert (need.count, need.purchase.text) == (4, "valve EL34, matched quartet")


@pytest.mark.parametrize(
    ("currents", "told"),
    [
        ((1.0, 1.1), ""),
        ((1.0, 1.3), "differ by"),
        ((1.0, 0.6), "V2 draws 0.60 times what an average one does"),
    ],
)
def test_valves_that_were_measured(currents: tuple[float, float], told: str) -> None:
    """20 mA of an average one: 3 mA between two are acceptable, 1.54 times is one in twenty."""
    samples = [Sample(f"V{k}", -35.0, ratio * 20e-3, ratio)
               for k, ratio in enumerate(currents, start=1)]  # fmt: skip
    needs = list(measured_needs(circuit_of("two-6v6gt-foot"), samples))
    assert bool(needs) is bool(told)
    for need in needs:
        assert told in need.reason.text
        assert need.condition  # exchange them first


# ------------------------------------------------------------------------ the list


def need(part: str, text: str = "a", condition: str = "", value: float = 27e3,
         own: bool = False) -> Need:  # fmt: skip
    return Need(part, Purchase("resistor", value, 0.5), Reason(text, "test"), condition,
                is_own_value=own)  # fmt: skip


def test_parts_that_are_alike_make_one_line() -> None:
    (line,) = lines([need("R1"), need("R2"), need("R1", "b")])
    assert (line.count, line.parts) == (2, ("R1", "R2"))
    assert [(why.parts, why.reason.text) for why in line.reasons] == [
        (("R1", "R2"), "a"), (("R1",), "b"),
    ]  # fmt: skip


def test_what_is_needed_in_any_case_needs_no_condition() -> None:
    sure, perhaps = lines([need("R1", condition="if"), need("R2", condition="if"), need("R2", "b")])
    assert (sure.parts, sure.condition) == (("R2",), "")
    assert (perhaps.parts, perhaps.condition) == (("R1",), "if")


def test_a_remedy_s_value_stands_before_the_one_drawn() -> None:
    (line,) = lines([need("R1"), need("R1", "remedy", value=22e3, own=True)])
    assert line.purchase.value == 22e3
    assert line.count == 1


def test_the_list_of_a_year(listed: Lister) -> None:
    """The age is told as of the year in which the list is made."""
    line = line_for(listed(example("two-6l6gc-selenium")), "C1")
    assert line is not None
    assert line.parts == ("C1", "C2")
    assert line.count == 2
    assert f"of 1957, {YEAR - 1957} years old" in line.reasons[0].reason.text
    # 20 mfd 150 V: the next usual value, and no less than its rating.
    assert line.purchase.text == "electrolytic 22 uF 160 V 105 C"
