"""What is typed reaches no shell, no file that was not named, and no command of the simulator."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import textwrap
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

import netcheck
from netcheck.commands.common import load
from netcheck.engine.deck import build
from netcheck.engine.elements import GROUND
from netcheck.errors import InputError
from netcheck.files import decode
from netcheck.model import elements, nominal_values
from netcheck.netlist import Circuit
from netcheck.parse import parse_circuit
from netcheck.resources import folder
from netcheck.source import Source

from .hostile import PARTS, TEXTS, renamed

ROOT = Path(netcheck.__file__).parent.parent
EXAMPLES = [path.stem for path in sorted(folder("circuits").glob("*.bias"))]
INVISIBLE = ["\u202e", "\u200b", "\u2066", "\x1b", "\x07", "\x9b", "\ufeff", "\u00ad"]


def circuit_of(text: str) -> Circuit:
    circuit, findings = parse_circuit(Source("hostile.bias", text))
    assert circuit is not None, [finding.what for finding in findings]
    return circuit


def deck_of(circuit: Circuit) -> str:
    """The deck of a circuit as drawn, with initial voltages for every node."""
    frequency = None if circuit.mains is None else circuit.mains.frequency
    made = elements(circuit, nominal_values(circuit))
    nodes = {node: -1.0 for node in build(made, frequency).nodes if node != GROUND}
    return build(made, frequency).text({"C1": 1.0}, nodes)


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_deck_does_not_depend_on_any_name(name: str) -> None:
    """Byte for byte the deck of the example whose names are harmless."""
    text, nodes, parts = renamed(name)
    assert nodes
    assert parts
    hostile = circuit_of(text)
    assert set(nodes.values()) <= set(hostile.nodes)
    plain = deck_of(load(name)).replace(" ic=1.0", "")
    assert deck_of(hostile).replace(" ic=1.0", "") == plain
    assert plain.isascii()


@pytest.mark.usefixtures("service")
def test_an_exported_deck_has_names_in_its_comments_alone(tmp_path: Path) -> None:
    text, nodes, parts = renamed()
    (tmp_path / "a.bias").write_text(text, "utf-8")
    done = netcheck_in(tmp_path, "export", "a.bias")
    plain = netcheck_in(tmp_path, "export", "two-6v6gt-foot")
    assert done.stdout.isascii()
    lines, others = (
        [line for line in out.splitlines() if not line.startswith("* ")]
        for out in (done.stdout, plain.stdout)
    )
    # The last figures of a steady state depend on nothing but the circuit.
    assert lines == others
    said = "\n".join(line for line in done.stdout.splitlines() if line.startswith("* "))
    assert all(line.isprintable() for line in said.splitlines())
    for typed in nodes.values():
        assert typed.encode("ascii", "backslashreplace").decode()[:190] in said, typed
    assert all(name in said for name in parts.values() if name.isascii() and len(name) < 4)


def netcheck_in(where: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run the program in a folder."""
    return subprocess.run(
        [sys.executable, "-m", "netcheck", *arguments], cwd=where, capture_output=True, text=True,
        check=False, timeout=100, encoding="utf-8",
        env=os.environ | {"PYTHONPATH": str(ROOT), "HOME": str(where), "PYTHONUTF8": "1"},
    )  # fmt: skip


# ---------------------------------------------------------------- shells and other files

WATCHED = """
    import json, os, sys
    seen = {"run": [], "write": [], "remove": []}
    def watch(event, arguments):
        if event in ("os.system", "os.exec", "os.posix_spawn", "os.fork", "os.forkpty"):
            seen["run"].append([event, repr(arguments)])
        elif event == "subprocess.Popen":
            seen["run"].append([event, repr(arguments[1])])
        elif event == "open" and isinstance(arguments[0], str):
            if arguments[2] & (os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_APPEND):
                seen["write"].append(arguments[0])
        elif event in ("os.remove", "os.rename", "os.rmdir", "os.mkdir", "os.link"):
            seen["remove"].append([event, repr(arguments)])
    sys.dont_write_bytecode = True
    sys.addaudithook(watch)
    from netcheck.cli import run
    codes = []
    for line in json.load(sys.stdin):
        codes.append(run(line))
    print(json.dumps({**seen, "codes": codes}), file=sys.stderr)
    """
"""Python says what it opens and starts (PEP 578); each command runs under that eye."""


@pytest.mark.usefixtures("service")
def test_commands_open_and_start_nothing_but_what_they_were_told_to(tmp_path: Path) -> None:
    text, nodes, _ = renamed()
    here = tmp_path / "here"
    here.mkdir()
    odd = "$(touch hacked);`touch hacked` & *.bias"
    (here / odd).write_text(text, "utf-8")
    sheet = (
        f'readings for "{odd}"\nas found\n'
        + "".join(f"node {node} -30.0 V\n" for node in list(nodes.values())[2:5])
        + f"note {TEXTS[1]}\n"
    )
    (here / "-rf.readings").write_text(sheet.replace("as found", "as found\n-o at middle"), "utf-8")
    commands = [
        ["check", odd, "-", "--json"],
        ["check", "--", odd, "-rf.readings"],
        ["predict", odd, "--json", "--svg", "$(curve).svg"],
        ["predict", odd, "--set", "$(id)=1k"],
        ["compare", "--no-plot", "--", odd, "-rf.readings"],
        ["diagnose", "--", odd, "-rf.readings"],
        ["format", odd],
        ["export", odd, "-o", "`deck`.cir"],
    ]
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(WATCHED)], input=json.dumps(commands), cwd=here,
        capture_output=True, text=True, check=False, timeout=100, encoding="utf-8",
        env=os.environ | {"PYTHONPATH": str(ROOT), "HOME": str(tmp_path), "PYTHONUTF8": "1"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    seen = json.loads(done.stderr.splitlines()[-1])
    assert seen["codes"][0] == 2, "standard input is no circuit"
    assert set(seen["codes"]) <= {0, 1, 2}, done.stderr
    assert seen["codes"][2] == seen["codes"][7] == 0, done.stderr
    # What is started is Python with our own worker in it, by its arguments and not by a shell;
    # matplotlib asks once which fonts there are.
    for event, arguments in seen["run"]:
        assert event == "subprocess.Popen", (event, arguments)
        assert "netcheck.engine.worker" in arguments or "'fc-list', '--" in arguments
        assert "hacked" not in arguments
    allowed = ("$(curve).svg", "`deck`.cir", "/dev/null")
    for path in seen["write"]:
        temporary = Path(path).name.startswith(".netcheck-") and Path(path).parent == here
        assert temporary or path in allowed or "matplotlib" in path, path
    assert sorted(path.name for path in here.iterdir()) == sorted(
        [odd, "-rf.readings", "$(curve).svg", "`deck`.cir"]
    )
    assert not list(tmp_path.glob("**/hacked*"))
    assert {path.name for path in tmp_path.iterdir()} <= {"here", ".cache", ".config"}, "fonts"
    drawn = ET.fromstring((here / "$(curve).svg").read_text("utf-8"))
    tags = {element.tag.rpartition("}")[2] for element in drawn.iter()}
    assert "svg" in tags
    assert not tags & {"script", "foreignObject", "image", "a"}


@pytest.mark.parametrize("name", ["secret", "./secret", "secret.bias/../secret", "/etc/hostname"])
def test_a_sheet_shows_nothing_of_a_file_that_is_no_circuit(tmp_path: Path, name: str) -> None:
    (tmp_path / "secret").write_text("the combination is 1234\n", "utf-8")
    (tmp_path / "a.readings").write_text(f"readings for {name}\nas found\nraw -3 V\n", "utf-8")
    done = netcheck_in(tmp_path, "check", "a.readings")
    assert done.returncode == 2
    assert "1234" not in done.stdout + done.stderr
    assert "no circuit file" in done.stderr


# ------------------------------------------------------------------------- what is refused


@pytest.mark.parametrize("sign", INVISIBLE, ids=ascii)
def test_a_name_with_what_cannot_be_seen_is_refused(sign: str) -> None:
    text = f"resistor R1 from a{sign}b to ground 1k\nlink W1 from a{sign}b to ground\n"
    circuit, findings = parse_circuit(Source("x", text))
    assert circuit is None
    assert "invisible-character" in {finding.slug for finding in findings}


def test_a_zero_byte_is_refused_before_anything_is_read() -> None:
    with pytest.raises(InputError) as caught:
        decode("x", b"resistor R1 from a\0b to ground 1k\n")
    assert caught.value.findings[0].slug == "not-text"


def test_names_that_look_alike_are_two() -> None:
    """A Cyrillic a beside a Latin one: two nodes that one part each is joined to."""
    text = "resistor R1 from a to ground 1k\nresistor R2 from \u0430 to ground 1k\n"
    circuit, findings = parse_circuit(Source("x", text))
    assert circuit is None
    assert [finding.slug for finding in findings] == ["dangling-node", "dangling-node"]


@pytest.mark.parametrize("name", ["mains", "Mains", "C1.leak", "RV1.travel", "R.1", "RV1@2", "."])
def test_a_part_is_not_called_like_a_property_of_another(name: str) -> None:
    """What would set the mains to 68,000 times its volts, or make a capacitor leak."""
    text = (folder("circuits") / "two-6v6gt-foot.bias").read_text("utf-8")
    source = Source("x", text.replace("resistor  R4 ", f"resistor  {name} "))
    circuit, findings = parse_circuit(source)
    assert circuit is None
    (finding,) = findings
    assert finding.slug == "reserved-word"
    assert source.line(finding.span.line)[finding.span.column - 1 : finding.span.end - 1] == name


@pytest.mark.parametrize("name", PARTS)
def test_other_names_of_parts_are_taken(name: str) -> None:
    circuit = circuit_of(f"resistor {name} from a to ground 1k\nlink W1 from a to ground\n")
    assert circuit.parts[0].name == name
