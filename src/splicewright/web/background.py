"""Pages: long work asked for, watched, cancelled, its result fetched."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID, uuid4

from fastapi import APIRouter, Depends, Form, Request, UploadFile
from fastapi.responses import RedirectResponse, Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData

from splicewright.actions.folder.writing import PaperName
from splicewright.actions.register.import_rows import TableKind
from splicewright.actions.register.table_rows import COLUMNS
from splicewright.actions.register.use import conveyor_labels
from splicewright.background.requests import (
    DAY,
    MOST_JOBS,
    Background,
    ask_bundle,
    ask_fleet,
    ask_import,
    ask_import_again,
    ask_question,
)
from splicewright.errors import Fault, InputError
from splicewright.store import Register
from splicewright.store.background import LARGEST_INPUT, BackgroundTask
from splicewright.web.api.background import file_response
from splicewright.web.app.rendering import Entry, render
from splicewright.web.app.visitor import Role, Visitor, needs, room_of

router = APIRouter(prefix="/background")
NAVIGATION = (Entry("/background", "Background tasks", Role.CREW, place=70),)
Crew = Annotated[Visitor, Depends(needs(Role.CREW))]
_Id = Annotated[UUID, Form()]
_SHOWN, _OFFERED = 50, 200


@router.get("")
def tasks(request: Request, who: Crew) -> Response:
    """What was asked for, and forms to ask for more."""
    return _page(request, who)


@router.post("/import")
def upload(
    request: Request,
    who: Crew,
    id: _Id,
    table: Annotated[TableKind, Form()],
    file: UploadFile | None = None,
) -> Response:
    """Check a table."""
    if file is None or not file.filename:
        fault = Fault("file", "is not chosen; accepted is a table, .csv or .xlsx")
        return _page(request, who, (fault,), 422)
    data = file.file.read(LARGEST_INPUT + 1)
    try:
        new_task = ask_import(
            _background(request),
            table,
            file.filename,
            data,
            by=who.name,
            account=who.account,
            id=id,
        )
    except InputError as error:
        return _page(request, who, error.faults, 422)
    return _to(new_task)


@router.post("/bundle")
def bundle(
    request: Request,
    who: Crew,
    id: _Id,
    job: Annotated[list[UUID], Form()] = [],  # noqa: B006
    paper: Annotated[PaperName, Form()] = "A4",
) -> Response:
    """Make the job folders of the jobs that are ticked."""
    try:
        new_task = ask_bundle(
            _background(request),
            job,
            by=who.name,
            account=who.account,
            units=who.units,
            paper=paper,
            id=id,
        )
    except InputError as error:
        return _page(request, who, error.faults, 422)
    return _to(new_task)


@router.post("/fleet")
def fleet(
    request: Request,
    who: Crew,
    id: _Id,
    days: Annotated[float, Form()],
    site: Annotated[str, Form(max_length=40)] = "",
    paper: Annotated[PaperName, Form()] = "A4",
) -> Response:
    """Forecast all joints."""
    try:
        where = UUID(site) if site else None
        new_task = ask_fleet(
            _background(request),
            days * DAY,
            by=who.name,
            site=where,
            account=who.account,
            units=who.units,
            paper=paper,
            id=id,
        )
    except InputError as error:
        return _page(request, who, error.faults, 422)
    except ValueError:
        return _page(request, who, (Fault("site", "is none of the sites in the list"),), 422)
    return _to(new_task)


@router.post("/question/{command}")
async def question(request: Request, who: Crew, command: str) -> Response:
    """Ask a question of the whole register; its fields come as its own page has them."""
    form = await request.form()
    return await run_in_threadpool(_ask_question, request, who, command, form)


def _ask_question(request: Request, who: Visitor, command: str, form: FormData) -> Response:
    sent = {k: str(v)[:400] for k, v in form.items() if k not in {"id", "csrf"}}
    try:
        new_task = ask_question(
            _background(request),
            command,
            sent,
            by=who.name,
            account=who.account,
            units=who.units,
            id=_id_of(form),
        )
    except InputError as error:
        return _page(request, who, error.faults, 422)
    return _to(new_task)


def _id_of(form: FormData) -> UUID:
    try:
        return UUID(str(form.get("id", "")))
    except ValueError:
        raise InputError(Fault("id", "is missing; reload the page you came from")) from None


@router.get("/{task}")
def task(request: Request, who: Crew, task: UUID) -> Response:
    """One task, how far it is, and what came of it."""
    record = _find(request, who, task)
    if record is None:
        return _gone(request, who)
    name = "background-now.html" if request.headers.get("hx-request") else "background-one.html"
    return render(request, name, task=record, apply_id=uuid4())


@router.post("/{task}/apply")
def apply(request: Request, who: Crew, task: UUID, id: _Id) -> Response:
    """Record what was checked."""
    looked = _find(request, who, task)
    if looked is None:
        return _gone(request, who)
    return _to(
        ask_import_again(_background(request), looked, by=who.name, account=who.account, id=id)
    )


@router.post("/{task}/cancel")
def cancel(request: Request, who: Crew, task: UUID) -> Response:
    """Cancel it."""
    record = _find(request, who, task)
    if record is None:
        return _gone(request, who)
    _background(request).tasks.cancel(task)
    return _to(record)


@router.get("/{task}/result")
def result(request: Request, who: Crew, task: UUID) -> Response:
    """The file it made."""
    record = _find(request, who, task)
    file = _background(request).tasks.result(task) if record is not None else None
    return _gone(request, who) if file is None else file_response(file)


def _page(
    request: Request, who: Visitor, faults: tuple[Fault, ...] = (), status: int = 200
) -> Response:
    register = room_of(request).register
    account = None if who.may(Role.LEAD) else who.account
    return render(
        request,
        "background.html",
        status=status,
        tasks=_background(request).tasks.latest(_SHOWN, account, sites=who.sites),
        faults=faults,
        jobs=_with_plan(register),
        most_jobs=MOST_JOBS,
        sites=register.sites(),
        columns=COLUMNS,
        ids={form: uuid4() for form in ("import", "bundle", "fleet")},
    )


def _with_plan(register: Register) -> list[tuple[UUID, str, str]]:
    """Open jobs whose joint has a plan: id, job, conveyor."""
    names = conveyor_labels(register)
    jobs = []
    for job in register.jobs(open_only=True, limit=_OFFERED):
        joint = register.joint(job.joint) if job.joint is not None else None
        if joint is not None and joint.plan is not None:
            jobs.append((job.job, f"{job.name}, joint {joint.label}", names.get(job.conveyor, "")))
    return jobs


def _background(request: Request) -> Background:
    background = room_of(request).background
    if background is None:
        say = "no worker is set up here, so background tasks cannot run"
        raise InputError(Fault("", say))
    return background


def _find(request: Request, who: Visitor, task: UUID) -> BackgroundTask | None:
    record = _background(request).tasks.task(task)
    others = who.may(Role.LEAD)
    if record is None or not record.shown_to(who.account, who.sites, everybodys=others):
        return None
    return record


def _gone(request: Request, who: Visitor) -> Response:
    say = "There is no such task: it was deleted after a week, or it is another person's."
    return _page(request, who, (Fault("", say),), 404)


def _to(task: BackgroundTask) -> Response:
    return RedirectResponse(f"/background/{task.task}", 303)
