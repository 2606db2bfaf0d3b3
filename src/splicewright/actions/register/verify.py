"""Check that nobody changed what was recorded."""

from __future__ import annotations

from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError
from splicewright.store.progress import Tell, tell_nobody

if TYPE_CHECKING:
    from splicewright.store import Head, Register, Verified


def verify_register(
    register: Register, head: str = "", *, rebuild: bool = False, tell: Tell = tell_nobody
) -> Verified:
    """Check the chain of facts, the kept contents and the present state.

    head : "number:hash" written down earlier, or the witness of a sheet; "" for none
    rebuild : derive the present state anew first
    tell : is called every few thousand facts
    Raises InputError: `head` is no head.
    """
    anchor = read_head(head) if head else None
    if rebuild:
        register.rebuild(tell)
    return register.verify(anchor, tell)


def verify_part(register: Register, since: str, most: int, *, tell: Tell = tell_nobody) -> Verified:
    """Check the chain of facts in parts.

    since : head at which the part before ended, whole; "" begins at the first fact
    most : facts of this part
    tell : is called every few thousand facts
    Raises InputError: `since` is no head, or shortened.
    """
    from splicewright.store import Head
    from splicewright.store.facts.facts import FIRST_HASH

    head = read_head(since) if since else Head(0, FIRST_HASH)
    if len(head.hash) != len(FIRST_HASH):
        say = "is shortened; accepted is the whole NUMBER:HASH at which the part before ended"
        raise InputError(Fault("since", say))
    return register.verify_part(head, most, tell)


def read_head(text: str) -> Head:
    """A head or a witness as it is printed, "number:hash"; the hash may be its beginning alone.

    Raises InputError: it is none.
    """
    from splicewright.actions.register.witness import read_witness
    from splicewright.store import Head

    return Head(*read_witness(text, "head"))
