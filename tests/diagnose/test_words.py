"""Readings, suspects and causes in words."""

from __future__ import annotations

import math

import pytest

from netcheck.commands.common import load
from netcheck.diagnose.explain import CAUSES, Fitted, cause, explanations
from netcheck.diagnose.hypotheses import (
    Hypothesis,
    misread,
    pairs,
    single,
    undrawn_leaks,
)
from netcheck.diagnose.suspects import Mode, Suspect
from netcheck.diagnose.words import (
    effort_words,
    fitted_words,
    mode_words,
    place,
    position_words,
    request,
    shown,
    subject,
    suspect_name,
    suspect_words,
)
from netcheck.graph import Section
from netcheck.netlist import Capacitor, Pot, Resistor
from netcheck.preferred import parallel
from netcheck.readings import OVERLOAD, Kind, Reading, State
from netcheck.readout.coordinates import FIXED

from .sections import METER, at, dc, ohms

SECTION = Section(load("two-6v6gt-foot"))
CIRCUITS = [
    "two-6v6gt-foot",
    "two-6l6gc-ht-tap",
    "two-el34-zener",
    "two-6v6gta-direct",
    "two-kt88-full-wave",
]


def resistor(r: float) -> Resistor:
    return Resistor(name="R3", start="foot", end="ground", r=r)


def fit(nominal: float, share: float = 0.005, coordinate: str = "R3") -> Fitted:
    return Fitted(coordinate, nominal, nominal * (1 - share), nominal * (1 + share))


# --- what would make a part act so


@pytest.mark.parametrize(
    ("drawn", "acts", "told"),
    [
        (33e3, parallel(33e3, 82e3), "82k across the 33k drawn"),  # 23.5k
        (27e3, parallel(27e3, 82e3), "82k across the 27k drawn"),
        (2.7e3, 27e3, "27k fitted: 2k7 misread by a decade"),
        (27e3, 2.7e3, "2k7 fitted: 27k misread by a decade"),
        (27e3, 39e3, "39k fitted"),
        (220e3, 283e3, "the 220k drawn, drifted upwards by 29%"),
    ],
)
def test_the_likeliest_explanation(drawn: float, acts: float, told: str) -> None:
    found = explanations(resistor(drawn), fit(acts))
    assert told in [e.text for e in found[:2]]
    assert [e.weight for e in found] == sorted((e.weight for e in found), reverse=True)
    assert len(found) <= 3


def test_a_value_known_roughly_has_more_explanations_than_one_known_well() -> None:
    well = explanations(resistor(27e3), fit(20.3e3, 0.005))
    roughly = explanations(resistor(27e3), fit(20.3e3, 0.15))
    assert well[0].weight / well[-1].weight > roughly[0].weight / roughly[-1].weight


def test_pots_and_capacitors() -> None:
    pot = Pot(name="RV1", top="a", wiper="b", bottom="c", r=10e3)
    assert explanations(pot, fit(25.3e3, 0.05, "RV1"))[0].text == "a 25k pot"
    film = Capacitor(name="C8", start="a", end="b", c=100e-9, polarised=False)
    assert explanations(film, fit(47e-9, 0.02, "C8"))[0].text == "47 nF fitted"
    assert not explanations(pot, fit(1.0, 0.1, "RV1.top end"))


def test_causes_are_of_ways_that_are_thought_of() -> None:
    known = set()
    for name in CIRCUITS:
        section = Section(load(name))
        for h in single(section, []):
            part = section.circuit.part(h.label) if h.parts else None
            known.add(f"{part.kind if part else h.label} {h.mode}")
    known |= {f"leak {h.mode}" for h in undrawn_leaks(["leak raw to foot"])}
    assert set(CAUSES) <= known
    assert cause(None, "mains", "low")
    assert cause(None, "leak raw to foot", "not drawn")
    assert cause(resistor(1e3), "R3", "low") == ""


# --- ways of being at fault


def mode_of(section: Section, hypothesis: Hypothesis) -> Mode:
    """A way with a value in the middle of its range."""
    fitted = tuple(Fitted(name, math.exp(0.5 * (p.a + p.b)), math.exp(p.a), math.exp(p.b))
                   for name, p in hypothesis.changes.items() if p.kind != FIXED)  # fmt: skip
    return Mode(hypothesis, 1.0, fitted, 1.0)


@pytest.mark.parametrize("name", CIRCUITS)
def test_every_way_of_failing_is_a_sentence_that_names_its_part(name: str) -> None:
    section = Section(load(name))
    readings = [dc("grid1", -40.0, at({}))]
    every = [*single(section, readings), *pairs(section)]
    seen = {}
    for hypothesis in every:
        told = mode_words(section, mode_of(section, hypothesis), readings)
        if hypothesis.parts:
            assert all(part in told for part in hypothesis.parts)
            assert not told.endswith(".")
            assert "  " not in told
            seen[told] = hypothesis
    assert len(seen) == len(every) - 1  # no two are told alike


@pytest.mark.parametrize(
    ("part", "mode", "told"),
    [
        ("R2", "open", "R2 is open"),
        ("R2", "short", "R2 is shorted"),
        ("RV1", "wiper lifted", "the wiper of RV1 has lifted"),
        ("RV1", "audio taper", "RV1 has an audio taper where linear is drawn"),
        ("RV1", "wired the other way", "RV1 is wired the other way"),
        ("D1", "short", "D1 is shorted"),
        ("T1", "no volts", "T1 gives no volts"),
        ("C1", "short", "C1 is shorted"),
    ],
)
def test_ways_without_a_value(part: str, mode: str, told: str) -> None:
    (h,) = [h for h in single(SECTION, []) if h.parts == (part,) and h.mode == mode]
    assert mode_words(SECTION, mode_of(SECTION, h)) == told


@pytest.mark.parametrize(
    ("coordinate", "value", "told"),
    [
        ("R3", 20.1e3, "acts as 20.1k (19.1k to 21.1k)"),
        ("C1.leak", 8e3, "leaks like 8.00k (7.60k to 8.40k)"),
        ("C1", 4e-6, "acts as 4.00 uF (3.80 to 4.20)"),
        ("C1.esr", 40.0, "has an ESR of 40.0 ohm (38.0 to 42.0)"),
        ("V1.grid current", 5e-6, "draws 5.00 uA (4.75 to 5.25)"),
        ("RV1.top end", 2e3, "has at its top end 2.00k (1.90k to 2.10k)"),
        ("T1", 40.0, "gives 40.0 Vac (38.0 to 42.0)"),
        ("mains", 0.87, "is at 87 % (83 to 91 %) of nominal"),
        ("dmm.input", 0.1, "loads the circuit 10 times as much as stated"),
    ],
)
def test_values_in_their_units(coordinate: str, value: float, told: str) -> None:
    part = SECTION.circuit.part(coordinate.partition(".")[0])
    assert fitted_words(part, Fitted(coordinate, value, 0.95 * value, 1.05 * value)) == told


def test_a_misread_reading_is_told_with_the_reading() -> None:
    readings = [dc("grid1", -4.4, at({"RV1": 1.0}))]
    told = {}
    for h in misread(readings, [0]):
        suspect = Suspect(h.parts, 1.0, (mode_of(SECTION, h),))
        assert suspect_name(suspect, readings) == "the reading of grid1 (RV1 cw)"
        told[h.mode] = suspect_words(SECTION, suspect, readings)
    assert told == {
        "a decade too low": "the reading of grid1 (RV1 cw) looks like -4.40 V for -44.0 V",
        "a decade too high": "the reading of grid1 (RV1 cw) looks like -4.40 V for -0.440 V",
        "leads swapped": "the reading of grid1 (RV1 cw) looks like -4.40 V for 4.40 V",
        "misread": "the reading of grid1 (RV1 cw) is misread",
    }


# --- readings


def reading(
    kind: Kind, plus: str = "", minus: str = "", part: str = "", live: bool = True
) -> Reading:
    return Reading(kind, 1.0, 0.1, at({"RV1": 0.0}, live=live), METER, plus, minus, part)


@pytest.mark.parametrize(
    ("asked", "about", "words", "effort"),
    [
        (reading(Kind.DC, "raw", "ground"), "raw",
         "measure d.c. volts at raw against ground, RV1 fully anticlockwise", "live"),
        (reading(Kind.DC, "raw", "head"), "raw to head",
         "measure d.c. volts at raw against head, RV1 fully anticlockwise", "live"),
        (reading(Kind.MAINS), "mains", "measure the mains voltage", "live, at the mains"),
        (reading(Kind.AC, "tap", "ground"), "tap, a.c.",
         "measure a.c. volts at tap against ground, RV1 fully anticlockwise", "live, at the winding"),
        (reading(Kind.RIPPLE, "raw", "ground"), "raw, ripple",
         "measure the ripple at raw against ground, RV1 fully anticlockwise", "live"),
        (reading(Kind.CURRENT, part="V1"), "V1 cathode",
         "read the cathode current of V1, RV1 fully anticlockwise", "live"),
        (reading(Kind.OHMS, "foot", "ground", "R3", live=False), "across R3",
         "measure the resistance across R3, from foot to ground, with the power off, capacitors "
         "discharged and all parts soldered in, RV1 fully anticlockwise", "power off"),
        (reading(Kind.OHMS, "ground", "feed", live=False), "ground to feed",
         "measure the resistance from ground to feed, red lead on ground, with the power off, "
         "capacitors discharged and all parts soldered in, RV1 fully anticlockwise", "power off"),
        (reading(Kind.REVERSE, "feed", "raw", "D1", live=False), "D1 reverse",
         "put the meter on diode test across D1 with the power off, capacitors discharged and all "
         "parts soldered in, red lead on the cathode, feed", "power off"),
        (reading(Kind.LIFTED, part="R3", live=False), "R3 lifted",
         "lift one leg of R3 with the power off and measure it alone", "power off, one leg unsoldered"),
    ],
)  # fmt: skip
def test_what_to_do(asked: Reading, about: str, words: str, effort: str) -> None:
    assert subject(asked) == about
    assert request(SECTION, asked) == words
    assert effort_words(SECTION, asked) == effort


def test_positions() -> None:
    state = at({"RV1": 1.0, "RV2": "middle", "RV3": 0.3})
    assert position_words(state) == "RV1 fully clockwise, RV2 at the middle, RV3 at 30 %"
    assert position_words(state, short=True) == "RV1 cw, RV2 middle, RV3 30 %"
    assert position_words(State()) == ""
    assert position_words(at({"RV1": 0.0, "RV2": 0.0}), short=True) == "all pots acw"


def test_a_reading_in_a_word() -> None:
    assert place(reading(Kind.DC, "grid1", "ground")) == "grid1, RV1 acw"
    assert place(reading(Kind.MAINS)) == "mains"
    assert place(reading(Kind.LIFTED, part="R3", live=False)) == "R3 lifted"
    for asked, name in ((reading(Kind.MAINS), "the reading of the mains"),
                        (reading(Kind.AC, "raw", "ground"), "the reading of raw, a.c. (RV1 acw)"),
                        (reading(Kind.OHMS, "foot", "ground", "R3", live=False), "the reading across R3 (RV1 acw)")):  # fmt: skip
        h = misread([asked], [0])[0]
        assert suspect_name(Suspect(h.parts, 1.0, (mode_of(SECTION, h),)), [asked]) == name


def test_overload() -> None:
    assert shown(Kind.OHMS, OVERLOAD) == "OL"
    assert subject(ohms(("raw", "head"), 1e3)) == "raw to head"
