"""Roles and arrangement of sound sections, against what was written down from the drawing."""

from __future__ import annotations

import pytest

from netcheck.arrangement import arrangement
from netcheck.graph import Section
from netcheck.roles import Role, roles

from .sections import SOUND, Sound, parsed, section_of

every_sound = pytest.mark.parametrize("sound", SOUND.values(), ids=SOUND.keys())


@every_sound
def test_each_part_has_the_role_that_the_drawing_gives_it(sound: Sound) -> None:
    found = {name: role.word for name, role in roles(Section(parsed(sound.text))).items()}
    assert found == sound.expected_roles


@every_sound
def test_the_arrangement_is_recognised(sound: Sound) -> None:
    kind = arrangement(Section(parsed(sound.text)))
    assert kind.supply == sound.supply
    assert kind.setting == sound.setting
    assert f"feeds {kind.grids} grid" in kind.sentence


def test_every_role_but_what_is_unknown_is_met_somewhere() -> None:
    met = {role for sound in SOUND.values() for role in sound.expected_roles.values()}
    smoothing = roles(section_of(_TWO_STAGES))
    met |= {role.word for role in smoothing.values()}
    assert {role.word for role in Role} - met == set()


_TWO_STAGES = """\
winding T1 from ground to tap 50 Vac source 60 ohm
diode D1 anode raw cathode tap 1000 V
capacitor C1 plus ground minus raw 47 uF 100 V
resistor R1 from raw to head 10k
capacitor C2 plus ground minus head 47 uF 100 V
pot RV1 top head wiper sweep bottom ground 47k
resistor R4 from sweep to grid1 150k
valve V1 EL34 grid grid1 plate 420 V
"""


def test_stages_of_smoothing_and_a_pot_across_the_supply() -> None:
    section = section_of(_TWO_STAGES)
    assert roles(section)["C2"] is Role.SMOOTHING
    sentence = arrangement(section).sentence
    assert "pot across the supply" in sentence
    assert "smoothed in stages" in sentence


def test_a_part_with_both_ends_on_one_node_is_said_to_be_of_no_known_kind() -> None:
    section = section_of(_TWO_STAGES + "resistor R9 from head to head 1k\n")
    assert roles(section)["R9"] is Role.OTHER


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ("resistor R1 from here to ground 1k\nresistor R2 from here to ground 1k\n",
         "no supply in the section"),
        ("winding T1 from ground to tap 50 Vac source 60 ohm\n"
         "resistor R1 from tap to grid 1k\nvalve V1 EL34 grid grid\n", "no rectifier"),
    ],
)  # fmt: skip
def test_what_is_missing_is_said_honestly(lines: str, said: str) -> None:
    assert said in arrangement(section_of(lines)).sentence


def test_a_supply_from_outside_the_section_gives_the_same_roles() -> None:
    inside = SOUND["direct supply, its plus grounded by a link"]
    outside = "\n".join(
        line for line in inside.text.splitlines() if not line.startswith(("supply", "link"))
    )
    section = Section(parsed(outside + "\nelsewhere raw\n"))
    assert {n: r.word for n, r in roles(section).items()} == inside.expected_roles
