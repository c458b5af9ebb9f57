from __future__ import annotations

from ..ngspice_here import own_service

__all__ = ["own_service"]
