"""Page: find a conveyor, by its name or its site's."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from splicewright.web.app.rendering import Entry, render
from splicewright.web.app.visitor import Visitor, room_of, visitor

router = APIRouter()
MOST = 200
"""Conveyors listed at once; words narrow a longer list."""
NAVIGATION = (Entry("/", "Conveyors", place=10),)


@router.get("/")
def find(request: Request, who: Annotated[Visitor, Depends(visitor)], q: str = "") -> Response:
    """All conveyors, or those that have every word of `q` in their name or their site's."""
    register = room_of(request).register
    sites = {s.site: s.name for s in register.sites()}
    words = q.casefold().split()
    found = [
        (c, sites.get(c.site, ""))
        for c in register.conveyors()
        if all(w in f"{c.name} {sites.get(c.site, '')}".casefold() for w in words)
    ]
    more = max(0, len(found) - MOST)
    found = found[:MOST]
    name = "conveyor-found.html" if request.headers.get("hx-request") else "conveyor-find.html"
    return render(request, name, q=q, found=found, more=more)
