"""Page: record the belt of a conveyor, its pieces, and damage of it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, TypeVar
from uuid import UUID

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from splicewright.actions.belt.question import BeltAsked, DamageAsked, PieceAsked
from splicewright.errors import Fault, InputError
from splicewright.files.question import Question
from splicewright.quantities import System
from splicewright.quantities.units import FOOT
from splicewright.store import What
from splicewright.store.facts.plant_facts import DamageMended, PieceRemoved
from splicewright.store.present.present import BeltNow
from splicewright.web.app.question_form import form_of, read_form, typed_of
from splicewright.web.app.rendering import render
from splicewright.web.app.visitor import Role, Visitor, needs, room_of, said_by
from splicewright.web.conveyor.conveyor import find_conveyor
from splicewright.web.wear import belt_limits

router = APIRouter()
_Crew = Annotated[Visitor, Depends(needs(Role.CREW))]
_Text = Annotated[str, Form()]
_Q = TypeVar("_Q", bound=Question)


@router.get("/conveyors/{conveyor}/belt")
def belt_page(request: Request, who: _Crew, conveyor: UUID) -> Response:
    """The forms for a belt, its pieces and its damage."""
    return _page(request, who, conveyor)


async def posted(request: Request) -> FormData:
    """What a form sent."""
    return await request.form()


_Posted = Annotated[FormData, Depends(posted)]


@router.post("/conveyors/{conveyor}/belt/place")
def place_belt(request: Request, who: _Crew, conveyor: UUID, sent: _Posted) -> Response:
    """A new belt lies on the conveyor, or the one that lies there is restated."""

    def _say(belt: BeltNow | None) -> What:
        return _read(BeltAsked, sent).fact(conveyor, belt.belt if belt else None)

    return _record(request, who, conveyor, _say, BeltAsked, sent)


@router.post("/conveyors/{conveyor}/belt/piece")
def place_piece(request: Request, who: _Crew, conveyor: UUID, sent: _Posted) -> Response:
    """A piece lies in the belt."""

    def _say(belt: BeltNow | None) -> What:
        return _read(PieceAsked, sent).fact(_there(belt))

    return _record(request, who, conveyor, _say, PieceAsked, sent)


@router.post("/conveyors/{conveyor}/belt/damage")
def find_damage(request: Request, who: _Crew, conveyor: UUID, sent: _Posted) -> Response:
    """Damage was found."""

    def _say(belt: BeltNow | None) -> What:
        return _read(DamageAsked, sent).fact(_there(belt))

    return _record(request, who, conveyor, _say, DamageAsked, sent)


@router.post("/conveyors/{conveyor}/belt/piece/{piece}/remove")
def remove_piece(
    request: Request, who: _Crew, conveyor: UUID, piece: UUID, why: _Text = ""
) -> Response:
    """A piece was taken out of the belt."""
    return _record(request, who, conveyor, lambda belt: PieceRemoved(_there(belt), piece, why))


@router.post("/conveyors/{conveyor}/belt/damage/{damage}/mend")
def mend_damage(
    request: Request, who: _Crew, conveyor: UUID, damage: UUID, how: _Text = ""
) -> Response:
    """Damage was repaired."""
    return _record(request, who, conveyor, lambda belt: DamageMended(_there(belt), damage, how))


def _read(model: type[_Q], sent: FormData) -> _Q:
    return read_form(model, typed_of(model, sent))


def _record(
    request: Request,
    who: Visitor,
    conveyor: UUID,
    say: Callable[[BeltNow | None], What],
    asked: type[Question] | None = None,
    sent: FormData | None = None,
) -> Response:
    room = room_of(request)
    find_conveyor(room.register, conveyor)
    belt = next(iter(room.register.belts(conveyor)), None)
    try:
        said_by(request, who).append(who.says(say(belt), room.now()))
    except InputError as error:
        return _page(request, who, conveyor, error.faults, asked, sent)
    return RedirectResponse(f"/conveyors/{conveyor}/belt", 303)


def _there(belt: BeltNow | None) -> UUID:
    if belt is None:
        raise InputError(Fault("belt", "is not recorded yet; record the belt first"))
    return belt.belt


def _typed(length: float, units: System) -> str:
    """A length [m] for a field to be sent back: to the centimetre, not as rounded for reading."""
    return f"{length / FOOT:.2f} ft" if units == "inch" else f"{length:.2f} m"


def _page(
    request: Request,
    who: Visitor,
    conveyor: UUID,
    faults: tuple[Fault, ...] = (),
    wrong: type[Question] | None = None,
    sent: FormData | None = None,
) -> Response:
    """The forms; the one that was sent with faults keeps what was typed, and shows them."""
    register = room_of(request).register
    there = find_conveyor(register, conveyor)
    belt = next(iter(register.belts(conveyor)), None)
    length = belt.length if belt else there.belt_length
    known = {
        BeltAsked: {
            "name": belt.name if belt else "main belt",
            "marking": belt.marking if belt else "",
            "length": _typed(length, who.units) if length else "",
        },
        PieceAsked: {"marking": belt.marking if belt else ""},
        DamageAsked: {},
    }
    forms, of_wrong = {}, ""
    for model, id_ in ((BeltAsked, "belt"), (PieceAsked, "piece"), (DamageAsked, "damage")):
        here = model is wrong and sent is not None
        typed = typed_of(model, sent) if here and sent is not None else known[model]
        of_wrong = id_ if here else of_wrong
        forms[id_] = form_of(model, typed, who.units, faults if here else (), id=id_)
    return render(
        request,
        "belt.html",
        status=422 if faults else 200,
        conveyor=there,
        belt=belt,
        pieces=[p for p in register.pieces(belt.belt) if p.removed is None] if belt else [],
        limits=belt_limits(register, conveyor),
        damage=[d for d in register.damage(belt.belt) if d.mended is None] if belt else [],
        asked=forms,
        forms=forms[of_wrong].ids if of_wrong else {},
        faults=faults,
    )
