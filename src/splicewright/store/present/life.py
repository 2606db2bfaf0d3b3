"""How long a joint lived, as its row of the present state says it: the one rule for counting lives.

Age is calendar time from when it was first put to work. A removal whose mode is no renewal is a
failure, and so is a joint found unfit to run, from the inspection that found it: unknown counts as
failed, which brings a forecast forward.
"""

from __future__ import annotations

from datetime import datetime
from typing import Protocol

from splicewright.history.life.counts import Fate, LifeCount, count_of
from splicewright.store.facts.joint_facts import Mode
from splicewright.store.present.present import State

UNFIT = "found unfit to run"
_NO_FAILURE = {Mode.RENEWED, Mode.BELT_CHANGED}


class Lived(Protocol):
    """What a joint's life hangs on: a `JointNow`, or so much of its row."""

    @property
    def state(self) -> State:
        """Where it is in its life."""

    @property
    def put_to_work(self) -> datetime | None:
        """First time."""

    @property
    def stopped(self) -> datetime | None:
        """When it was suspended."""

    @property
    def removed(self) -> datetime | None:
        """When it was removed."""

    @property
    def mode(self) -> Mode | None:
        """Why."""

    @property
    def inspected(self) -> datetime | None:
        """Last inspection."""

    @property
    def can_run(self) -> bool | None:
        """What it decided."""

    @property
    def construction(self) -> str:
        """Kind of joint."""


def life_of(joint: Lived) -> LifeCount | None:
    """The life of a joint; None before it was put to work."""
    start = joint.put_to_work
    if start is None:
        return None
    unfit = joint.inspected if joint.can_run is False else None
    gone = joint.removed if joint.state is State.REMOVED else None
    if gone is not None and joint.mode not in _NO_FAILURE:
        end = gone if unfit is None else min(gone, unfit)
        return count_of(
            start, end, Fate.FAILED, (joint.mode or Mode.OTHER).value, joint.construction
        )
    if unfit is not None:
        return count_of(start, unfit, Fate.FAILED, UNFIT, joint.construction)
    if joint.state is State.SUSPENDED:
        return count_of(start, joint.stopped, Fate.STANDING, kind=joint.construction)
    return count_of(start, gone, kind=joint.construction)
