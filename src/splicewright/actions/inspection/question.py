"""The question of a damaged joint: can it run, and who must decide."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any
from uuid import UUID

from splicewright.actions.question import Inquiry, Source
from splicewright.files.answers import FileOf, Id, Several
from splicewright.files.question import Ask, Question
from splicewright.files.typed_file import InMemory, Readable

if TYPE_CHECKING:
    from splicewright.job.inspection.joint_assessment import JointAssessment
    from splicewright.quantities import System
    from splicewright.sheets.pages.document import Document


class AssessAsked(Question):
    """Say what the damaged joint in INSPECTION can still carry, and who must decide.

    The answer is a calculation over everything that is not known of belt and plates; it is
    never leave to run. `explain` takes the folder and says how each number came about.
    """

    inspection: Annotated[
        Readable,
        FileOf("toml"),
        Ask("Inspection file (TOML)", option="INSPECTION", doors=("command", "program")),
    ]
    joint: Annotated[
        UUID | None,
        Id(),
        Ask(
            "Joint",
            "The recorded joint whose plan counts. Without it the joint is typed in; a "
            "plan that the file names is not looked for.",
            doors=("program",),
        ),
    ] = None
    fasteners: Annotated[
        tuple[Readable, ...],
        Several(FileOf("toml")),
        Ask(
            "Fasteners",
            "Fastener range file or folder, where INSPECTION names a conveyor file; "
            "may be repeated. Without it: the folder 'fasteners' beside the conveyor file or its "
            "folder.",
            doors=("command",),
        ),
    ] = ()


def answer_assess(asked: AssessAsked, source: Source) -> JointAssessment:
    """Judge the joint of an inspection file.

    Raises InputError: anything wrong in the file, in the plan it names, or no such joint.
    """
    from splicewright.actions.inspection.assess import assess_joint, assess_recorded, plan_of

    if not isinstance(asked.inspection, InMemory):
        return assess_joint(asked.inspection, asked.fasteners)
    plan = None
    if asked.joint is not None:
        with source.open() as register:
            plan = plan_of(register, asked.joint)
    return assess_recorded(asked.inspection, plan)


def _document(assessment: JointAssessment, units: System) -> Document:
    from splicewright.sheets.reports.inspection import assessment_report

    return assessment_report(assessment, units)


def _data(assessment: JointAssessment) -> dict[str, Any]:
    from splicewright.job.inspection.assessment import as_tables

    return as_tables(assessment)


ASSESS: Inquiry[AssessAsked, JointAssessment] = Inquiry(
    "assess",
    AssessAsked,
    answer_assess,
    _document,
    _data,
    "assessment",
    kept=lambda assessment: assessment.to_json(),
)
