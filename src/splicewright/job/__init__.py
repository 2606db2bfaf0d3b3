"""The job as a whole: isolation, lengths, parts, steps, time; one plan."""

from splicewright.job.drafts import Reading, Step
from splicewright.job.isolation import DEFER, EnergySource
from splicewright.job.joint_plan import FollowUp, JointPlan, plan
from splicewright.job.lengths import CutLengths
from splicewright.job.parts import Part, Tool
from splicewright.job.timing import Timing

__all__ = [
    "DEFER",
    "CutLengths",
    "EnergySource",
    "FollowUp",
    "JointPlan",
    "Part",
    "Reading",
    "Step",
    "Timing",
    "Tool",
    "plan",
]
