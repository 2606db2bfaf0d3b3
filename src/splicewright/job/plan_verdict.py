"""Can the job be done as planned? One object that headline, bar, numbers and body of a page say."""

from __future__ import annotations

from dataclasses import dataclass

from splicewright.job.plan import JointPlan
from splicewright.quantities import Kind, Sentence, sentence


@dataclass(frozen=True, slots=True)
class PlanVerdict:
    """What stands of a plan.

    blocks : why it cannot be done as planned, the first to be dealt with first; empty when
        nothing known stands against it, which is never leave to begin
    take_up : where the take-up stands after the work, in words that cannot exceed its travel
    """

    blocks: tuple[Sentence, ...]
    take_up: Sentence

    @property
    def stands(self) -> bool:
        """Whether nothing known stands against the plan."""
        return not self.blocks


def plan_verdict(plan: JointPlan) -> PlanVerdict:
    """Judge a plan by what it holds; nothing is worked out anew."""
    belt, travel = plan.belt, plan.conveyor.take_up.travel
    blocks = []
    if plan.fastener is None:
        blocks.append(sentence("No fastener fits"))
    if not belt.closes:
        blocks.append(
            sentence(
                "The ends do not come together: {needed} of slack needed, {there} there",
                needed=belt.slack_needed,
                there=belt.slack_there,
            )
        )
    after, left = belt.position_after.value, belt.left.value
    if after < 0:
        where = sentence("take-up {over} beyond its slack end", over=(-after, Kind.DISTANCE))
        blocks.append(
            sentence(
                "The loop becomes too short: the take-up would stand {over} beyond its slack end",
                over=(-after, Kind.DISTANCE),
            )
        )
    elif left < 0:
        where = sentence("take-up {over} beyond its tight end", over=(-left, Kind.DISTANCE))
        blocks.append(
            sentence(
                "The loop becomes too long: the take-up would stand {over} beyond its tight end",
                over=(-left, Kind.DISTANCE),
            )
        )
    else:
        where = sentence("take-up left {left} of {travel}", left=belt.left, travel=travel)
    if not plan.clamps.fits:
        blocks.append(plan.clamps.remarks[0])
    return PlanVerdict(tuple(blocks), where)
