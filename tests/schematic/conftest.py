from __future__ import annotations

from ..ngspice_here import service

__all__ = ["service"]
