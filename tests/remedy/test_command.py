"""The command `remedy` as a user calls it: verdicts, exit codes, text, JSON, the file it writes."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest

from netcheck.cli import run
from netcheck.commands.common import load
from netcheck.engine.service import Service
from netcheck.errors import InputError
from netcheck.graph import Section
from netcheck.netlist import Circuit, Pot, Resistor
from netcheck.predictor import Predictor
from netcheck.remedy.aim import aim
from netcheck.remedy.fitted import fit, with_part
from netcheck.remedy.option import Bench, Option, corner_signs
from netcheck.remedy.search import hot, sharing
from netcheck.remedy.start import Start
from netcheck.remedy.study import Remedies
from netcheck.remedy.ways import Kind, Way
from netcheck.remedy.written import written
from netcheck.report.data import schema
from netcheck.report.remedy import render_remedies
from netcheck.report.remedydata import remedy_data
from netcheck.resources import folder
from netcheck.terminal import CAUTION
from netcheck.valves.practice import WINDOW

from .sections import DIVIDER, circuit_of, divider, of, put_right

V_PROMISED = 0.05
"""A written circuit predicts what was promised within so much. [V]"""


@dataclass(frozen=True)
class Called:
    code: int
    out: str
    err: str

    @property
    def data(self) -> Any:
        data = json.loads(self.out)
        jsonschema.validate(data, schema("remedy"))
        return data

    @property
    def said(self) -> str:
        return " ".join(self.out.split())


Remedy = Callable[..., Called]


@pytest.fixture
def remedy(capsys: pytest.CaptureFixture[str], service: Service) -> Remedy:
    """Call the command; `service` skips the test where there is no simulator."""

    def call(*words: str) -> Called:
        code = run(["remedy", *words])
        text = capsys.readouterr()
        assert "Traceback" not in text.out + text.err
        return Called(code, text.out, text.err)

    return call


@pytest.fixture
def drawn(tmp_path: Path) -> Callable[..., Path]:
    """Write a divider as a circuit file."""

    def write(supply: str = "42 V", series: str = "15k", foot: str = "27k", first: str = "",
              second: str = "") -> Path:  # fmt: skip
        file = tmp_path / "mine.bias"
        text = DIVIDER.format(supply=supply, series=series, foot=foot, first=first, second=second)
        file.write_text(f"# my notes\n\n{text}", encoding="utf-8")
        return file

    return write


def grid_volts(file: Path, service: Service) -> list[float]:
    """What ngspice predicts of a circuit file at every tenth of the travel."""
    predictor = Predictor(Section(load(str(file))), service)
    states = [predictor.values({"RV1": at}) for at in np.linspace(0.0, 1.0, 11)]
    return [o.mean["grid1"] for o in predictor.wholes([(state, ()) for state in states])]


# ---------------------------------------------------------------------------------- text


def test_the_verdict_comes_first_and_the_caution_last(
    remedy: Remedy, drawn: Callable[..., Path]
) -> None:
    done = remedy(str(drawn(foot="68k")))
    assert done.code == 0
    first, verdict, *_ = done.out.split("\n\n")
    assert first == "A divider on a supply"
    assert re.match(
        r"Strap \S+ across R2: the window of 60 to 70 % of the dissipation limit falls at "
        r"\d\d to \d\d % of the travel of RV1, its middle at \d\d %\. At the hot end of the "
        r"travel an average valve is at \d\d % of its limit, \d\d\d % in the worst case\.$",
        " ".join(verdict.split()),
    )
    assert done.said.endswith(CAUTION)
    assert max(map(len, done.out.splitlines())) <= 80
    assert "2 stands lower: " in done.said
    assert "Travel left: " in done.said
    assert "0.25 W or more: it dissipates up to" in done.said


def test_a_sound_section_is_left_as_it_is(remedy: Remedy, drawn: Callable[..., Path]) -> None:
    done = remedy(str(drawn()))
    assert done.code == 0
    assert "A divider on a supply As it is, the window of 60 to 70 %" in done.said
    assert "leave it so" in done.said


def test_nothing_that_is_worth_soldering_in(remedy: Remedy) -> None:
    done = remedy("two-6v6gta-direct")
    assert done.code == 0
    assert "Nothing has to be soldered in: the window of 60 to 70 %" in done.said
    refused = remedy("two-6v6gta-direct", "--apply", "x.bias")
    assert (refused.code, refused.err) == (2, "--apply: nothing has to be done\n")


def test_nothing_helps(remedy: Remedy, drawn: Callable[..., Path]) -> None:
    done = remedy(str(drawn()), "--grid=-45V")
    assert done.code == 1
    assert "No single change brings -45.0 V at the grids near the middle" in done.said
    assert "nothing behind it can make more of that" in done.said
    assert max(map(len, done.out.splitlines())) <= 80


def test_only_ways_that_over_run_end_with_1(service: Service) -> None:
    """A pot of a megohm-like range: whatever is done, one end leaves the valves without bias."""
    circuit = circuit_of(
        "supply S1 plus ground minus raw 42 V source 100 ohm\n"
        "resistor R1 from raw to head 12k\n"
        "pot RV1 top head wiper sweep bottom foot 100k clockwise bottom\n"
        "resistor R2 from foot to ground 1k\n"
        "resistor R3 from sweep to grid1 68k\n"
        "valve V1 6V6GTA grid grid1 plate 345 V screen 310 V\n"
    )
    found = put_right(circuit, service)
    bad = [o for o in found.options if o.figures.over_runs]
    assert bad
    text = " ".join(render_remedies(found, found.options.index(bad[0]) + 1).split())
    assert "Beware: at the hot end of the travel an average valve is at" in text
    assert "the pot alone can over-run it" in text


def test_valves_that_cannot_share_a_pot(remedy: Remedy, drawn: Callable[..., Path]) -> None:
    file = drawn(first="  draws 50 mA at -24 V", second="  draws 20 mA at -24 V")
    done = remedy(str(file))
    assert "V1 draws 1.7 times what an average valve" in done.said
    assert "The cure may be a valve and not a resistor." in done.said
    assert "The valves do not match" in done.said
    assert "no position of the pot puts all valves into the window at once" in done.said
    assert "which no resistor mends, but valves that match" in done.said
    assert done.code == 1
    assert max(map(len, done.out.splitlines())) <= 80


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--window", "70-60%"], "does not rise"),
        (["--window", "90-120%"], "goes beyond the limit"),
        (["--grid", "36V"], "it is negative against ground"),
        (["--grid", "-5V"], "of its limit there"),
        (["--grid", "-36V", "--window", "60-70%"], "give one of the two"),
        (["--stage", "left"], "there are no readings"),
        (["--choice", "0"], "0 is not in the range"),
        (["--apply", "x.bias"], "nothing has to be done"),
        (["nowhere.readings"], "no such file"),
    ],
)
def test_calls_that_are_refused(
    words: list[str], said: str, remedy: Remedy, drawn: Callable[..., Path], tmp_path: Path
) -> None:
    done = remedy(str(drawn()), *words)
    assert done.code == 2
    assert said in " ".join(done.err.split())
    assert [file.name for file in tmp_path.iterdir()] == ["mine.bias"]


def test_a_choice_that_is_not_there(remedy: Remedy, drawn: Callable[..., Path]) -> None:
    done = remedy(str(drawn(foot="68k")), "--choice", "90")
    assert done.code == 2
    assert "--choice 90: there are" in done.err


def test_a_circuit_that_cannot_be_simulated(remedy: Remedy) -> None:
    done = remedy(str(folder("circuits") / "faulty" / "floating-node.bias"))
    assert done.code == 3
    assert "no prediction" in done.err


# --------------------------------------------------------------------------- what is written


def option_of(circuit: Circuit, way: Way, service: Service) -> Option:
    """A way, soldered in and simulated."""
    predictor = Predictor(Section(circuit), service)
    goal, pots = aim(predictor.section, WINDOW), of(predictor)
    signs = corner_signs(hot(predictor, goal), pots)
    bench = Bench(service, goal, pots, sharing(predictor, goal, pots), signs)
    fitted = fit(circuit, way)
    return bench.simulate(fitted.circuit, way, fitted.new)


@pytest.mark.parametrize(
    "way",
    [
        Way(Kind.STRAP, ("R2",), 100e3),
        Way(Kind.RESISTOR, ("R1",), 18e3),
        Way(Kind.STRAP_POT, ("RV1",), 15e3),
        Way(Kind.SERIES, ("RV1",), 3.3e3, "top"),
        Way(Kind.SERIES, ("RV1",), 3.3e3, "bottom"),
        Way(Kind.POT, ("RV1",), 5e3),
    ],
)
def test_a_remedy_is_written_into_the_users_own_text(way: Way, service: Service) -> None:
    """Every other line as it was, comments kept; it predicts what was promised."""
    circuit = circuit_of("# my notes\n\n" + divider().source.text)
    option = option_of(circuit, way, service)
    new = written(circuit, Start(circuit, circuit), option)
    before, after = circuit.source.text.split("\n"), new.split("\n")
    kept = [line for line in after if line in before]
    assert len(kept) >= len(before) - 1
    assert [line.partition("#")[2] for line in after if "#" in line] == [
        line.partition("#")[2] for line in before if "#" in line
    ]
    again = circuit_of(new)
    predictor = Predictor(Section(again), service)
    states = [predictor.values({"RV1": float(at)}) for at in option.travel]
    for k, answer in enumerate(predictor.wholes([(state, ()) for state in states])):
        for column, node in enumerate(predictor.section.watched):
            assert answer.mean[node] == pytest.approx(option.v_grids[k, column], abs=V_PROMISED)
    changed = [p for p in again.parts if p not in circuit.parts]
    assert all(p.note for p in changed if isinstance(p, Resistor))


def test_written_from_the_command_line(
    remedy: Remedy, drawn: Callable[..., Path], tmp_path: Path, service: Service
) -> None:
    file, out = drawn(foot="68k"), tmp_path / "mended.bias"
    before = file.read_text(encoding="utf-8")
    data = remedy(str(file), "--json", "--choice", "2", "--apply", str(out)).data
    assert file.read_text(encoding="utf-8") == before
    assert grid_volts(out, service) == pytest.approx(
        data["options"][1]["grids"]["grid1"], abs=V_PROMISED
    )
    assert run(["check", str(out), "--quick"]) in (0, 1, 2)
    # not twice, unless it is said
    again = remedy(str(file), "--apply", str(out))
    assert again.code == 2
    assert "the file exists already" in again.err
    assert remedy(str(file), "--apply", str(out), "--replace").code == 0
    refused = remedy(str(file), "--apply", str(file), "--replace")
    assert refused.code == 2
    assert "the circuit itself is left as it is" in refused.err
    assert file.read_text(encoding="utf-8") == before


@pytest.fixture(scope="module")
def some(service: Service) -> Option:
    """An option, to be given another circuit."""
    return put_right(divider(foot="68k"), service).options[0]


ODD = """\
supply S1 plus ground minus raw 42 V source 100 ohm
  RESISTOR R1 from raw to head bands brown green orange gold 0.5 W 350 V year 1961 \
note "hums # a bit"   # series
pot RV1 top head wiper sweep bottom ground 10k 20% 0.5 W end 50 ohm  year 1961
resistor R2 from sweep to grid1 68k
valve V1 6V6GTA grid grid1 plate 345 V screen 310 V
"""


@pytest.mark.parametrize(
    ("way", "line"),
    [
        (
            Way(Kind.RESISTOR, ("R1",), 18e3),
            '  RESISTOR R1 from raw to head 18k 5%  note "hums # a bit; was 15k"   # series',
        ),
        (
            Way(Kind.POT, ("RV1",), 22e3),
            'pot RV1 top head wiper sweep bottom ground 22k 20%  note "was 10k"',
        ),
    ],
)
def test_what_belonged_to_the_old_part_goes_with_it(way: Way, line: str, some: Option) -> None:
    """Colour bands, ratings, the year and the end resistance of a part that is taken out."""
    circuit = circuit_of(ODD)
    option = replace(some, way=way, circuit=fit(circuit, way).circuit)
    new = written(circuit, Start(circuit, circuit), option).split("\n")
    (changed,) = [one for one in new if one not in ODD.split("\n")]
    assert changed == line


def test_what_no_file_can_say_is_not_written(some: Option) -> None:
    circuit = divider()
    pot = circuit.part("RV1")
    assert isinstance(pot, Pot)
    odd = with_part(circuit, replace(pot, wiper="a b"))
    with pytest.raises(InputError, match="cannot be written"):
        written(circuit, Start(circuit, circuit), replace(some, circuit=odd))


# ---------------------------------------------------------------------- from readings on


def test_from_readings_to_the_drawn_value(remedy: Remedy, tmp_path: Path, service: Service) -> None:
    """The shipped sheet: somebody has strapped 82k across the 27k of R3."""
    out = tmp_path / "mended.bias"
    data = remedy("two-6v6gt-foot", "two-6v6gt-foot.readings", "--json", "--apply", str(out)).data
    assert data["sentence"].startswith("Put R3 back to 27k: ")
    assert "To work around it would be second best" in data["sentence"]
    assert data["started_from"]["faults"] == ["R3"]
    first, *others = data["options"]
    assert first["way"] == {"kind": "restore", "parts": ["R3"], "ohms": None, "end": None}
    assert others
    assert [one["valve"] for one in data["valves_measured"]] == ["V1", "V2"]
    assert data["as_it_is"]["over_runs"]
    # as found the grid stands where the sheet has it: -25.9 V at the foot, at mains of 236 V
    assert data["as_it_is"]["grids"]["grid1"][-1] == pytest.approx(-26.1 * 230 / 236, abs=0.3)
    assert grid_volts(out, service) == pytest.approx(first["grids"]["grid1"], abs=V_PROMISED)
    drawn = (folder("circuits") / "two-6v6gt-foot.bias").read_text(encoding="utf-8").split("\n")
    differ = [line for line in out.read_text(encoding="utf-8").split("\n") if line not in drawn]
    (line,) = differ
    assert line.startswith("resistor  R3   from foot to ground        27k   5%   0.5 W")
    assert 'note "put back to 27k"' in line
    assert line.endswith("# foot resistor")


def test_a_workaround_is_written_with_the_fault_in_it(service: Service) -> None:
    circuit = divider()
    faulty = [replace(p, r=15e3) if p.name == "R2" else p for p in circuit.parts]  # type: ignore[call-arg]
    start = Start(circuit, replace(circuit, parts=tuple(faulty)), ("R2",))
    found = put_right(start, service)
    around = next(o for o in found.options[1:] if o.way and "R2" not in o.way.parts)
    again = circuit_of(written(circuit, start, around)).part("R2")
    assert isinstance(again, Resistor)
    assert (again.r, again.note) == (15e3, "as found; 27k drawn")
    text = render_remedies(found, found.options.index(around) + 1)
    assert "is second best" in " ".join(text.split())


# ------------------------------------------------------------------------------------ data


def checked(found: Remedies) -> Any:
    data = json.loads(json.dumps(remedy_data(found), allow_nan=False))
    jsonschema.validate(data, schema("remedy"))
    return data


def test_the_points_are_all_there(service: Service) -> None:
    data = checked(put_right(divider(foot="68k"), service))
    for option in [data["as_it_is"], *data["options"]]:
        assert option["score"] == pytest.approx(100.0 - sum(option["points_lost"].values()))
    assert data["needed"]
    assert data["chosen"] == 1
    assert data["values_tried"] > 300


def test_without_valves_and_without_a_pot(service: Service) -> None:
    bare = circuit_of(
        "supply S1 plus ground minus raw 42 V source 100 ohm\n"
        "resistor R1 from raw to head 15k\n"
        "pot RV1 top head wiper sweep bottom ground 10k\nelsewhere sweep\n"
    )
    data = checked(put_right(bare, service, v_grid=-20.0))
    assert data["wanted"] == {
        "window": None, "grid_volts": -20.0, "not_modelled": [], "mains_high": 1.0,
        "marks": [{"name": "sweep", "grid": "sweep", "cold_volts": -20.6,
                   "middle_volts": -20.0, "hot_volts": -19.4}],
    }  # fmt: skip
    assert data["options"][0]["most_of_limit"] is None
    fixed = circuit_of(
        "supply S1 plus ground minus raw 42 V source 100 ohm\n"
        "resistor R1 from raw to bias 15k\nresistor R2 from bias to ground 12k\n"
        "resistor R3 from bias to grid1 220k\n"
        "valve V1 6V6GTA grid grid1 plate 345 V screen 310 V\n"
    )
    found = put_right(fixed, service)
    data = checked(found)
    assert data["pots"] == []
    assert data["options"][0]["window_travel"] is None
    text = render_remedies(found)
    assert "grid1 has -24." in " ".join(text.split())
    assert max(map(len, text.splitlines())) <= 80
