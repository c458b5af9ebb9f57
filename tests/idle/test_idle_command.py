"""The command `idle` as a user calls it: verdicts, exit codes, text and JSON."""

from __future__ import annotations

import itertools

import jsonschema
import pytest

from netcheck.commands.common import CAUTION
from netcheck.report.data import schema

from .calls import Idle

EL34 = "EL34 --plate 400V --screen 390V"


def schema_of_idle() -> dict[str, object]:
    return schema("idle")


# ------------------------------------------------------------------------- the window


def test_the_window_in_plate_and_cathode_current_and_on_the_meter(idle: Idle) -> None:
    # EL34 (Philips data sheet, 1959, read): 25 W, so 15 W at 60 %, at 400 V 37.5 mA on the plate.
    # The screen share is the median of the rows, 10/70: 37.5 x 8/7 = 42.86 mA in the cathode.
    done = idle("EL34 --plate 400V")
    assert done.code == 0
    assert "60 %  15.0 W  37.5 mA  42.9 mA (42.0 to 43.1)  42.9 mV  429 mV" in done.out
    assert done.out.startswith("EL34 at 400 V on the plate: aim at 42.9 to 50.0 mA of cathode")
    low, high, limit = idle("EL34 --plate 400V --json").data["targets"]
    assert [each["share"] for each in (low, high, limit)] == [0.6, 0.7, 1.0]
    assert [each["plate_watts"] for each in (low, high, limit)] == [15.0, 17.5, 25.0]
    assert low["cathode_amperes"]["nominal"] == pytest.approx(0.0375 * 8 / 7, rel=1e-6)
    volts = {at["ohms"]: at["volts"] for at in low["across_resistor"]}
    assert volts == pytest.approx({1.0: 0.0428571, 10.0: 0.428571}, rel=1e-5)


def test_a_triode_draws_no_screen_current(idle: Idle) -> None:
    # 300B: 40 W, at 400 V 60 % are 60 mA, plate and cathode alike.
    done = idle("300B --plate 400V --json")
    low = done.data["targets"][0]
    assert low["plate_amperes"] == low["cathode_amperes"]
    assert low["cathode_amperes"]["nominal"] == pytest.approx(0.060)
    assert done.data["screen_share"]["origin"] == "no screen"
    assert "in a triode that is the plate current" in idle("300B --plate 400V").said


def test_another_window(idle: Idle) -> None:
    for text in ("50-55%", "50%-55%", "'50 to 55 %'", "50..55", "50\N{EN DASH}55%", "50-55"):
        done = idle(f"EL34 --plate 400V --window {text} --json")
        assert done.data["window"] == {"low": 0.5, "high": 0.55, "chosen": True}


def test_the_report_says_where_the_share_and_the_limits_come_from(idle: Idle) -> None:
    said = idle("EL34 --plate 400V").said
    assert "14.3 % of the plate current (12.0 % to 14.9 %)" in said
    assert "Philips data sheet EL34, 1959" in said
    assert "limiting values" in said
    usual = idle("KT120 --plate 500V").said
    assert "5.0 % of the plate current (2.0 % to 15.0 %), the usual share" in usual
    assert "no operating row of KT120 is known" in usual
    assert "the only published row" in idle("8417 --plate 500V").said
    assert "Design-centre limits are for an average valve" in idle("6V6GT --plate 300V").said


def test_design_and_absolute_limits_side_by_side(idle: Idle) -> None:
    # KT88: 35 W design, 42 W absolute. 45 mA x 1/1.025 x 500 V = 22 W: 63 % and 52 %.
    call = "KT88 --plate 500V --cathode 45mA"
    done = idle(call)
    assert "of 35 W  of 42 W abs." in done.out
    assert "63 %          52 %" in done.out
    (valve,) = idle(f"{call} --json").data["valves"]
    assert valve["of_limit"]["nominal"] == pytest.approx(22.0 / 35.0, rel=0.005)
    assert valve["of_absolute_limit"] == pytest.approx(22.0 / 42.0, rel=0.005)
    counted = idle(f"{call} --absolute --json")
    assert counted.data["counted_from_absolute"] is True
    assert counted.data["limits"]["plate_watts"] == 42.0
    assert counted.data["valves"][0]["of_limit"]["nominal"] == pytest.approx(
        valve["of_absolute_limit"]
    )
    assert "Beside them, design maximum: 35 W" in idle(f"{call} --absolute").said


# ----------------------------------------------------------------------- the verdicts


@pytest.mark.parametrize(
    ("milliamps", "code", "verdict", "rules"),
    [
        # EL34 at 400 V, 390 V screens: 7/8 of it in the plate; 62.5 mA there are 100 %.
        (0, 1, "cold", [("valve 1", "idle-none", "warning")]),
        (30, 1, "cold", [("valve 1", "idle-cold", "warning")]),  # 42 %
        (40, 0, "usual", [("valve 1", "idle-usual", "note")]),  # 56 %
        (46, 0, "fine", []),  # 64.4 %
        (60, 1, "hot", [("valve 1", "idle-hot", "warning")]),  # 84 %
        (80, 1, "beyond the limit", [("valve 1", "idle-beyond", "error")]),  # 112 %
    ],
)
def test_verdict_and_exit_code(
    idle: Idle, milliamps: int, code: int, verdict: str, rules: list[tuple[str, str, str]]
) -> None:
    done = idle(f"{EL34} --cathode {milliamps}mA --json")
    assert done.code == code
    assert done.data["valves"][0]["verdict"] == verdict
    assert done.rules == rules


@pytest.mark.parametrize("milliamps", [45, 47, 50])
def test_the_trade_sets_a_30_w_beam_tetrode_so(idle: Idle, milliamps: int) -> None:
    # Common practice: 30 W, about 400 V, about 45-50 mA of cathode current.
    assert idle(f"6L6GC --plate 400V --cathode {milliamps}mA").code == 0


def test_a_window_of_ones_own_is_kept_to(idle: Idle) -> None:
    done = idle(f"{EL34} --cathode 40mA --window 60-70% --json")
    assert done.code == 1
    assert done.rules == [("valve 1", "idle-usual", "warning")]
    assert idle(f"{EL34} --cathode 40mA --window 50-60%").code == 0


def test_beyond_the_design_limit_but_within_the_absolute_one(idle: Idle) -> None:
    # KT88: 75 mA x 1/1.025 x 500 V = 36.6 W.
    assert (
        "still within the absolute limit, 42 W (87 % of it)"
        in idle("KT88 --plate 500V --cathode 75mA").said
    )
    assert "also above the absolute limit" in idle("KT88 --plate 500V --cathode 95mA").said


def test_hot_and_perhaps_beyond(idle: Idle) -> None:
    # KT120: 60 W, usual share 5 % (2 to 15). 125 mA at 500 V: 59.5 W, with the least share 61.3 W.
    said = idle("KT120 --plate 500V --cathode 125mA").said
    assert "it may be beyond the limit: 102 %" in said


def test_the_screen_beyond_its_limit(idle: Idle) -> None:
    # KT66 design: 3.5 W on the screen; share 6.1 % (4.8 to 7.4). 100 mA at 450 V: 5.8 mA, 2.6 W;
    # at 170 mA 9.8 mA, 4.4 W.
    done = idle("KT66 --plate 460V --screen 450V --cathode 170mA --json")
    assert ("valve 1", "idle-screen-beyond", "error") in done.rules
    done = idle("KT66 --plate 460V --screen 450V --cathode 125mA --json")
    assert ("valve 1", "idle-screen-doubtful", "note") in done.rules


def test_volts_above_the_sheet(idle: Idle) -> None:
    # 6V6GT: 315 V plate, 285 V screen (AWV data sheet, 1944, read).
    done = idle("6V6GT --plate 400V --screen 350V --json")
    assert done.code == 1
    assert done.rules == [
        ("plate", "idle-plate-volts", "warning"),
        ("screen", "idle-screen-volts", "warning"),
    ]
    assert (
        "400 V at the plate is above the limit of 315 V (design centre)"
        in idle("6V6GT --plate 400V").said
    )
    assert idle("6V6GT --plate 315V --screen 285V").code == 0


def test_volts_limits_count_from_the_cathode(idle: Idle) -> None:
    # 6V6GT: 315 V. 25 mA through 470 ohm lift the cathode by 11.75 V: 325 V less that are within.
    call = "6V6GT --plate 325V --resistor 470ohm --window 50-100%"
    assert idle(f"{call} --cathode 25mA --json").rules == []
    assert idle(f"{call} --json").rules == [("plate", "idle-plate-volts", "warning")]


def test_plate_and_screen_interchanged(idle: Idle) -> None:
    done = idle("EL34 --plate 300V --screen 400V --json")
    assert done.rules == [("screen", "idle-screen-above", "note")]
    assert done.code == 0


def test_a_pair_that_matches_and_one_that_does_not(idle: Idle) -> None:
    good = idle(f"{EL34} --cathode 46mA --cathode 48mA")
    assert good.code == 0
    assert "a matched pair: 2.0 mA apart" in good.out
    bad = idle(f"{EL34} --cathode 43.5mA --cathode 49.5mA")
    assert bad.code == 1
    assert "not a matched pair: 6.0 mA apart, up to 4.7 mA is acceptable" in bad.out
    assert "exchange two valves first" in bad.said


def test_a_quad_is_told_which_valves_to_exchange(idle: Idle) -> None:
    call = f"{EL34} --cathode V5=43mA --cathode V6=43mA --cathode V7=50mA --cathode V8=50mA"
    done = idle(call)
    assert done.code == 1
    assert "if V5 + V6 and V7 + V8 are the two sides, they differ by 14.0 mA" in done.said
    assert "exchange V6 with V7: 0.0 mA between the sides then" in done.said
    match = idle(f"{call} --json").data["match"]
    assert match["matched"] is False
    assert match["arrangements"][0]["one_side"] == ["V5", "V7"]
    assert [a["present"] for a in match["arrangements"]] == [False, False, True]


def test_one_valve_of_a_quad_to_replace(idle: Idle) -> None:
    call = f"{EL34} --cathode 45mA --cathode 46mA --cathode 58mA --cathode 47mA"
    assert "without valve 3 the others match within a few milliamps" in idle(call).said
    assert idle(f"{call} --json").data["match"]["to_replace"] == ["valve 3"]


def test_three_valves(idle: Idle) -> None:
    done = idle(f"{EL34} --cathode 45mA --cathode 46mA --cathode 47mA --json")
    assert done.code == 0
    assert done.rules == [("all 3", "idle-uneven", "note")]


# ----------------------------------------------------- readings across a cathode resistor


def test_millivolts_across_a_resistor(idle: Idle) -> None:
    direct = idle(f"{EL34} --cathode 46mA --resistor 1ohm --json").data["valves"]
    across = idle(f"{EL34} --cathode 46mV --resistor 1ohm --json").data["valves"]
    tenfold = idle(f"{EL34} --cathode 0.46V --resistor 10 --json").data["valves"]
    assert direct == across
    assert tenfold[0]["cathode_amperes"] == pytest.approx(0.046)


def test_the_drop_is_taken_off_the_plate_and_screen_volts(idle: Idle) -> None:
    # 46 mA through 100 ohm lift the cathode by 4.6 V, as if the volts were read against it.
    lifted = idle("EL34 --plate 404.6V --screen 394.6V --cathode 4.6V --resistor 100ohm --json")
    bare = idle(f"{EL34} --cathode 46mA --json")
    assert lifted.data["valves"][0]["plate_watts"] == bare.data["valves"][0]["plate_watts"]
    assert lifted.data["valves"][0]["screen_watts"] == bare.data["valves"][0]["screen_watts"]
    said = idle(f"{EL34} --cathode 46mV --resistor 1ohm").said
    assert "against ground, with 1 ohm between cathode and ground: its drop is taken off" in said
    assert "against the cathode" in idle(EL34).said


def test_another_resistor_gets_a_column_of_its_own(idle: Idle) -> None:
    done = idle("EL34 --plate 400V --resistor 2.2ohm --json").data
    assert [at["ohms"] for at in done["targets"][0]["across_resistor"]] == [1.0, 2.2, 10.0]
    assert "2.2 ohm" in idle("EL34 --plate 400V --resistor 2.2ohm").out


def test_cathode_bias_is_pointed_out(idle: Idle) -> None:
    call = "EL84 --plate 300V --cathode 9V --resistor 270ohm"
    done = idle(f"{call} --json")
    assert ("cathode", "idle-cathode-bias", "note") in done.rules
    assert "a larger cathode resistor" in idle(call).said
    chosen = idle(f"{call} --window 70-100% --json")
    assert chosen.rules == []
    assert chosen.code == 0


# ------------------------------------------------------------------------- grid volts


def test_a_grid_voltage_leads_to_a_current_with_a_band(idle: Idle) -> None:
    done = idle(f"{EL34} --grid -38V")
    assert "an average valve draws a cathode current of" in done.said
    assert done.code == 1  # 33 %: cold
    found = idle(f"{EL34} --grid -38V --json").data["expected"]
    # exp(1.96 x 0.22) = 1.539
    assert found["plate_amperes"]["high"] == pytest.approx(
        1.539 * found["plate_amperes"]["nominal"], rel=1e-3
    )
    assert idle(f"{EL34} --grid -33.5V").code == 0


def test_currents_are_compared_with_the_average_valve(idle: Idle) -> None:
    call = f"{EL34} --grid -33V --cathode 48mA"
    done = idle(f"{call} --json")
    assert done.data["expected"] is None
    ratio = done.data["valves"][0]["against_average"]
    assert 0.8 < ratio < 1.2
    assert f"valve 1 {ratio:.2f}" in idle(call).said
    odd = idle(f"{EL34} --grid -45V --cathode 48mA --json")
    assert ("valve 1", "idle-odd-sample", "note") in odd.rules


def test_volts_are_doubted_where_all_valves_are_odd(idle: Idle) -> None:
    done = idle(f"{EL34} --grid -45V --cathode 46mA --cathode 47mA --json")
    assert done.rules == [("pair", "idle-odd-sample", "note")]
    assert "the volts do not belong to these currents" in done.data["findings"][0]["why"]
    # At -34 V an average one draws some 43 mA: 12 mA are too few for a sample, 44 mA are not.
    done = idle(f"{EL34} --grid -34V --cathode 12mA --cathode 44mA --json")
    assert [about for about, rule, _ in done.rules if rule == "idle-odd-sample"] == ["valve 1"]


def test_screens_taken_at_plate_volts_are_owned_up_to(idle: Idle) -> None:
    assert "Screens taken to be at 400 V too" in idle("EL34 --plate 400V").said
    assert "Screens at 390 V" in idle(EL34).said
    # 6550: the screens may have 400 V.
    assert "give theirs with --screen" in idle("6550 --plate 550V").said
    model = idle("EL34 --plate 400V --json").data["grid_model"]
    assert model == {"screen_volts": 400.0, "screen_taken_as_plate": True, "sample_spread": 0.22}


# ----------------------------------------------------------------------- form of output


CALLS = [
    "EL34 --plate 400V",
    f"{EL34} --cathode 46mA",
    f"{EL34} --cathode 46mA --cathode 90mA --grid -34V --resistor 1ohm",
    f"{EL34} --grid -30V --resistor 10ohm",
    "KT88 --plate 560V --screen 310V --cathode 80mA --cathode 76mA --cathode 90mA --cathode 88mA",
    "KT88 --plate 560V --absolute --cathode 120mA --window 62.5-67.5%",
    "KT120 --plate 500V --screen 490V --cathode 0mA --cathode 150mA --cathode 99mA --resistor 4.7",
    "300B --plate 350V --grid -74V --cathode 60mA",
    "2A3 --plate 250V --grid -45V",
    "EL84 --plate 330V --screen 320V --cathode 8V --resistor 270ohm",
    "6550 --plate 650V",
    "ECL82 --plate 200V --screen 200V " + " ".join(f"--cathode odd-{k:04d}=33mA" for k in range(8)),
    "EL34 --plate 1999V --screen 999V " + " ".join("--cathode 1000mA" for _ in range(12)),
    "6L6GC --plate 99.5V --cathode 0.1mA --cathode 999mA",
]  # fmt: skip


@pytest.mark.parametrize("call", CALLS)
def test_the_json_obeys_its_schema(idle: Idle, call: str) -> None:
    done = idle(f"{call} --json")
    assert done.code in (0, 1)
    assert done.err == ""
    jsonschema.Draft202012Validator.check_schema(schema_of_idle())
    jsonschema.validate(done.data, schema_of_idle())
    matters = any(severity != "note" for _, _, severity in done.rules)
    assert done.code == int(matters)


@pytest.mark.parametrize("call", CALLS)
def test_the_report_fits_80_columns_and_ends_with_the_caution(idle: Idle, call: str) -> None:
    done = idle(call)
    assert max(map(len, done.out.splitlines())) <= 80
    assert " ".join(done.out.split()).endswith(CAUTION)
    assert done.code == idle(f"{call} --json").code


def test_the_schema_allows_nothing_else(idle: Idle) -> None:
    data = idle("EL34 --plate 400V --json").data
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data | {"more": 1}, schema_of_idle())
    del data["valves"]
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data, schema_of_idle())


def test_every_known_type_is_answered(idle: Idle) -> None:
    from netcheck.valves import known_types  # noqa: PLC0415

    for name, plate in itertools.product(known_types(), ("120V", "450V")):
        assert idle(f"'{name}' --plate {plate}").code in (0, 1)
        assert idle(f"'{name}' --plate {plate} --cathode 40mA --json").code in (0, 1)


def test_equivalent_names_are_known(idle: Idle) -> None:
    assert idle("6CA7 --plate 400 --json").data["type"] == "EL34"
    assert idle("6bq5 --plate 300 --json").data["type"] == "EL84"
