"""How far out of square the ends of a planned joint may be."""

from __future__ import annotations

from splicewright.errors import Fault, InputError
from splicewright.job.plan import JointPlan
from splicewright.joint.belt_end.squared_end import Limit
from splicewright.joint.loads.making_limits import DERIVED
from splicewright.quantities import sentence


def square_limit(plan: JointPlan) -> Limit:
    """The limit on the plan's own steps and acceptance sheet.

    Raises InputError: the plan holds no joint with plates.
    """
    if plan.limits is None:
        raise InputError(
            Fault(
                "squaring.plan", "holds no joint with plates, so no limit; give limit in its place"
            )
        )
    limit = plan.limits.out_of_square
    reason = sentence(
        DERIVED + "; typical case {typical}; common practice: " + limit.practice.template,
        typical=limit.typical,
    )
    return Limit(
        limit.smallest.value,
        type(reason)(reason.template, (*reason.numbers, *limit.practice.numbers)),
    )
