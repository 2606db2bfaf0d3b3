"""Page: a second person signs a job on this phone, with their own password; or one is enough."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Form, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from splicewright.actions.job.read import read_job
from splicewright.actions.people.sign_in import sign_in
from splicewright.errors import Fault, InputError
from splicewright.store import TooOftenError
from splicewright.store.facts.job_facts import SIGN_OFFS, OnePersonAllowed, SignedOff
from splicewright.store.present.job_view import JobView
from splicewright.web.app.rendering import render
from splicewright.web.app.visitor import (
    Role,
    Visitor,
    as_visitor,
    needs,
    room_of,
    said_by,
)

router = APIRouter()
_Crew = Annotated[Visitor, Depends(needs(Role.CREW))]
_Lead = Annotated[Visitor, Depends(needs(Role.LEAD))]
_Text = Annotated[str, Form(max_length=4000)]
_FIELDS = {"what.role": "role", "what.why": "why"}


@router.get("/jobs/{job}/second-person")
def second_person(request: Request, who: _Crew, job: UUID) -> Response:
    """Who signed so far, and the form for somebody else."""
    return _page(request, who, _view(request, job))


@router.post("/jobs/{job}/second-person")
def sign(
    request: Request,
    who: _Crew,
    job: UUID,
    login: _Text = "",
    password: _Text = "",
    code: _Text = "",
    role: _Text = "",
    seen: _Text = "",
) -> Response:
    """Sign as the person whose password, and code where they have one, it is; this phone stays
    signed in as it was."""
    room, view = room_of(request), _view(request, job)
    typed = {"login": login, "role": role}
    address = request.client.host if request.client is not None else ""
    try:
        session = sign_in(
            room.register,
            room.accounts,
            login,
            password,
            address=address,
            now=room.now(),
        )
        if session is None:
            fault = Fault("", "Name and password do not belong together.")
            return _page(request, who, view, (fault,), typed)
        token = session.token or ""
        known = not session.waits or bool(
            code.strip() and room.accounts.pass_factor(token, code, address)
        )
    except TooOftenError as error:
        fault = Fault("", str(error).capitalize() + ".")
        return _page(request, who, view, (fault,), typed, 429)
    room.accounts.sign_out(token)  # it was for this one signature
    if not known:
        say = "is missing or not right; accepted are the 6 digits shown now, or a recovery code"
        return _page(request, who, view, (Fault("code", say),), typed)
    other = as_visitor(session.account, session.csrf)
    try:
        if not seen.isascii() or not seen.isdigit() or len(seen) > 18:
            raise InputError(Fault("seen", "is missing; reload the page"))
        signature = SignedOff(job, role, SIGN_OFFS.get(role, ""), int(seen))
        room.register.said_by(other.actor).append(other.says(signature, room.now()))
    except InputError as error:
        return _page(request, who, view, error.faults, typed)
    return RedirectResponse(f"/jobs/{job}#sign-off", 303)


@router.post("/jobs/{job}/one-person")
def allow(
    request: Request, who: _Lead, job: UUID, why: _Text = "", allowed: _Text = ""
) -> Response:
    """Record that one person may build and check this joint, or not after all."""
    view = _view(request, job)
    try:
        if not why.strip():
            raise InputError(Fault("why", "is empty; say which rule of the site allows it"))
        permission = OnePersonAllowed(job, why, allowed == "yes")
        said_by(request, who).append(who.says(permission, room_of(request).now()))
    except InputError as error:
        return _page(request, who, view, error.faults, {"why": why})
    return RedirectResponse(f"/jobs/{job}/second-person", 303)


def _view(request: Request, job: UUID) -> JobView:
    view = read_job(room_of(request).register, job)
    if view is None:
        raise HTTPException(404)
    return view


def _page(
    request: Request,
    who: Visitor,
    view: JobView,
    faults: tuple[Fault, ...] = (),
    typed: dict[str, str] | None = None,
    status: int = 422,
) -> Response:
    return render(
        request,
        "second-person.html",
        status=status if faults else 200,
        view=view,
        roles=tuple(SIGN_OFFS.items()),
        faults=tuple(Fault(_FIELDS.get(f.key, f.key), f.sentence) for f in faults),
        typed=dict.fromkeys(("login", "role", "why"), "") | (typed or {}),
    )
