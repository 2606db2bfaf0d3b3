"""Page: deviations of a job, signed by leads; nobody closes a job over a value in silence."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID, uuid4

from fastapi import APIRouter, Depends, Form, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from splicewright.actions.job.deviations import outside, sign_deviation
from splicewright.actions.job.read import read_job
from splicewright.errors import Fault, InputError
from splicewright.store.facts.job_facts import DEVIATION
from splicewright.web.app.rendering import render
from splicewright.web.app.visitor import Role, Visitor, needs, room_of, said_by
from splicewright.web.job.state import job_state

router = APIRouter()
_Lead = Annotated[Visitor, Depends(needs(Role.LEAD))]
_Text = Annotated[str, Form(max_length=4000)]


@router.get("/jobs/{job}/deviations")
def deviations_page(request: Request, who: _Lead, job: UUID) -> Response:
    """The values outside their limits, and what was signed of such so far."""
    return _page(request, who, job)


@router.post("/jobs/{job}/deviations")
def sign(
    request: Request,
    who: _Lead,
    job: UUID,
    step: _Text = "",
    what: _Text = "",
    box: _Text = "",
    value: _Text = "",
    why: _Text = "",
    to_do: _Text = "",
    until: _Text = "",
    sent: _Text = "",
) -> Response:
    """Sign a deviation."""
    room = room_of(request)
    typed = {"place": f"{step}/{what}/{box}", "why": why, "to_do": to_do, "until": until}
    if read_job(room.register, job) is None:
        raise HTTPException(404)
    try:
        sign_deviation(
            said_by(request, who),
            job,
            step,
            what,
            box,
            value,
            why,
            to_do,
            until,
            sent=_id(sent),
            by=who.name,
            now=room.now(),
            system=who.units,
            person=who.account,
            device="page",
        )
    except InputError as error:
        return _page(request, who, job, error.faults, typed)
    return RedirectResponse(f"/jobs/{job}/deviations", 303)


def _id(sent: str) -> UUID:
    try:
        return UUID(sent)
    except ValueError:
        say = "the page did not say which form this is; reload it"
        raise InputError(Fault("sent", say)) from None


def _page(
    request: Request,
    who: Visitor,
    job: UUID,
    faults: tuple[Fault, ...] = (),
    typed: dict[str, str] | None = None,
) -> Response:
    room = room_of(request)
    view = read_job(room.register, job)
    if view is None:
        raise HTTPException(404)
    deviations = outside(room.register, job)
    steps = {s.key: f"step {s.number}, {s.title}" for s in view.plan.steps} if view.plan else {}
    return render(
        request,
        "deviations.html",
        status=422 if faults else 200,
        view=view,
        open=[t for t in deviations if t.signed is None],
        again=[t for t in deviations if t.signed is not None],
        signed=job_state(view, room.now(), who.units)["deviations"][::-1],
        steps=steps,
        statement=DEVIATION,
        faults=faults,
        typed=dict.fromkeys(("place", "why", "to_do", "until"), "") | (typed or {}),
        sent=uuid4(),
    )
