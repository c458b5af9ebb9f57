"""What to buy: by hand from V^2 / R, and from the styles of the trade."""

from __future__ import annotations

import pytest

from netcheck.engine.service import Service
from netcheck.netlist import Capacitor, Circuit, Pot, Resistor
from netcheck.remedy.ratings import buy, over_stressed
from netcheck.stress import Stress

from .sections import divider, put_right


def resistor(r: float, power: float | None = None) -> Resistor:
    return Resistor(name="R7", start="a", end="b", r=r, power=power)


@pytest.mark.parametrize(
    ("volts", "r", "power"),
    [
        (20.0, 10e3, 0.25),  # 40 mW
        (35.0, 10e3, 0.25),  # 122 mW: twice that just fits
        (36.0, 10e3, 0.5),  # 130 mW
        (80.0, 10e3, 2.0),  # 640 mW
        (120.0, 10e3, 3.0),  # 1.44 W
    ],
)
def test_the_next_usual_rating_from_twice_up(volts: float, r: float, power: float) -> None:
    found = buy(resistor(r), Stress(v_forward=volts, power=volts**2 / r))
    assert found.power == power
    assert found.power >= 2.0 * volts**2 / r
    assert found.v_working is None


def test_small_resistors_bear_few_volts() -> None:
    """A quarter watt has 250 V of working voltage, half a watt 350 V, from memory."""
    dissipates = 0.02
    for volts, power in ((200.0, 0.25), (240.0, 0.5), (330.0, 1.0)):
        assert buy(resistor(1e6), Stress(v_forward=volts, power=dissipates)).power == power
    beyond = buy(resistor(1e6), Stress(v_backward=600.0, power=dissipates))
    assert beyond.v_working is not None
    assert beyond.v_working > 600.0


def test_what_is_put_back_has_the_rating_drawn_at_least() -> None:
    small = Stress(v_forward=5.0, power=0.01)
    assert buy(resistor(10e3, 1.0), small, as_drawn=True).power == 1.0
    assert buy(resistor(10e3, 1.0), small).power == 0.25


def test_a_pot_is_counted_for_its_whole_track() -> None:
    pot = Pot(name="RV1", top="a", wiper="w", bottom="b", r=10e3)
    found = buy(pot, Stress(v_forward=10.0, power=1e-3, i_rms=5e-3))
    assert found.p == pytest.approx(5e-3**2 * 10e3)
    assert found.power == 0.5


def test_parts_that_would_be_over_stressed() -> None:
    part = resistor(1e3, 0.5)
    capacitor = Capacitor(name="C1", start="a", end="b", c=1e-6, polarised=True, v_rated=50.0)
    circuit = Circuit("", None, (part, capacitor))
    easy = {"R7": Stress(power=0.1), "C1": Stress(v_forward=40.0)}
    hard = {"R7": Stress(power=0.4), "C1": Stress(v_forward=51.0)}
    assert over_stressed(circuit, easy, easy) == []
    assert over_stressed(circuit, hard, easy) == ["R7", "C1"]
    # what was so before is not held against a remedy
    assert over_stressed(circuit, hard, hard) == []


def test_the_strap_bears_what_ohms_law_gives(service: Service) -> None:
    """The divider alone, by hand: 42 V and 1 % through 100 ohm, 15k, 10k and 27k with a strap.

    The bias line draws nothing, so that the current is the same all the way down; 1 % is for
    the pot's end resistance, which the simulation has in.
    """
    found = put_right(divider(foot="68k"), service)
    for option in found.options:
        if option.way is not None and option.way.parts == ("R2",) and option.way.kind.value == (
            "strap"
        ):  # fmt: skip
            strap = option.way.r
            foot = 1.0 / (1.0 / 68e3 + 1.0 / strap)
            volts = 42.0 * 1.01 * foot / (100.0 + 15e3 + 10e3 + foot)
            (bought,) = option.buys
            assert bought.v_peak == pytest.approx(volts, rel=0.01)
            assert bought.p == pytest.approx(volts**2 / strap, rel=0.02)
            assert bought.power >= 2.0 * bought.p
            return
    pytest.fail("no strap across the foot resistor is offered")
