"""Tables of a fresh register: the migrations make them once in a process, then they are copied.

Fifteen migrations take a fifth of a second, longer than most of what is asked of a register. Where
opening and migrating are themselves what is tried (tests/store/database), nothing is copied.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import pytest

from splicewright.store.database import opening

if TYPE_CHECKING:
    from sqlalchemy import Engine

_TRIED = "tests/store/database/"


@contextmanager
def copied_tables() -> Iterator[None]:
    """While it lasts, a register in a new SQLite file gets the tables that another one got."""
    real = opening.migrate
    made: list[sqlite3.Connection] = []

    def migrate(engine: Engine, to: str = "head") -> None:
        now = os.environ.get("PYTEST_CURRENT_TEST", "")
        if engine.dialect.name != "sqlite" or to != "head" or now.startswith(_TRIED):
            real(engine, to)
            return
        with engine.connect() as connection:
            own: Any = connection.connection.driver_connection
            connection.rollback()
            fresh = not own.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
            if fresh and made:
                made[0].backup(own)
        real(engine)
        if fresh and not made:
            made.append(sqlite3.connect(":memory:", check_same_thread=False))
            with engine.connect() as connection:
                own = connection.connection.driver_connection
                connection.rollback()
                own.backup(made[0])

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(opening, "migrate", migrate)
        yield
    for kept in made:
        kept.close()
