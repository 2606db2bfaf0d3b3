"""Page: what is due at the joints of the fleet, the worst first."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from splicewright.web.rendering import Entry, render
from splicewright.web.visiting import Visitor, room_of, visitor

router = APIRouter()
NAVIGATION = (Entry("/due", "Due", place=20),)
HORIZONS = {"now": 0, "week": 7, "month": 30, "year": 365}
"""How far ahead the list looks [d]."""


@router.get("/due")
def due_list(
    request: Request,
    who: Annotated[Visitor, Depends(visitor)],
    ahead: str = "month",
    site: str = "",
) -> Response:
    """Overdue first, the longest overdue on top; then what comes."""
    room = room_of(request)
    ahead = ahead if ahead in HORIZONS else "month"
    sites = room.register.sites()
    chosen = next((s.site for s in sites if str(s.site) == site), None)
    now = room.now()
    limit = 200
    items = room.register.due(now + timedelta(days=HORIZONS[ahead]), site=chosen, limit=limit)
    names: dict[UUID, str] = {s.site: s.name for s in sites}
    return render(
        request, "due.html", items=items, now=now, ahead=ahead, horizons=list(HORIZONS),
        sites=sites, chosen=chosen, names=names, cut=len(items) == limit,
        inspects="/joints/{joint}/inspect" in request.app.state.paths,
    )  # fmt: skip
