"""The page: templates filled, its style and script hashed into its content policy."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Sequence
from importlib.resources import files
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup

from .gather import Job
from .view import view

_NOT_IN_HTML = {"<": "\\u003c", ">": "\\u003e", "&": "\\u0026"}
"""What would end a script element or begin something else, as JSON may write it."""


def render_page(job: Job) -> str:
    """The whole page as one file, the same bytes for the same job.

    Parameters
    ----------
    job : Job
        All that it tells.
    """
    style, script = _template("style.css"), _template("live.js")
    shown = view(job)
    policy = _policy([style, *shown["schematic"].styles], [script])
    page = _environment().get_template("page.html")
    return page.render(shown, style=Markup(style), script=Markup(script), policy=policy,
                       as_json=as_json) + "\n"  # fmt: skip


def as_json(data: Any) -> Markup:
    """Data as the content of a script element: plain ASCII without any sign of HTML."""
    told = json.dumps(data, separators=(",", ":"), allow_nan=False)
    for sign, code in _NOT_IN_HTML.items():
        told = told.replace(sign, code)
    return Markup(told)


def _policy(styles: Sequence[str], scripts: Sequence[str]) -> str:
    """What the page may load, which is nothing, and run, which is its own."""
    return "; ".join([
        "default-src 'none'",
        " ".join(["style-src", *map(_hash, styles)]),
        " ".join(["script-src", *map(_hash, scripts)]),
        "img-src data:",
        "base-uri 'none'",
        "form-action 'none'",
    ])  # fmt: skip


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"


def _template(name: str) -> str:
    return files(__package__).joinpath("templates", name).read_text(encoding="utf-8")


def _environment() -> Environment:
    return Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True,
                       lstrip_blocks=True, loader=FunctionLoader(_template),
                       finalize=_printable)  # fmt: skip


def _printable(value: Any) -> Any:
    """Text without what an HTML file cannot hold; what is escaped already has been through it."""
    if not isinstance(value, str) or isinstance(value, Markup):
        return value
    return "".join(char for char in value if char.isprintable())
