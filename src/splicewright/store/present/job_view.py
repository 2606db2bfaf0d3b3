"""A job with its plan: what still keeps it open, and what its facts may name.

What a phone or a program says of a job is held against the plan here: a step, a value or a
statement that stands in no plan of the job's joint was invented by whoever sent it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from threading import Lock
from typing import TYPE_CHECKING

from splicewright.errors import Fault
from splicewright.store.facts.job_facts import (
    DEVIATION,
    PARTS,
    SIGN_OFFS,
    DeviationSigned,
    Gap,
    HoldPointSigned,
    JobPlannedAgain,
    SignedOff,
    StepTicked,
    StepTimed,
    ValueRecorded,
)
from splicewright.store.facts.joint_facts import PhotoAdded
from splicewright.store.facts.kinds import Stream, What
from splicewright.store.present.job_sheet import Answer, Entry, JobSheet
from splicewright.store.present.plan_versions import PlanVersion
from splicewright.store.present.present import ConveyorNow, JobNow, JointNow

if TYPE_CHECKING:
    from splicewright.job import Answered, JointPlan, Step

FAR = "far from what is expected"
"""As `job.acceptance.likely.FAR`, which is not imported before there is a plan."""
_MOST = 16
_LATELY: dict[str, JointPlan] = {}
"""Plans by their digest, which alone tells one from another."""
_MAKING_ROOM = Lock()


@dataclass(frozen=True, slots=True)
class JobView:
    """A job with all that belongs to it.

    plan : None when the job's joint has none
    version : number of the last fact about the job
    mark : of that fact's hash: the same number in a register set back to an older copy is another
    sheet : what counts by the newest plan
    versions : of the plan, the oldest first; earlier : the plans of all but the newest
    """

    job: JobNow
    conveyor: ConveyorNow
    joint: JointNow | None
    plan: JointPlan | None
    sheet: JobSheet
    version: int
    mark: str = ""
    versions: tuple[PlanVersion, ...] = ()
    earlier: tuple[JointPlan, ...] = ()

    def judged(self, step: Step) -> tuple[Answered, ...]:
        """What was measured at a step, judged against the plan."""
        assert self.plan is not None
        return _judged(self.plan, step, self.sheet)

    def deviation(self, step: Step, answered: Answered) -> Entry | None:
        """What was signed of a value outside its limits; None when nothing was, or of another."""
        return _deviation(self.sheet, step, answered)

    def outside(self, step: Step) -> tuple[Answered, ...]:
        """The values of a step that are outside their limits."""
        assert self.plan is not None
        return _outside(self.plan, step, self.sheet)

    def keeps_open(self) -> tuple[str, ...]:
        """Why the job cannot be closed yet, one sentence each; empty when nothing does."""
        return keeps_open(self.plan, self.sheet)

    def out_of_order(self) -> tuple[str, ...]:
        """Hold points signed before an earlier one was, one sentence each."""
        return out_of_order(self.plan, self.sheet)

    def for_lead(self) -> tuple[str, ...]:
        """Why only a lead can close the job, one sentence each; empty when nothing does."""
        return for_lead(self.plan, self.sheet)


def keeps_open(plan: JointPlan | None, sheet: JobSheet) -> tuple[str, ...]:
    """Why a job cannot be closed yet, one sentence each; empty when nothing does."""
    reasons = []
    steps = plan.steps if plan is not None else ()
    for step in steps:
        name = f"step {step.number}, {step.title}"
        if step.hold_point is not None and step.key not in sheet.hold_points:
            reasons.append(f"the hold point of {name}, is not signed")
        assert plan is not None  # it has a step
        reasons += [
            f'"{a.what}" of {name}, is {a.verdict}'
            for a in _outside(plan, step, sheet)
            if _deviation(sheet, step, a) is None
        ]
        reasons += [
            f'"{label}" of {name}, box {box}, is {FAR}: say that it is right, or measure it again'
            for label, box in _far_off(plan, step, sheet)
        ]
    titles = {s.key: f"step {s.number}, {s.title}" for s in steps}
    for (key, label, box), answer in sheet.values.items():
        if answer.conflict:
            where = titles.get(key, key)
            reasons.append(f'"{label}" of {where}, box {box}, has two answers')
    for (key, line), answer in sheet.ticks.items():
        if answer.conflict:
            at = f", line {line}," if line else ""
            reasons.append(f"one phone ticked {titles.get(key, key)},{at} and another took it back")
    return tuple(reasons)


def out_of_order(plan: JointPlan | None, sheet: JobSheet) -> tuple[str, ...]:
    """Hold points signed before one that comes first in the plan, one sentence each.

    By when they were signed, not by when they arrived: a phone without signal sends late, and what
    it says happened is recorded, never refused. So clocks of phones that differ can tell a wrong
    order; nothing is kept open by it.
    """
    sentences = []
    before: list[tuple[Step, datetime | None]] = []
    for step in plan.steps if plan is not None else ():
        if step.hold_point is None:
            continue
        at = min((e.when for e in sheet.hold_points.get(step.key, ())), default=None)
        late = [s for s, when in before if at is not None and (when is None or when > at)]
        if late:
            first, more = late[0], len(late) - 1
            others = f" and {more} more" if more else ""
            sentences.append(
                f"the hold point of step {step.number}, {step.title}, was signed before that of "
                f"step {first.number}, {first.title}{others}"
            )
        before.append((step, at))
    return tuple(sentences)


def gaps(plan: JointPlan, step: Step, sheet: JobSheet) -> tuple[Gap, ...]:
    """The values that a step lacks or that are outside, unless a deviation is signed for them, and
    those far from what is expected of which nobody said that they are right."""
    from splicewright.job import asked_of

    asked = [
        (r.what, box)
        for r in asked_of(plan, step)
        if not r.of_pair
        for box in range(1, r.boxes + 1)
    ]
    missing = [Gap(*place, "missing") for place in asked if (step.key, *place) not in sheet.values]
    outside = [
        Gap(a.what, a.box, a.verdict.value)
        for a in _outside(plan, step, sheet)
        if _deviation(sheet, step, a) is None
    ]
    return (*missing, *outside, *(Gap(*place, FAR) for place in _far_off(plan, step, sheet)))


def unticked(plan: JointPlan, step: Step, sheet: JobSheet) -> int:
    """How many lines of a step are not ticked, of those that its hold point speaks of."""
    from splicewright.job import lines_to_tick

    lines = [sheet.ticks.get((step.key, n)) for n in range(1, lines_to_tick(plan, step) + 1)]
    return sum(1 for a in lines if a is None or not _done(a))


def _done(answer: Answer) -> bool:
    event = answer.last.what
    return isinstance(event, StepTicked) and event.done


def for_lead(plan: JointPlan | None, sheet: JobSheet) -> tuple[str, ...]:
    """Why only a lead can close a job, one sentence each: what was never measured stays a gap.

    What is outside its limits is not among it: that keeps the job open for everybody.
    """
    reasons = []
    for step in plan.steps if plan is not None else ():
        assert plan is not None  # it has a step
        name = f"step {step.number}, {step.title}"
        missing = [gap for gap in gaps(plan, step, sheet) if gap.how == "missing"]
        if missing:
            reasons.append(f"{say_gaps(missing)}: {name}")
    return tuple(reasons)


def say_gaps(open_gaps: Iterable[Gap]) -> str:
    """Gaps in words: what, how many boxes, and how."""
    boxes: dict[tuple[str, str], int] = {}
    for gap in open_gaps:
        boxes[gap.what, gap.how] = boxes.get((gap.what, gap.how), 0) + 1
    phrases = (
        f'"{label}" {how}' if count == 1 else f'"{label}" {how} ({count} boxes)'
        for (label, how), count in boxes.items()
    )
    return ", ".join(phrases)


def step_of(
    signature: HoldPointSigned, plans: Iterable[JointPlan]
) -> tuple[JointPlan, Step] | None:
    """The plan and step whose hold point was signed: by the plan it names, else the newest."""
    for plan in sorted(plans, key=lambda plan: plan.id != signature.plan):
        if _not_of(signature, plan) is None:
            return plan, next(s for s in plan.steps if s.key == signature.step)
    return None


def kept_plan(digest: str, read: Callable[[], bytes]) -> JointPlan:
    """The plan of that digest; one read lately is given again: reading takes some 50 ms."""
    from splicewright.job import JointPlan

    plan = _LATELY.get(digest)
    if plan is None:
        plan = JointPlan.from_json(read())
        with _MAKING_ROOM:
            while len(_LATELY) >= _MOST:
                _LATELY.pop(next(iter(_LATELY)))
            _LATELY[digest] = plan
    return plan


def invented(event: What, plans: Callable[[], Iterable[JointPlan]]) -> Fault | None:
    """What a fact about a job names that is not there; None when all of it is.

    Parameters
    ----------
    event : the fact's content
    plans : gives the plans of the job's joint, the present one first. A phone may still go by one
        from before; without any plan a job has no steps to hold it against
    """
    if isinstance(event, SignedOff):
        return _sign_off(event)
    if isinstance(event, JobPlannedAgain):
        newest = next(iter(plans()), None)
        if newest is None or newest.id != event.plan:
            return Fault("what.plan", f"is not the newest plan of the job's joint: '{event.plan}'")
        return None
    if isinstance(event, DeviationSigned) and event.statement != DEVIATION:
        return Fault("what.statement", "is not what the page asks to sign; load it anew")
    names_step = StepTicked | StepTimed | ValueRecorded | HoldPointSigned | DeviationSigned
    if not isinstance(event, names_step) and not (
        isinstance(event, PhotoAdded) and event.of is Stream.JOB and event.step
    ):
        return None
    assert isinstance(event, names_step | PhotoAdded)
    if event.step == PARTS and isinstance(event, StepTicked):
        return None
    fault = None
    for plan in plans():
        fault = _not_of(event, plan)
        if fault is None:
            return None
    return fault


def _not_of(
    event: StepTicked | StepTimed | ValueRecorded | HoldPointSigned | DeviationSigned | PhotoAdded,
    plan: JointPlan,
) -> Fault | None:
    from splicewright.job import asked_of

    step = next((s for s in plan.steps if s.key == event.step), None)
    if step is None:
        accepted = ", ".join(s.key for s in plan.steps)
        say = f'"{event.step}" is no step of the plan; accepted is one of {accepted}'
        return Fault("what.step", say)
    if isinstance(event, HoldPointSigned) and event.statement != step.hold_point:
        if step.hold_point is None:
            return Fault("what.step", f"step {step.number}, {step.title}, has no hold point")
        say = f'is not what the plan asks to sign; accepted is "{step.hold_point}"'
        return Fault("what.statement", say)
    if isinstance(event, ValueRecorded | DeviationSigned):
        asked = asked_of(plan, step)
        boxes = [r.boxes for r in asked if (r.what, r.kind) == (event.what, event.measure)]
        if not boxes:
            say = f'"{event.what}" is not measured at step {step.number}, {step.title}'
            return Fault("what.what", say)
        if event.box > max(boxes):
            return Fault("what.box", f"{event.box} is too large; accepted is up to {max(boxes)}")
    return None


def _sign_off(signature: SignedOff) -> Fault | None:
    if signature.role not in SIGN_OFFS:
        accepted = ", ".join(f'"{role}"' for role in SIGN_OFFS)
        say = f'"{signature.role[:60]}" is not signed; accepted is one of {accepted}'
        return Fault("what.role", say)
    if signature.statement != SIGN_OFFS[signature.role]:
        say = f'is not what is signed as that; accepted is "{SIGN_OFFS[signature.role]}"'
        return Fault("what.statement", say)
    return None


def _said_at(step: Step, sheet: JobSheet) -> dict[tuple[str, int], ValueRecorded]:
    by_place = {}
    for (key, label, box), answer in sheet.values.items():
        event = answer.last.what
        if step.key == key and isinstance(event, ValueRecorded):
            by_place[label, box] = event
    return by_place


def _judged(plan: JointPlan, step: Step, sheet: JobSheet) -> tuple[Answered, ...]:
    from splicewright.job import asked_of, judge_step

    values = {place: event.value for place, event in _said_at(step, sheet).items()}
    return judge_step(asked_of(plan, step), values)


def _far_off(plan: JointPlan, step: Step, sheet: JobSheet) -> tuple[tuple[str, int], ...]:
    """Boxes within their limits, or without any, that hold what nobody expects."""
    from splicewright.job import asked_of, far_off

    by_place = _said_at(step, sheet)
    values = {place: event.value for place, event in by_place.items()}
    outside = {(a.what, a.box) for a in _outside(plan, step, sheet)}
    width = plan.conveyor.belt.width.value
    return tuple(
        place
        for place in far_off(asked_of(plan, step), values, width)
        if not by_place[place].sure and place not in outside
    )


def _outside(plan: JointPlan, step: Step, sheet: JobSheet) -> tuple[Answered, ...]:
    from splicewright.job import AgainstLimits

    outside = {AgainstLimits.LOW, AgainstLimits.HIGH}
    return tuple(a for a in _judged(plan, step, sheet) if a.verdict in outside)


def _deviation(sheet: JobSheet, step: Step, answered: Answered) -> Entry | None:
    latest = None
    for entry in sheet.deviations:
        deviation = entry.what
        assert isinstance(deviation, DeviationSigned)  # job_sheet has sorted them
        place = (deviation.step, deviation.what, deviation.box) == (
            step.key,
            answered.what,
            answered.box,
        )
        if place and abs(deviation.value - answered.value) <= 1e-9 * abs(answered.value):
            latest = entry
    return latest
