"""How long a step took in past jobs, by the timers of phones, and what that says of this one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from uuid import UUID

if TYPE_CHECKING:
    from splicewright.job import JointPlan
    from splicewright.store import Register

_ENOUGH = 0.9
_PAGE = 2000


@dataclass(frozen=True, slots=True)
class PastTime:
    """What past jobs say of a step.

    jobs : how many it rests on; likely : enough in half of the cases; enough : in nine of ten [s]
    """

    jobs: int
    likely: float
    enough: float


def past_times(
    register: Register, plan: JointPlan, without: UUID | None = None
) -> dict[str, PastTime]:
    """What past jobs say of the steps of a plan, by the step's key; steps never timed are left out.

    A past step that was planned longer or shorter counts in proportion.

    Parameters
    ----------
    register : with the facts "step timed" of all jobs
    plan : whose steps
    without : a job that is no past job, such as the one the plan is of
    """
    from splicewright.history import Task, learn_time

    times = plan.timing
    low, high = times.low.value / times.likely.value, times.high.value / times.likely.value
    shares = _shares(register, without)
    found = {}
    for step in plan.steps:
        seen = [share * step.time.value for share in shares.get(step.key, {}).values()]
        if not seen or step.time.value <= 0:
            continue
        likely = step.time.value
        law = learn_time(Task(step.key, low * likely, likely, high * likely), seen)
        found[step.key] = PastTime(law.jobs, law.time_for(0.5), law.time_for(_ENOUGH))
    return found


def _shares(register: Register, without: UUID | None) -> dict[str, dict[UUID, float]]:
    """Of each step and job: time taken over time planned, of the phone that worked longest."""
    from splicewright.store.job_facts import StepTimed

    sums: dict[tuple[str, UUID], dict[str, float]] = {}
    seq = 0
    while page := register.facts_since(seq, _PAGE, ("step timed",)):
        seq = page[-1].seq
        for stored in page:
            timed = stored.what
            if not isinstance(timed, StepTimed) or timed.job == without or not timed.planned:
                continue
            devices = sums.setdefault((timed.step, timed.job), {})
            device = stored.fact.device
            devices[device] = devices.get(device, 0.0) + timed.took / timed.planned
    found: dict[str, dict[UUID, float]] = {}
    for (step, job), devices in sums.items():
        longest = max(devices.values())
        if longest > 0:
            found.setdefault(step, {})[job] = longest
    return found
