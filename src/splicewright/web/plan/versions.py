"""What moved from one version of a job's plan to the next, in words: figures, then steps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from splicewright.job.plan_versions import Change, step_changes
from splicewright.web.plan.words import numbers

if TYPE_CHECKING:
    from collections.abc import Collection

    from splicewright.job import JointPlan
    from splicewright.quantities import System


@dataclass(frozen=True, slots=True)
class FigureMoved:
    """A number of the plan that is another now; "–" where one of the plans has no such number."""

    name: str
    before: str
    now: str


@dataclass(frozen=True, slots=True)
class StepMoved:
    """A step that was done or is changed, and what follows.

    follows : what it means for the crew, in one phrase; now, before : what reads otherwise there
    """

    key: str
    number: int
    title: str
    follows: str
    now: tuple[str, ...]
    before: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlanMoved:
    """What moved: figures; steps to be done (anew); steps that stay done."""

    figures: tuple[FigureMoved, ...]
    anew: tuple[StepMoved, ...]
    stays: tuple[StepMoved, ...]


def plan_moved(
    before: JointPlan, after: JointPlan, done: Collection[str], system: System
) -> PlanMoved:
    """Hold two versions against each other.

    Parameters
    ----------
    done : keys of the steps that were done or signed by the plan before
    """
    anew, stays = [], []
    for step_change in step_changes(before, after):
        step, was_done = step_change.step, step_change.step.key in done
        moved = StepMoved(
            step.key,
            step.number,
            step.title,
            _follows(step_change.change, was_done, step.hold_point),
            tuple(line.say(system) for line in step_change.now),
            tuple(line.say(system) for line in step_change.before),
        )
        if step_change.change is not Change.SAME:
            anew.append(moved)
        elif was_done:
            stays.append(moved)
    return PlanMoved(_figures(before, after, system), tuple(anew), tuple(stays))


def _follows(change: Change, was_done: bool, hold_point: str | None) -> str:
    if change is Change.SAME:
        return "stays done: all that is read, measured and signed there is the same"
    if change is Change.GONE:
        return "no longer asked"
    if change is Change.NEW:
        return "new"
    if not was_done:
        return "changed; it was not done yet"
    return "changed: do it and sign it again" if hold_point else "changed: do it again"


def _figures(before: JointPlan, after: JointPlan, system: System) -> tuple[FigureMoved, ...]:
    then, now = ({"fastener": _fastener(plan)} | _shown(plan, system) for plan in (before, after))
    return tuple(
        FigureMoved(name, then.get(name, "–"), now.get(name, "–"))
        for name in {**then, **now}
        if then.get(name) != now.get(name)
    )


def _shown(plan: JointPlan, system: System) -> dict[str, str]:
    by_name = {n.name: n.value for n in numbers(plan, system)}
    parts = {f"{p.name}, {p.size.say(system)}": f"{p.total}" for p in plan.parts}
    return by_name | parts


def _fastener(plan: JointPlan) -> str:
    return plan.fastener.name if plan.fastener is not None else "none fits"
