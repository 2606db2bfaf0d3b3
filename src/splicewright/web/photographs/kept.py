"""Photographs: taken in from phones, and shown."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Header, Path, Request
from fastapi.responses import JSONResponse, Response
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException

from splicewright.actions.photographs.keep import keep_photograph
from splicewright.errors import InputError
from splicewright.web.app.visitor import Visitor, room_of, visitor
from splicewright.web.job.sync import account_header, foreign, from_our_page

router = APIRouter()


@router.post("/photographs")
async def take(
    request: Request,
    who: Annotated[Visitor, Depends(from_our_page)],
    account: Annotated[UUID, Header(alias="X-Account")],
) -> JSONResponse:
    """Keep a photograph, sent as the body; the answer names it for the fact that follows."""
    if account != who.account:
        return foreign(who)
    data = await request.body()
    digest = await run_in_threadpool(keep_photograph, room_of(request).register, data)
    return JSONResponse({"digest": digest})


@router.get("/photographs/{digest}")
def show(
    request: Request,
    digest: Annotated[str, Path(pattern="^[0-9a-f]{64}$")],
    who: Annotated[Visitor, Depends(visitor)],
) -> Response:
    """A photograph; it never changes under its name."""
    try:
        content = room_of(request).register.content(digest)
    except InputError:
        raise HTTPException(404) from None
    if not content.media_type.startswith("image/"):
        raise HTTPException(404)
    # Not kept by the browser itself: the service worker keeps it, and forgets it at sign-out.
    return Response(content.data, media_type=content.media_type, headers=account_header(who))
