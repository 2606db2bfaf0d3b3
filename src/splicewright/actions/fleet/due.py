"""See what is due: tasks at joints, and values left outside their limits until a day."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from datetime import timedelta
from threading import Lock
from typing import TYPE_CHECKING
from uuid import uuid5

from splicewright.actions.job.read import read_job
from splicewright.quantities import Sentence, sentence

if TYPE_CHECKING:
    from datetime import datetime
    from uuid import UUID

    from splicewright.job import Answered
    from splicewright.store import DueItem, LeftItem, Register, State
    from splicewright.store.present.present import DeviationNow

PUT_RIGHT = "put right"
"""What is due of a deviation: the value is made right, or a lead looks again and signs anew."""
_MOST = 5000
_STANDING: OrderedDict[tuple[object, ...], Sentence | None] = OrderedDict()
"""What was found of deviations whose values were changed, by all that it depends on."""
_MAKING_ROOM = Lock()


@dataclass(frozen=True, slots=True)
class DueLine:
    """A line of the due list.

    task : re-tighten, inspect, renew, or `PUT_RIGHT`
    why : says who or what said so
    joint, label, state : None and "" where a deviation's job has no joint
    job, job_name : of a deviation; None and "" for a task
    uid : the same for the same thing due, whatever its day
    plateless : a vulcanised joint, which is not inspected plate by plate
    """

    due: datetime
    task: str
    why: Sentence
    conveyor: UUID
    conveyor_name: str
    site: UUID
    joint: UUID | None
    label: str
    state: State | None
    job: UUID | None = None
    job_name: str = ""
    uid: str = ""
    plateless: bool = False


def see_due(
    register: Register,
    before: datetime,
    *,
    site: UUID | None = None,
    conveyor: UUID | None = None,
    joint: UUID | None = None,
    limit: int = 200,
) -> tuple[DueLine, ...]:
    """What is due before a moment: of joints that must not run first, then the longest due.

    A deviation stands in it by its day until its value is measured anew within the limits or its
    joint is removed. Signed without a day it is not in it.
    """
    tasks = register.due(before, site=site, conveyor=conveyor, joint=joint, limit=limit)
    lines = [_task(item) for item in tasks]
    lines += left_outside(register, before, site=site, conveyor=conveyor, joint=joint, limit=limit)
    barred = set()
    if joint is None:
        there = register.barred(site=site, conveyor=conveyor, limit=_MOST)
        barred = {one.joint for one in there}
    return tuple(sorted(lines, key=lambda line: (line.joint not in barred, line.due))[:limit])


def left_outside(
    register: Register,
    before: datetime,
    *,
    site: UUID | None = None,
    conveyor: UUID | None = None,
    joint: UUID | None = None,
    limit: int = 100_000,
) -> tuple[DueLine, ...]:
    """The deviations among what is due, the earliest day first."""
    asked = limit
    while True:
        items = register.left_outside(
            before, site=site, conveyor=conveyor, joint=joint, limit=asked
        )
        lines = [line for item in items if (line := _line(register, item)) is not None]
        # Some may be right by now and leave the list: then more are looked at.
        if len(items) < asked or len(lines) >= limit:
            return tuple(lines[:limit])
        asked *= 2


def _line(register: Register, item: LeftItem) -> DueLine | None:
    until, why = item.deviation.until, _why(register, item)
    if why is None or until is None:
        return None
    return DueLine(
        _end_of(until),
        PUT_RIGHT,
        why,
        item.conveyor,
        item.conveyor_name,
        item.site,
        item.joint,
        item.label,
        item.state,
        item.deviation.job,
        item.job_name,
        _uid(item.deviation),
    )


def _uid(left: DeviationNow) -> str:
    return str(uuid5(left.job, f"{left.step}\n{left.what}\n{left.box}"))


def _end_of(until: datetime) -> datetime:
    """A day is over when it ends; a moment given to the hour counts as it is."""
    whole = until == until.replace(hour=0, minute=0, second=0, microsecond=0)
    return until + timedelta(days=1, seconds=-1) if whole else until


def _task(item: DueItem) -> DueLine:
    return DueLine(
        item.due,
        item.task.value,
        sentence(item.why),
        item.conveyor,
        item.conveyor_name,
        item.site,
        item.joint,
        item.label,
        item.state,
        uid=f"{item.joint}-{item.task.name.lower()}",
        plateless=item.plateless,
    )


def _why(register: Register, item: LeftItem) -> Sentence | None:
    """Why a deviation is due; None when its value is right by now."""
    from splicewright.store.present.present import Standing

    left = item.deviation
    if left.standing is Standing.STANDS:
        return _stands(item)
    joint = register.joint(item.joint) if item.joint is not None else None
    key = (left, register.version(left.job), joint.plan if joint is not None else None)
    with _MAKING_ROOM:
        if key in _STANDING:
            return _STANDING[key]
    reason = _looked_at(register, item)
    with _MAKING_ROOM:
        _STANDING[key] = reason
        while len(_STANDING) > _MOST:
            _STANDING.popitem(last=False)
    return reason


def _stands(item: LeftItem) -> Sentence:
    left = item.deviation
    return sentence(
        f"{_called(left.what, left.box)} stays at {{value}}, outside {left.limits}: "
        f"{_signed(left)}",
        value=(left.value, left.measure),
    )


def _looked_at(register: Register, item: LeftItem) -> Sentence | None:
    """A deviation whose value may have changed, judged by the job as it stands now."""
    left, view = item.deviation, read_job(register, item.deviation.job)
    step = next(
        (s for s in view.plan.steps if s.key == left.step) if view and view.plan else iter(()), None
    )
    if view is None or step is None:
        return _stands(item)  # nothing says that it is right
    outside = (a for a in view.outside(step) if (a.what, a.box) == (left.what, left.box))
    now = next(outside, None)
    if now is None:
        return None
    return _stands(item) if view.deviation(step, now) is not None else _anew(item, now)


def _anew(item: LeftItem, now: Answered) -> Sentence:
    left = item.deviation
    return sentence(
        f"{_called(left.what, left.box)} was measured again as {{value}}, still outside "
        f"{left.limits}, without a signature. Before: {_signed(left)}",
        value=(now.value, left.measure),
    )


def _signed(left: DeviationNow) -> str:
    day = f"{left.signed:%Y-%m-%d}"
    return f"{_ended(left.why)}. To do: {_ended(left.to_do)}. Signed: {left.signed_by}, {day}"


def _called(name: str, box: int) -> str:
    if box == 0:
        return f"{name}, difference,"
    return f"{name}, box {box}," if box > 1 else name


def _ended(words: str) -> str:
    """Words as a part of a sentence that goes on with a full stop."""
    return words.strip().rstrip(".")
