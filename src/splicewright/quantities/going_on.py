"""Long work asks now and then whether it is to go on; whoever had it begun may have cancelled it.

Studies are pure functions and know nobody who waits for them, so the question stands beside them,
for the thread that works: `go_on` in a loop asks it, and costs next to nothing where nobody does.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from contextvars import ContextVar

_ASKED: ContextVar[Callable[[], None] | None] = ContextVar("asked", default=None)


def go_on() -> None:
    """Ask whether the work is to go on; raises what its asker raises when it is not."""
    asked = _ASKED.get()
    if asked is not None:
        asked()


@contextlib.contextmanager
def asking(asked: Callable[[], None]) -> Iterator[None]:
    """Work inside asks this; it returns, or raises what is to end the work."""
    before = _ASKED.set(asked)
    try:
        yield
    finally:
        _ASKED.reset(before)
