"""Pages: the jobs, a job to work through, and its drawings."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Literal
from uuid import UUID

from fastapi import APIRouter, Depends, Request
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException

from splicewright.actions.job.customer_report import MOST_PHOTOGRAPHS, report_on_job, told_of
from splicewright.actions.job.read import read_job
from splicewright.actions.job.step_times import past_times
from splicewright.actions.plan.again import why_not_again
from splicewright.actions.register.use import conveyor_labels
from splicewright.job import JointPlan
from splicewright.quantities import System
from splicewright.sheets.crew_pack.crew import isolation
from splicewright.sheets.crew_pack.files import drawings
from splicewright.sheets.reports.job import report_words
from splicewright.store.facts.job_facts import HoldPointSigned, StepTicked
from splicewright.store.present.job_view import JobView
from splicewright.web.app.fact_words import Names, tell
from splicewright.web.app.rendering import Entry, render, static
from splicewright.web.app.visitor import Role, Visitor, room_of, visitor
from splicewright.web.job.state import job_state, plan_id
from splicewright.web.job.steps import ROLES, script_data, step_forms
from splicewright.web.job.sync import SHELL, account_header
from splicewright.web.plan.versions import PlanMoved, plan_moved
from splicewright.web.plan.words import CALLED

router = APIRouter()
NAVIGATION = (Entry("/jobs", "Jobs", place=20),)
_Who = Annotated[Visitor, Depends(visitor)]


@router.get("/jobs")
def jobs(request: Request, who: _Who) -> Response:
    """Open jobs, the newest first, then the last closed ones."""
    register = room_of(request).register
    names = conveyor_labels(register)
    rows = register.jobs()
    return render(
        request,
        "job-list.html",
        open_jobs=[j for j in rows if j.closed is None],
        closed_jobs=[j for j in rows if j.closed is not None][:50],
        names=names,
    )


@router.get("/jobs/{job}")
def show(request: Request, job: UUID, who: _Who) -> Response:
    """A job: what to do, what was done, what is left."""
    view = _view(request, job)
    room, system = room_of(request), who.units
    plan = view.plan
    past = past_times(room.register, plan, job) if plan is not None else {}
    forms = step_forms(plan, system, past) if plan is not None else ()
    state = job_state(view, room.now(), system)
    pictures = [
        (CALLED[name], f"/jobs/{job}/drawings/{name}?plan={plan_id(view)}&in={system}")
        for name in (drawings(plan) if plan is not None else ())
    ]
    page = render(
        request,
        "job.html",
        view=view,
        forms=forms,
        roles=ROLES,
        drawings=pictures,
        isolation=isolation(plan, system) if plan is not None else None,
        warnings=plan.warnings if plan is not None else (),
        moved=_moved(view, system),
        again=state["again"],
        may_plan_again=not why_not_again(view),
        data=script_data(view, forms, state)
        | {
            "account": str(who.account),
            "by": who.name,
            "crew": who.may(Role.CREW),
            "lead": who.may(Role.LEAD),
            "units": system,
            "planned": plan.timing.likely.value if plan is not None else 0.0,
            "window": plan.timing.window.value
            if plan is not None and plan.timing.window is not None
            else None,
            "keep": [
                *(address for _, address in pictures),
                *(static(name) for name in SHELL),
                *(
                    f"/jobs/{job}/photograph/{f.step.key}"
                    for f in forms
                    if f.photograph and who.may(Role.CREW)
                ),
            ],
        },
        system=system,
    )
    page.headers.update(account_header(who))
    return page


@router.get("/jobs/{job}/report")
def report_page(request: Request, job: UUID, who: _Who) -> Response:
    """The customer's report, to read before it is printed."""
    room = room_of(request)
    view = _view(request, job)
    job_report = told_of(room.register, job, room.now(), who.units, pictures=False)
    page = render(
        request,
        "report.html",
        view=view,
        report=report_words(job_report, who.units),
        photographs=view.sheet.photos[:MOST_PHOTOGRAPHS],
    )
    page.headers.update(account_header(who))
    return page


@router.get("/jobs/{job}/report.pdf")
def report(
    request: Request, job: UUID, who: _Who, paper: Literal["A4", "Letter"] = "A4"
) -> Response:
    """The customer's report, as the register stands."""
    room = room_of(request)
    _view(request, job)
    pdf = report_on_job(room.register, job, room.now(), who.units, paper)
    headers = {"Content-Disposition": 'inline; filename="report.pdf"', **account_header(who)}
    return Response(pdf, media_type="application/pdf", headers=headers)


@router.get("/jobs/{job}/crew-pack.pdf")
def crew_pack_of(request: Request, job: UUID, who: _Who) -> Response:
    """The crew pack of a job that makes no joint; a joint's stands at its plan."""
    from splicewright.sheets.crew_pack.pack import crew_pack

    plan = _view(request, job).plan
    if plan is None:
        raise HTTPException(404)
    headers = {"Content-Disposition": f'inline; filename="crew-pack-{plan.id}.pdf"'}
    return Response(
        crew_pack(plan, who.units),
        media_type="application/pdf",
        headers=headers | account_header(who),
    )


@router.get("/jobs/{job}/state")
def state(
    request: Request, job: UUID, who: _Who, since: int = -1, plan: str = "", mark: str = ""
) -> Response:
    """What was written down so far; nothing (204) when nothing came since that version."""
    view = _view(request, job)
    # A page of an earlier version names no mark.
    if view.version == since and plan_id(view) == plan and mark in {"", view.mark}:
        return Response(status_code=204, headers=account_header(who))
    document = job_state(view, room_of(request).now(), who.units)
    return JSONResponse(document, headers=account_header(who))


@router.get("/jobs/{job}/recorded")
def recorded(request: Request, job: UUID, who: _Who) -> Response:
    """All that was recorded on a job, the last to arrive first; each entry can be corrected."""
    view, register = _view(request, job), room_of(request).register
    names = Names(register)
    lines = [tell(stored, names, who.units) for stored in reversed(register.facts_about(job))]
    return render(
        request,
        "thing-history.html",
        title=view.job.name,
        back=f"/jobs/{job}",
        lines=lines,
        more=0,
    )


@router.get("/jobs/{job}/drawings/{name}")
def drawing(request: Request, job: UUID, name: str, who: _Who) -> Response:
    """A drawing of the job's plan, in the visitor's units."""
    view = _view(request, job)
    by_name: dict[str, Callable[[JointPlan, System], bytes]] = (
        drawings(view.plan) if view.plan is not None else {}
    )
    if view.plan is None or name not in by_name:
        raise HTTPException(404)
    drawn = by_name[name](view.plan, who.units)
    return Response(drawn, media_type="image/svg+xml", headers=account_header(who))


def _moved(view: JobView, system: System) -> PlanMoved | None:
    """What the newest version of the plan moved; None while there is one."""
    if view.plan is None or not view.earlier:
        return None
    sheet, newest = view.sheet, view.versions[-1]
    entries = [e for answer in sheet.ticks.values() for e in answer.entries]
    entries += [e for signed in sheet.hold_points.values() for e in signed]
    earlier = [*sheet.overtaken, *(e for e in entries if e.seq < newest.seq)]
    done = {
        e.what.step
        for e in earlier
        if isinstance(e.what, HoldPointSigned) or (isinstance(e.what, StepTicked) and e.what.done)
    }
    return plan_moved(view.earlier[-1], view.plan, done, system)


def _view(request: Request, job: UUID) -> JobView:
    view = read_job(room_of(request).register, job)
    if view is None:
        raise HTTPException(410 if room_of(request).register.facts_about(job) else 404)
    return view
