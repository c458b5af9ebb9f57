"""The rules: each on its own examples, all on the faulty circuits, none on sound ones."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from netcheck.cli import run
from netcheck.engine.service import Service
from netcheck.finding import Finding, Severity
from netcheck.graph import Section
from netcheck.netlist import Circuit
from netcheck.parse import parse_circuit
from netcheck.report.rules import examples
from netcheck.resources import folder
from netcheck.rules import RULES, Rule, check
from netcheck.source import Source
from netcheck.stress import Stresses, ValveRange
from netcheck.survey import survey

from .base import BASE, changed

FAULTY = sorted((folder("circuits") / "faulty").glob("*.bias"))
SOUND = sorted(folder("circuits").glob("*.bias"))


def parsed(text: str, name: str = "example") -> Circuit:
    circuit, findings = parse_circuit(Source(name, text))
    assert circuit is not None, findings
    return circuit


def found(text: str, service: Service) -> tuple[Finding, ...]:
    return survey(parsed(text), "example", service).findings


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.slug)
def test_a_rule_explains_itself(rule: Rule) -> None:
    assert re.fullmatch(r"[a-z]+(-[a-z]+)*", rule.slug)
    assert rule.title.endswith(".")
    assert rule.fix.endswith(".")
    assert rule.why
    assert not rule.why.endswith(".")
    assert examples(rule, "bad")
    assert examples(rule, "good")


def test_names_of_rules_are_unique() -> None:
    assert len({rule.slug for rule in RULES}) == len(RULES)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.slug)
def test_a_rule_finds_its_bad_example_and_not_its_good_one(rule: Rule, service: Service) -> None:
    bad = found(changed(examples(rule, "bad")), service)
    assert rule.slug in {finding.slug for finding in bad}
    good = found(changed(examples(rule, "good")), service)
    assert rule.slug not in {finding.slug for finding in good}


def test_the_sound_circuit_of_the_examples_is_sound(service: Service) -> None:
    assert not [f for f in found(BASE, service) if f.severity is not Severity.NOTE]


@pytest.mark.parametrize("path", FAULTY, ids=lambda path: path.stem)
def test_a_faulty_circuit_gives_just_what_its_comments_say(path: Path, service: Service) -> None:
    text = path.read_text(encoding="utf-8")
    expected = {
        (number, slug)
        for number, line in enumerate(text.splitlines(), start=1)
        for marked in re.findall(r"# finding: (.+)$", line)
        for slug in marked.split(", ")
    }
    assert expected
    got = {(f.span.line, f.slug) for f in found(text, service)}
    assert got == expected


def test_there_is_a_faulty_circuit_for_every_rule() -> None:
    marked = {
        slug
        for path in FAULTY
        for line in re.findall(r"# finding: (.+)$", path.read_text(encoding="utf-8"), re.M)
        for slug in line.split(", ")
    }
    assert {rule.slug for rule in RULES} <= marked


@pytest.mark.parametrize("path", SOUND, ids=lambda path: path.stem)
def test_an_example_circuit_has_nothing_above_a_note(path: Path, service: Service) -> None:
    checked = survey(parsed(path.read_text(encoding="utf-8"), path.name), path.name, service)
    assert not checked.unanswered
    assert [f for f in checked.findings if f.severity is not Severity.NOTE] == []


def test_every_finding_says_what_why_and_what_to_do(service: Service) -> None:
    for path in FAULTY:
        for finding in found(path.read_text(encoding="utf-8"), service):
            assert finding.what
            assert finding.why
            assert finding.fix or finding.slug == "unusual-value"
            assert not finding.what.endswith(".")
            assert finding.span.line > 0


def test_a_rule_that_breaks_down_does_not_hide_the_others() -> None:
    def broken(_: object) -> None:
        raise ZeroDivisionError("on purpose")

    section = Section(parsed(BASE))
    rule = replace(RULES[0], look=broken)  # type: ignore[arg-type]
    from netcheck.rules.rule import Case  # noqa: PLC0415

    (finding,) = rule.findings(Case(section))
    assert finding.slug == "rule-failed"
    assert RULES[0].slug in finding.what


def test_without_simulation_no_rule_needs_one() -> None:
    simulated = {rule.slug for rule in RULES if rule.needs_simulation}
    for path in FAULTY:
        section = Section(parsed(path.read_text(encoding="utf-8")))
        assert not {f.slug for f in check(section)} & simulated


def test_exit_codes_of_the_check(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad = tmp_path / "bad.bias"
    bad.write_text(changed(["diode D1 anode feed cathode raw 1000 V"]), encoding="utf-8")
    assert run(["check", "--no-simulation", str(bad)]) == 1
    assert "rectifier-turned" in capsys.readouterr().out
    assert run(["check", "--no-simulation", "two-5881-vacuum-rectifier"]) == 0
    broken = tmp_path / "broken.bias"
    broken.write_text("resistor\n", encoding="utf-8")
    assert run(["check", "--no-simulation", str(broken), str(bad)]) == 2
    captured = capsys.readouterr()
    assert "rectifier-turned" in captured.out  # the other file is checked all the same
    assert "broken.bias:1:" in captured.err


def test_rules_are_listed_and_explained(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["rules"]) == 0
    listed = capsys.readouterr().out
    for rule in RULES:
        assert rule.slug in listed
        assert run(["rules", rule.slug]) == 0
        explained = capsys.readouterr().out
        assert rule.title in " ".join(explained.split())
        assert max(len(line) for line in explained.splitlines()) <= 90
    assert run(["rules", "floating-nod"]) == 2
    assert 'did you mean "floating-node"?' in capsys.readouterr().err


def test_the_grid_circuit_limit_follows_the_dissipation() -> None:
    """M-O Valve data sheet KT88 (from memory): 220k up to 35 W of plate and screen, else 100k."""
    valve = "valve V{n} KT88 grid grid{n} plate 480 V screen 440 V"
    lines = [valve.format(n=n) for n in (1, 2)]
    lines += [f"resistor R{n} from sweep to grid{n - 3} 150k" for n in (4, 5)]
    section = Section(parsed(changed(lines)))

    def found_at(p_total: float) -> set[str]:
        span = ValveRange(0.5, 0.9, 0.03, 0.06, 0.0, 1.0, (0.6, 0.7), True, p_total)
        stresses = Stresses({}, 230.0, valves={"V1": span, "V2": span})
        return {f.slug for f in check(section, stresses)}

    assert "grid-circuit-resistance" not in found_at(30.0)
    assert "grid-circuit-resistance" in found_at(36.0)
