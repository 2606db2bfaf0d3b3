"""The conveyors of a register, kept until a fact changes one: every page names them."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable

from sqlalchemy import Connection, select

from splicewright.store.database.schema import FACTS
from splicewright.store.present.present import ConveyorNow

_CHANGES = ("conveyor recorded", "correction")
"""Kinds of facts that change what is known of a conveyor."""
_MOST = 16
_LAST = [
    select(FACTS.c.hash).where(FACTS.c.kind == kind).order_by(FACTS.c.seq.desc()).limit(1)
    for kind in _CHANGES
]
Plants = tuple[ConveyorNow, ...]


class KeptPlants:
    """May be used by many threads, and by every register of one database."""

    def __init__(self) -> None:
        self._kept: OrderedDict[Hashable, Plants] = OrderedDict()
        self._lock = threading.Lock()

    def read(self, connection: Connection, of: Hashable, read: Callable[[], Plants]) -> Plants:
        """The conveyors; read anew when a fact has changed one since.

        Parameters
        ----------
        of : which, and whose sites
        """
        # The hash of a fact tells all that came before it, so no other register has the same.
        last = tuple(connection.execute(query).scalar() for query in _LAST)
        key = (of, last)
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        plants = read()
        with self._lock:
            self._kept[key] = plants
            while len(self._kept) > _MOST:
                self._kept.popitem(last=False)
        return plants

    def forget(self) -> None:
        """The present state was derived anew."""
        with self._lock:
            self._kept.clear()
