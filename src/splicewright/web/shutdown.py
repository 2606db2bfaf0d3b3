"""Pages: joints to renew in a shutdown, planned jobs side by side, the tasks of a file."""

from __future__ import annotations

import base64
from dataclasses import dataclass, fields
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, HTTPException, Query, Request, UploadFile
from fastapi.responses import Response

from splicewright.actions.register.use import conveyor_labels
from splicewright.actions.shutdown.choose_joints import choose_recorded_joints
from splicewright.actions.shutdown.judge import judge_shutdown
from splicewright.actions.shutdown.plan import STEP_TOOLS, Hands, open_jobs, plan_shutdown
from splicewright.errors import Fault, InputError
from splicewright.history.shutdown.joint_choice_study import ChoosingStudy
from splicewright.history.shutdown.study import ShutdownStudy
from splicewright.sheets.canvas.svg import svg
from splicewright.sheets.drawings.shutdown import shutdown_bars, shutdown_strip
from splicewright.sheets.reports.shutdown import choice_report, shutdown_report
from splicewright.sheets.words.shutdown import (
    bought,
    choice_rows,
    choice_words,
    holds_up,
    shutdown_words,
)
from splicewright.web.app.posted_files import as_files
from splicewright.web.app.rendering import Entry, render
from splicewright.web.app.visitor import Visitor, room_of, visitor
from splicewright.web.fleet.fleet import amount_of, day_of

router = APIRouter()
NAVIGATION = (Entry("/shutdown", "Shutdown", place=46),)
_Who = Annotated[Visitor, Depends(visitor)]
_LARGEST = 200_000


@dataclass(frozen=True, slots=True)
class AskedJoints:
    """What a shutdown has, as typed; it stands in the address."""

    window: str = ""
    crew: str = ""
    gang: str = "2"
    each: str = ""
    opening: str = ""
    until: str = ""
    failure: str = ""
    renewal: str = ""
    power: str = ""


def _asked_joints(request: Request) -> AskedJoints:
    given = request.query_params
    return AskedJoints(
        **{f.name: given[f.name][:40] for f in fields(AskedJoints) if f.name in given}
    )


_Joints = Annotated[AskedJoints, Depends(_asked_joints)]


@router.get("/shutdown")
def shutdown_page(request: Request, who: _Who, asked: _Joints) -> Response:
    """Joints to renew in a shutdown, from the register, and their bars."""
    if not asked.window:
        return _shutdown(request, asked)
    try:
        study = _chosen(request, asked)
    except InputError as error:
        return _shutdown(request, asked, faults=error.faults)
    return _shutdown(request, asked, study=study, schedule=study.schedule)


@router.get("/shutdown.pdf")
def shutdown_pdf(request: Request, who: _Who, asked: _Joints) -> Response:
    """The report on the joints to renew."""
    try:
        data = choice_report(_chosen(request, asked))
    except InputError as error:
        raise HTTPException(422, error.faults[0].sentence) from None
    name = {"Content-Disposition": 'attachment; filename="choice.pdf"'}
    return Response(data, media_type="application/pdf", headers=name)


@dataclass(frozen=True, slots=True)
class AskedJobs:
    """Planned jobs, and what there is for them, as typed; it stands in the address."""

    job: tuple[str, ...] = ()
    window: str = ""
    crew: str = ""
    clamps: str = ""
    presses: str = ""
    punches: str = ""


def _asked_jobs(request: Request, job: Annotated[list[str], Query()] = []) -> AskedJobs:  # noqa: B006
    given = request.query_params
    names = [f.name for f in fields(AskedJobs) if f.name != "job"]
    typed = {name: given[name][:40] for name in names if name in given}
    return AskedJobs(tuple(one[:40] for one in job[:40]), **typed)


_Jobs = Annotated[AskedJobs, Depends(_asked_jobs)]


@router.get("/shutdown/jobs")
def jobs_page(request: Request, who: _Who, jobs: _Jobs) -> Response:
    """Whether planned jobs fit a window side by side."""
    try:
        schedule = _side_by_side(request, jobs)
    except InputError as error:
        return _shutdown(request, AskedJoints(), jobs=jobs, faults=error.faults)
    return _shutdown(request, AskedJoints(), jobs=jobs, schedule=schedule)


@router.get("/shutdown/jobs.pdf")
def jobs_pdf(request: Request, who: _Who, jobs: _Jobs) -> Response:
    """The same as a report."""
    try:
        data = shutdown_report(_side_by_side(request, jobs))
    except InputError as error:
        raise HTTPException(422, error.faults[0].sentence) from None
    name = {"Content-Disposition": 'attachment; filename="shutdown.pdf"'}
    return Response(data, media_type="application/pdf", headers=name)


@router.post("/shutdown")
def judge(request: Request, who: _Who, file: UploadFile | None = None) -> Response:
    """Whether the tasks of a shutdown file fit its window."""
    asked, room = AskedJoints(), room_of(request)
    raw = file.file.read(_LARGEST + 1) if file is not None else b""
    try:
        if not raw:
            raise InputError(Fault("file", "is missing or empty; choose a shutdown file (TOML)"))
        if len(raw) > _LARGEST:
            raise InputError(Fault("file", f"is larger than {_LARGEST // 1000} kB"))
        with as_files({"shutdown.toml": raw}) as folder:
            study = judge_shutdown(folder / "shutdown.toml", register=room.register, now=room.now())
    except InputError as error:
        return _shutdown(request, asked, faults=error.faults)
    return _shutdown(request, asked, schedule=study)


def _chosen(request: Request, asked: AskedJoints) -> ChoosingStudy:
    room = room_of(request)
    faults: list[Fault] = []
    people = {key: _whole(getattr(asked, key), key, faults) for key in ("crew", "gang")}
    until = day_of(asked.until, "until")
    for key, value in (("until", asked.until), ("each", asked.each), ("failure", asked.failure),
                       ("renewal", asked.renewal), ("window", asked.window)):  # fmt: skip
        if not value.strip():
            faults.append(Fault(key, "is not given"))
    if faults or until is None:
        raise InputError(*faults)
    share = amount_of(asked.power, "power") / 100 if asked.power.strip(" %") else 1.0
    return choose_recorded_joints(
        room.register, room.now(), asked.window, people["crew"], until=until, each=asked.each,
        failure_cost=amount_of(asked.failure, "failure"),
        renewal_cost=amount_of(asked.renewal, "renewal"), opening=asked.opening,
        gang=people["gang"], power_share=share,
    )  # fmt: skip


def _side_by_side(request: Request, jobs: AskedJobs) -> ShutdownStudy:
    room = room_of(request)
    faults: list[Fault] = []
    chosen = []
    for one in jobs.job:
        try:
            chosen.append(UUID(one))
        except ValueError:
            faults.append(Fault("jobs", f'"{one}" is none of those on the page'))
    if not jobs.window.strip():
        faults.append(Fault("window", "is not given"))
    people = _whole(jobs.crew, "crew", faults)
    few = {
        key: _whole(getattr(jobs, key), key, faults) if getattr(jobs, key).strip() else 0
        for key in ("clamps", "presses", "punches")
    }
    if faults:
        raise InputError(*faults)
    tools = {STEP_TOOLS["punch"]: few["punches"]} if few["punches"] else {}
    hands = Hands(people, few["clamps"], few["presses"], tools)
    return plan_shutdown(room.register, room.now(), chosen, jobs.window, hands)


def _whole(typed: str, key: str, faults: list[Fault]) -> int:
    plain = typed.strip()
    if not plain.isdecimal() or not 1 <= int(plain[:4]) <= 200:
        faults.append(Fault(key, f'"{typed}" is no number of people; accepted is 1 to 200'))
        return 1
    return int(plain)


def _shutdown(
    request: Request, asked: AskedJoints, *, study: ChoosingStudy | None = None,
    schedule: ShutdownStudy | None = None, jobs: AskedJobs | None = None,
    faults: tuple[Fault, ...] = (),
) -> Response:  # fmt: skip
    register = room_of(request).register
    conveyors = conveyor_labels(register)
    there = []
    for job in open_jobs(register)[:40]:
        joint = register.joint(job.joint) if job.joint is not None else None
        label = joint.label if joint is not None else job.name
        there.append((str(job.job), label, conveyors.get(job.conveyor, ""), job.name))
    return render(
        request, "shutdown.html", status=422 if faults else 200, asked=asked, study=study,
        schedule=schedule, faults=faults, jobs=jobs or AskedJobs(), there=there,
        of_jobs=jobs is not None,
        words=[w.strip() for w in choice_words(study)] if study else [],
        rows=choice_rows(study) if study else [],
        told=[w.strip() for w in shutdown_words(schedule)] if schedule else [],
        holds=holds_up(schedule) if schedule else [], buys=bought(schedule) if schedule else [],
        wide=_data(svg(shutdown_bars(schedule))) if schedule else "",
        narrow=_data(svg(shutdown_strip(schedule))) if schedule else "",
        query=request.url.query,
    )  # fmt: skip


def _data(drawing: str) -> str:
    """A drawing as an address of its own."""
    return f"data:image/svg+xml;base64,{base64.b64encode(drawing.encode()).decode()}"
