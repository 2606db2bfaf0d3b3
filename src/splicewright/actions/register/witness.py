"""The chain of facts, witnessed on paper: which fact recorded a plan, and its hash in short."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID

from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from splicewright.store import Register

SHORT = 20
"""Hexadecimal digits printed: 80 bits, which nobody finds another chain for."""
_WITNESS = re.compile(r"^(?P<seq>\d{1,18}):(?P<hash>(?:[0-9a-f]{2}){8,32})$")


@dataclass(frozen=True, slots=True)
class Confirmed:
    """What the register says of a witness.

    stands : its fact is here with this hash; since : facts after it
    seq, received, kind : of its fact; None and "" where there is none of that number
    """

    stands: bool
    seq: int
    since: int
    received: datetime | None
    kind: str


def witness_of_plan(register: Register, joint: UUID, digest: str) -> str:
    """NUMBER:HASH of the fact that recorded a joint's plan; "" where none did.

    The hash is that of the end of the chain when the plan was recorded: every fact before it went
    into it. So paper that leaves the register witnesses them.
    """
    from splicewright.store.facts.joint_facts import JointPlanned

    for stored in reversed(register.facts_about(joint)):
        if isinstance(stored.fact.what, JointPlanned) and stored.fact.what.plan == digest:
            return f"{stored.seq}:{stored.hash.hex()[:SHORT]}"
    return ""


def confirm_witness(register: Register, text: str) -> Confirmed:
    """Whether the fact of a witness stands in the register with its hash.

    Raises InputError: `text` is no witness.
    """
    seq, hash_ = read_witness(text, "witness")
    head = register.head().seq
    stored = next(iter(register.facts_since(seq - 1, 1)), None) if 0 < seq <= head else None
    if stored is None or stored.seq != seq:
        return Confirmed(False, seq, max(0, head - seq), None, "")
    stands = stored.hash.startswith(hash_)
    return Confirmed(stands, seq, head - seq, stored.received, stored.fact.kind)


def read_witness(text: str, field: str) -> tuple[int, bytes]:
    """Number and hash, or how it begins: as paper, backup and verify print them.

    Raises InputError: it is none.
    """
    match = _WITNESS.match("".join(text.split()).lower())
    if match is None:
        say = f"{text[:80]!r} is no head or witness; accepted is NUMBER:HASH as it is printed"
        raise InputError(Fault(field, say))
    return int(match["seq"]), bytes.fromhex(match["hash"])
