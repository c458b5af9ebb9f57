"""The command `failures` as a user calls it: exit codes, text, JSON, what it refuses."""

from __future__ import annotations

import contextlib
import io
import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from netcheck.cli import run
from netcheck.engine.service import Service
from netcheck.report.data import schema
from netcheck.terminal import CAUTION

from .sections import DIVIDER, TWO_SUPPLIES


@dataclass(frozen=True)
class Called:
    code: int
    out: str
    err: str

    @property
    def data(self) -> Any:
        data = json.loads(self.out)
        jsonschema.validate(data, schema("failures"))
        return data

    @property
    def said(self) -> str:
        return " ".join(self.out.split())


Failures = Callable[..., Called]


@pytest.fixture(scope="module")
def failures(service: Service) -> Failures:
    """Call the command, once for the same words; without a simulator the test is skipped."""
    known: dict[tuple[str, ...], Called] = {}

    def call(*words: str, again: bool = False) -> Called:
        if words not in known or again:
            out, err = io.StringIO(), io.StringIO()
            with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
                code = run(["failures", *words])
            known[words] = Called(code, out.getvalue(), err.getvalue())
            assert "Traceback" not in known[words].out + known[words].err
        return known[words]

    return call


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], str]:
    """Write a circuit file, once for the same text."""
    folder, known = tmp_path_factory.mktemp("circuits"), dict[str, Path]()

    def write(text: str) -> str:
        path = known.setdefault(text, folder / f"mine{len(known)}.bias")
        path.write_text(text, encoding="utf-8")
        return str(path)

    return write


# ---------------------------------------------------------------------------------- text


def test_verdict_and_cure_come_first_and_the_caution_last(
    failures: Failures, file: Callable[[str], str]
) -> None:
    done = failures(file(DIVIDER))
    assert done.code == 1
    title, verdict, cure, worst, *_ = done.out.split("\n\n")
    assert title == "A divider on a supply"
    assert re.match(r"17 failures, one at a time: \d+ lose a valve; \d leave a grid without bias, "
                    r"\d take a plate over its limit\. As drawn V1 has -4\d\.\d V, \d\d\.\d mA, "
                    r"6\d % at 50 % of the travel, .* at 100 %\.$", " ".join(verdict.split()))  # fmt: skip
    assert re.match(
        r"Fit 470k to RV1, from its wiper \(sweep\) to its top \(head\)\. While all is well the "
        r"grids move by 0\.\d+ V at most, \d\.\d+ % of the travel\. When the wiper lifts, V1, V2 "
        r"have -52\.4 V, .* \(too cold\)\. Without it: a floating grid \(no bias\)\. It holds the "
        r"grids against 2 uA of grid current from each valve\.$",
        " ".join(cure.split()),
    )
    assert worst.startswith("No bias: the valves destroy themselves within seconds")
    assert "RV1 wiper lifted              all     floats 418 593  floats 418 593" in done.out
    assert done.said.endswith(CAUTION)
    assert max(map(len, done.out.splitlines())) <= 80
    assert "\x1b" not in done.out


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("two-6v6gta-direct", "R5 (220k) is there for a lifted wiper of RV1: then V1, V2 have "
         "-29.0 V, 14.9 mA, 34 % (too cold). Without it: a floating grid (no bias)."),
        ("two-el84-fixed", "Overloaded besides: R1 (rated 0.5 W): 2.4 W with D1 short"),
        ("two-6v6gt-foot", "C1 (the wrong way round): 8.6 V with D1 short"),
    ],
)  # fmt: skip
def test_examples(name: str, says: str, failures: Failures) -> None:
    done = failures(name)
    assert (done.code, done.err) == (1, "")
    assert says in done.said
    assert max(map(len, done.out.splitlines())) <= 80


def test_nothing_is_dangerous(failures: Failures, file: Callable[[str], str]) -> None:
    """Two supplies, each of which holds the line by itself."""
    done = failures(file(TWO_SUPPLIES))
    assert (done.code, done.err) == (0, "")
    assert "8 failures, one at a time: none loses a valve." in done.said
    assert "No bias" not in done.out


def test_no_bias_as_drawn(failures: Failures, file: Callable[[str], str]) -> None:
    done = failures(file(DIVIDER + "link W1 from sweep to ground\n"))
    assert done.code == 1
    assert "As drawn V1, V2 have no bias: that comes first, and netcheck check says why." in (
        done.said
    )
    assert "one at a time" not in done.out


def test_too_hot_as_drawn_is_said(failures: Failures, file: Callable[[str], str]) -> None:
    done = failures(file(DIVIDER), "--at", "100%")
    assert "That is over the limit already, and comes first" in done.said
    assert "No worse for the valves than as drawn: " in done.said
    assert "Harmless" not in done.out


def test_names_are_no_fields(failures: Failures, file: Callable[[str], str]) -> None:
    """Braces may stand in a name; the report shows them."""
    text = DIVIDER.replace("head", "{valves}").replace("sweep", "{at}").replace("RV1", "{pot}")
    done = failures(file(text))
    assert "Fit 470k to {pot}, from its wiper ({at}) to its top ({valves})." in done.said
    assert "{pot} wiper lifted" in done.out


# ------------------------------------------------------------------------------- options


def test_options_change_what_is_studied(failures: Failures) -> None:
    name = "two-6v6gta-direct"
    plain = failures(name, "--json").data
    set_ = failures(name, "--json", "--set", "R2=33k", "--at", "30%", "--window", "50-90%").data
    assert plain["travel"] == [0, 0.5, 1]
    assert (set_["travel"], set_["now"]) == ([0, 0.3, 1], 1)
    assert set_["window"] == [0.5, 0.9]
    v = set_["sound"]["grids"]["grid1"]["volts"]
    assert all(new < old - 1.0 for new, old in
               zip(v, plain["sound"]["grids"]["grid1"]["volts"], strict=True))  # fmt: skip
    held = failures(name, "--json", "--at", "RV1=30%").data
    assert (held["swept"], held["fixed"], held["travel"]) == ([], {"RV1": 0.3}, [0.5])


def test_the_mains_as_measured(failures: Failures) -> None:
    """All volts go with the mains, but for the diode's drop."""
    high = failures("two-el84-fixed", "--mains", "253", "--json").data
    drawn = failures("two-el84-fixed", "--json").data
    ratio = (high["sound"]["grids"]["grid1"]["volts"][0]
             / drawn["sound"]["grids"]["grid1"]["volts"][0])  # fmt: skip
    assert ratio == pytest.approx(1.1, abs=0.01)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["nowhere.bias"], "there is no such file"),
        (["two-6v6gta-direct", "--at", "130%"], "goes from 0% to 100%"),
        (["two-6v6gta-direct", "--at", "RV9=30%"], 'no pot "RV9"'),
        (["two-6v6gta-direct", "--at", "half"], "is not a value"),
        (["two-6v6gta-direct", "--set", "R99=1k"], 'no part "R99"'),
        (["two-6v6gta-direct", "--set", "R1"], "is no change"),
        (["two-6v6gta-direct", "--mains", "230"], "no mains line"),
        (["two-6v6gt-foot", "--mains", "2"], "no believable mains voltage"),
        (["two-6v6gta-direct", "--window", "70-50"], "does not rise"),
        (["two-6v6gta-direct", "--window", "x"], "is not a window"),
        ([], "Missing argument"),
        (["two-6v6gta-direct", "more"], "unexpected extra argument"),
        (["two-6v6gta-direct", "--nonsense"], "No such option"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said(words: list[str], message: str, failures: Failures) -> None:
    done = failures(*words)
    assert (done.code, done.out) == (2, "")
    assert message in " ".join(done.err.split())


def test_errors_of_the_file_come_with_their_lines(
    failures: Failures, file: Callable[[str], str]
) -> None:
    done = failures(file("resistor R1 from a to b 4k7x\npot RV1\n"))
    assert (done.code, done.out) == (2, "")
    assert re.search(r"mine\d+\.bias:1:", done.err)
    assert re.search(r"mine\d+\.bias:2:", done.err)


def test_neither_a_valve_nor_a_pot(failures: Failures, file: Callable[[str], str]) -> None:
    done = failures(
        file("supply S1 plus ground minus raw 42 V\nresistor R1 from raw to ground 1k\n")
    )
    assert done.code == 2
    assert "neither a valve nor a pot" in done.err


def test_what_cannot_be_simulated(failures: Failures, file: Callable[[str], str]) -> None:
    text = DIVIDER + "capacitor C9 from lone to ground 1n\ncapacitor C8 from lone to grid1 1n\n"
    done = failures(file(text))
    assert (done.code, done.out) == (3, "")
    assert 'node "lone" floats' in done.err


def test_from_standard_input(failures: Failures, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(TWO_SUPPLIES.encode())))
    done = failures("-")
    assert (done.code, done.err) == (0, "")
    assert done.out.startswith("Held from two sides\n")


# ---------------------------------------------------------------------------------- JSON


def test_json_is_the_same_every_time(failures: Failures) -> None:
    first = failures("two-el84-fixed", "--json")
    second = failures("two-el84-fixed", "--json", again=True)
    assert first is not second
    assert first.out == second.out
    assert first.code == second.code == 1


def test_json_says_what_the_text_says(failures: Failures, file: Callable[[str], str]) -> None:
    name = file(DIVIDER)
    data, text = failures(name, "--json").data, failures(name).said
    assert data["circuit"] == "A divider on a supply"
    count = {"no bias": 0, "over the limit": 0}
    for one in data["failures"]:
        assert one["dangerous"] is (one["danger"] in count)
        if one["dangerous"]:
            count[one["danger"]] += 1
    assert (f"{len(data['failures'])} failures, one at a time: {sum(count.values())} lose a "
            f"valve; {count['no bias']} leave a grid without bias, {count['over the limit']} take "
            "a plate over its limit") in text  # fmt: skip
    (cure,) = data["proposals"]
    assert (cure["pot"], cure["from"], cure["to"], cure["to_terminal"], cure["ohms"]) == (
        "RV1", "sweep", "head", "top", 470e3
    )  # fmt: skip
    assert {"part": "RV1", "mode": "wiper lifted", "danger": "too cold"} in data["made_safe"]
    lifted = next(one for one in data["failures"] if one["mode"] == "wiper lifted")
    assert lifted["outcome"]["grids"]["grid1"] == {
        "volts": [0, 0, 0], "ripple_volts": [0, 0, 0], "floats": True
    }  # fmt: skip


def test_its_help_names_exit_codes_and_stdin(failures: Failures) -> None:
    done = failures("--help")
    assert done.code == 0
    assert "standard input" in done.said
    assert "Exits with 1" in done.said
