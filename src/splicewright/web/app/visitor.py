"""Who looks at a page, what they may do there, and that a form comes from our own page.

A page takes `Annotated[Visitor, Depends(needs(Role.CREW))]`. Whoever is not signed in is sent to
sign in (pages) or told so (401, requests by script); whoever may not is told in plain words
(403). Every request that changes something carries the session's CSRF secret, as the form field
`csrf` (`{{ csrf_field() }}`) or the header `X-CSRF`.
"""

from __future__ import annotations

import base64
import binascii
import hmac
import secrets
from dataclasses import dataclass
from datetime import datetime
from typing import cast
from uuid import UUID, uuid4

from fastapi import Request
from starlette.concurrency import run_in_threadpool

from splicewright.store import NOBODY, Account, Actor, Fact, PersonRole, Register, Units, What
from splicewright.store.sites import Sites
from splicewright.web.app.room import Room

FIELD, HEADER = "csrf", "X-CSRF"
_SAFE = {"GET", "HEAD", "OPTIONS"}
_NOT_LOOKED = object()
FACTOR_PATH = "/me/second-factor"
"""Where somebody sets up a second factor."""

Role = PersonRole
"""What a visitor may do."""


@dataclass(frozen=True, slots=True)
class Visitor:
    """Somebody signed in.

    sites : that they are let into
    csrf : what forms and scripts of this session send; differs from page to page, holds as long
        as the session
    """

    account: UUID
    name: str
    role: Role
    csrf: str
    units: Units
    sites: Sites

    def may(self, needed: Role) -> bool:
        """Whether they may do what this role may."""
        return self.role.reaches(needed)

    @property
    def actor(self) -> Actor:
        """As whom they record."""
        return Actor(self.account, self.name, self.role, sites=self.sites)

    def says(self, event: What, at: datetime, device: str = "page") -> Fact:
        """A new fact said by them."""
        return Fact(uuid4(), at, self.name, event, self.account, device)


class SignInNeededError(Exception):
    """Nobody is signed in, and the page needs somebody."""


class FactorNeededError(Exception):
    """An admin of an app that other machines reach has no second factor yet."""

    def __init__(self) -> None:
        super().__init__(
            "this app can be reached from other machines, so admins sign in with a second factor; "
            "set yours up first, on the page Me"
        )


class RoleNeededError(Exception):
    """The visitor may not do this."""

    def __init__(self, needed: Role) -> None:
        self.needed = needed
        super().__init__(needed)


class ForeignFormError(Exception):
    """A request that changes something does not come from a page of this session."""


class Needs:
    """The dependency behind `needs`; the tests find it at every route."""

    def __init__(self, role: Role) -> None:
        self.role = role

    async def __call__(self, request: Request) -> Visitor:
        """The visitor, when they may come in."""
        visitor = await run_in_threadpool(find_visitor, request)
        if visitor is None:
            raise SignInNeededError
        if request.method not in _SAFE:
            await _check_form(request, request.state.csrf)
        if not visitor.may(self.role):
            raise RoleNeededError(self.role)
        return visitor


visitor = Needs(Role.VIEWER)
"""Dependency: anybody who is signed in."""


def needs(role: Role) -> Needs:
    """Dependency: somebody who may do what this role may."""
    return Needs(role)


def room_of(request: Request) -> Room:
    """What pages work with; its register holds only the sites that who asks is let into.

    Before somebody is found it holds none: a page that forgets to ask shows nothing.
    """
    room = cast("Room", request.app.state.room)
    return room.seen_by(getattr(request.state, "actor", NOBODY))


def said_by(request: Request, who: Visitor) -> Register:
    """The register, for what a visitor records."""
    return room_of(request).register.said_by(who.actor)


def find_visitor(request: Request) -> Visitor | None:
    """Who is signed in on this device; looks once in a request."""
    who = getattr(request.state, "visitor", _NOT_LOOKED)
    if who is not _NOT_LOOKED:
        return cast("Visitor | None", who)
    room = room_of(request)
    token = request.cookies.get(cookie_name(room), "")
    session = room.accounts.session(token) if token else None
    request.state.visitor = None
    if token and session is None:
        # Signed out everywhere, a new password, a closed account: the phone's copies go too.
        request.state.forget = room.accounts.was_ended(token)
    if session is not None:
        request.state.csrf = session.csrf
        who = as_visitor(session.account, session.csrf)
        request.state.actor = who.actor
        # The middleware sets it: a page may answer with a response of its own.
        request.state.new_token = session.token
        # Asked here, so that pages, phones and the API ask it alike.
        asked = room.beyond and who.may(Role.ADMIN) and not _on_the_way(request)
        if asked and not room.accounts.has_factor(who.account):
            request.state.actor = NOBODY
            raise FactorNeededError
        request.state.visitor = who
    return cast("Visitor | None", request.state.visitor)


def _on_the_way(request: Request) -> bool:
    """Whether it is the page where a second factor is set up, or the way out."""
    return request.url.path == "/sign-out" or request.url.path.startswith(FACTOR_PATH)


def as_visitor(account: Account, csrf: bytes) -> Visitor:
    """The account as pages see it."""
    return Visitor(
        account.account, account.name, account.role, masked(csrf), account.units, account.sites
    )


def cookie_name(room: Room) -> str:
    """Name of the session's cookie; the prefix makes browsers hold it to this host and HTTPS."""
    return "__Host-splicewright" if room.secure else "splicewright"


def masked(secret: bytes) -> str:
    """A secret under a new mask each time: compressed pages then tell nothing of it."""
    mask = secrets.token_bytes(len(secret))
    return base64.urlsafe_b64encode(mask + _mixed(mask, secret)).decode("ascii")


def unmasked(text: str) -> bytes:
    """What lies under the mask; empty when there is nothing of the kind."""
    try:
        both = base64.b64decode(text.encode("ascii"), b"-_", validate=True)
    except (UnicodeEncodeError, binascii.Error):
        return b""
    half = len(both) // 2
    return _mixed(both[:half], both[half:]) if len(both) == 2 * half else b""


def _mixed(one: bytes, other: bytes) -> bytes:
    return bytes(a ^ b for a, b in zip(one, other, strict=True))


async def _check_form(request: Request, secret: bytes) -> None:
    sent = request.headers.get(HEADER)
    if sent is None:
        kind = request.headers.get("content-type", "")
        if kind.startswith(("application/x-www-form-urlencoded", "multipart/form-data")):
            field = (await request.form()).get(FIELD)
            sent = field if isinstance(field, str) else None
    if not sent or not hmac.compare_digest(unmasked(sent), secret):
        raise ForeignFormError
