"""Pages: the people, invitations, roles; and what everybody sets for themselves."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Form, HTTPException, Query, Request
from fastapi.responses import JSONResponse, RedirectResponse, Response

from splicewright.actions.notices import mail_server
from splicewright.actions.people import admit
from splicewright.actions.people.sign_in import sign_in
from splicewright.background.notices import tell_phone
from splicewright.background.push_message import plain64, point_of, private_key
from splicewright.errors import Fault, InputError
from splicewright.store import TooOftenError
from splicewright.store.accounts.sessions import IDLE
from splicewright.store.authority import may_admit
from splicewright.store.database.sealing import KeyAwayError
from splicewright.store.notices import NoticeKind
from splicewright.store.sites import chosen, covers, shares, site_names
from splicewright.web.app.rendering import Entry, render
from splicewright.web.app.visitor import (
    Role,
    Visitor,
    cookie_name,
    find_visitor,
    needs,
    room_of,
    visitor,
)
from splicewright.web.people.sign_in import address_of, device_of, enter, retry_after

router = APIRouter()
NAVIGATION = (
    Entry("/people", "People", Role.LEAD, 80),
    Entry("/me", "Me", place=90),
)
_Who = Annotated[Visitor, Depends(visitor)]
_Lead = Annotated[Visitor, Depends(needs(Role.LEAD))]
_Text = Annotated[str, Form()]
_Sites = Annotated[list[UUID], Form()]
_Tick = Annotated[bool, Form()]


@router.get("/people")
def people_page(request: Request, who: _Lead) -> Response:
    """Who can sign in, and as what."""
    return _people(request, who)


@router.post("/people/invite")
def invite(
    request: Request,
    who: _Lead,
    name: _Text = "",
    role: _Text = "",
    site: _Sites = [],  # noqa: B006
    all_sites: _Tick = False,
) -> Response:
    """Make a one-time link for a new person, and show it once."""
    accounts = room_of(request).accounts
    sites = chosen(site, all_of_them=all_sites)
    try:
        secret = admit.invite(accounts, name, _role(role), sites=sites, by=who.account)
    except InputError as error:
        return _people(request, who, error.faults, name=name, role=role)
    return _link(request, who, secret, name)


@router.post("/people/{account}/password")
def renew_password(request: Request, who: _Lead, account: UUID) -> Response:
    """Make a one-time link by which somebody sets a new password."""
    accounts = room_of(request).accounts
    secret = admit.renew_password(accounts, account, by=who.account)
    person = accounts.account(account)
    return _link(request, who, secret, person.name if person is not None else "")


@router.post("/people/invitations/{invitation}/revoke")
def revoke(request: Request, who: _Lead, invitation: UUID) -> Response:
    """Take a one-time link back."""
    accounts = room_of(request).accounts
    return _changed(request, who, lambda: admit.revoke(accounts, invitation, by=who.account))


@router.post("/people/{account}/role")
def change_role(request: Request, who: _Lead, account: UUID, role: _Text = "") -> Response:
    """Give somebody another role."""
    room = room_of(request)
    return _changed(
        request,
        who,
        lambda: admit.change_role(
            room.register, room.accounts, account, _role(role), by=who.account, now=room.now()
        ),
    )


@router.post("/people/{account}/sites")
def let_into(
    request: Request,
    who: Annotated[Visitor, Depends(needs(Role.ADMIN))],
    account: UUID,
    site: _Sites = [],  # noqa: B006
    all_sites: _Tick = False,
) -> Response:
    """Let somebody into these sites and no others."""
    accounts, sites = room_of(request).accounts, chosen(site, all_of_them=all_sites)
    return _changed(request, who, lambda: admit.let_into(accounts, account, sites, by=who.account))


@router.post("/people/{account}/name")
def rename(request: Request, who: _Lead, account: UUID, name: _Text = "") -> Response:
    """Give somebody another name."""
    room = room_of(request)
    return _changed(
        request,
        who,
        lambda: admit.rename(
            room.register, room.accounts, account, name, by=who.account, now=room.now()
        ),
    )


@router.post("/people/{account}/close")
def close(request: Request, who: _Lead, account: UUID) -> Response:
    """Close an account."""
    accounts = room_of(request).accounts
    return _changed(request, who, lambda: admit.close_account(accounts, account, by=who.account))


@router.post("/people/{account}/reopen")
def reopen(request: Request, who: _Lead, account: UUID) -> Response:
    """Open a closed account again."""
    accounts = room_of(request).accounts
    return _changed(request, who, lambda: admit.reopen_account(accounts, account, by=who.account))


@router.post("/people/{account}/sign-out")
def sign_out_everywhere(request: Request, who: _Lead, account: UUID) -> Response:
    """End all sessions of somebody, as when a phone is lost."""
    accounts = room_of(request).accounts
    return _changed(
        request, who, lambda: admit.sign_out_everywhere(accounts, account, by=who.account)
    )


@router.get("/people/log")
def log(
    request: Request,
    who: _Lead,
    before: Annotated[int | None, Query(ge=1, lt=2**63)] = None,
) -> Response:
    """Account history, the newest first."""
    lines = room_of(request).accounts.changes(100, before, sites=who.sites)
    return render(request, "account-log.html", lines=lines, more=len(lines) == 100)


@router.get("/me")
def me_page(request: Request, who: _Who) -> Response:
    """What somebody sets for themselves."""
    return _me(request)


@router.post("/me/units")
def set_units(request: Request, who: _Who, units: _Text = "") -> Response:
    """Metric or inch."""
    if units not in {"metric", "inch"}:
        raise InputError(Fault("units", "is not known; choose metric or inch"))
    room_of(request).accounts.set_units(who.account, "inch" if units == "inch" else "metric")
    return RedirectResponse("/me", 303)


@router.post("/me/mail")
def set_mail(
    request: Request,
    who: _Who,
    address: _Text = "",
    kinds: Annotated[list[str], Form()] = [],  # noqa: B006
) -> Response:
    """What somebody wants to be told by mail, and where; nothing ticked: nothing any more."""
    room = room_of(request)
    if room.mail is None:
        raise HTTPException(404)
    try:
        room.mail.set(who.account, address.strip(), kinds, room.register.head().seq)
    except InputError as error:
        return _me(request, error.faults)
    return RedirectResponse("/me?mail=set", 303)


@router.post("/me/push/key")
def push_key(request: Request, _: _Who) -> Response:
    """The public key that a browser asks its push service with."""
    room = room_of(request)
    if room.push is None:
        raise HTTPException(404)
    try:
        key = room.accounts.push.key()
    except KeyAwayError:
        say = (
            "cannot be asked for now: the file of keys is not there. Tell whoever keeps this server"
        )
        raise InputError(Fault("key", say)) from None
    return JSONResponse({"key": plain64(point_of(private_key(key)))})


@router.post("/me/push")
def set_push(
    request: Request,
    who: _Who,
    endpoint: _Text = "",
    p256dh: _Text = "",
    auth: _Text = "",
    kinds: Annotated[list[str], Form()] = [],  # noqa: B006
) -> Response:
    """What this phone is told by web push, as long as this session lasts; no kinds: nothing."""
    room = room_of(request)
    if room.push is None:
        raise HTTPException(404)
    given = {"endpoint": endpoint, "p256dh": p256dh, "auth": auth}
    token, head = request.cookies[cookie_name(room)], room.register.head().seq
    try:
        tell_phone(room.accounts.push, room.push, token, given, kinds, head)
    except InputError as error:
        return _me(request, error.faults)
    return RedirectResponse("/me?push=set", 303)


@router.post("/me/password")
def change_password(request: Request, who: _Who, old: _Text = "", password: _Text = "") -> Response:
    """A new password; other devices are signed out, this one gets a new session."""
    room = room_of(request)
    there = room.accounts.account(who.account)
    try:
        room.accounts.change_password(
            who.account, old, password, address_of(request), device_of(request)
        )
    except InputError as error:
        return _me(request, error.faults)
    except TooOftenError as error:
        page = _me(request, (Fault("", str(error)),), 429)
        page.headers.update(retry_after(error))
        return page
    session = sign_in(
        room.register,
        room.accounts,
        there.login if there is not None else "",
        password,
        address=address_of(request),
        now=room.now(),
        device=room.accounts.device_of(who.account),
    )
    return enter(request, session, "/me") if session else RedirectResponse("/sign-in", 303)


@router.post("/me/sign-out-everywhere")
def sign_me_out(request: Request, who: _Who) -> Response:
    """End all own sessions."""
    admit.sign_out_everywhere(room_of(request).accounts, who.account, by=who.account)
    request.state.new_token = None
    return RedirectResponse("/sign-in", 303)


def _me(request: Request, faults: tuple[Fault, ...] = (), status: int = 422) -> Response:
    room, who = room_of(request), find_visitor(request)
    wish = room.mail.of(who.account) if room.mail is not None and who is not None else None
    return render(
        request,
        "me.html",
        status=status if faults else 200,
        faults=faults,
        wish=wish,
        notice_kinds=tuple(NoticeKind),
        mails=mail_server() is not None,
        asks=room.mail is not None,
        mail_set=request.query_params.get("mail") == "set",
        pushes=room.push is not None,
        idle_days=IDLE.days,
        phone=room.accounts.push.of(request.cookies[cookie_name(room)]),
        push_set=request.query_params.get("push") == "set",
    )


def _role(text: str) -> Role:
    if text not in {r.value for r in Role}:
        raise InputError(Fault("role", "is not known; choose one of the list"))
    return Role(text)


def _changed(request: Request, who: Visitor, change: Callable[[], None]) -> Response:
    try:
        change()
    except InputError as error:
        return _people(request, who, error.faults)
    return RedirectResponse("/people", 303)


def _people(
    request: Request, who: Visitor, faults: tuple[Fault, ...] = (), **typed: str
) -> Response:
    accounts = room_of(request).accounts
    # Who shares no site with the visitor is not there for them.
    visible_accounts = [a for a in accounts.accounts() if shares(who.sites, a.sites)]
    may = {
        a.account: may_admit(who.role, a.role) and covers(who.sites, a.sites)
        for a in visible_accounts
    }
    sites = room_of(request).register.sites()
    called = {s.site: s.name for s in sites}
    names: dict[UUID | None, str] = {a.account: a.name for a in visible_accounts} | {
        None: "the console"
    }
    return render(
        request,
        "people.html",
        status=422 if faults else 200,
        people=[a for a in visible_accounts if a.closed is None],
        closed=[a for a in visible_accounts if a.closed is not None],
        roles=[r for r in Role if may_admit(who.role, r)],
        factors=accounts.with_factor(),
        may=may,
        faults=faults,
        typed=typed,
        links=[
            (
                i,
                names.get(i.by, "somebody else"),
                may_admit(who.role, i.role) and covers(who.sites, i.sites),
            )
            for i in accounts.invitations()
            if shares(who.sites, i.sites)
        ],
        sites=sites,
        sites_of={a.account: site_names(a.sites, called) for a in visible_accounts},
    )


def _link(request: Request, who: Visitor, secret: str, name: str) -> Response:
    link = f"{str(request.base_url).rstrip('/')}/join/{secret}"
    return render(request, "invited.html", link=link, name=name)
