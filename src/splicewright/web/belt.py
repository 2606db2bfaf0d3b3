"""Page: record the belt of a conveyor, its pieces, and damage of it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Annotated
from uuid import UUID, uuid4

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import RedirectResponse, Response

from splicewright.errors import Fault, InputError
from splicewright.quantities import Kind, read
from splicewright.store import What
from splicewright.store.facts.plant_facts import (
    BeltPlaced,
    DamageFound,
    DamageMended,
    Grade,
    PiecePlaced,
    PieceRemoved,
)
from splicewright.store.present.present import BeltNow
from splicewright.web.app.rendering import render
from splicewright.web.app.visitor import Role, Visitor, needs, room_of, said_by
from splicewright.web.conveyor.conveyor import find_conveyor
from splicewright.web.wear import belt_limits

router = APIRouter()
_Crew = Annotated[Visitor, Depends(needs(Role.CREW))]
_Text = Annotated[str, Form()]
_SIDES = {"left": 1.0, "right": -1.0, "": 0.0}


@router.get("/conveyors/{conveyor}/belt")
def belt_page(request: Request, who: _Crew, conveyor: UUID) -> Response:
    """The forms for a belt, its pieces and its damage."""
    return _page(request, conveyor)


@router.post("/conveyors/{conveyor}/belt/place")
def place_belt(
    request: Request, who: _Crew, conveyor: UUID, name: _Text = "", length: _Text = "",
    marking: _Text = "", new: _Text = "",
) -> Response:  # fmt: skip
    """A new belt lies on the conveyor, or the one that lies there is restated."""

    def _say(belt: BeltNow | None) -> What:
        this = uuid4() if belt is None or new else belt.belt
        return BeltPlaced(this, conveyor, name, _length(length, "length"), marking)

    return _record(request, who, conveyor, _say)


@router.post("/conveyors/{conveyor}/belt/piece")
def place_piece(
    request: Request, who: _Crew, conveyor: UUID, name: _Text = "", start: _Text = "",
    length: _Text = "", marking: _Text = "", made: _Text = "",
) -> Response:  # fmt: skip
    """A piece lies in the belt."""

    def _say(belt: BeltNow | None) -> What:
        return PiecePlaced(
            _there(belt), uuid4(), name, _place(start, "start"), _length(length, "length"),
            marking, _day(made),
        )  # fmt: skip

    return _record(request, who, conveyor, _say)


@router.post("/conveyors/{conveyor}/belt/piece/{piece}/remove")
def remove_piece(
    request: Request, who: _Crew, conveyor: UUID, piece: UUID, why: _Text = ""
) -> Response:
    """A piece was taken out of the belt."""
    return _record(request, who, conveyor, lambda belt: PieceRemoved(_there(belt), piece, why))


@router.post("/conveyors/{conveyor}/belt/damage")
def find_damage(
    request: Request, who: _Crew, conveyor: UUID, place: _Text = "", length: _Text = "",
    across: _Text = "", side: _Text = "", grade: _Text = "", note: _Text = "",
) -> Response:  # fmt: skip
    """Damage was found."""

    def _say(belt: BeltNow | None) -> What:
        if grade not in {g.value for g in Grade}:
            raise InputError(Fault("grade", "is not known; choose one of the list"))
        off = None
        if across.strip():
            off = read(across, Kind.LENGTH, "across")
            if off < 0 or side not in _SIDES or (off > 0 and not side):
                say = "is a distance from the centreline, 0 or more; say on which side"
                raise InputError(Fault("across", say))
            off = off * _SIDES[side] if off else 0.0
        return DamageFound(
            _there(belt), uuid4(), _place(place, "place"), _length(length, "length"),
            Grade(grade), off, note,
        )  # fmt: skip

    return _record(request, who, conveyor, _say)


@router.post("/conveyors/{conveyor}/belt/damage/{damage}/mend")
def mend_damage(
    request: Request, who: _Crew, conveyor: UUID, damage: UUID, how: _Text = ""
) -> Response:
    """Damage was repaired."""
    return _record(request, who, conveyor, lambda belt: DamageMended(_there(belt), damage, how))


def _record(
    request: Request, who: Visitor, conveyor: UUID, say: Callable[[BeltNow | None], What]
) -> Response:
    room = room_of(request)
    find_conveyor(room.register, conveyor)
    belt = next(iter(room.register.belts(conveyor)), None)
    try:
        said_by(request, who).append(who.says(say(belt), room.now()))
    except InputError as error:
        return _page(request, conveyor, error.faults)
    return RedirectResponse(f"/conveyors/{conveyor}/belt", 303)


def _there(belt: BeltNow | None) -> UUID:
    if belt is None:
        raise InputError(Fault("belt", "is not recorded yet; record the belt first"))
    return belt.belt


def _place(text: str, key: str) -> float:
    found = read(text, Kind.DISTANCE, key)
    if found < 0:
        raise InputError(Fault(key, f'"{text}" is before the mark; give 0 or more'))
    return found


def _length(text: str, key: str) -> float:
    found = read(text, Kind.DISTANCE, key)
    if found <= 0:
        raise InputError(Fault(key, f'"{text}" is no length; give more than 0'))
    return found


def _day(text: str) -> datetime | None:
    if not text.strip():
        return None
    try:
        return datetime.fromisoformat(text).replace(tzinfo=UTC)
    except ValueError:
        say = f'"{text}" is no date; write it like 2026-05-04'
        raise InputError(Fault("made", say)) from None


def _page(request: Request, conveyor: UUID, faults: tuple[Fault, ...] = ()) -> Response:
    register = room_of(request).register
    there = find_conveyor(register, conveyor)
    belt = next(iter(register.belts(conveyor)), None)
    return render(
        request,
        "belt.html",
        status=422 if faults else 200,
        conveyor=there,
        belt=belt,
        pieces=[p for p in register.pieces(belt.belt) if p.removed is None] if belt else [],
        limits=belt_limits(register, conveyor),
        damage=[d for d in register.damage(belt.belt) if d.mended is None] if belt else [],
        grades=[g.value for g in Grade],
        faults=faults,
    )
