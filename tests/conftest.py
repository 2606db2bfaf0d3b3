"""How every test runs: no deadline (speed is for benchmarks), the same examples in CI each time.

The deep run draws new examples each time, and many; see `depth`. Tests that share what is dear to
begin run in one process, so that it is begun once: `make test` tells pytest-xdist to keep groups
together.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import settings

from depth import DEEP, examples

settings.register_profile(
    "quick", deadline=None, max_examples=examples(50), derandomize=bool(os.environ.get("CI"))
)
settings.register_profile("deep", settings.get_profile("quick"), derandomize=False)
settings.load_profile("deep" if DEEP else "quick")

HERE = Path(__file__).parent
PACKS = {"sheets/crew_pack", "sheets/drawings"}
"""Folders that read the same job packs."""
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


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Group what shares a server, a browser, job packs or a module's caches; mark what is slow."""
    for item in items:
        place = item.path.relative_to(HERE)
        item.add_marker(pytest.mark.xdist_group(_group(item, place)))
        if place.as_posix().startswith(SLOW):
            item.add_marker(pytest.mark.slow)


def _group(item: pytest.Item, place: Path) -> str:
    names = getattr(item, "fixturenames", ())
    # Which database a test of the store runs on is a parameter, not a fixture it names.
    asked = getattr(getattr(item, "callspec", None), "params", {})
    if "server" in names or asked.get("url") == "postgresql":
        return "postgresql"
    if "browser" in names:
        return "browser"
    folder = place.parent.as_posix()
    return "packs" if folder in PACKS else place.as_posix()
