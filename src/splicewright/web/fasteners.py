"""Pages: the fastener ranges a site plans with."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Form, HTTPException, Request, UploadFile
from fastapi.responses import RedirectResponse, Response
from starlette.concurrency import run_in_threadpool

from splicewright.actions.fasteners import (
    SIZE_FIELDS,
    SIZE_GROUPS,
    drop_fasteners,
    range_text,
    record_fasteners,
)
from splicewright.actions.register.kept_files import kept_ranges
from splicewright.errors import Fault, InputError
from splicewright.web.app.rendering import render
from splicewright.web.app.visitor import Role, Visitor, needs, room_of, said_by, visitor

router = APIRouter()
Anybody = Annotated[Visitor, Depends(visitor)]
Lead = Annotated[Visitor, Depends(needs(Role.LEAD))]


@router.get("/sites/{site}/fasteners")
def fasteners(request: Request, site: UUID, who: Anybody) -> Response:
    """The ranges of a site, with their sizes."""
    return _page(request, site, ())


@router.post("/sites/{site}/fasteners")
def add(request: Request, site: UUID, who: Lead, file: UploadFile) -> Response:
    """Record a range file; a newer one of the same range takes its place."""
    room = room_of(request)
    name = (file.filename or "the file")[:80]
    try:
        record_fasteners(
            said_by(request, who),
            site,
            file.file.read(1_000_001),
            name,
            by=who.name,
            now=room.now(),
            person=who.account,
            device="page",
        )
    except InputError as error:
        return _page(request, site, error.faults, 422)
    return RedirectResponse(f"/sites/{site}/fasteners", 303)


@router.get("/sites/{site}/fasteners/new")
def answers_page(request: Request, site: UUID, who: Lead) -> Response:
    """The questions of one size of a fastener range."""
    return _asked(request, site, {}, ())


@router.post("/sites/{site}/fasteners/new")
async def answered(request: Request, site: UUID, who: Lead) -> Response:
    """Record the size that the answers describe, in its range."""
    form = await request.form()
    answers = {
        a.field: text[:200] for a in SIZE_FIELDS if isinstance(text := form.get(a.field, ""), str)
    }
    return await run_in_threadpool(_record_size, request, site, who, answers)


def _record_size(request: Request, site: UUID, who: Visitor, answers: dict[str, str]) -> Response:
    room = room_of(request)
    there = [k for k in kept_ranges(room.register, site) if k.range.name == answers["name"].strip()]
    try:
        kept = room.register.content(there[0].digest).data.decode() if there else ""
        record_fasteners(
            said_by(request, who),
            site,
            range_text(answers, kept).encode(),
            "the answers",
            by=who.name,
            now=room.now(),
            person=who.account,
            device="page",
        )
    except InputError as error:
        return _asked(request, site, answers, error.faults, 422)
    return RedirectResponse(f"/sites/{site}/fasteners", 303)


def _asked(
    request: Request,
    site: UUID,
    answers: dict[str, str],
    faults: tuple[Fault, ...],
    status: int = 200,
) -> Response:
    there = room_of(request).register.site(site)
    if there is None:
        raise HTTPException(404)
    fields = {a.field for a in SIZE_FIELDS}
    return render(
        request,
        "fastener-answers.html",
        status=status,
        site=there,
        groups=SIZE_GROUPS,
        answers=answers,
        fault_at={f.key: [f] for f in faults},
        faults=[f for f in faults if f.key not in fields],
        swapped=False,
    )


@router.post("/sites/{site}/fasteners/drop")
def drop(
    request: Request, site: UUID, who: Lead, range: Annotated[str, Form(max_length=200)]
) -> Response:
    """Record that the site does not plan with a range any more."""
    room = room_of(request)
    drop_fasteners(
        said_by(request, who),
        site,
        range,
        by=who.name,
        now=room.now(),
        person=who.account,
        device="page",
    )
    return RedirectResponse(f"/sites/{site}/fasteners", 303)


def _page(request: Request, site: UUID, faults: tuple[Fault, ...], status: int = 200) -> Response:
    register = room_of(request).register
    there = register.site(site)
    if there is None:
        raise HTTPException(404)
    ranges = kept_ranges(register, site)
    return render(
        request, "fasteners.html", status=status, site=there, ranges=ranges, faults=faults
    )
