"""What the parts of a divider on a direct voltage bear, by hand, and what is bought for it."""

from __future__ import annotations

import pytest

from netcheck.engine.service import Service
from netcheck.order import shelf
from netcheck.order.bearing import bearing
from netcheck.predictor import Predictor
from netcheck.resources import folder

from .conftest import Lister, line_for, section_of

TOTAL = 2e3 + 10e3 * 220e3 / (10e3 + 220e3) + 18e3
"""With the wiper at the bottom R6 lies across all of the track. [ohm]"""
DIVIDER = """\
circuit "Divider"
supply    S1   plus ground minus raw 60 V 10%
resistor  R2   from raw to head 2k 10% {r2}
pot       RV1  top head wiper arm bottom foot 10k 10% linear
resistor  R3   from foot to ground 18k 10% {r3}
capacitor C2   plus ground minus arm 22 uF {c2}
resistor  R6   from head to arm 220k 10% 0.5 W
resistor  R4   from arm to grid1 68k 10% 0.5 W
valve     V1   6V6GT grid grid1 plate 300 V screen 280 V cathode 1 ohm
"""
"""60 V, at most 66 V, over some 30k."""


def divider(r2: str = "0.5 W", r3: str = "0.5 W", c2: str = "100 V") -> str:
    return DIVIDER.format(r2=r2, r3=r3, c2=c2)


def hand_watts(r: float) -> float:
    """Supply at +10 %, all resistances at -10 %: the most that one of them dissipates. [W]"""
    return (66.0 / (0.9 * TOTAL)) ** 2 * 0.9 * r


def test_nothing_to_order_for_what_is_rated_well(listed: Lister) -> None:
    assert listed(divider()).lines == ()


def test_a_resistor_that_dissipates_too_much(listed: Lister) -> None:
    """R3: 66 V over 26.6k is 2.48 mA; in 16.2k that is 99.7 mW. Twice that asks for 1/4 W."""
    p = hand_watts(18e3)
    assert p == pytest.approx(0.0997, rel=1e-3)
    line = line_for(listed(divider(r3="0.125 W")), "R3")
    assert line is not None
    assert line.purchase.value == 18e3
    assert line.purchase.power == 0.25 >= 2.0 * p
    assert line.purchase.tolerance == 0.05
    (why,) = line.reasons
    assert why.reason.source == "common practice"
    # The 1 % that is left of the track at its end takes a little off.
    told = float(why.reason.text.split("up to ")[1].split(" mW")[0])
    assert told == pytest.approx(1e3 * p, rel=5e-3)
    assert "rated 0.125 W" in why.reason.text


def test_a_sound_rating_is_left_alone(listed: Lister) -> None:
    """11.1 mW in R2 at most: an eighth of a watt is plenty."""
    assert hand_watts(2e3) < 0.0112
    assert line_for(listed(divider(r2="0.125 W")), "R2") is None


def test_working_volts(listed: Lister) -> None:
    """R3 has 66 V x 18 / 29.57 = 40.2 V across it; it was rated for 20 V."""
    line = line_for(listed(divider(r3="0.5 W 20 V")), "R3")
    assert line is not None
    (why,) = line.reasons
    assert "has up to 40.2 V" in why.reason.text
    assert line.purchase.v_rated is None  # any 1/2 W resistor of today stands it


def test_a_capacitor_under_its_volts(listed: Lister) -> None:
    """The wiper at the hot end has 66 x 28/30 = 61.6 V; with the foot open all 66 V.

    1.25 x 66 = 82.5 V: the next usual rating is 100 V.
    """
    line = line_for(listed(divider(c2="50 V")), "C2")
    assert line is not None
    assert line.purchase.text == "electrolytic 22 uF 100 V 105 C"
    (why,) = line.reasons
    assert "rated 50 V" in why.reason.text
    assert "66.0 V if its load breaks" in why.reason.text


def test_what_stands_its_volts_but_not_the_loss_of_its_load(listed: Lister) -> None:
    """66 V x 14.6 / 74.3 = 12.9 V at the wiper's hot end, and all 66 V if the foot opens.

    25 V is enough for the first; the second is more than an electrolytic stands for a while.
    """
    text = divider(r2="1 W", c2="25 V").replace("2k 10%", "60k 10%").replace("18k", "4k7")
    line = line_for(listed(text), "C2")
    assert line is not None
    assert line.purchase.v_rated == 100.0
    assert (
        "has up to 12.9 V at high mains, 66.0 V if its load breaks" in line.reasons[0].reason.text
    )


def test_the_load_that_holds_down_a_dropped_supply_counts(service: Service) -> None:
    """470k in front of everything: 400 V behind it, and nobody fits capacitors for that."""
    text = (folder("circuits") / "two-el34-ht-dropper.bias").read_text("utf-8")
    borne = bearing(Predictor(section_of(text), service))
    assert borne.is_dropped
    assert max(borne.unloaded.values()) > 400.0
    assert borne.to_stand("C1") == borne.stress("C1").v_peak
    # The smoothing capacitor may come to stand at all of what the reservoir has, not more.
    assert borne.stress("C2").v_peak < borne.to_stand("C2") <= borne.stress("C1").v_peak


def test_an_unloaded_supply_is_the_peak_of_its_winding(service: Service) -> None:
    """48 Vac, 5 % and 10 % up: 78.4 V peak, less the diode's drop at next to no current."""
    text = (folder("circuits") / "two-6v6gt-foot.bias").read_text("utf-8")
    borne = bearing(Predictor(section_of(text), service))
    peak = 48.0 * 2**0.5 * 1.05 * 1.10
    assert borne.unloaded["C1"] == pytest.approx(peak - 0.5, abs=0.3)
    # The track is bridged by the wiper's safety resistor: the wiper has all of it too.
    assert borne.unloaded["C2"] == pytest.approx(borne.unloaded["C1"], abs=0.3)
    assert not borne.is_dropped


def test_a_rectifier_is_bought_for_twice_what_it_blocks(listed: Lister) -> None:
    """Peak and reservoir together: 2 x 65 V at high mains; a 1N4002 stands 100 V."""
    text = (folder("circuits") / "two-6v6gt-foot.bias").read_text("utf-8")
    line = line_for(listed(text.replace("feed    1000 V", "feed    type 1N4002")), "D1")
    assert line is not None
    assert line.purchase.text == f"diode {shelf.RECTIFIER} 1000 V"


def test_a_capacitor_without_a_rating_is_told_one(listed: Lister) -> None:
    made = listed(divider(c2=""))
    assert made.lines == ()
    assert any(text.startswith("C2: its rating is not stated; it should be 100 V")
               for text in made.remarks)  # fmt: skip
