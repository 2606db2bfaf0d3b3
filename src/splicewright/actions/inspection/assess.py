"""Assess a joint in service: from the inspection file to the answer to "can it run?"."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from splicewright.actions.folder.reading import read_result
from splicewright.errors import Fault, InputError
from splicewright.files.typed_file import Readable

if TYPE_CHECKING:
    from uuid import UUID

    from splicewright.job import JointPlan
    from splicewright.job.inspection.joint_assessment import JointAssessment
    from splicewright.store import Register

FILE = "assessment.json"


def assess_joint(path: Path, fasteners: tuple[Readable, ...] = ()) -> JointAssessment:
    """Assess the joint that an inspection file describes.

    path : inspection file; the plan it names is looked for from its own folder
    fasteners : range files or folders, where the plan is a conveyor file
    Raises InputError: anything wrong in the file, or in the plan it names.
    """
    from splicewright.actions.plan.plan import read_plan
    from splicewright.files.toml import with_lines
    from splicewright.job.inspection.assessment import assess
    from splicewright.job.inspection.joined_belt import joined_by_hand, joined_by_plan
    from splicewright.joint.inspection.file import load_inspection

    seen = load_inspection(path)
    with with_lines(path):
        if seen.typed is not None:
            return assess(seen, joined_by_hand(seen.typed))
        folder = path.parent
        work = folder / seen.work if seen.work else None
        return assess(seen, joined_by_plan(read_plan(folder / seen.plan, work, fasteners)))


def assess_recorded(path: Readable, plan: JointPlan | None) -> JointAssessment:
    """Assess the joint of an inspection file against a plan at hand; no other file is read.

    path : inspection file; what it names as its plan is not looked for
    plan : of the joint; None where the file has the joint typed in
    Raises InputError: anything wrong in the file, or a plan is needed and not given.
    """
    from splicewright.files.toml import with_lines
    from splicewright.job.inspection.assessment import assess
    from splicewright.job.inspection.joined_belt import joined_by_hand, joined_by_plan
    from splicewright.joint.inspection.file import load_inspection

    seen = load_inspection(path)
    with with_lines(path):
        if seen.typed is not None:
            return assess(seen, joined_by_hand(seen.typed))
        if plan is None:
            say = "names a plan; accepted is a joint whose plan is recorded, or the joint typed in"
            raise InputError(Fault("inspection.plan", say, path.name))
        return assess(seen, joined_by_plan(plan))


def plan_of(register: Register, joint: UUID) -> JointPlan:
    """The plan of a recorded joint.

    Raises InputError: there is no such joint, or none of its plans is kept.
    """
    from splicewright.job import JointPlan

    there = register.joint(joint)
    if there is None or there.plan is None:
        raise InputError(Fault("joint", f"the register knows no joint {joint} with a plan"))
    return JointPlan.from_json(register.content(there.plan).data)


def read_assessment(source: Path) -> JointAssessment | None:
    """The assessment the user points at, a folder or its JSON file; None where there is none.

    Raises InputError: it cannot be read.
    """
    from splicewright.job.inspection.joint_assessment import JointAssessment

    return read_result(source, FILE, JointAssessment.from_json)
