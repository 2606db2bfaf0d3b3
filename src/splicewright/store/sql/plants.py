"""The conveyors of a register, kept until a fact changes one: every page names them."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import TYPE_CHECKING

from splicewright.store.present.present import ConveyorNow
from splicewright.store.register import Head
from splicewright.store.sql.fact_queries import come_since
from splicewright.store.sql.verifying import read_head

if TYPE_CHECKING:
    from sqlalchemy import Connection

_CHANGES = {"conveyor recorded", "correction"}
"""Kinds of facts that change what is known of a conveyor."""
_MOST = 16
_MOST_SINCE = 500
Plants = tuple[ConveyorNow, ...]


class KeptPlants:
    """May be used by many threads, and by every register of one database."""

    def __init__(self) -> None:
        self._kept: OrderedDict[Hashable, tuple[Head, Plants]] = OrderedDict()
        self._lock = threading.Lock()

    def read(self, connection: Connection, of: Hashable, read: Callable[[], Plants]) -> Plants:
        """The conveyors; read anew when a fact has changed one since.

        Parameters
        ----------
        of : which, and whose sites
        """
        # The hash of a fact tells all that came before it, so no other register has the same.
        head = read_head(connection)
        with self._lock:
            kept = self._kept.get(of)
        if kept is None or not self._stands(connection, kept[0], head):
            kept = head, read()
        with self._lock:
            self._kept[of] = head, kept[1]
            self._kept.move_to_end(of)
            while len(self._kept) > _MOST:
                self._kept.popitem(last=False)
        return kept[1]

    def _stands(self, connection: Connection, then: Head, head: Head) -> bool:
        if then == head:
            return True
        # The whole chain is asked once for a new fact, not by every page: with a log in parts
        # PostgreSQL takes 10 ms to plan that.
        come = come_since(connection, then, _MOST_SINCE)
        return come is not None and _CHANGES.isdisjoint(kind for kind, _ in come)

    def forget(self) -> None:
        """The present state was derived anew."""
        with self._lock:
            self._kept.clear()
