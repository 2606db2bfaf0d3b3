"""A register of a site, on SQLite: that both databases answer alike is tried in tests/store."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from splicewright.store.sql.register import SqlRegister, open_register
from store.making import Clock, Plant


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def register(tmp_path: Path, clock: Clock) -> Iterator[SqlRegister]:
    """An empty register."""
    with open_register(tmp_path / "register.sqlite", clock=clock) as opened:
        yield opened


@pytest.fixture
def plant(register: SqlRegister, clock: Clock) -> Plant:
    """A site with a conveyor and a belt, recorded."""
    made = Plant(clock)
    made.begin(register)
    return made
