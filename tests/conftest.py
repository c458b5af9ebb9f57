"""Settings for all tests: timings belong in benchmarks, and every run tries the same examples."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("suite", deadline=None, derandomize=True)
settings.load_profile("suite")
