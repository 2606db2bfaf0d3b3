"""Check that nobody changed what was recorded."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError
from splicewright.store.progress import Tell, tell_nobody

if TYPE_CHECKING:
    from splicewright.store import Head, Register, Verified

_HEAD = re.compile(r"^(?P<seq>\d{1,18}):(?P<hash>[0-9a-f]{64})$")


def verify_register(
    register: Register, head: str = "", *, rebuild: bool = False, tell: Tell = tell_nobody
) -> Verified:
    """Check the chain of facts, the kept contents and the present state.

    Parameters
    ----------
    head : "number:hash" written down earlier; "" for none
    rebuild : derive the present state anew first
    tell : is called every few thousand facts

    Raises
    ------
    InputError
        `head` is no head.
    """
    anchor = read_head(head) if head else None
    if rebuild:
        register.rebuild(tell)
    return register.verify(anchor, tell)


def read_head(text: str) -> Head:
    """A head as it is printed, "number:hash".

    Raises
    ------
    InputError
        It is none.
    """
    from splicewright.store import Head

    match = _HEAD.match(text.strip().lower())
    if match is None:
        say = f"{text[:80]!r} is no head; accepted is NUMBER:HASH as backup and verify print it"
        raise InputError(Fault("head", say))
    return Head(int(match["seq"]), bytes.fromhex(match["hash"]))
