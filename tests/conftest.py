"""How every test runs: no deadline (speed is for benchmarks), the same examples in CI each time.

The deep run draws new examples each time, and many; see `depth`.
"""

from __future__ import annotations

import gc
import itertools
import os
import random
import shutil
import sys
from collections.abc import Generator, Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from depth import DEEP, ORDER, PATIENCE, examples
from proof import FOLDER, Proof

settings.register_profile(
    "quick", deadline=None, max_examples=examples(50), derandomize=bool(os.environ.get("CI"))
)
settings.register_profile("deep", settings.get_profile("quick"), derandomize=False)
settings.load_profile("deep" if DEEP else "quick")

# jsonschema loads a grammar of international addresses, two seconds in each process, to check a
# format that no schema of ours asks for; without it, it goes on.
sys.modules.setdefault("rfc3987_syntax", None)  # type: ignore[arg-type]

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
LONG = (
    "web/test_every_page.py",
    "web/test_every_fault.py",
    "web/test_appearance.py",
    "web/test_chaos.py",
    "web/job/test_in_hand.py",
    "web/job/test_jobs.py",
    "web/job/test_phone_sequences.py",
    "web/app/test_upgrading.py",
    "photographs/",
)
"""What begins first: a long test that begins last is waited for while the other process is idle."""


_MEMORY = Path("/dev/shm")
_ROOM = 4e9


@pytest.hookimpl(tryfirst=True)
def pytest_configure(config: pytest.Config) -> None:
    """Record the cases of the verification book where `make proof` asks for it.

    Registers of tests stand in memory where there is room [byte]: they wait for no disk. What is
    killed loses nothing there that a disk would keep; a power cut is what no test here tries.
    """
    if FOLDER:
        config.pluginmanager.register(Proof())
    if _MEMORY.is_dir() and shutil.disk_usage(_MEMORY).free > _ROOM:
        os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(_MEMORY))


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """Thousands of tests and modules stay to the end: garbage is looked for neither while they come
    nor among them later. A fifth of the time of collecting goes by it otherwise, and a twentieth of
    the tests' own, which keep plans and pages that each search would go through again."""
    gc.disable()
    found = yield
    gc.enable()
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)
    return found


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what is slow, before any is left out; put what is long in front."""
    where = {item: item.path.relative_to(HERE).as_posix() for item in items}
    for item, file in where.items():
        if file.startswith(SLOW):
            item.add_marker(pytest.mark.slow)
    items.sort(key=lambda item: not where[item].startswith(LONG))
    if ORDER:
        _shuffle(items, random.Random(ORDER))


def _shuffle(items: list[pytest.Item], draw: random.Random) -> None:
    """Files in another order, and the tests of each: none may live on what another left."""
    files: dict[Path, list[pytest.Item]] = {}
    for item in items:
        files.setdefault(item.path, []).append(item)
    tests = list(files.values())
    draw.shuffle(tests)
    for of_file in tests:
        draw.shuffle(of_file)
    items[:] = itertools.chain.from_iterable(tests)


def pytest_report_header() -> list[str]:
    """Which order it is, so that it can be run again."""
    return [f"order of tests: {ORDER}"] if ORDER else []


@pytest.fixture(scope="session", autouse=True)
def dear_work_is_done_once() -> Iterator[None]:
    """Migrations, plans, studies and packs: see the two modules."""
    from fresh_register import copied_tables
    from worked_once import worked_once

    with copied_tables(), worked_once():
        yield


@pytest.fixture(scope="session", autouse=True)
def receivers_may_be_slow() -> Iterator[None]:
    """A receiver of a test shares the processor with all others: what is sent waits for it."""
    from splicewright.background.calling_out import post

    with pytest.MonkeyPatch.context() as patched:
        assert post.__kwdefaults__ is not None
        patched.setitem(post.__kwdefaults__, "patience", PATIENCE)
        yield
