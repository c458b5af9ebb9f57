"""`netcheck rules`: the rules of the check."""

from __future__ import annotations

import click

from ..errors import InputError
from .common import as_json, emit


@click.command("rules")
@click.argument("slug", required=False)
@click.option("--json", "json_", is_flag=True, help="As JSON.")
def command(slug: str | None, json_: bool) -> None:
    """List the rules of the check, or explain the one called SLUG."""
    from ..report.rules import explain, listing, rule_data  # noqa: PLC0415 - keeps --help quick
    from ..rules import RULES, by_slug  # noqa: PLC0415

    if slug is None:
        emit(as_json([rule_data(rule) for rule in RULES]) if json_ else listing(RULES))
        return
    rule = by_slug(slug)
    if rule is None:
        import difflib  # noqa: PLC0415

        near = difflib.get_close_matches(slug, [rule.slug for rule in RULES], n=1, cutoff=0.4)
        hint = f'; did you mean "{near[0]}"?' if near else ""
        raise InputError(f'there is no rule "{slug}"{hint}; "netcheck rules" lists them')
    emit(as_json(rule_data(rule)) if json_ else explain(rule))
