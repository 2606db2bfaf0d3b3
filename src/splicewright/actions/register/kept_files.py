"""Files the register keeps, read back: a conveyor, a plan, the fastener ranges of a site."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING
from uuid import UUID

from splicewright.errors import Fault, InputError
from splicewright.files.typed_file import InMemory

if TYPE_CHECKING:
    from splicewright.job import JointPlan
    from splicewright.joint import Range
    from splicewright.plant import Conveyor
    from splicewright.store import Register


@dataclass(frozen=True, slots=True)
class KeptRange:
    """A fastener range a site plans with: digest of its newest file, and what it says."""

    digest: str
    range: Range


def kept_conveyor(register: Register, conveyor: UUID) -> Conveyor:
    """The conveyor of the newest file the register keeps of it.

    Raises InputError: the register does not know the conveyor, keeps no file of it, or the file
    cannot be used.
    """
    there = register.conveyor(conveyor)
    if there is None:
        raise InputError(Fault("conveyor", f"the register knows no conveyor {conveyor}"))
    if there.file is None:
        say = f"{there.name} has no file in the register; record its conveyor file first"
        raise InputError(Fault("conveyor", say))
    return _conveyor_of(register.content(there.file).data, there.name)


def kept_plan(register: Register, joint: UUID) -> tuple[str, JointPlan] | None:
    """The newest plan of a joint with its digest; None when it has none.

    Raises InputError: the register does not know the joint, or the plan is of another format.
    """
    there = register.joint(joint)
    if there is None:
        raise InputError(Fault("joint", f"the register knows no joint {joint}"))
    if there.plan is None:
        return None
    return there.plan, _plan_of(register.content(there.plan).data)


def kept_ranges(register: Register, site: UUID) -> tuple[KeptRange, ...]:
    """The ranges a site plans with, by name; of each the newest file."""
    from splicewright.store.facts.plant_facts import FastenersRecorded

    newest: dict[str, str | None] = {}
    since, kinds = 0, ("fasteners recorded",)
    while facts := register.facts_since(since, kinds=kinds):
        for stored in facts:
            event = stored.fact.what
            if isinstance(event, FastenersRecorded) and event.site == site:
                newest[event.name] = event.file
        since = facts[-1].seq
    return tuple(
        KeptRange(digest, _range_of(register.content(digest).data, name))
        for name, digest in sorted(newest.items())
        if digest is not None
    )


@lru_cache(maxsize=32)
def _conveyor_of(raw: bytes, name: str) -> Conveyor:
    from splicewright.plant import load_conveyor

    return load_conveyor(InMemory(f"file of {name}", raw))


@lru_cache(maxsize=8)
def _plan_of(raw: bytes) -> JointPlan:
    from splicewright.job import JointPlan

    return JointPlan.from_json(raw)


@lru_cache(maxsize=64)
def _range_of(raw: bytes, name: str) -> Range:
    from splicewright.joint import load_range

    return load_range(InMemory(f"file of {name}", raw))
