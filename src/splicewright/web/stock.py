"""Pages: a site's stock with its movements, and the parts of a job to pick."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated, Literal
from uuid import UUID, uuid4

from fastapi import APIRouter, Depends, Form, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from splicewright.actions.job.read import read_job
from splicewright.actions.stock.movements import (
    Movement,
    PickLine,
    count_stock,
    item_of,
    move_stock,
    movements,
    part_ticked,
    pick_list,
    read_count,
    stands_for,
)
from splicewright.actions.stock.order_notes import LEAD, SERVICE, StockNote, stock_notes
from splicewright.errors import Fault, InputError
from splicewright.history.stock.worksheet import record_of_stock
from splicewright.quantities import Kind, read
from splicewright.store.present.job_view import JobView
from splicewright.store.present.present import JobNow, SiteNow
from splicewright.web.app.answer_cache import LastAnswers
from splicewright.web.app.rendering import Entry, render
from splicewright.web.app.visitor import Role, Visitor, needs, room_of, said_by, visitor
from splicewright.web.plan import words

if TYPE_CHECKING:
    from splicewright.job import JointPlan

router = APIRouter()
LOT = 120
"""Characters of a lot and its date."""
NAVIGATION = (Entry("/stock", "Stock", place=40),)
Anybody = Annotated[Visitor, Depends(visitor)]
Crew = Annotated[Visitor, Depends(needs(Role.CREW))]
Text = Annotated[str, Form(max_length=400)]
_LATEST = 60
_LONGEST_LEAD = 5 * 366 * 86400.0
_READ: LastAnswers[tuple[tuple[Movement, ...], Mapping[str, StockNote]]] = LastAnswers(50)
"""What is read from all movements of a site, until a fact about it."""


@router.get("/stock")
def stores(request: Request, who: Anybody) -> Response:
    """The stores of all sites."""
    sites = room_of(request).register.sites()
    if len(sites) == 1:
        return RedirectResponse(f"/sites/{sites[0].site}/stock", 303)
    return render(request, "stores.html", sites=sites)


@router.get("/sites/{site}/stock")
def stock(request: Request, site: UUID, who: Anybody, lead: str = "") -> Response:
    """What lies in a site's store, what to order, and what moved."""
    return _stock(request, who, _site(request, site), {}, [], lead)


@router.post("/sites/{site}/stock")
def move(
    request: Request,
    site: UUID,
    who: Crew,
    id: Annotated[UUID, Form()],
    item: Text = "",
    how: Text = "",
    count: Text = "",
    why: Text = "",
    job: Text = "",
) -> Response:
    """Record that parts came in, went out, or were counted."""
    there, room = _site(request, site), room_of(request)
    typed = {"item": item, "how": how, "count": count, "why": why, "job": job}
    faults: list[Fault] = []
    if how not in {"in", "out", "counted"}:
        faults.append(Fault("how", "is not chosen; accepted is in, out or counted"))
    if job and job not in {str(j.job) for j in _open_jobs(request, there)}:
        faults.append(Fault("job", "is no open job of this site; choose one of the list"))
    try:
        number = read_count(count, "count", zero=how == "counted")
    except InputError as error:
        faults.extend(error.faults)
    if not faults:
        author = {"by": who.name, "now": room.now(), "person": who.account, "device": "page"}
        try:
            if how == "counted":
                count_stock(said_by(request, who), site, item, number, id=id, **author)  # type: ignore[arg-type]
            else:
                out = how == "out"
                move_stock(
                    said_by(request, who),
                    site,
                    item,
                    -number if out else number,
                    why.strip(),
                    id=id,
                    job=UUID(job) if job and out else None,
                    **author,  # type: ignore[arg-type]
                )
        except InputError as error:
            faults.extend(error.faults)
    if faults:
        return _stock(request, who, there, typed, faults, "", status=422)
    return RedirectResponse(f"/sites/{site}/stock", 303)


@router.get("/jobs/{job}/parts")
def parts(request: Request, job: UUID, who: Anybody) -> Response:
    """The parts of a job to pick."""
    return _parts(request, job, [])


@router.post("/jobs/{job}/parts")
def pick(
    request: Request,
    job: UUID,
    who: Crew,
    id: Annotated[UUID, Form()],
    line: Annotated[int, Form(ge=1, le=1000)],
    act: Annotated[Literal["take", "tick", "untick"], Form()],
    count: Text = "",
    item: Text = "",
    lot: Annotated[str, Form(max_length=LOT)] = "",
) -> Response:
    """Take a part out of the store for a job, or tick it without."""
    room = room_of(request)
    view, _, lines = _picking(request, job)
    if line > len(lines):
        raise HTTPException(404)
    if act == "take":
        part = lines[line - 1].part
        named = item.strip() or lines[line - 1].item
        why = "" if named == item_of(part) else stands_for(part)
        try:
            move_stock(
                said_by(request, who),
                view.conveyor.site,
                named,
                -read_count(count, f"count.{line}"),
                why,
                job=job,
                line=line,
                lot=lot,
                id=id,
                by=who.name,
                now=room.now(),
                person=who.account,
                device="page",
            )
        except InputError as error:
            return _parts(request, job, list(error.faults), status=422)
    else:
        ticked = part_ticked(room.register, job, line, done=act == "tick", lot=lot)
        said_by(request, who).append(who.says(ticked, room.now()))
    return RedirectResponse(f"/jobs/{job}/parts#line-{line}", 303)


def _site(request: Request, site: UUID) -> SiteNow:
    there = room_of(request).register.site(site)
    if there is None:
        raise HTTPException(404)
    return there


def _open_jobs(request: Request, site: SiteNow) -> list[JobNow]:
    return [*room_of(request).register.jobs(site=site.site, open_only=True)]


def _stock(
    request: Request,
    who: Visitor,
    site: SiteNow,
    typed: dict[str, str],
    faults: list[Fault],
    lead: str,
    status: int = 200,
) -> Response:
    room = room_of(request)
    rows = room.register.stock(site.site)
    seconds = LEAD
    if lead.strip():
        try:
            seconds = read(lead[:40], Kind.TIME, "lead")
            if not 0 <= seconds <= _LONGEST_LEAD:
                say = f'"{lead[:40]}" is not accepted; accepted is up to five years'
                raise InputError(Fault("lead", say))
        except InputError as error:
            faults = [*faults, *(Fault("lead", f.sentence) for f in error.faults)]
            seconds = LEAD
    jobs = _open_jobs(request, site)

    def read_all() -> tuple[tuple[Movement, ...], Mapping[str, StockNote]]:
        moved = movements(room.register.facts_about(site.site))
        there = {row.item: row.count for row in room.register.stock(site.site)}
        return moved[-_LATEST:], stock_notes(moved, there, room.now(), lead=seconds)

    newest, notes = _READ.answer(
        room.register,
        room.now().date(),
        (site.site, seconds),
        read_all,
        lambda _: lambda kind, subject: subject == site.site,
    )
    advised = [note.advice for note in notes.values() if note.advice is not None]
    return render(
        request,
        "stock.html",
        status=status,
        site=site,
        rows=rows,
        notes=notes,
        moved=newest[::-1],
        jobs=jobs,
        job_names={j.job: j.name for j in jobs},
        typed={"item": "", "how": "", "count": "", "why": "", "job": ""} | typed,
        fault_at={f.key: [f] for f in faults},
        id=uuid4(),
        lead=lead,
        lead_time=seconds,
        service=SERVICE,
        swapped=False,
        lines=words.explained(record_of_stock(advised, SERVICE), who.units),
    )


def _picking(request: Request, job: UUID) -> tuple[JobView, JointPlan, tuple[PickLine, ...]]:
    register = room_of(request).register
    view = read_job(register, job)
    if view is None or view.plan is None:
        raise HTTPException(404)
    return view, view.plan, pick_list(register, view.conveyor.site, job, view.plan)


def _parts(request: Request, job: UUID, faults: list[Fault], status: int = 200) -> Response:
    view, plan, lines = _picking(request, job)
    register, conveyor = room_of(request).register, view.conveyor
    return render(
        request,
        "parts.html",
        status=status,
        job=view.job,
        conveyor=conveyor,
        lines=lines,
        tools=plan.tools,
        items=[row.item for row in register.stock(conveyor.site)],
        fault_at={f.key: [f] for f in faults},
        ids=[uuid4() for _ in lines],
        swapped=False,
    )
