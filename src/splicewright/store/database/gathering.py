"""Calls of several threads done together, in one transaction.

A durable commit waits for the disk. While it waits, others come: the next transaction takes all
of them, so that one wait serves many. Nobody is answered before the commit that holds their call.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Generic, TypeVar

C = TypeVar("C")
A = TypeVar("A")
MOST = 64
"""Calls of one transaction."""


@dataclass(eq=False, slots=True)
class _Waiting(Generic[C, A]):
    call: C
    woken: threading.Event = field(default_factory=threading.Event)
    outcome: A | Exception | None = None
    done: bool = False


class Gathering(Generic[C, A]):
    """Gathers calls while one thread does those that came before.

    Parameters
    ----------
    together : does calls in one transaction, in this order, and gives each its answer or the
        error that is its own; what it raises is the error of all of them
    """

    def __init__(self, together: Callable[[Sequence[C]], Sequence[A | Exception]]) -> None:
        self._together = together
        self._lock = threading.Lock()
        self._waiting: list[_Waiting[C, A]] = []
        self._busy = False

    def do(self, call: C) -> A:
        """Do a call, with others that wait; give its answer or raise its error."""
        mine: _Waiting[C, A] = _Waiting(call)
        with self._lock:
            self._waiting.append(mine)
            leads, self._busy = not self._busy, True
        if not leads:
            mine.woken.wait()
        if not mine.done:  # it is this thread's turn to do all that wait, its own first
            self._lead()
        if isinstance(mine.outcome, Exception):
            raise mine.outcome
        return mine.outcome  # type: ignore[return-value]

    def _lead(self) -> None:
        with self._lock:
            batch, self._waiting = self._waiting[:MOST], self._waiting[MOST:]
        outcomes: Sequence[A | Exception] = [RuntimeError("was interrupted")] * len(batch)
        try:
            outcomes = self._together([each.call for each in batch])
        except Exception as error:
            outcomes = [error] * len(batch)
        finally:
            with self._lock:
                self._busy = bool(self._waiting)
                following = self._waiting[:1]
            for each, outcome in zip(batch, outcomes, strict=True):
                each.outcome, each.done = outcome, True
                each.woken.set()
            for each in following:
                each.woken.set()
