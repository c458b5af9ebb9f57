"""The rules of the check for the terminal: a list, and the explanation of one."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterable
from typing import Any

from ..rules import Rule
from .tables import paragraph


def listing(rules: Iterable[Rule]) -> str:
    """One line or two for each rule."""
    rules = list(rules)
    width = max(len(rule.slug) for rule in rules)
    lines: list[str] = []
    for rule in rules:
        first = f"{rule.severity.value:<7}  {rule.slug:<{width}}  "
        lines += paragraph(rule.title, " " * len(first), first)
    return "\n".join([*lines, "", '"netcheck rules NAME" explains one.'])


def explain(rule: Rule) -> str:
    """A rule with its reason, what to do, and examples."""
    lines = [f"{rule.slug} ({rule.severity.value})", ""]
    for text in (rule.title, _sentence(rule.why), rule.fix):
        lines += paragraph(text)
    if rule.needs_simulation:
        lines += ["", *paragraph("It needs the simulation.")]
    for word, title in (("bad", "is found in"), ("good", "is not found in")):
        lines += ["", f"{title}:", *(f"  {line}" for line in examples(rule, word))]
    return "\n".join(lines)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")


def examples(rule: Rule, word: str) -> list[str]:
    """The "bad" or "good" lines of a rule's example; each stands for a part of that name."""
    text = inspect.getdoc(rule.look) or ""
    return re.findall(rf"^{word}: (.+)$", text, re.M)


def rule_data(rule: Rule) -> dict[str, Any]:
    """A rule as plain data."""
    return {
        "rule": rule.slug,
        "severity": rule.severity.value,
        "title": rule.title,
        "why": rule.why,
        "fix": rule.fix,
        "needs_simulation": rule.needs_simulation,
        "bad": examples(rule, "bad"),
        "good": examples(rule, "good"),
    }
