"""Each failure against a circuit into which it was typed by hand, simulated by itself.

Open is 1000 Mohm, or the line is gone; short is a link.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from netcheck.engine.service import Service
from netcheck.failures import Judged

from .sections import BALANCE, COUPLED, HIGH_TENSION, MAINS, ZENER, grids, replaced

Failing = Callable[[str, str], Judged]

RV1 = "pot RV1 top {top} wiper {wiper} bottom {bottom} 10k 20% linear clockwise bottom"
NOWHERE = "elsewhere nowhere"
LEAKAGE = "resistor R9 from raw to ground 2.13M"
"""Of the 47 uF: what data sheets allow, 0.01 C V in uA with C in uF, is a resistance of 100 s / C
(common practice). It counts where nothing else loads the rectifier."""

TYPED: list[tuple[str, str, str, list[str]]] = [
    (MAINS, "R1 short", "R1", ["link R1 from tap to feed"]),
    (MAINS, "R2 open", "R2", ["resistor R2 from raw to head 1000M"]),
    (MAINS, "R2 short", "R2", ["link R2 from raw to head"]),
    (MAINS, "R3 open", "R3", ["resistor R3 from foot to ground 1000M", LEAKAGE]),
    (MAINS, "R3 short", "R3", ["link R3 from foot to ground"]),
    (MAINS, "R6 open", "R6", []),
    (MAINS, "R6 short", "R6", ["link R6 from head to sweep"]),
    (MAINS, "C1 open", "C1", []),
    (MAINS, "C1 short", "C1", ["link C1 from ground to raw"]),
    (MAINS, "C1 leaky (10k)", "C1",
     ["capacitor C1 plus ground minus raw 47 uF 100 V", "resistor R9 from raw to ground 10k"]),
    (MAINS, "C1 dried out", "C1", ["capacitor C1 plus ground minus raw 2.35 uF 100 V esr 100 ohm"]),
    (MAINS, "C2 open", "C2", []),
    (MAINS, "C2 short", "C2", ["link C2 from sweep to ground"]),
    (MAINS, "D1 open", "D1", ["resistor D1 from raw to feed 1000M"]),
    (MAINS, "D1 short", "D1", ["link D1 from raw to feed"]),
    (MAINS, "D1 leaky (10k)", "D1",
     ["diode D1 anode raw cathode feed 1000 V", "resistor R9 from raw to feed 10k"]),
    (MAINS, "RV1 wiper lifted", "RV1",
     [RV1.format(top="head", wiper="nowhere", bottom="foot"), NOWHERE]),
    (MAINS, "RV1 top broken off", "RV1", [RV1.format(top="open", wiper="sweep", bottom="foot")]),
    (MAINS, "RV1 bottom broken off", "RV1",
     [RV1.format(top="head", wiper="sweep", bottom="open"), "elsewhere foot", LEAKAGE]),
    (MAINS, "RV1 short from end to end", "RV1",
     [RV1.format(top="head", wiper="sweep", bottom="foot"), "link W1 from head to foot"]),
    (MAINS, "T1 dead", "T1", ["resistor T1 from ground to tap 1000M"]),
    (MAINS, "V1 grid to cathode 100k", "R4",
     ["resistor R4 from sweep to grid1 68k", "resistor R9 from grid1 to ground 100k"]),
    (MAINS, "V2 grid to cathode short", "R5",
     ["resistor R5 from sweep to grid2 68k", "link W1 from grid2 to ground"]),
    (ZENER, "Z1 open", "Z1", []),
    (ZENER, "Z1 short", "Z1", ["link Z1 from head to ground"]),
    (ZENER, "R2 short", "R2", ["link R2 from raw to head"]),
    (BALANCE, "R5 open", "R5", ["resistor R5 from head to side1 1000M"]),
    (BALANCE, "RV2 wiper lifted", "RV2",
     ["pot RV2 top side1 wiper nowhere bottom side2 10k linear clockwise top",
      "elsewhere nowhere middle"]),
    (BALANCE, "RV1 wiper lifted", "RV1",
     ["pot RV1 top middle wiper nowhere bottom foot 10k linear clockwise top", NOWHERE]),
    (BALANCE, "RV2 top broken off", "RV2",
     ["pot RV2 top open wiper middle bottom side2 10k linear clockwise top"]),
    (HIGH_TENSION, "T1 half to its end dead", "T1", ["resistor T1 from ht2 to ground 1000M"]),
    (HIGH_TENSION, "R1 short", "R1", ["link R1 from ht2 to feed"]),
    (COUPLED, "C5 open", "C5", []),
]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "words", "name", "lines"), TYPED, ids=[f"{t[0][9:17]}-{t[1]}" for t in TYPED]
)
def test_it_comes_to_what_the_typed_circuit_comes_to(
    text: str, words: str, name: str, lines: list[str], failing: Failing, service: Service
) -> None:
    typed = replaced(text, name, *lines)
    if name == "T1" and text is HIGH_TENSION:
        typed = typed.replace("elsewhere ht1\n", "")
    if name == "C5":
        typed = typed.replace("elsewhere splitter1 splitter2", "elsewhere splitter2")
    outcome = failing(text, words).outcome
    assert not outcome.trouble
    v = grids(typed, service, [0.0, 0.5, 1.0] if "pot " in text else [0.5])
    # 0.2 ohm against none, 100 Mohm of insulation against 1000: some parts in a thousand
    assert outcome.mean == pytest.approx(v, rel=3e-3, abs=0.03)


def test_nothing_broken_is_the_circuit_itself(failing: Failing, service: Service) -> None:
    """A capacitor that carries no direct current may go: the grids stay as they are drawn."""
    assert failing(COUPLED, "C5 open").outcome.mean == pytest.approx(
        grids(COUPLED, service, [0.0, 0.5, 1.0]), abs=1e-3
    )
