"""Read a job as it stands: its plan, what was written down, and what still keeps it open."""

from __future__ import annotations

from typing import TYPE_CHECKING
from uuid import UUID

if TYPE_CHECKING:
    from splicewright.job import JointPlan
    from splicewright.store import Register
    from splicewright.store.present.job_view import JobView


def read_job(register: Register, job: UUID) -> JobView | None:
    """The job as it stands; None when the register does not know it."""
    from splicewright.store.present.job_sheet import job_sheet
    from splicewright.store.present.job_view import JobView
    from splicewright.store.present.plan_versions import counting, plan_versions

    there = register.job(job)
    if there is None:
        return None
    conveyor = register.conveyor(there.conveyor)
    assert conveyor is not None  # a job cannot be opened without it
    joint = register.joint(there.joint) if there.joint is not None else None
    facts = register.facts_about(job)
    version = facts[-1].seq if facts else 0
    versions = plan_versions(register.facts_about(joint.joint) if joint is not None else facts)
    kept = joint.plan if joint is not None else versions[-1].digest if versions else None
    plan = kept_plan(register, kept) if kept else None
    sheet = counting(job_sheet(facts), versions, lambda digest: kept_plan(register, digest))
    earlier = tuple(kept_plan(register, v.digest) for v in versions[:-1])
    mark = facts[-1].hash.hex()[:16] if facts else ""
    return JobView(there, conveyor, joint, plan, sheet, version, mark, versions, earlier)


def kept_plan(register: Register, digest: str) -> JointPlan:
    """The plan of that digest."""
    from splicewright.store.present import job_view

    return job_view.kept_plan(digest, lambda: register.content(digest).data)
