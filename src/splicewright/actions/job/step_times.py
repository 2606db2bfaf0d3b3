"""How long a step took in past jobs, by the timers of phones, and what that says of this one."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING
from uuid import UUID

if TYPE_CHECKING:
    from splicewright.job import JointPlan
    from splicewright.job.steps.timing import PastShare
    from splicewright.store import Register

ENOUGH_JOBS = 3
"""Past jobs that timed a step before a plan takes their time for it; assumption, no source."""
_ENOUGH, _FEW = 0.9, 0.1
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

    without : a job that is no past job, such as the one the plan is of
    """
    from splicewright.history.shutdown.past_times import learn_time
    from splicewright.history.shutdown.tasks import Task
    from splicewright.job.steps.timing import SPAN

    low, high = SPAN
    seen = seen_times(seen_shares(register, {without} if without else set()), plan)
    times = {}
    for step in plan.steps:
        if step.key in seen:
            likely = step.guess.value
            task = Task(step.key, low * likely, likely, high * likely)
            law = learn_time(task, seen[step.key])
            times[step.key] = PastTime(law.jobs, law.time_for(0.5), law.time_for(_ENOUGH))
    return times


def past_shares(register: Register) -> dict[str, PastShare]:
    """What past jobs say of the times of steps, where enough of them timed it.

    The law is that of `learn_time`: the assumed time and its span weigh as two jobs.

    Returns, by the step's key, the likely time, and those of one job in ten below and above, as
    shares of the time assumed [-].
    """
    from splicewright.history.shutdown.past_times import learn_time
    from splicewright.history.shutdown.tasks import Task
    from splicewright.job.steps.timing import SPAN, PastShare

    shares = {}
    for step, jobs in seen_shares(register).items():
        if len(jobs) >= ENOUGH_JOBS:
            law = learn_time(Task(step, SPAN[0], 1.0, SPAN[1]), [*jobs.values()])
            shares[step] = PastShare(
                law.jobs, law.time_for(0.5), law.time_for(_FEW), law.time_for(_ENOUGH)
            )
    return shares


def seen_times(
    shares: Mapping[str, Mapping[UUID, float]], plan: JointPlan
) -> dict[str, tuple[float, ...]]:
    """Times of past jobs for the steps of a plan, in proportion to what was planned [s].

    shares : of `seen_shares`
    plan : whose steps; those never timed are left out
    """
    return {
        s.key: tuple(share * s.guess.value for share in shares[s.key].values())
        for s in plan.steps
        if shares.get(s.key) and s.guess.value > 0
    }


def seen_shares(register: Register, without: Collection[UUID] = ()) -> dict[str, dict[UUID, float]]:
    """Of each step and job: time taken over time assumed, of the phone that worked longest."""
    from splicewright.store.facts.job_facts import StepTimed

    sums: dict[tuple[str, UUID], dict[str, float]] = {}
    seq = 0
    while page := register.facts_since(seq, _PAGE, ("step timed",)):
        seq = page[-1].seq
        for stored in page:
            timed = stored.what
            if not isinstance(timed, StepTimed) or timed.job in without or not timed.planned:
                continue
            devices = sums.setdefault((timed.step, timed.job), {})
            device = stored.fact.device
            devices[device] = devices.get(device, 0.0) + timed.took / timed.planned
    shares: dict[str, dict[UUID, float]] = {}
    for (step, job), devices in sums.items():
        longest = max(devices.values())
        if longest > 0:
            shares.setdefault(step, {})[job] = longest
    return shares
