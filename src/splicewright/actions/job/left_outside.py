"""The values of a joint's jobs that are outside their limits, for its crew pack."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from splicewright.actions.job.read import read_job

if TYPE_CHECKING:
    from uuid import UUID

    from splicewright.sheets.crew_pack.left_outside import LeftOutside
    from splicewright.store import Register

_MOST = 100_000


def left_outside_of(register: Register, joint: UUID) -> tuple[LeftOutside, ...]:
    """What is outside its limits in the jobs of a joint, and who answers for it.

    joint : which; one without a plan has no limits
    """
    from splicewright.sheets.crew_pack.left_outside import LeftOutside
    from splicewright.store.facts.job_facts import DeviationSigned

    there = register.joint(joint)
    if there is None or there.plan is None:
        return ()
    values = []
    for job in register.jobs(there.conveyor, limit=_MOST):
        view = read_job(register, job.job) if job.joint == joint else None
        if view is None or view.plan is None:
            continue
        for step in view.plan.steps:
            for a in view.outside(step):
                where = f"step {step.number}, {step.title}"
                one = LeftOutside(job.name, where, a.reading, a.what, a.box, a.value, a.verdict)
                entry = view.deviation(step, a)
                if entry is not None and isinstance(entry.what, DeviationSigned):
                    deviation = entry.what
                    one = replace(
                        one,
                        why=deviation.why,
                        to_do=deviation.to_do,
                        signed_by=entry.by,
                        until=deviation.until.date() if deviation.until else None,
                        signed=entry.when.date(),
                    )
                values.append(one)
    return tuple(values)
