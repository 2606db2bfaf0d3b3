"""Plans of the invented site, made once in a run: a plan is frozen, so tests share it."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from splicewright.actions.plan.plan import plan_joint
from splicewright.job import JointPlan

SITE = Path(__file__).parents[1] / "examples" / "karst-hollow"


@cache
def planned(conveyor: str, job: str) -> JointPlan:
    """The plan of the site's files of these names."""
    return plan_joint(SITE / "conveyors" / f"{conveyor}.toml", SITE / "jobs" / f"{job}.toml")
