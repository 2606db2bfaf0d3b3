"""Tables of a fresh register: the migrations make them once in a process, then they are copied.

Fifteen migrations take a fifth of a second, longer than most of what is asked of a register. Where
opening and migrating are themselves what is tried (tests/store/database), nothing is copied.

A statement in SQL is put together once in a process too, not once in each register: a process that
serves has one engine, the tests have thousands.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import pytest
from sqlalchemy import create_engine
from sqlalchemy.dialects.sqlite.pysqlite import SQLiteDialect_pysqlite

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
        _put_statements_together_once(patch)
        yield
    for kept in made:
        kept.close()


def _put_statements_together_once(patch: pytest.MonkeyPatch) -> None:
    """All engines of SQLite keep them in one place; they are kept by dialect, so all are one."""
    kept: dict[object, object] = {}

    def create(url: Any, **how: Any) -> Engine:
        if url.drivername == "sqlite":
            how["execution_options"] = {**how["execution_options"], "compiled_cache": kept}
        return create_engine(url, **how)

    patch.setattr(opening, "create_engine", create)
    patch.setattr(SQLiteDialect_pysqlite, "__hash__", lambda own: hash(type(own)))
    patch.setattr(SQLiteDialect_pysqlite, "__eq__", lambda own, other: type(own) is type(other))
