"""Read a job as it stands: its plan, what was written down, and what still keeps it open."""

from __future__ import annotations

from dataclasses import dataclass
from threading import Lock
from typing import TYPE_CHECKING
from uuid import UUID

if TYPE_CHECKING:
    from splicewright.job import Answered, JointPlan, Step
    from splicewright.store import Register
    from splicewright.store.job_sheet import Entry, JobSheet
    from splicewright.store.present import ConveyorNow, JobNow, JointNow

_MOST = 16
_LATELY: dict[str, JointPlan] = {}
"""Plans by their digest, which alone tells one from another."""
_MAKING_ROOM = Lock()


@dataclass(frozen=True, slots=True)
class JobView:
    """A job with all that belongs to it.

    plan : None when the job's joint has none
    version : number of the last fact about the job
    """

    job: JobNow
    conveyor: ConveyorNow
    joint: JointNow | None
    plan: JointPlan | None
    sheet: JobSheet
    version: int

    def judged(self, step: Step) -> tuple[Answered, ...]:
        """What was measured at a step, judged against the plan."""
        from splicewright.job import asked_of, judge_step

        assert self.plan is not None
        return judge_step(asked_of(self.plan, step), self._values(step.key))

    def deviation(self, step: Step, answered: Answered) -> Entry | None:
        """What was signed of a value outside its limits; None when nothing was, or of another."""
        from splicewright.store.job_facts import DeviationSigned

        found = None
        for entry in self.sheet.deviations:
            what = entry.what
            assert isinstance(what, DeviationSigned)  # job_sheet has sorted them
            place = (what.step, what.what, what.box) == (step.key, answered.what, answered.box)
            if place and abs(what.value - answered.value) <= 1e-9 * abs(answered.value):
                found = entry
        return found

    def outside(self, step: Step) -> tuple[Answered, ...]:
        """The values of a step that are outside their limits."""
        from splicewright.job import Verdict

        return tuple(a for a in self.judged(step) if a.verdict in {Verdict.LOW, Verdict.HIGH})

    def _values(self, key: str) -> dict[tuple[str, int], float]:
        from splicewright.store.job_facts import ValueRecorded

        found = {}
        for (step, what, box), answer in self.sheet.values.items():
            said = answer.last.what
            if step == key and isinstance(said, ValueRecorded):
                found[what, box] = said.value
        return found

    def keeps_open(self) -> tuple[str, ...]:
        """Why the job cannot be closed yet, one sentence each; empty when nothing does."""
        found = []
        steps = self.plan.steps if self.plan is not None else ()
        for step in steps:
            name = f"step {step.number}, {step.title}"
            if step.hold_point is not None and step.key not in self.sheet.hold_points:
                found.append(f"the hold point of {name}, is not signed")
            found += [
                f'"{a.what}" of {name}, is {a.verdict}'
                for a in self.outside(step)
                if self.deviation(step, a) is None
            ]
        titles = {s.key: f"step {s.number}, {s.title}" for s in steps}
        for (key, what, box), answer in self.sheet.values.items():
            if answer.conflict:
                where = titles.get(key, key)
                found.append(f'"{what}" of {where}, box {box}, has two answers')
        for (key, line), answer in self.sheet.ticks.items():
            if answer.conflict:
                at = f", line {line}," if line else ""
                found.append(f"one phone ticked {titles.get(key, key)},{at} and another took it "
                             "back")  # fmt: skip
        return tuple(found)


def read_job(register: Register, job: UUID) -> JobView | None:
    """The job as it stands; None when the register does not know it."""
    from splicewright.store.job_sheet import job_sheet

    there = register.job(job)
    if there is None:
        return None
    conveyor = register.conveyor(there.conveyor)
    assert conveyor is not None  # a job cannot be opened without it
    joint = register.joint(there.joint) if there.joint is not None else None
    plan = kept_plan(register, joint.plan) if joint is not None and joint.plan else None
    facts = register.facts_about(job)
    version = facts[-1].seq if facts else 0
    return JobView(there, conveyor, joint, plan, job_sheet(facts), version)


def kept_plan(register: Register, digest: str) -> JointPlan:
    """The plan of that digest; one read lately is given again: reading takes some 50 ms."""
    from splicewright.job import JointPlan

    plan = _LATELY.get(digest)
    if plan is None:
        plan = JointPlan.from_json(register.content(digest).data)
        with _MAKING_ROOM:
            while len(_LATELY) >= _MOST:
                _LATELY.pop(next(iter(_LATELY)))
            _LATELY[digest] = plan
    return plan
