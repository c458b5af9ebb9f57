"""A check for the terminal: findings, then what the section is and what each part does."""

from __future__ import annotations

from ..moves import in_words
from ..survey import Survey
from .findings import render, tally
from .tables import paragraph


def render_survey(survey: Survey, brief: bool = False) -> str:
    """The whole report.

    Parameters
    ----------
    survey : Survey
        What was found.
    brief : bool
        Findings only.
    """
    verdict = [f"{survey.name}: {tally(survey.findings)}"]
    if survey.unanswered:
        verdict += paragraph(f"not simulated: {survey.unanswered}", "  ")
    blocks = [render(survey.findings)] if survey.findings else []
    blocks.append("\n".join(verdict))
    if not brief:
        blocks.append("\n".join(_description(survey)))
    return "\n\n".join(blocks)


def _description(survey: Survey) -> list[str]:
    title = survey.section.circuit.title
    lines = paragraph(f"{title}: {survey.arrangement.sentence}" if title
                      else survey.arrangement.sentence)  # fmt: skip
    width = max((len(part.name) for part in survey.section.circuit.parts), default=0)
    named = {name: f"{role.word}, {role.phrase}" for name, role in survey.roles.items()}
    for part in survey.section.circuit.parts:
        said = named.get(part.name, "")
        if part.name in survey.effects:
            up = in_words(survey.effects[part.name])
            said = f"{said}; {part.name} up: {up}" if said else f"{part.name} up: {up}"
        if said:
            lines += paragraph(said, " " * (width + 4), f"  {part.name:<{width}}  ")
    return lines
