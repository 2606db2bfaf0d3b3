"""Page: what is due at the joints of the fleet and of values left outside limits, worst first."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response
from markupsafe import Markup

from splicewright.actions.fleet.due import see_due
from splicewright.actions.register.use import conveyor_labels
from splicewright.web.app.rendering import Entry, part, render
from splicewright.web.app.visitor import Role, Visitor, room_of, visitor

router = APIRouter()
NAVIGATION = (Entry("/due", "Due", place=20),)
HORIZONS = {"now": 0, "week": 7, "month": 30, "year": 365}
"""How far ahead the list looks [d]."""
_MOST = 200
"""Lines of the list."""


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
    with room.register.at_one_moment():
        sites = room.register.sites()
        chosen = next((s.site for s in sites if str(s.site) == site), None)
        inspects = who.may(Role.CREW) and "/joints/{joint}/inspect" in request.app.state.paths
        now = room.now().replace(second=0, microsecond=0)
        seen = room.register.sites_seen
        key = ("due", room.register.head(), seen, now, ahead, chosen, inspects, who.units)
        items = room.kept.part(key, lambda: _list(request, now, ahead, chosen, inspects=inspects))
    return render(
        request,
        "due.html",
        items=items,
        ahead=ahead,
        horizons=list(HORIZONS),
        sites=sites,
        chosen=chosen,
        names={s.site: s.name for s in sites},
    )


def _list(
    request: Request, now: datetime, ahead: str, site: UUID | None, *, inspects: bool
) -> Markup:
    register = room_of(request).register
    barred = register.barred(site=site, limit=_MOST)
    items = see_due(register, now + timedelta(days=HORIZONS[ahead]), site=site, limit=_MOST)
    return part(
        request,
        "due-list.html",
        items=items,
        barred=barred,
        stops={b.joint for b in barred},
        now=now,
        names=conveyor_labels(register),
        cut=len(items) == _MOST,
        most=_MOST,
        inspects=inspects,
        jobs_have_pages="/jobs/{job}" in request.app.state.paths,
    )
