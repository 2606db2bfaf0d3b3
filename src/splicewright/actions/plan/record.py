"""Record a planned joint: the plan is kept as made, and a job is opened for it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID, uuid4, uuid5

from splicewright.actions.register.record_facts import append_once
from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from splicewright.job import JointPlan
    from splicewright.store import Register


@dataclass(frozen=True, slots=True)
class RecordedPlan:
    """What was recorded: the joint and its job."""

    joint: UUID
    job: UUID
    label: str


def record_plan(
    register: Register,
    plan: JointPlan,
    *,
    conveyor: UUID,
    label: str,
    by: str,
    now: datetime,
    belt: UUID | None = None,
    place: float | None = None,
    person: UUID | None = None,
    device: str = "",
    sent: UUID | None = None,
) -> RecordedPlan:
    """Record a plan as a joint to be made, with a job to make it.

    plan : kept as it is; its follow-up intervals make the joint's first due dates
    conveyor, belt : where the joint goes; belt None when no belt is recorded
    label : what the crew calls the joint
    place : of the pin axis on the belt, from its mark [m]; None when not known
    sent : id of the form it was sent with: the same plan sent with it again is recorded once;
        None makes a new one
    Raises InputError: the register does not know the conveyor, or the plan is of another one.
    """
    from splicewright.store import Fact
    from splicewright.store.facts.job_facts import JobOpened
    from splicewright.store.facts.joint_facts import JointPlanned

    _same_conveyor(register, plan, conveyor)
    content = plan.to_json().encode()
    once = _once(sent or uuid4(), content, label, belt, place)
    recorded = RecordedPlan(uuid5(once, "joint"), uuid5(once, "job"), label)
    if register.fact(uuid5(once, "planned")) is not None:
        return recorded
    digest = register.keep(content, "application/json")
    joint, job = recorded.joint, recorded.job
    after = plan.follow_up
    planned = JointPlanned(
        joint,
        conveyor,
        label,
        belt,
        place,
        digest,
        plan.id,
        after.retighten_after.value,
        after.inspect_after.value,
        plan.construction,
    )
    opened = JobOpened(job, conveyor, plan.work.name, joint)
    facts = [(uuid5(once, "planned"), planned), (uuid5(once, "opened"), opened)]
    append_once(register, *(Fact(id_, now, by, event, person, device) for id_, event in facts))
    return recorded


def record_job(
    register: Register,
    plan: JointPlan,
    *,
    conveyor: UUID,
    by: str,
    now: datetime,
    person: UUID | None = None,
    device: str = "",
    sent: UUID | None = None,
) -> UUID:
    """Record the plan of a job that makes no joint: a repair, a round, a look at tracking.

    sent : as in `record_plan`
    Returns the job. Raises InputError: the plan makes a joint, or is of another conveyor, or the
    register does not know that.
    """
    from splicewright.store import Fact
    from splicewright.store.facts.job_facts import JobOpened

    _same_conveyor(register, plan, conveyor)
    if plan.work.job.joins:
        say = f'"{plan.work.job.value}" makes a joint; record the joint with its plan'
        raise InputError(Fault("job", say))
    content = plan.to_json().encode()
    job = uuid5(_once(sent or uuid4(), content, plan.work.name, None, None), "job")
    if register.fact(uuid5(job, "opened")) is None:
        digest = register.keep(content, "application/json")
        opened = JobOpened(job, conveyor, plan.work.name, None, digest, plan.id)
        append_once(register, Fact(uuid5(job, "opened"), now, by, opened, person, device))
    return job


def _same_conveyor(register: Register, plan: JointPlan, conveyor: UUID) -> None:
    there = register.conveyor(conveyor)
    if there is None:
        raise InputError(Fault("conveyor", f"the register knows no conveyor {conveyor}"))
    if there.name != plan.conveyor.name:
        say = f"the plan is of {plan.conveyor.name!r} and the conveyor is {there.name!r}"
        raise InputError(Fault("conveyor", say))


def recorded_plan(
    register: Register,
    plan: JointPlan,
    label: str,
    belt: UUID | None,
    place: float | None,
    sent: UUID,
) -> RecordedPlan | None:
    """What `record_plan` recorded of this very plan when it was sent before; else None."""
    once = _once(sent, plan.to_json().encode(), label, belt, place)
    if register.fact(uuid5(once, "planned")) is None:
        return None
    return RecordedPlan(uuid5(once, "joint"), uuid5(once, "job"), label)


def _once(sent: UUID, content: bytes, label: str, belt: UUID | None, place: float | None) -> UUID:
    """An id that is the same only where the same is sent again.

    Whoever goes back to a form and answers otherwise means another joint: the answers count too.
    """
    text = "\n".join((hashlib.sha256(content).hexdigest(), str(belt), repr(place), label))
    return uuid5(sent, text)
