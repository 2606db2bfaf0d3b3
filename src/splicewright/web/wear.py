"""Page: the limits of wear of a conveyor's belt and joints, set and taken back by leads."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Form, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from splicewright.actions.wear.limits import (
    PLACES,
    LimitNow,
    limits_about,
    set_limit,
    withdraw_limit,
)
from splicewright.errors import Fault, InputError
from splicewright.store import Register, State, Stream
from splicewright.web.app.rendering import render
from splicewright.web.app.visitor import Role, Visitor, needs, room_of, said_by, visitor
from splicewright.web.conveyor.conveyor import find_conveyor

router = APIRouter()
_Who = Annotated[Visitor, Depends(visitor)]
_Lead = Annotated[Visitor, Depends(needs(Role.LEAD))]
_Text = Annotated[str, Form(max_length=400)]
_FIELDS = ("at", "place", "limit", "new", "source", "note")


@dataclass(frozen=True, slots=True)
class _Thing:
    """What limits can be set of: the word for it, and its limits."""

    of: Stream
    about: UUID
    words: str
    limits: tuple[LimitNow, ...]


@router.get("/conveyors/{conveyor}/limits")
def limits_page(request: Request, who: _Who, conveyor: UUID, at: str = "") -> Response:
    """When a place counts as worn out, and who says so."""
    return _page(request, conveyor, typed={"at": at[:40]})


@router.post("/conveyors/{conveyor}/limits")
def set_here(
    request: Request,
    who: _Lead,
    conveyor: UUID,
    at: _Text = "",
    place: _Text = "",
    limit: _Text = "",
    new: _Text = "",
    source: _Text = "",
    note: _Text = "",
) -> Response:
    """Set a limit."""
    room = room_of(request)
    find_conveyor(room.register, conveyor)
    typed = {"at": at, "place": place, "limit": limit, "new": new, "source": source, "note": note}
    try:
        thing = next((t for t in _things(room.register, conveyor) if str(t.about) == at), None)
        if thing is None:
            raise InputError(Fault("at", "is not here; choose the belt or a joint of the list"))
        set_limit(
            said_by(request, who),
            thing.of,
            thing.about,
            place,
            limit,
            source,
            new=new,
            note=note,
            by=who.name,
            now=room.now(),
            person=who.account,
            device="page",
        )
    except InputError as error:
        return _page(request, conveyor, error.faults, typed)
    return RedirectResponse(f"/conveyors/{conveyor}/limits?at={at}", 303)


@router.post("/conveyors/{conveyor}/limits/{fact}/withdraw")
def take_back(
    request: Request, who: _Lead, conveyor: UUID, fact: UUID, why: _Text = ""
) -> Response:
    """Take a limit back."""
    room = room_of(request)
    find_conveyor(room.register, conveyor)
    here = {x.fact for t in _things(room.register, conveyor) for x in t.limits}
    if fact not in here:
        raise HTTPException(404)
    try:
        withdraw_limit(
            said_by(request, who),
            fact,
            why,
            by=who.name,
            now=room.now(),
            person=who.account,
            device="page",
        )
    except InputError as error:
        return _page(request, conveyor, error.faults)
    return RedirectResponse(f"/conveyors/{conveyor}/limits", 303)


def belt_limits(register: Register, conveyor: UUID) -> tuple[LimitNow, ...]:
    """The limits of the belt that lies on a conveyor, and of the conveyor for every belt."""
    things = {conveyor, *(b.belt for b in register.belts(conveyor)[:1])}
    return limits_about(register, things)


def _things(register: Register, conveyor: UUID) -> tuple[_Thing, ...]:
    """The belt, whichever lies here, this belt alone, and the joints in it."""
    words = [(Stream.CONVEYOR, conveyor, "whichever belt is on it")]
    for belt in register.belts(conveyor)[:1]:
        words.append((Stream.BELT, belt.belt, f"{belt.name} alone"))
    for joint in register.joints(conveyor, limit=2000):
        if joint.state is not State.REMOVED:
            words.append((Stream.JOINT, joint.joint, f"joint {joint.label}"))
    limits = limits_about(register, [about for _, about, _ in words])
    return tuple(
        _Thing(of, about, label, tuple(x for x in limits if x.what.about == about))
        for of, about, label in words
    )


def _page(
    request: Request,
    conveyor: UUID,
    faults: tuple[Fault, ...] = (),
    typed: dict[str, str] | None = None,
) -> Response:
    register = room_of(request).register
    there = find_conveyor(register, conveyor)
    return render(
        request,
        "wear-limits.html",
        status=422 if faults else 200,
        conveyor=there,
        things=_things(register, conveyor),
        places=PLACES,
        faults=faults,
        typed=dict.fromkeys(_FIELDS, "") | (typed or {}),
    )
