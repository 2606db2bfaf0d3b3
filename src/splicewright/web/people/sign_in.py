"""Pages: sign in, sign out, join by invitation."""

from __future__ import annotations

import hmac
import secrets
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import RedirectResponse, Response

from splicewright.actions.people.sign_in import join, sign_in
from splicewright.errors import Fault, InputError
from splicewright.store import Session, TooOftenError
from splicewright.store.accounts.accounts import Place
from splicewright.web.app.guard import session_cookie
from splicewright.web.app.rendering import hidden_field, render
from splicewright.web.app.visitor import (
    ForeignFormError,
    Visitor,
    cookie_name,
    find_visitor,
    room_of,
    visitor,
)

router = APIRouter()
CODE_PATH = "/sign-in/code"
"""Where a session that waits is given its code."""
_Text = Annotated[str, Form()]
_DEVICE_KEPT = 400 * 24 * 3600
"""Seconds: the longest that browsers keep a cookie."""


@router.get("/sign-in")
def sign_in_page(request: Request, next: str = "/") -> Response:
    """The form to sign in."""
    if find_visitor(request) is not None:
        return RedirectResponse(own_path(next), 303)
    return form_page(request, "sign-in.html", next=own_path(next), login="", faults=())


@router.post("/sign-in")
def sign_in_now(
    request: Request, login: _Text = "", password: _Text = "", next: _Text = "/", form: _Text = ""
) -> Response:
    """Sign in; a new session each time."""
    check_form(request, form)
    room = room_of(request)
    status, fault = 422, Fault("", "Name and password do not belong together.")
    wait: dict[str, str] = {}
    try:
        session = sign_in(
            room.register,
            room.accounts,
            login,
            password,
            address=address_of(request),
            now=room.now(),
            device=device_of(request),
        )
    except TooOftenError as error:
        session, status, wait = None, 429, retry_after(error)
        fault = Fault("", str(error).capitalize() + ".")
    if session is None:
        refused = form_page(
            request, "sign-in.html", status, next=own_path(next), login=login, faults=(fault,)
        )
        refused.headers.update(wait)
        return refused
    return enter(request, session, own_path(next))


@router.get("/join/{secret}")
def join_page(request: Request, secret: str) -> Response:
    """The form to take up an invitation."""
    invitation = room_of(request).accounts.invitation(secret)
    status = 200 if invitation is not None else 404
    return form_page(request, "join.html", status, invitation=invitation, login="", faults=())


@router.post("/join/{secret}")
def join_now(
    request: Request,
    secret: str,
    login: _Text = "",
    password: _Text = "",
    form: _Text = "",
) -> Response:
    """Take up an invitation: an account, or a new password; signed in with it."""
    check_form(request, form)
    room = room_of(request)
    try:
        session = join(
            room.register,
            room.accounts,
            secret,
            login,
            password,
            address=address_of(request),
            now=room.now(),
        )
    except InputError as error:
        invitation = room.accounts.invitation(secret)
        return form_page(
            request, "join.html", 422, invitation=invitation, login=login, faults=error.faults
        )
    return enter(request, session, "/") if session is not None else RedirectResponse("/", 303)


@router.post("/sign-out")
def sign_out(request: Request, _: Annotated[Visitor, Depends(visitor)]) -> Response:
    """End the session of this device."""
    room = room_of(request)
    room.accounts.sign_out(request.cookies[cookie_name(room)])
    request.state.new_token = None
    response = RedirectResponse("/sign-in", 303)
    response.headers.append("Set-Cookie", session_cookie(room, "", 0))
    return response


def own_path(path: str) -> str:
    """A path of this app; anything else leads to the first page."""
    fine = path.startswith("/") and not path.startswith("//") and path.isprintable()
    return path if fine and "\\" not in path and path.isascii() else "/"


def enter(request: Request, session: Session, path: str) -> Response:
    """Hand the device its new session; the one it had ends."""
    room = room_of(request)
    old = request.cookies.get(cookie_name(room))
    if old:
        room.accounts.sign_out(old)
    if session.waits:
        path = f"{CODE_PATH}?next={quote(path, safe='')}"
    response = RedirectResponse(path, 303)
    response.headers.append("Set-Cookie", session_cookie(room, session.token or ""))
    response.set_cookie(
        _device_cookie(request),
        session.device,
        max_age=_DEVICE_KEPT,
        path="/",
        httponly=True,
        samesite="lax",
        secure=room.secure,
    )
    return response


def device_of(request: Request) -> str:
    """What an earlier session gave this device; empty when none did."""
    return request.cookies.get(_device_cookie(request), "")[:200]


def retry_after(error: TooOftenError) -> dict[str, str]:
    """The header that says when to try again."""
    return {"Retry-After": str(int(error.wait) + 1)}


def address_of(request: Request) -> str:
    """Where a request comes from, to count tries."""
    return request.client.host if request.client is not None else ""


def place_of(request: Request) -> Place:
    """Under which address the browser reaches the app."""
    scheme = "https" if room_of(request).secure else "http"
    return Place(f"{scheme}://{request.url.netloc.lower()}")


def _device_cookie(request: Request) -> str:
    return f"{cookie_name(room_of(request))}-device"


def _form_cookie(request: Request) -> str:
    return f"{cookie_name(room_of(request))}-form"


def form_page(request: Request, name: str, status: int = 200, **context: object) -> Response:
    """A form for somebody who has no session: what it carries must match a cookie."""
    value = request.cookies.get(_form_cookie(request)) or secrets.token_urlsafe(24)
    response = render(
        request, name, status=status, form_field=hidden_field(value, "form"), **context
    )
    response.set_cookie(
        _form_cookie(request),
        value,
        max_age=86400,
        path="/",
        httponly=True,
        samesite="lax",
        secure=room_of(request).secure,
    )
    return response


def check_form(request: Request, sent: str) -> None:
    """Refuse a form of somebody without a session that is not from a page of theirs."""
    kept = request.cookies.get(_form_cookie(request), "")
    if not kept or not hmac.compare_digest(kept.encode(), sent.encode()):
        raise ForeignFormError
