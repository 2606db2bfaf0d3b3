"""How every test runs: no deadline (speed is for benchmarks), the same examples in CI each time.

The deep run draws new examples each time, and many; see `depth`.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import settings

from depth import DEEP, examples
from proof import FOLDER, Proof

settings.register_profile(
    "quick", deadline=None, max_examples=examples(50), derandomize=bool(os.environ.get("CI"))
)
settings.register_profile("deep", settings.get_profile("quick"), derandomize=False)
settings.load_profile("deep" if DEEP else "quick")

HERE = Path(__file__).parent
SLOW = (
    "history/life",
    "job/inspection",
    "job/test_plan.py",
    "joint/loads/test_making_limits.py",
    "tension/at_rest/test_against_simulation.py",
    "tension/second_look",
    "tension/test_study.py",
)
"""What `make quick` leaves out of the rooms it runs: simulations and whole studies."""


def pytest_configure(config: pytest.Config) -> None:
    """Record the cases of the verification book where `make proof` asks for it."""
    if FOLDER:
        config.pluginmanager.register(Proof())


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what is slow, before any is left out."""
    for item in items:
        if item.path.relative_to(HERE).as_posix().startswith(SLOW):
            item.add_marker(pytest.mark.slow)
