"""The job as a whole: isolation, lengths, parts, steps, time; one plan."""

from splicewright.job.acceptance.judging import (
    AgainstLimits,
    Answered,
    asked_of,
    judge,
    judge_step,
    lines_to_tick,
    printed_limits,
)
from splicewright.job.acceptance.likely import far_off, likely
from splicewright.job.acceptance.lines import acceptance
from splicewright.job.clamping import Clamping, ClampPlace
from splicewright.job.isolation import DEFER
from splicewright.job.loads.bolts import BoltWork, OnPulley
from splicewright.job.loads.plates import JointLoads, loads_of
from splicewright.job.loads.spread import Spread
from splicewright.job.plan import JointPlan, plan
from splicewright.job.steps.drafts import Step
from splicewright.job.steps.ends import MIDPOINT_REACH
from splicewright.job.steps.readings import Reading

__all__ = [
    "DEFER",
    "MIDPOINT_REACH",
    "AgainstLimits",
    "Answered",
    "BoltWork",
    "ClampPlace",
    "Clamping",
    "JointLoads",
    "JointPlan",
    "OnPulley",
    "Reading",
    "Spread",
    "Step",
    "acceptance",
    "asked_of",
    "far_off",
    "judge",
    "judge_step",
    "likely",
    "lines_to_tick",
    "loads_of",
    "plan",
    "printed_limits",
]
