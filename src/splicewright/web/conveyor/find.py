"""Page: find a conveyor, by its name or its site's."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from splicewright.store import Register
from splicewright.store.present.present import ConveyorNow
from splicewright.web.app.rendering import Entry, render
from splicewright.web.app.visitor import Visitor, room_of, visitor

router = APIRouter()
MOST = 200
"""Conveyors listed at once; words narrow a longer list."""
NAVIGATION = (Entry("/conveyors", "Conveyors", place=10),)


@router.get("/conveyors")
def find(request: Request, who: Annotated[Visitor, Depends(visitor)], q: str = "") -> Response:
    """All conveyors, or those that have every word of `q` in their name or their site's."""
    conveyors, more = conveyors_with(room_of(request).register, q)
    name = "conveyor-found.html" if request.headers.get("hx-request") else "conveyor-find.html"
    return render(request, name, q=q, found=conveyors, more=more)


def conveyors_with(register: Register, q: str) -> tuple[list[tuple[ConveyorNow, str]], int]:
    """Conveyors and their sites' names that have every word of `q`, and how many more there are."""
    sites = {s.site: s.name for s in register.sites()}
    words, every = q.casefold().split(), register.conveyors()
    if not words:  # most pages: thousands need no looking through
        first = [(c, sites.get(c.site, "")) for c in every[:MOST]]
        return first, max(0, len(every) - MOST)
    matches = [
        (c, sites.get(c.site, ""))
        for c in every
        if all(w in f"{c.name} {sites.get(c.site, '')}".casefold() for w in words)
    ]
    return matches[:MOST], max(0, len(matches) - MOST)
