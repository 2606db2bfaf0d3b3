"""The queue between those who ask and the workers: the one place that knows huey.

The queue carries nothing but ids of tasks. What is asked, how far it is and what came of it
stand in the register's database (`store.background`), so a queue that is lost costs some seconds:
workers look there for tasks that nobody attends to. For the same reason the queue is never
flushed to the disk with care.

huey would write its messages as pickles, which run code of whoever can write to the queue. Ours
are JSON, and the only task is known by name here, never from a module that ran as a script.
"""

from __future__ import annotations

import contextlib
import json
import logging
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any
from uuid import UUID

from huey import Huey, PostgresHuey, SqliteHuey
from huey.consumer import Consumer
from huey.registry import Message
from huey.serializer import Serializer

from splicewright.store.database.opening import queue_place

_NAME = "splicewright"
_LONGEST = 10_000
_TABLES = 5
"""Not fewer than the queue has in PostgreSQL: each may be made by another who begins now."""
_THERE = {"23505", "42710", "42P07"}
"""SQLSTATE of a row, a type and a table that is there already."""
_LOG = logging.getLogger(__name__)


class _Json(Serializer):  # type: ignore[misc]
    """Messages as JSON: a message of ours has a name and one id, and nothing to call."""

    def _serialize(self, data: Any) -> bytes:
        return json.dumps(data._asdict()).encode()

    def _deserialize(self, data: bytes) -> Any:
        if len(data) > _LONGEST:
            msg = "the message is longer than any of ours"
            raise ValueError(msg)
        fields = json.loads(data)
        fields["args"] = tuple(fields["args"])
        return Message(**fields)


class Queue:
    """The queue of one register.

    Parameters
    ----------
    where : file or URL of the register; the queue lies beside the file, or in the same database
    """

    def __init__(self, where: str | Path) -> None:
        self._huey = _open(where)
        self._work: Callable[[UUID], None] | None = None
        self._task = self._huey.task(name=f"{_NAME}.task")(self._run)

    def put(self, task: UUID) -> None:
        """Send for a worker. When the queue takes nothing now, the workers find it themselves."""
        try:
            self._task(str(task))
        except Exception as error:  # whatever SQLite, psycopg or the disk say
            _LOG.warning("task %s was not queued now: %s", task, error)

    def empty(self) -> bool:
        """Whether nothing waits in it."""
        return int(self._huey.pending_count()) == 0

    def close(self) -> None:
        """Let go of the database."""
        with contextlib.suppress(Exception):
            self._huey.storage.close()

    def consumer(self, work: Callable[[UUID], None], workers: int) -> Consumer:
        """What takes ids off the queue and works on them, in `workers` threads; `run` it."""
        self._work = work
        # An idle queue is looked at four times a second: a person waits at the other end.
        return Consumer(
            self._huey,
            workers=workers,
            periodic=False,
            initial_delay=0.05,
            max_delay=0.25,
            graceful_signal="TERM",
            shutdown_timeout=1,
        )

    def _run(self, task: str) -> None:
        if self._work is not None:
            self._work(UUID(task))


def _open(where: str | Path) -> Huey:
    kind, place = queue_place(where)
    if kind == "postgresql":
        return _open_postgres(place)
    path = Path(place)
    with contextlib.suppress(FileExistsError):
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
    return SqliteHuey(
        _NAME, filename=str(path), serializer=_Json(), results=False, timeout=5, cache_mb=1
    )


def _open_postgres(place: str) -> Huey:
    for _ in range(_TABLES):
        try:
            return _postgres(place)
        except Exception as error:
            # Of two that begin at once each finds no table; the second to make it is refused.
            if getattr(error, "sqlstate", "") not in _THERE:
                raise
    return _postgres(place)


def _postgres(place: str) -> Huey:
    return PostgresHuey(
        _NAME, dsn=place, serializer=_Json(), results=False, table_prefix="splicewright_queue"
    )
