"""The job as a whole: isolation, lengths, parts, steps, time; one plan."""

from splicewright.job.acceptance import Acceptance, acceptance
from splicewright.job.bolt_work import BoltWork, OnPulley
from splicewright.job.clamping import Clamping, ClampPlace
from splicewright.job.drafts import Step
from splicewright.job.isolation import DEFER, EnergySource
from splicewright.job.joint_plan import FollowUp, JointPlan, plan
from splicewright.job.judging import Answered, Verdict, asked_of, judge, judge_step, printed_limits
from splicewright.job.lengths import CutLengths
from splicewright.job.parts import Part, Tool
from splicewright.job.plate_loads import JointLoads, loads_of
from splicewright.job.readings import Reading
from splicewright.job.spread import Spread
from splicewright.job.steps import MIDPOINT_REACH
from splicewright.job.timing import Timing

__all__ = [
    "DEFER",
    "MIDPOINT_REACH",
    "Acceptance",
    "Answered",
    "BoltWork",
    "ClampPlace",
    "Clamping",
    "CutLengths",
    "EnergySource",
    "FollowUp",
    "JointLoads",
    "JointPlan",
    "OnPulley",
    "Part",
    "Reading",
    "Spread",
    "Step",
    "Timing",
    "Tool",
    "Verdict",
    "acceptance",
    "asked_of",
    "judge",
    "judge_step",
    "loads_of",
    "plan",
    "printed_limits",
]
