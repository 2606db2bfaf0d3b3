"""The calendar feed of what is due, and the page where somebody makes its address.

A calendar program cannot sign in, so the address holds a key that opens this calendar and nothing
else (scope `calendar`), shows the sites its person is let into, ends, and can be revoked.
"""

from __future__ import annotations

import hashlib
from datetime import timedelta
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Form, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from splicewright.actions.fleet.calendar import due_calendar
from splicewright.actions.register.use import conveyor_labels
from splicewright.errors import Fault, InputError
from splicewright.files.calendar import MEDIA_TYPE
from splicewright.store import Actor
from splicewright.store.accounts.accounts import LONGEST_TOKEN, Token
from splicewright.store.authority import Scope
from splicewright.web.app.rendering import render
from splicewright.web.app.visitor import Visitor, room_of, visitor

router = APIRouter()
_Who = Annotated[Visitor, Depends(visitor)]
_Chosen = Annotated[str, Form(max_length=200)]
MOST_KEYS = 10
"""Calendars that one person has at a time."""


@router.get("/calendar/{key}")
def calendar_feed(
    request: Request, key: str, site: UUID | None = None, conveyor: UUID | None = None
) -> Response:
    """What is due, for a calendar program; 404 unless the key works."""
    working_key = room_of(request).accounts.key(key.removesuffix(".ics"))
    if working_key is None or Scope.CALENDAR not in working_key.token.scopes:
        raise HTTPException(404)
    account = working_key.account
    scopes = frozenset({Scope.CALENDAR})
    actor = Actor(account.account, account.name, account.role, scopes, sites=working_key.sites)
    request.state.actor = actor
    room = room_of(request)
    try:
        with room.register.at_one_moment():
            data = due_calendar(
                room.register,
                room.now(),
                address_of(request),
                site=site,
                conveyor=conveyor,
                before=room.before,
            )
    except InputError:
        raise HTTPException(404) from None
    mark = f'"{hashlib.sha256(data).hexdigest()[:32]}"'
    headers = {"ETag": mark, "Cache-Control": "private, no-cache"}
    sent = request.headers.get("if-none-match", "")
    if mark in (part.strip().removeprefix("W/") for part in sent.split(",")):
        return Response(status_code=304, headers=headers)
    headers["Content-Disposition"] = 'inline; filename="due.ics"'
    return Response(data, media_type=MEDIA_TYPE, headers=headers)


@router.get("/me/calendar")
def calendars(request: Request, who: _Who) -> Response:
    """The calendars somebody has, and a form to make one."""
    return _page(request, who)


@router.post("/me/calendar")
def make_calendar(request: Request, who: _Who, of: _Chosen = "") -> Response:
    """Make the address of a calendar; the page shows it this once."""
    room = room_of(request)
    try:
        name, query = _chosen(request, of)
        label = f"Calendar of {who.name}: {name}, {room.now():%Y-%m-%d %H:%M:%S}"
        if len(_mine(request, who)) >= MOST_KEYS:
            raise InputError(Fault("", f"{MOST_KEYS} calendars work already; end one first"))
        # Valid for two years at most, as every key is.
        until = room.now() + LONGEST_TOKEN - timedelta(days=1)
        key = room.accounts.make_token(
            who.account, label[:120], {Scope.CALENDAR}, until, who.account, sites=who.sites
        )
    except InputError as error:
        return _page(request, who, error.faults, 422)
    return _page(request, who, address=f"{address_of(request)}/calendar/{key}.ics{query}")


@router.post("/me/calendar/{token}/end")
def end_calendar(request: Request, who: _Who, token: UUID) -> Response:
    """End a calendar of one's own."""
    if token not in {t.token for t in _mine(request, who)}:
        raise HTTPException(404)
    room_of(request).accounts.end_token(token, who.account)
    return RedirectResponse("/me/calendar", 303)


def address_of(request: Request) -> str:
    """Of the app as it was reached; the guard has looked at the name."""
    return f"{'https' if room_of(request).secure else 'http'}://{request.headers.get('host', '')}"


def _chosen(request: Request, of: str) -> tuple[str, str]:
    """What a calendar is of, in words and as the query of its address."""
    register = room_of(request).register
    kind, _, id_ = of.partition(":")
    try:
        chosen = UUID(id_) if of else None
    except ValueError:
        chosen, kind = None, "?"
    if not of:
        return "all that I see", ""
    if kind == "site" and chosen is not None:
        site = register.site(chosen)
        if site is not None:
            return site.name, f"?site={chosen}"
    if kind == "conveyor" and chosen is not None:
        conveyor = register.conveyor(chosen)
        if conveyor is not None:
            return conveyor.name, f"?conveyor={chosen}"
    raise InputError(Fault("of", "is not known; choose one of the list"))


def _mine(request: Request, who: Visitor) -> list[Token]:
    room = room_of(request)
    theirs = room.accounts.tokens(who.account)
    return [t for t in theirs if t.scopes == {Scope.CALENDAR} and t.works(room.now())]


def _page(
    request: Request,
    who: Visitor,
    faults: tuple[Fault, ...] = (),
    status: int = 200,
    *,
    address: str = "",
) -> Response:
    register = room_of(request).register
    labels = conveyor_labels(register)
    return render(
        request,
        "calendar.html",
        status=status,
        faults=faults,
        address=address,
        mine=_mine(request, who),
        sites=register.sites(),
        conveyors=sorted(labels.items(), key=lambda item: item[1])[:500],
    )
