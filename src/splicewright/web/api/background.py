"""API: long work asked for, watched, cancelled, its result fetched."""

from __future__ import annotations

import base64
import binascii
from datetime import datetime
from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Depends, Path, Request
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict, Field

from splicewright.actions.folder.writing import PaperName
from splicewright.actions.photographs.proposals import MeasureAsked
from splicewright.actions.register.import_rows import TableKind
from splicewright.background.requests import (
    DAY,
    MOST_JOBS,
    Background,
    ask_bundle,
    ask_fleet,
    ask_import,
    ask_import_again,
    ask_measure,
    ask_question,
)
from splicewright.errors import Fault, InputError
from splicewright.quantities import System
from splicewright.store.authority import Scope
from splicewright.store.background import BackgroundTask, TaskFile, TaskKind, TaskState
from splicewright.store.facts.photo_facts import MOST_PHOTOGRAPHS, SHOWN, Shows, WhichEnd
from splicewright.web.api.caller import Caller, needs_scope
from splicewright.web.api.paging import Paged
from splicewright.web.app.moved import lead_on
from splicewright.web.app.problems import NeedsScopeError, NotThereError
from splicewright.web.app.rendering import file_sent
from splicewright.web.app.visitor import room_of

router = APIRouter(tags=["background"], prefix="/background")
moved = APIRouter(prefix="/errands", include_in_schema=False)
Reader = Annotated[Caller, Depends(needs_scope(Scope.READ))]
Recorder = Annotated[Caller, Depends(needs_scope(Scope.RECORD))]
Planner = Annotated[Caller, Depends(needs_scope(Scope.PLAN))]
Id = Annotated[UUID, Path()]
_MOST_TASKS = 5000
_Own = Field(default=None, description="Made by who asks: asking twice is then asking once.")


class _In(BaseModel):
    model_config = ConfigDict(extra="forbid")

    id: UUID | None = _Own


class ImportIn(_In):
    """A table to check; nothing is recorded until it is applied."""

    table: TableKind
    name: str = Field(min_length=1, max_length=200, description="Of the file, .csv or .xlsx.")
    content: str = Field(max_length=24_500_000, description="The file in base64, up to 18 MB.")


class ApplyIn(_In):
    """Record what was checked."""


class BundleIn(_In):
    """Job folders wanted in one zip file."""

    jobs: list[UUID] = Field(min_length=1, max_length=MOST_JOBS)
    units: System = "metric"
    paper: PaperName = "A4"


class FleetIn(_In):
    """A forecast of all joints."""

    days: float = Field(ge=1, le=3653, description="How far ahead [d].")
    site: UUID | None = Field(default=None, description="Only this site; null: all.")
    units: System = "metric"
    paper: PaperName = "A4"


class QuestionIn(_In):
    """A question of the whole register."""

    question: str = Field(max_length=40, description="Its address, such as planner.")
    asked: dict[str, Any] = Field(default={}, description="What its own address takes.")
    units: System = "metric"
    paper: PaperName = "A4"


class MeasureIn(_In):
    """Photographs that are kept, to be measured: a belt end and what is made on it.

    The answer of the task holds the values, their 95 % half-widths and covariance, and the outline
    in pixels [SI]. It is a proposal: a person accepts it at a page, and signs.
    """

    photographs: list[Annotated[str, Field(pattern="^[0-9a-f]{64}$")]] = Field(
        min_length=1, max_length=MOST_PHOTOGRAPHS, description="Digests, of one end."
    )
    shows: Shows = Field(description="; ".join(f"{key}: {words}" for key, words in SHOWN.items()))
    end: WhichEnd
    bar: float = Field(gt=0.1, lt=0.3, description="Long bar of a printed sheet [m].")
    cross_bar: float | None = Field(
        default=None, gt=0.1, lt=0.3, description="Short bar; null: not measured [m]."
    )
    reading: float = Field(
        default=0.25e-3, gt=0, le=0.01, description="How far a reading of a bar may be off [m]."
    )
    job: UUID | None = Field(default=None, description="Whose plan it is compared with.")
    joint: UUID | None = Field(default=None, description="The same, by joint.")


class TaskOut(BaseModel):
    """A background task as it stands."""

    model_config = ConfigDict(from_attributes=True)

    task: UUID
    errand: UUID = Field(description="The same as `task`: its former name.")
    kind: TaskKind
    label: str
    by: str
    state: TaskState
    created: datetime
    made: datetime = Field(description="The same as `created`: its former name.")
    started: datetime | None
    ended: datetime | None
    share: float | None = Field(description="How much is done; null when not known [1].")
    step: str = Field(description="The present step, or where it was cancelled.")
    said: str = Field(description="The same as `step`: its former name.")
    failure: str = Field(description="Why it failed; empty otherwise.")
    answer: Any = Field(description="What came of it; null until it is done.")
    has_result: bool = Field(description="Whether there is a file at `result`.")


@router.get("")
def tasks(
    request: Request,
    caller: Reader,
    paged: Paged,
) -> list[TaskOut]:
    """Background tasks of one's own, the newest first; with the scope admin those of all.

    Up to 50 where no limit is sent.
    """
    account = None if caller.may(Scope.ADMIN) else caller.account
    newest_tasks = _background(request).tasks.latest(
        paged.needed(50, _MOST_TASKS), account, sites=caller.sites
    )
    shown = paged.page(newest_tasks, lambda task: task.task, usual=50)
    return [TaskOut.model_validate(task) for task in shown]


@router.get("/{task}")
def task(request: Request, caller: Reader, task: Id) -> TaskOut:
    """One task."""
    return TaskOut.model_validate(_find(request, caller, task))


@router.get(
    "/{task}/result",
    response_class=Response,
    responses={200: {"content": {"application/octet-stream": {}}}},
)
def result(request: Request, caller: Reader, task: Id) -> Response:
    """The file a background task made."""
    _find(request, caller, task)
    file = _background(request).tasks.result(task)
    if file is None:
        raise NotThereError("task", "has no result to fetch")
    return file_response(file)


@router.post("/import", status_code=202)
def post_import(request: Request, caller: Recorder, sent: ImportIn) -> TaskOut:
    """Check a table of joints, readings or stock: which rows would be refused, and why."""
    try:
        data = base64.b64decode(sent.content.encode("ascii"), validate=True)
    except (binascii.Error, UnicodeEncodeError):
        raise InputError(Fault("content", "is no base64; accepted is the file in base64")) from None
    new_task = ask_import(
        _background(request),
        sent.table,
        sent.name,
        data,
        by=caller.name,
        account=caller.account,
        id=sent.id,
    )
    return TaskOut.model_validate(new_task)


@router.post("/{task}/apply", status_code=202)
def apply(request: Request, caller: Recorder, task: Id, sent: ApplyIn) -> TaskOut:
    """Record what a background task checked; rows it refused are left out."""
    looked = _find(request, caller, task)
    new_task = ask_import_again(
        _background(request), looked, by=caller.name, account=caller.account, id=sent.id
    )
    return TaskOut.model_validate(new_task)


@router.post("/bundle", status_code=202)
def post_bundle(request: Request, caller: Planner, sent: BundleIn) -> TaskOut:
    """Make the job folders of some jobs, in one zip file."""
    new_task = ask_bundle(
        _background(request),
        sent.jobs,
        by=caller.name,
        account=caller.account,
        units=sent.units,
        paper=sent.paper,
        id=sent.id,
    )
    return TaskOut.model_validate(new_task)


@router.post("/fleet", status_code=202)
def post_fleet(request: Request, caller: Planner, sent: FleetIn) -> TaskOut:
    """Forecast all joints: how long they last, and which fails next."""
    new_task = ask_fleet(
        _background(request),
        sent.days * DAY,
        by=caller.name,
        site=sent.site,
        account=caller.account,
        units=sent.units,
        paper=sent.paper,
        id=sent.id,
    )
    return TaskOut.model_validate(new_task)


@router.post("/question", status_code=202)
def post_question(request: Request, caller: Planner, sent: QuestionIn) -> TaskOut:
    """Ask what reads the whole of a large register: its answer in words, report and numbers."""
    if not caller.may(Scope.READ):
        raise NeedsScopeError('it goes by the register, which needs the scope "read"')
    new_task = ask_question(
        _background(request),
        sent.question,
        sent.asked,
        by=caller.name,
        door="program",
        account=caller.account,
        units=sent.units,
        paper=sent.paper,
        id=sent.id,
    )
    return TaskOut.model_validate(new_task)


@router.post("/measure", status_code=202)
def post_measure(request: Request, caller: Recorder, sent: MeasureIn) -> TaskOut:
    """Measure photographs in the background."""
    asked = MeasureAsked(
        tuple(sent.photographs),
        sent.shows,
        sent.end,
        sent.bar,
        sent.cross_bar,
        sent.reading,
        str(sent.job) if sent.job is not None else None,
        str(sent.joint) if sent.joint is not None else None,
    )
    new_task = ask_measure(
        _background(request), asked, by=caller.name, account=caller.account, id=sent.id
    )
    return TaskOut.model_validate(new_task)


@router.post("/{task}/cancel")
def cancel(request: Request, caller: Recorder, task: Id) -> TaskOut:
    """Cancel a background task; over already it stays as it is."""
    _find(request, caller, task)
    _background(request).tasks.cancel(task)
    return TaskOut.model_validate(_find(request, caller, task))


@moved.api_route("{rest:path}", methods=["GET", "POST"])
def to_background(request: Request, _: Reader, rest: str) -> Response:
    """Where tasks were asked for before; the method and what is sent stay."""
    return lead_on(request, "/errands", "/background")


def file_response(file: TaskFile) -> Response:
    """A file to download."""
    return file_sent(file.data, file.name, file.media_type)


def _background(request: Request) -> Background:
    background = room_of(request).background
    if background is None:
        raise NotThereError("", "no worker is set up here, so background tasks cannot run")
    return background


def _find(request: Request, caller: Caller, task: UUID) -> BackgroundTask:
    record = _background(request).tasks.task(task)
    others = caller.may(Scope.ADMIN)
    if record is None or not record.shown_to(caller.account, caller.sites, everybodys=others):
        raise NotThereError("task", f"there is no task {task} of yours")
    return record
