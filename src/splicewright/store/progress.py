"""How long work says how far it is, and learns that it is to stop."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Protocol

from splicewright.quantities import percent

_QUIET = 5.0


class Tell(Protocol):
    """Called between steps; raises when the work is to stop, which it then does at once."""

    def __call__(self, done: int, total: int, step: str) -> None:
        """`done` of `total` steps are done; `step` names the present one for people."""


def tell_nobody(done: int, total: int, step: str) -> None:
    """For work that nobody waits for elsewhere."""


def now_and_then(say: Callable[[str], None], quiet: float = _QUIET) -> Tell:
    """Says a line only when the work lasts, and then now and then.

    Parameters
    ----------
    say : is given each line
    quiet : before the first line, and between two [s]
    """
    next_ = time.monotonic() + quiet

    def tell(done: int, total: int, step: str) -> None:
        nonlocal next_
        if time.monotonic() >= next_:
            next_ = time.monotonic() + quiet
            say(f"{step}: {done} of {total} ({percent(done / max(total, 1))})")

    return tell
