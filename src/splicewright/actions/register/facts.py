"""Reading a register whole: every joint, every fact of some kinds, corrections applied."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from splicewright.store import Register, Stored
    from splicewright.store.present.present import JointNow

_PAGE = 5000


def every_joint(register: Register) -> Iterator[JointNow]:
    """All joints, by label."""
    after = None
    while page := register.joints(after=after, limit=_PAGE):
        yield from page
        after = (page[-1].label, page[-1].joint)


def facts_of(register: Register, *kinds: str) -> list[Stored]:
    """All facts of these kinds that were not withdrawn, with their corrections."""
    from splicewright.store.present.deriving import amend

    found: list[Stored] = []
    last = 0
    while page := register.facts_since(last, _PAGE, (*kinds, "correction")):
        found += page
        last = page[-1].seq
    return [s for s in amend(found) if s.fact.kind in kinds and not s.withdrawn]
