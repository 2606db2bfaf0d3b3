"""Page: how often to inspect a conveyor's joints or belt, and what past inspections show."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from splicewright.actions.inspection_interval.question import (
    LOOK_HERE,
    LookHereAsked,
)
from splicewright.history.inspection_interval.study import WhenToLook
from splicewright.history.inspection_interval.worksheet import record_of_looking
from splicewright.web.app.answer_cache import Touches, always, of_conveyor
from splicewright.web.app.question_page import QuestionPage
from splicewright.web.app.rendering import render
from splicewright.web.app.room import Room
from splicewright.web.app.visitor import Visitor, room_of, visitor
from splicewright.web.conveyor.conveyor import find_conveyor
from splicewright.web.plan import words

router = APIRouter()
_Who = Annotated[Visitor, Depends(visitor)]
OF = {
    "joints": "the joints of this conveyor",
    "belts": "the belt of this conveyor",
    "all joints": "the joints of all conveyors",
    "all belts": "the belts of all conveyors",
}
"""What may be looked at; few failures on one conveyor are more on all."""


def _touches(room: Room, asked: LookHereAsked, when: WhenToLook) -> Touches:
    return of_conveyor(room.register, UUID(asked.conveyor)) if asked.conveyor else always


_KEPT = 1_000
"""Answers of so many conveyors: each takes 1 kB, or 40 kB with a law of delays."""
_PAGE: QuestionPage[LookHereAsked, WhenToLook] = QuestionPage(LOOK_HERE, _KEPT, _touches)


@router.get("/conveyors/{conveyor}/inspection-interval")
def looks_page(request: Request, who: _Who, conveyor: UUID, of: str = "joints") -> Response:
    """What past inspections show of damage, what is assumed, and the interval."""
    there = find_conveyor(room_of(request).register, conveyor)
    of = of if of in OF else "joints"
    where = "" if of.startswith("all") else str(conveyor)
    shown = _PAGE.show(request, who, of_belts=of.endswith("belts"), conveyor=where)
    when = shown.study
    lines = words.explained(record_of_looking(when) if when else None, who.units)
    return render(
        request,
        "inspection-interval.html",
        **shown.context,
        conveyor=there,
        chosen=of,
        of=OF,
        lines=lines,
        keys={line.key for line in lines},
    )
