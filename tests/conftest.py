"""Settings for all tests: timings belong in benchmarks, and every run tries the same examples."""

from __future__ import annotations

import os

# As the command line does: matrices are small, and the processors are busy with other tests.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from hypothesis import settings

settings.register_profile("suite", deadline=None, derandomize=True)
settings.load_profile("suite")
