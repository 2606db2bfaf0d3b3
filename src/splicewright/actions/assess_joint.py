"""Assess a joint in service: from the inspection file to the answer to "can it run?"."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from splicewright.job import JointPlan
    from splicewright.job.assessment import JointAssessment


def assess_joint(path: Path, fasteners: tuple[Path, ...] = ()) -> JointAssessment:
    """Assess the joint that an inspection file describes.

    Parameters
    ----------
    path : inspection file; the plan it names is looked for from its own folder
    fasteners : range files or folders, where the plan is a conveyor file

    Raises
    ------
    InputError
        Anything wrong in the file, or in the plan it names.
    """
    from splicewright.actions.plan_joint import read_plan
    from splicewright.job.assessment import assess
    from splicewright.job.joined_belt import joined_by_hand, joined_by_plan
    from splicewright.joint.inspection import load_inspection
    from splicewright.plant.toml import with_lines

    seen = load_inspection(path)
    with with_lines(path):
        if seen.typed is not None:
            return assess(seen, joined_by_hand(seen.typed))
        folder = path.parent
        work = folder / seen.work if seen.work else None
        return assess(seen, joined_by_plan(read_plan(folder / seen.plan, work, fasteners)))


def assess_recorded(path: Path, plan: JointPlan | None) -> JointAssessment:
    """Assess the joint of an inspection file against a plan at hand; no other file is read.

    Parameters
    ----------
    path : inspection file; what it names as its plan is not looked for
    plan : of the joint; None where the file has the joint typed in

    Raises
    ------
    InputError
        Anything wrong in the file, or a plan is needed and not given.
    """
    from splicewright.job.assessment import assess
    from splicewright.job.joined_belt import joined_by_hand, joined_by_plan
    from splicewright.joint.inspection import load_inspection
    from splicewright.plant.toml import with_lines

    seen = load_inspection(path)
    with with_lines(path):
        if seen.typed is not None:
            return assess(seen, joined_by_hand(seen.typed))
        if plan is None:
            say = "names a plan; accepted is a joint whose plan is recorded, or the joint typed in"
            raise InputError(Fault("inspection.plan", say, path.name))
        return assess(seen, joined_by_plan(plan))
