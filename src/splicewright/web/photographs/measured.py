"""Pages: what photographs propose, drawn over them; taken or overruled by a person, who signs."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException

from splicewright.actions.photographs.proposals import (
    Proposal,
    Proposed,
    asked_of_measuring,
    shown_length,
    taken,
)
from splicewright.background.requests import begin_measurings
from splicewright.errors import Fault, InputError
from splicewright.store.background import BackgroundTask, TaskState
from splicewright.store.facts.photo_facts import SHORT, TAKEN, PhotographMeasured
from splicewright.store.present.measurings import Measuring, measurings
from splicewright.web.app.rendering import render
from splicewright.web.app.visitor import Role, Visitor, needs, room_of, said_by, visitor

router = APIRouter()
_Who = Annotated[Visitor, Depends(visitor)]
_Crew = Annotated[Visitor, Depends(needs(Role.CREW))]


async def _typed(request: Request) -> FormData:
    return await request.form(max_fields=1000)


_Typed = Annotated[FormData, Depends(_typed)]


@router.get("/jobs/{about}/measured/{measuring}")
@router.get("/joints/{about}/measured/{measuring}")
def show(request: Request, about: UUID, measuring: UUID, who: _Who) -> Response:
    """Photographs that wait for measuring, or what they propose."""
    measurement = _find(request, about, measuring)
    if who.may(Role.CREW) and measurement.signed is None:
        room = room_of(request)
        begin_measurings(room.background, room.register, [about], who.name, who.account)
    return _page(request, who, measurement)


@router.post("/jobs/{about}/measured/{measuring}")
@router.post("/joints/{about}/measured/{measuring}")
def sign(request: Request, about: UUID, measuring: UUID, who: _Crew, typed: _Typed) -> Response:
    """Take values, overrule them, and sign."""
    measurement = _find(request, about, measuring)
    room, register = room_of(request), said_by(request, who)
    own = {key[4:]: str(text)[:80] for key, text in typed.items() if key.startswith("own.")}
    take = [str(key) for key in typed.getlist("take")]
    try:
        proposal = _proposal(request, measurement)
        if proposal is None:
            raise InputError(Fault("", "is not measured yet; wait for it, then sign"))
        missing = [int(str(n)) for n in typed.getlist("missing") if str(n).isdecimal()]
        if "plates" in take:
            take += [v.key for v in proposal.values if v.key.startswith("plate ")]
        digest = register.keep(proposal.to_json(), "application/json")
        facts = taken(proposal, digest, measurement, take, own, missing, who.units)
        register.append(*(who.says(event, room.now()) for event in facts))
    except InputError as error:
        return _page(request, who, measurement, error.faults, own, take)
    return RedirectResponse(_back(measurement), 303)


def _find(request: Request, about: UUID, measuring: UUID) -> Measuring:
    facts = room_of(request).register.facts_about(about)
    there = next((m for m in measurings(facts) if m.measuring == measuring), None)
    if there is None:
        raise HTTPException(404)
    return there


def _back(measurement: Measuring) -> str:
    first = measurement.first
    if first.of.value == "job":
        return f"/jobs/{first.about}" + (f"#step-{first.step}" if first.step else "")
    return f"/joints/{first.about}/inspect"


def _task(request: Request, measurement: Measuring) -> BackgroundTask | None:
    background = room_of(request).background
    return None if background is None else background.tasks.task(measurement.measuring)


def _proposal(request: Request, measurement: Measuring) -> Proposal | None:
    """What was signed for, else what the task came to."""
    if measurement.signed is not None:
        event = measurement.signed.what
        assert isinstance(event, PhotographMeasured)
        return Proposal.from_data(room_of(request).register.content(event.document).data)
    task = _task(request, measurement)
    # Anybody may ask for a task under any id: only what was asked of these is believed.
    if task is None or task.state is not TaskState.DONE:
        return None
    proposal = Proposal.from_data(task.answer)
    return proposal if proposal.asked == asked_of_measuring(measurement) else None


def _page(
    request: Request,
    who: Visitor,
    measurement: Measuring,
    faults: tuple[Fault, ...] = (),
    own: dict[str, str] | None = None,
    take: list[str] | None = None,
) -> Response:
    proposal = _proposal(request, measurement)
    task = _task(request, measurement)
    waits = measurement.signed is None and proposal is None
    here = str(request.url.path)
    if request.headers.get("hx-request") and waits:
        return render(request, "measured-waits.html", found=measurement, task=task, here=here)
    plates = [v for v in proposal.values if v.key.startswith("plate ")] if proposal else []
    signed = measurement.signed.what if measurement.signed is not None else None
    assert signed is None or isinstance(signed, PhotographMeasured)
    return render(
        request,
        "measured.html",
        status=422 if faults else 200,
        found=measurement,
        here=here,
        back=_back(measurement),
        task=task,
        proposal=proposal,
        values=_in_order([v for v in proposal.values if v not in plates]) if proposal else [],
        plates=plates,
        signed=signed,
        statement=TAKEN,
        short=SHORT,
        shown=lambda value: shown_length(value, who.units),
        faults=faults,
        own=own or {},
        take=take or [],
    )


def _in_order(values: list[Proposed]) -> list[Proposed]:
    """What fills a box comes first: on a phone the rest is a long way down."""
    return sorted(values, key=lambda value: not value.what)
