"""Page: all that was recorded, by whom, with the end of the chain to write down."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from splicewright.web.app.fact_words import Names, tell
from splicewright.web.app.rendering import Entry, render
from splicewright.web.app.visitor import Visitor, room_of, visitor

router = APIRouter()
NAVIGATION = (Entry("/history", "History", place=70),)
PAGE = 50


@router.get("/history")
def history_page(
    request: Request, who: Annotated[Visitor, Depends(visitor)], before: int | None = None
) -> Response:
    """Facts in the order they arrived, the newest first."""
    register = room_of(request).register
    head = register.head()
    last = head.seq if before is None else max(0, min(before - 1, head.seq))
    first = max(0, last - PAGE)
    names = Names(register)
    facts = register.facts_since(first, last - first) if last > first else ()
    lines = [tell(stored, names, who.units) for stored in reversed(facts)]
    return render(request, "register.html", head=head, lines=lines, older=first + 1 if first else 0)
