"""Page: API tokens, made and revoked by admins."""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import RedirectResponse, Response

from splicewright.errors import Fault, InputError
from splicewright.store import Scope
from splicewright.store.sites import both, chosen, covers, shares, site_names
from splicewright.web.app.rendering import Entry, render
from splicewright.web.app.visitor import Role, Visitor, needs, room_of

router = APIRouter(prefix="/tokens")
NAVIGATION = (Entry("/tokens", "Tokens", Role.ADMIN, place=90),)
Admin = Annotated[Visitor, Depends(needs(Role.ADMIN))]
SCOPES = {
    Scope.READ: "read everything",
    Scope.RECORD: "record facts, photographs and tables",
    Scope.PLAN: "plan, study; of a lead also record conveyor files and fastener ranges",
    Scope.ADMIN: "all of it, people and their roles too",
    Scope.CALENDAR: "the calendar of due dates only; the key stands in its address",
}
"""What each scope allows, for people."""


@router.get("")
def tokens(request: Request, who: Admin) -> Response:
    """All tokens, and a form to make one."""
    return _page(request, who)


@router.post("")
def make(
    request: Request,
    who: Admin,
    label: Annotated[str, Form(max_length=200)] = "",
    account: Annotated[UUID | None, Form()] = None,
    scope: Annotated[list[Scope], Form()] = [],  # noqa: B006
    days: Annotated[int, Form(ge=-1, le=100_000)] = 90,
    site: Annotated[list[UUID], Form()] = [],  # noqa: B006
) -> Response:
    """Make a token; the page shows it this once. Without sites it opens those of its account."""
    room = room_of(request)
    sites = chosen(site, all_of_them=not site)
    try:
        if account is None:
            raise InputError(Fault("account", "is not chosen; accepted is one of the list"))
        until = room.now() + timedelta(days=days)
        secret = room.accounts.make_token(
            account, label, set(scope), until, who.account, sites=sites
        )
    except InputError as error:
        typed: dict[str, object] = {
            "label": label,
            "account": account,
            "scopes": set(scope),
            "days": days,
        }
        return _page(request, who, error.faults, 422, typed=typed)
    return _page(request, who, secret=secret)


@router.post("/{token}/revoke")
def revoke(request: Request, who: Admin, token: UUID) -> Response:
    """Revoke a token."""
    room_of(request).accounts.end_token(token, who.account)
    return RedirectResponse("/tokens", 303)


def _page(
    request: Request,
    who: Visitor,
    faults: tuple[Fault, ...] = (),
    status: int = 200,
    *,
    secret: str = "",
    typed: dict[str, object] | None = None,
) -> Response:
    room = room_of(request)
    # Who shares no site with the visitor is not there for them, nor are their tokens.
    accounts = [a for a in room.accounts.accounts() if shares(who.sites, a.sites)]
    opens = {a.account: a.sites for a in accounts}
    tokens = [t for t in room.accounts.tokens() if t.account in opens]
    sites = room.register.sites()
    called = {s.site: s.name for s in sites}
    return render(
        request,
        "tokens.html",
        status=status,
        faults=faults,
        secret=secret,
        tokens=tokens,
        sites_of={t.token: site_names(both(t.sites, opens[t.account]), called) for t in tokens},
        mine={t.token: covers(who.sites, both(t.sites, opens[t.account])) for t in tokens},
        sites=sites,
        accounts=[a for a in accounts if a.closed is None],
        names={a.account: a.name for a in accounts},
        scopes=SCOPES,
        now=room.now(),
        typed=typed or {"label": "", "account": None, "scopes": {Scope.READ}, "days": 90},
    )
