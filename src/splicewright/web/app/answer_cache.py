"""Parts of pages and answers that are the same for many visitors, kept until the register changes.

A key holds everything the part depends on: the number of the register's last fact, what was asked
for, who may see what, and the minute where the part tells of now. A part that shows a visitor's
name or a form's secret is not kept.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from datetime import date
from typing import Generic, TypeVar
from uuid import UUID

from markupsafe import Markup

from splicewright.store import Correction, Register
from splicewright.store.facts.kinds import KINDS
from splicewright.store.register import Head

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
        part = make()
        with self._lock:
            if key not in self._parts:
                self._parts[key] = part
                self._held += len(part)
            while self._held > self._most:
                self._held -= len(self._parts.popitem(last=False)[1])
        return part


Touches = Callable[[str, UUID], bool]
"""Whether a fact of a kind, about a thing, may change an answer."""
MOST_SINCE = 2_000
"""Facts that are looked through for one that changes an answer."""


def always(kind: str, subject: UUID) -> bool:
    """Any fact may change it."""
    return True


def of_conveyor(register: Register, conveyor: UUID) -> Touches:
    """What may change an answer that reads one conveyor and what lies there.

    Facts about these; and every correction, and what makes a thing known or puts it elsewhere.
    """
    things = register.lies_at(conveyor) | {conveyor}

    def touches(kind: str, subject: UUID) -> bool:
        known = KINDS.get(kind)
        return subject in things or known is None or known.begins or known.made_by is Correction

    return touches


@dataclass(slots=True)
class _Answer(Generic[A]):
    answer: A
    touches: Touches
    head: Head


class LastAnswers(Generic[A]):
    """The last few answers that take long; a fact that changes one, or another day, makes it anew.

    May be used by many threads: those that want the same answer wait for the one that makes it.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[Hashable, _Answer[A]] = OrderedDict()
        self._making: dict[Hashable, threading.Lock] = {}
        self._lock = threading.Lock()

    def answer(
        self,
        register: Register,
        today: date,
        asked: Hashable,
        make: Callable[[], A],
        touches: Callable[[A], Touches] = lambda _: always,
    ) -> A:
        """The answer to what was asked, made now when it is not there.

        Parameters
        ----------
        asked : all else that it depends on
        make : makes it
        touches : says of an answer which facts may change it
        """
        # Not by the object: it is made anew for each visitor, and ids are used again.
        key = (register.sites_seen, today, asked)
        # Before anything is read: what comes while it is made counts as come since.
        entry = self._still_true(key, register, register.head())
        if entry is not None:
            return entry.answer
        with self._lock:
            making = self._making.setdefault(key, threading.Lock())
        try:
            with making:
                head = register.head()
                entry = self._still_true(key, register, head)
                if entry is None:
                    answer = make()
                    entry = _Answer(answer, touches(answer), head)
                    self._keep(key, entry)
        finally:
            with self._lock:
                self._making.pop(key, None)
        return entry.answer

    def _still_true(self, key: Hashable, register: Register, head: Head) -> _Answer[A] | None:
        with self._lock:
            entry = self._kept.get(key)
            if entry is None:
                return None
            self._kept.move_to_end(key)
            since, touches = entry.head, entry.touches
        if since == head:
            return entry
        come = register.since(since, MOST_SINCE) if touches is not always else None
        if come is None or any(touches(kind, subject) for kind, subject in come):
            return None
        entry.head = head  # what comes after `head` while this is asked is looked through next time
        return entry

    def _keep(self, key: Hashable, answer: _Answer[A]) -> None:
        with self._lock:
            self._kept[key] = answer
            self._kept.move_to_end(key)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
