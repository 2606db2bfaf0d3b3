"""API: conveyor files in versions, plans, and damaged joints judged."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Path, Query, Request
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict, Field

from splicewright.actions.conveyor.record import record_conveyor
from splicewright.actions.inspection.question import ASSESS
from splicewright.actions.job.step_times import past_shares
from splicewright.actions.plan.plan import plan_joint
from splicewright.files.typed_file import InMemory, sent_file
from splicewright.job import JointPlan
from splicewright.job.inspection.joint_assessment import JointAssessment
from splicewright.store import Register
from splicewright.store.authority import Scope
from splicewright.store.facts.plant_facts import ConveyorRecorded
from splicewright.web.api.caller import Caller, needs_scope
from splicewright.web.api.conditions import IfMatch, refuse_changed
from splicewright.web.api.models import FileVersionOut, RecordedConveyorOut
from splicewright.web.api.paging import Paged
from splicewright.web.api.questions import (
    Explained,
    add_question,
    one_of_few,
    worksheet_of,
)
from splicewright.web.app.problems import NotThereError
from splicewright.web.app.visitor import room_of

router = APIRouter(tags=["planning"])
Reader = Annotated[Caller, Depends(needs_scope(Scope.READ))]
Planner = Annotated[Caller, Depends(needs_scope(Scope.PLAN))]
Id = Annotated[UUID, Path()]
_TOML = "application/toml"
_MOST_TEXT = 1_000_000
_Toml = Annotated[str, Field(max_length=_MOST_TEXT, description="Text of a TOML file.")]


class _In(BaseModel):
    model_config = ConfigDict(extra="forbid")


class TomlIn(_In):
    """A conveyor file."""

    toml: _Toml


class PlanIn(_In):
    """A joint to plan: on a recorded conveyor, as a work file says."""

    conveyor: UUID = Field(description="A conveyor whose file is recorded.")
    work: _Toml | None = Field(
        default=None, description="Text of a work file; null plans with named assumptions."
    )
    fasteners: list[_Toml] = Field(
        default=[], max_length=20, description="Texts of fastener range files."
    )


class PlateOut(BaseModel):
    """One plate of the end worst off."""

    number: int = Field(description="From the left, facing in the direction of travel, from 1.")
    kept: float = Field(description="Strength left, as a share of a sound plate's [1].")
    load: float | None = Field(description="In the typical case [N].")
    high: float | None = Field(description="Largest over all cases [N].")
    used: float | None = Field(description="Largest load over what it may carry [1].")


class AssessedOut(Explained):
    """Whether the joint can run, and why."""

    name: str
    invented: bool
    level: str = Field(description="The verdict's word, as facts have it.")
    verdict: str = Field(description="The same as a sentence.")
    end: str
    place: str
    margin: tuple[float | None, float | None] = Field(
        description="Permitted over actual load of the worst plate, lowest and highest [1]."
    )
    running: float | None = Field(description="Largest running tension now [N/m].")
    largest: float | None = Field(description="Largest the joint carries, lowest case [N/m].")
    next_plate: int = Field(description="The plate that goes next, from the left.")
    losses_to_open: int = Field(description="Plates lost till the joint opens.")
    plates: list[PlateOut]
    reasons: list[str]
    assumed: list[str]
    decision: str


@router.get("/conveyors/{conveyor}/versions")
def versions(request: Request, _: Reader, conveyor: Id, paged: Paged) -> list[FileVersionOut]:
    """Versions of a conveyor's file, the oldest first."""
    rows = _versions(room_of(request).register, conveyor)
    return [*paged.page(rows, lambda one: one.version)]


@router.get(
    "/conveyors/{conveyor}/file",
    response_class=Response,
    responses={200: {"content": {_TOML: {"schema": {"type": "string"}}}}},
)
def file(
    request: Request,
    _: Reader,
    conveyor: Id,
    version: Annotated[int | None, Query(ge=1, lt=2**31, description="Newest without.")] = None,
) -> Response:
    """A conveyor's file as it was recorded: the newest version, or the one asked for."""
    register = room_of(request).register
    matches = [v for v in _versions(register, conveyor) if version in {None, v.version} and v.file]
    if not matches or matches[-1].file is None:
        raise NotThereError("version", "the conveyor has no such version of its file")
    data = register.content(matches[-1].file).data
    return Response(data, headers={"ETag": f'"{matches[-1].file}"'}, media_type=_TOML)


@router.put("/conveyors/{conveyor}/file")
def put_file(
    request: Request, caller: Planner, conveyor: Id, sent: TomlIn, if_match: IfMatch = None
) -> RecordedConveyorOut:
    """Record the next version of a conveyor's file; the newest again records nothing."""
    register = room_of(request).register
    version, there = register.version(conveyor), register.conveyor(conveyor)
    if there is None:
        raise NotThereError("conveyor", f"the register knows no conveyor {conveyor}")
    refuse_changed(if_match, f'"{there.file}"' if there.file else None)
    seen = {conveyor: version} if if_match is not None else None
    return _record(request, caller, sent, conveyor, seen)


@router.post("/conveyors")
def post_conveyor(request: Request, caller: Planner, sent: TomlIn) -> RecordedConveyorOut:
    """Record a conveyor file: a new conveyor, or the next version of the one it names."""
    return _record(request, caller, sent, None)


@router.post("/plan", response_model=JointPlan)
def plan(request: Request, _: Planner, sent: PlanIn) -> Response:
    """Plan a joint. The answer is a plan as `plan.json` holds it, every number with its origin.

    Steps that enough past jobs in the register timed have their times.
    """
    register = room_of(request).register
    there = register.conveyor(sent.conveyor)
    if there is None or there.file is None:
        raise NotThereError("conveyor", "the register knows no such conveyor with a file")
    ranges = (sent_file(t, f"fasteners-{n}.toml") for n, t in enumerate(sent.fasteners, 1))
    with one_of_few():
        joint_plan = plan_joint(
            InMemory("conveyor.toml", register.content(there.file).data),
            sent_file(sent.work, "work.toml") if sent.work is not None else None,
            tuple(ranges),
            past_shares(register),
        )
    return Response(joint_plan.to_json(), media_type="application/json")


def _assessed(assessment: JointAssessment) -> AssessedOut:
    return AssessedOut(
        name=assessment.name,
        invented=assessment.invented,
        level=assessment.verdict.value,
        verdict=assessment.verdict.sentence,
        end=assessment.end.value,
        place=assessment.place,
        margin=(_finite(assessment.margin[0]), _finite(assessment.margin[1])),
        running=_finite(assessment.running),
        largest=_finite(assessment.largest),
        next_plate=assessment.next_plate,
        losses_to_open=assessment.losses_to_open,
        plates=[
            PlateOut(
                number=p.number,
                kept=p.kept,
                load=_finite(p.load),
                high=_finite(p.high),
                used=_finite(p.used),
            )
            for p in assessment.plates
        ],
        reasons=[sentence.say() for sentence in assessment.reasons],
        assumed=[sentence.say() for sentence in assessment.assumptions],
        decision=assessment.decision,
        worksheet=worksheet_of(ASSESS, assessment),
    )


add_question(ASSESS, AssessedOut, _assessed, router)


def _record(
    request: Request,
    caller: Caller,
    sent: TomlIn,
    only: UUID | None,
    seen: Mapping[UUID, int] | None = None,
) -> RecordedConveyorOut:
    room = room_of(request)
    done = record_conveyor(
        room.register.said_by(caller.actor),
        sent_file(sent.toml, "conveyor.toml"),
        by=caller.name,
        now=room.now(),
        device="api",
        person=caller.account,
        only=only,
        seen=seen,
    )
    return RecordedConveyorOut.model_validate(done)


def _versions(register: Register, conveyor: UUID) -> list[FileVersionOut]:
    if register.conveyor(conveyor) is None:
        raise NotThereError("conveyor", f"the register knows no conveyor {conveyor}")
    records = [
        (s, s.what)
        for s in register.facts_about(conveyor)
        if isinstance(s.what, ConveyorRecorded) and not s.withdrawn
    ]
    return [
        FileVersionOut(version=number, file=record.file, at=s.when, by=s.fact.by)
        for number, (s, record) in enumerate(records, 1)
    ]


def _finite(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None
