"""How long work says how far it is, and learns that it is to stop."""

from __future__ import annotations

from typing import Protocol


class Tell(Protocol):
    """Called between steps; raises when the work is to stop, which it then does at once."""

    def __call__(self, done: int, total: int, said: str) -> None:
        """`done` of `total` steps are done; `said` names the present one for people."""


def tell_nobody(done: int, total: int, said: str) -> None:
    """For work that nobody waits for elsewhere."""
