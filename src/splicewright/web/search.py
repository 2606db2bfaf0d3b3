"""Page: find conveyors, joints, jobs and people by any words or numbers, or by a label's code."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from splicewright.actions.register.search import MOST, page_of_code, search
from splicewright.store.sites import shares
from splicewright.web.app.rendering import render
from splicewright.web.app.visitor import Role, Visitor, room_of, visitor

router = APIRouter()


@router.get("/find")
def find(request: Request, who: Annotated[Visitor, Depends(visitor)], q: str = "") -> Response:
    """What has every word of `q`; the code of a label leads to its page at once."""
    asked = q.strip()[:300]
    page = page_of_code(asked)
    if page:
        return RedirectResponse(page, 303)
    room = room_of(request)
    with room.register.at_one_moment():
        matches = search(room.register, asked)
    return render(
        request, "found.html", q=asked, found=matches, people=_people(request, who, asked)
    )


def _people(request: Request, who: Visitor, asked: str) -> list[tuple[str, str]]:
    """Names and roles of people that a lead sees on the page of people."""
    words = asked.casefold().split()
    if not words or not who.may(Role.LEAD):
        return []
    accounts = [
        a
        for a in room_of(request).accounts.accounts()
        if a.closed is None and shares(who.sites, a.sites)
    ]
    people = [(a.name, a.role.value) for a in accounts]
    return [t for t in people if all(word in " ".join(t).casefold() for word in words)][:MOST]
