"""How every test runs: no deadline (speed is for benchmarks), the same examples in CI each time.

The deep run draws new examples each time, and many; see `depth`.
"""

from __future__ import annotations

import os

from hypothesis import settings

from depth import DEEP, examples

settings.register_profile(
    "quick", deadline=None, max_examples=examples(50), derandomize=bool(os.environ.get("CI"))
)
settings.register_profile("deep", settings.get_profile("quick"), derandomize=False)
settings.load_profile("deep" if DEEP else "quick")
