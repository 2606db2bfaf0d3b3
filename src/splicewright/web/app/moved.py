"""Former addresses: phones and programs may have kept them, so they lead on to the new ones."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from splicewright.web.app.visitor import Visitor, visitor

router = APIRouter(include_in_schema=False)
_Who = Annotated[Visitor, Depends(visitor)]


@router.get("/errands{rest:path}")
def to_background(request: Request, who: _Who, rest: str) -> Response:
    """Background tasks had another name."""
    return lead_on(request, "/errands", "/background")


@router.get("/conveyors/{conveyor}/looks")
def to_inspection_interval(request: Request, who: _Who, conveyor: UUID) -> Response:
    """The inspection interval had another name."""
    return lead_on(request, "/looks", "/inspection-interval")


def lead_on(request: Request, old: str, new: str) -> Response:
    """To the same address with its new word; method, body and question stay."""
    path = request.url.path.replace(old, new, 1)
    query = f"?{request.url.query}" if request.url.query else ""
    return RedirectResponse(f"{path}{query}", 308)
