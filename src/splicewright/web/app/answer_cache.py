"""Parts of pages and answers that are the same for many visitors, kept until the register changes.

A key holds everything the part depends on: the number of the register's last fact, what was asked
for, who may see what, and the minute where the part tells of now. A part that shows a visitor's
name or a form's secret is not kept.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from datetime import date
from typing import Generic, TypeVar

from markupsafe import Markup

from splicewright.store import Register

A = TypeVar("A")

MOST_CHARACTERS = 20_000_000
"""Of all kept parts of one process."""


class Kept:
    """Parts made before, the least recently wanted dropped first; may be used by many threads."""

    def __init__(self, most: int = MOST_CHARACTERS) -> None:
        self._most = most
        self._parts: OrderedDict[Hashable, Markup] = OrderedDict()
        self._held = 0
        self._lock = threading.Lock()

    def part(self, key: Hashable, make: Callable[[], Markup]) -> Markup:
        """The part of that key, made now if it is not kept.

        Parameters
        ----------
        make : makes it; two visitors at once may both make it, which does no harm
        """
        with self._lock:
            if key in self._parts:
                self._parts.move_to_end(key)
                return self._parts[key]
        made = make()
        with self._lock:
            if key not in self._parts:
                self._parts[key] = made
                self._held += len(made)
            while self._held > self._most:
                self._held -= len(self._parts.popitem(last=False)[1])
        return made


class LastAnswers(Generic[A]):
    """The last few answers that take long; a fact more in the register, or another day, makes them
    anew. May be used by many threads."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[Hashable, A] = OrderedDict()
        self._lock = threading.Lock()

    def answer(self, register: Register, today: date, asked: Hashable, make: Callable[[], A]) -> A:
        """The answer to what was asked, made now when it is not there.

        Parameters
        ----------
        asked : all else that it depends on
        make : makes it; two visitors at once may both make it, which does no harm
        """
        # Not by the object: it is made anew for each visitor, and ids are used again.
        key = (register.head().hash, register.sites_seen, today, asked)
        with self._lock:
            if key in self._kept:
                return self._kept[key]
        made = make()
        with self._lock:
            self._kept[key] = made
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return made
