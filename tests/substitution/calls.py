"""What came of calling the command `sweep`."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import jsonschema

from netcheck.report.data import schema

DIRECT = "two-6v6gta-direct"
"""An example behind a direct supply: quick to simulate."""


@dataclass(frozen=True)
class Called:
    code: int
    out: str
    err: str

    @property
    def data(self) -> Any:
        data = json.loads(self.out)
        jsonschema.validate(data, schema("sweep"))
        return data

    @property
    def said(self) -> str:
        return " ".join(self.out.split())


Sweep = Callable[..., Called]
Drawn = Callable[[str], str]
