"""Reading a register: every joint, facts of some kinds, corrections applied."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from uuid import UUID

    from splicewright.store import Register, Stored
    from splicewright.store.present.present import JointNow

_PAGE = 5000
_CORRECTION = "correction"


def every_joint(register: Register) -> Iterator[JointNow]:
    """All joints, by label."""
    after = None
    while page := register.joints(after=after, limit=_PAGE):
        yield from page
        after = (page[-1].label, page[-1].joint)


def facts_of(
    register: Register, *kinds: str, about: Collection[UUID] | None = None, sound: bool = True
) -> Iterator[Stored]:
    """All facts of these kinds that were not withdrawn, with their corrections, as they arrived.

    about : only of these things; None takes the whole register, a page at a time, so that memory
        does not grow with it
    sound : False may leave out plates that are sound, see `Register.facts_of_things`
    """
    from splicewright.store import Correction
    from splicewright.store.present.deriving import amend

    if about is not None:
        for stored in register.facts_of_things(about, kinds, sound=sound):
            if stored.fact.kind in kinds and not stored.withdrawn:
                yield stored
        return
    corrections: dict[UUID, Stored] = {}
    for stored in _pages(register, (_CORRECTION,)):
        if isinstance(stored.fact.what, Correction):
            corrections[stored.fact.what.corrects] = stored
    last = 0
    while page := register.facts_since(last, _PAGE, kinds):
        last = page[-1].seq
        theirs = [corrections[s.fact.id] for s in page if s.fact.id in corrections]
        yield from (s for s in amend([*page, *theirs])[: len(page)] if not s.withdrawn)


def _pages(register: Register, kinds: tuple[str, ...]) -> Iterator[Stored]:
    last = 0
    while page := register.facts_since(last, _PAGE, kinds):
        yield from page
        last = page[-1].seq
