"""Labels of all joints, kept to be looked through for a part: SQLite has no index for that.

An index of its full text search would have to be known wherever the file is opened, or no joint
could be recorded there; PostgreSQL has one of its own (`pg_trgm`).
"""

from __future__ import annotations

import threading
from array import array
from bisect import bisect_right
from collections.abc import Collection
from uuid import UUID

from sqlalchemy import Connection, select

from splicewright.store.database.schema import TABLES
from splicewright.store.present.present import JointNow
from splicewright.store.register import Head
from splicewright.store.sql.fact_queries import come_since
from splicewright.store.sql.verifying import read_head

MOST = 900
"""Joints that are named; SQLite takes 999 values. Of more the first are soon met in their order."""
_MOST_SINCE = 20_000
"""Facts after which all labels are read anew: that is no slower."""
_J = TABLES[JointNow]
_LABELS = select(_J.c.joint, _J.c.label)


class KeptLabels:
    """Some 30 bytes a joint; may be used by many threads, and by every register of one database."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self.forget()

    def forget(self) -> None:
        """The present state was derived anew."""
        with self._lock:
            self._head: Head | None = None

    def may_have(self, connection: Connection, parts: Collection[str]) -> list[UUID] | None:
        """Every joint that has all parts in its label, and perhaps some whose label was another.

        a and A are the same, as they are for LIKE of SQLite; None where there are too many, or a
        moment is asked for that is over.
        """
        wanted = sorted((part.encode().lower() for part in parts), key=len, reverse=True)
        with self._lock:
            return self._found(wanted) if self._follow(connection) else None

    def _found(self, parts: list[bytes]) -> list[UUID] | None:
        matches = list[UUID]()
        at = self._text.find(parts[0])
        while 0 <= at < len(self._text):
            n = bisect_right(self._starts, at) - 1
            end = self._starts[n + 1]
            if all(self._text.find(part, self._starts[n], end) >= 0 for part in parts[1:]):
                if len(matches) == MOST:
                    return None
                matches.append(UUID(bytes=bytes(self._ids[16 * n : 16 * n + 16])))
            at = self._text.find(parts[0], end)
        return matches

    def _follow(self, connection: Connection) -> bool:
        """Take up what came since; False for a moment before what is kept."""
        head, kept = read_head(connection), self._head
        if kept == head:
            return True
        if kept is not None and head.seq < kept.seq:
            return False
        since = None if kept is None else self._come(connection, kept)
        if since is None:
            self._text, self._ids, self._starts = bytearray(), bytearray(), array("L", [0])
            self._add(connection)
        elif since:
            self._add(connection, since)
        self._head = head
        return True

    def _come(self, connection: Connection, kept: Head) -> set[UUID] | None:
        """Joints planned since; None where all are to be read anew."""
        come = come_since(connection, kept, _MOST_SINCE)
        if come is None or any(kind == "correction" for kind, _ in come):
            return None
        planned = {subject for kind, subject in come if kind == "joint planned"}
        return planned if len(planned) <= MOST else None

    def _add(self, connection: Connection, joints: Collection[UUID] | None = None) -> None:
        query = _LABELS if joints is None else _LABELS.where(_J.c.joint.in_(joints))
        for joint, label in connection.execute(query):
            self._text += label.encode().lower() + b"\n"
            self._ids += joint.bytes
            self._starts.append(len(self._text))
