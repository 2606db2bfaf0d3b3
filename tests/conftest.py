"""How every test runs: no deadline (speed is for benchmarks), the same examples in CI each time."""

from __future__ import annotations

import os

from hypothesis import settings

settings.register_profile("house", deadline=None, derandomize=bool(os.environ.get("CI")))
settings.load_profile("house")
