"""Record a planned joint: the plan is kept as made, and a job is opened for it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID, uuid4

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
    device: str = "",
) -> RecordedPlan:
    """Record a plan as a joint to be made, with a job to make it.

    Parameters
    ----------
    register : where to
    plan : kept as it is; its follow-up intervals make the joint's first due dates
    conveyor, belt : where the joint goes; belt None when no belt is recorded
    label : what the crew calls the joint
    place : of the pin axis on the belt, from its mark [m]; None when not known
    by, device : who records it, from where
    now : when

    Raises
    ------
    InputError
        The register does not know the conveyor, or the plan is of another one.
    """
    from splicewright.store import Fact
    from splicewright.store.job_facts import JobOpened
    from splicewright.store.joint_facts import JointPlanned

    there = register.conveyor(conveyor)
    if there is None:
        raise InputError(Fault("conveyor", f"the register knows no conveyor {conveyor}"))
    if there.name != plan.conveyor.name:
        say = f"the plan is of {plan.conveyor.name!r} and the conveyor is {there.name!r}"
        raise InputError(Fault("conveyor", say))
    digest = register.keep(plan.to_json().encode(), "application/json")
    joint, job = uuid4(), uuid4()
    after = plan.follow_up
    planned = JointPlanned(
        joint, conveyor, label, belt, place, digest, plan.id,
        after.retighten_after.value, after.inspect_after.value,
    )  # fmt: skip
    opened = JobOpened(job, conveyor, plan.work.name, joint)
    register.append(*(Fact(uuid4(), now, by, what, device=device) for what in (planned, opened)))
    return RecordedPlan(joint, job, label)
