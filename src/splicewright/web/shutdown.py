"""Pages: joints to renew in a shutdown, planned jobs side by side, the tasks of a file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request, UploadFile
from fastapi.responses import Response

from splicewright.actions.register.use import conveyor_labels
from splicewright.actions.shutdown.judge import judge_shutdown
from splicewright.actions.shutdown.plan import open_jobs
from splicewright.actions.shutdown.question import (
    CHOOSE,
    SHUTDOWN,
    JobsAsked,
    JointsAsked,
    answer_jobs,
    answer_joints,
)
from splicewright.errors import Fault, InputError
from splicewright.files.question import asked_by
from splicewright.files.typed_file import InMemory
from splicewright.history.shutdown.joint_choice_study import ChoosingStudy
from splicewright.history.shutdown.study import ShutdownStudy
from splicewright.sheets.pages.report import printed
from splicewright.sheets.reports.shutdown import choice_report, shutdown_report
from splicewright.web.app.document import pictures_within
from splicewright.web.app.long_question import LongQuestion, long_question, refuse_long
from splicewright.web.app.question_form import (
    by_labels,
    form_of,
    read_form,
    source_of,
    typed_of,
)
from splicewright.web.app.rendering import Entry, file_sent, render
from splicewright.web.app.visitor import Visitor, room_of, visitor
from splicewright.web.plan import words

router = APIRouter()
NAVIGATION = (Entry("/shutdown", "Shutdown", place=46),)
_Who = Annotated[Visitor, Depends(visitor)]
_Ticked = Annotated[list[str], Query()]
_LARGEST = 200_000


_JOBS = "j"


@router.get("/shutdown")
def shutdown_page(request: Request, who: _Who) -> Response:
    """Joints to renew in a shutdown, from the register, and their bars."""
    typed = typed_of(JointsAsked, request.query_params)
    if not typed.get("window"):
        return _shutdown(request, who, joints=typed)
    try:
        asked = read_form(JointsAsked, typed)
        long = long_question(room_of(request), who, CHOOSE.command, asked, typed)
        if long is not None:
            return _shutdown(request, who, joints=typed, long=long)
        study = _chosen(request, typed)
    except InputError as error:
        return _shutdown(request, who, joints=typed, faults=error.faults)
    return _shutdown(request, who, joints=typed, study=study)


@router.get("/shutdown.pdf")
def shutdown_pdf(request: Request, who: _Who) -> Response:
    """The report on the joints to renew."""
    study = _chosen(request, typed_of(JointsAsked, request.query_params))
    return file_sent(printed(choice_report(study)), "choice.pdf")


@router.get("/shutdown/jobs")
def jobs_page(request: Request, who: _Who, job: _Ticked = []) -> Response:  # noqa: B006
    """Whether planned jobs fit a window side by side."""
    typed = typed_of(JobsAsked, request.query_params)
    try:
        schedule = _side_by_side(request, typed, job)
    except InputError as error:
        return _shutdown(request, who, jobs=typed, ticked=job, faults=error.faults)
    return _shutdown(request, who, jobs=typed, ticked=job, schedule=schedule)


@router.get("/shutdown/jobs.pdf")
def jobs_pdf(request: Request, who: _Who, job: _Ticked = []) -> Response:  # noqa: B006
    """The same as a report."""
    schedule = _side_by_side(request, typed_of(JobsAsked, request.query_params), job)
    return file_sent(printed(shutdown_report(schedule)), "shutdown.pdf")


@router.post("/shutdown")
def judge(request: Request, who: _Who, file: UploadFile | None = None) -> Response:
    """Whether the tasks of a shutdown file fit its window."""
    room = room_of(request)
    raw = file.file.read(_LARGEST + 1) if file is not None else b""
    try:
        if not raw:
            raise InputError(Fault("file", "is missing or empty; choose a shutdown file (TOML)"))
        if len(raw) > _LARGEST:
            raise InputError(Fault("file", f"is larger than {_LARGEST // 1000} kB"))
        sent = InMemory("shutdown.toml", raw)
        study = judge_shutdown(sent, register=room.register, now=room.now())
    except InputError as error:
        return _shutdown(request, who, faults=error.faults)
    return _shutdown(request, who, schedule=study)


def _chosen(request: Request, typed: Mapping[str, str]) -> ChoosingStudy:
    asked = read_form(JointsAsked, typed)
    refuse_long(room_of(request), asked)
    with by_labels(JointsAsked):
        return answer_joints(asked, source_of(room_of(request)))


def _side_by_side(request: Request, typed: Mapping[str, str], jobs: list[str]) -> ShutdownStudy:
    asked = read_form(JobsAsked, typed, job=tuple(one[:40] for one in jobs[:40]))
    if not asked.job:
        label = next(f.label("page") for f in asked_by(JobsAsked) if f.name == "job")
        raise InputError(Fault(label, "none is chosen; choose one or more"))
    with by_labels(JobsAsked):
        return answer_jobs(asked, source_of(room_of(request)))


def _shutdown(
    request: Request,
    who: Visitor,
    *,
    joints: Mapping[str, str] | None = None,
    jobs: Mapping[str, str] | None = None,
    ticked: Sequence[str] = (),
    study: ChoosingStudy | None = None,
    schedule: ShutdownStudy | None = None,
    faults: tuple[Fault, ...] = (),
    long: LongQuestion | None = None,
) -> Response:
    of_jobs = jobs is not None
    form = form_of(JointsAsked, joints or {}, who.units, () if of_jobs else faults)
    job_form = form_of(JobsAsked, jobs or {}, who.units, faults if of_jobs else (), id=_JOBS)
    document = record = None
    if study is not None:
        document, record = choice_report(study), CHOOSE.worksheet(study)
    elif schedule is not None:
        document, record = shutdown_report(schedule), SHUTDOWN.worksheet(schedule)
    lines = words.explained(record, who.units)
    register = room_of(request).register
    conveyors = conveyor_labels(register)
    there = []
    for job in open_jobs(register)[:40]:
        joint = register.joint(job.joint) if job.joint is not None else None
        label = joint.label if joint is not None else job.name
        there.append((str(job.job), label, conveyors.get(job.conveyor, ""), job.name))
    return render(
        request,
        "shutdown.html",
        status=422 if faults else 200,
        form=form,
        document=document,
        pictures=pictures_within(document) if document else {},
        paper="/shutdown.pdf" if study else "/shutdown/jobs.pdf" if schedule and of_jobs else "",
        long=long,
        faults=faults,
        job_form=job_form,
        ticked=ticked,
        there=there,
        forms=job_form.ids if of_jobs else form.ids,
        query=request.url.query,
        lines=lines,
        keys={line.key for line in lines},
    )
