"""Pages: the second factor at sign-in: set up, given, taken away."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import quote
from uuid import UUID

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import RedirectResponse, Response

from splicewright.actions.people import admit
from splicewright.errors import Fault, InputError
from splicewright.store import TooOftenError
from splicewright.web.app.rendering import render
from splicewright.web.app.visitor import (
    FACTOR_PATH,
    Role,
    Visitor,
    cookie_name,
    needs,
    room_of,
    visitor,
)
from splicewright.web.people.sign_in import (
    CODE_PATH,
    address_of,
    check_form,
    form_page,
    own_path,
    place_of,
    retry_after,
)

router = APIRouter()
_Text = Annotated[str, Form(max_length=200)]
_Secret = Annotated[str, Form(pattern="^([A-Z2-7]{32})?$")]
_Who = Annotated[Visitor, Depends(visitor)]


@router.get(CODE_PATH)
def code_page(request: Request, next: str = "/") -> Response:
    """The form for the code, after the password was right."""
    room = room_of(request)
    if room.accounts.waiting(request.cookies.get(cookie_name(room), "")) is None:
        return RedirectResponse("/sign-in", 303)
    return code_form(request, next)


@router.post(CODE_PATH)
def give_code(request: Request, code: _Text = "", next: _Text = "/", form: _Text = "") -> Response:
    """Give the code of the app, or a recovery code."""
    check_form(request, form)
    room = room_of(request)
    token = request.cookies.get(cookie_name(room), "")
    if room.accounts.waiting(token) is None:
        return RedirectResponse("/sign-in", 303)
    try:
        if room.accounts.pass_factor(token, code, address_of(request)):
            return RedirectResponse(own_path(next), 303)
    except TooOftenError as error:
        page = code_form(request, next, Fault("", str(error).capitalize() + "."), 429)
        page.headers.update(retry_after(error))
        return page
    except InputError as error:  # the key that opens the secret is away
        return code_form(request, next, error.faults[0])
    say = "is not right; accepted are the 6 digits shown now, or a recovery code"
    return code_form(request, next, Fault("code", say))


def code_form(
    request: Request, path: str, fault: Fault | None = None, status: int = 422
) -> Response:
    """The form for the second factor: whichever ways the account has."""
    room = room_of(request)
    there = room.accounts.waiting(request.cookies.get(cookie_name(room), ""))
    has_app = there is not None and room.accounts.has_code_app(there.account)
    passkeys = () if there is None else room.accounts.passkeys(there.account)
    return form_page(
        request,
        "sign-in-code.html",
        status if fault is not None else 200,
        next=own_path(path),
        faults=(fault,) if fault is not None else (),
        has_app=has_app,
        passkeys=passkeys,
    )


@router.get(FACTOR_PATH)
def factor_page(request: Request, who: _Who) -> Response:
    """Whether there is a second factor, and how to set one."""
    return factor_form(request, who)


@router.post(f"{FACTOR_PATH}/begin")
def begin(request: Request, who: _Who) -> Response:
    """Show a new secret, once."""
    try:
        secret = room_of(request).accounts.begin_factor(who.account)
    except InputError as error:
        return factor_form(request, who, error.faults)
    return factor_form(request, who, secret=secret)


@router.post(f"{FACTOR_PATH}/confirm")
def confirm(request: Request, who: _Who, code: _Text = "", secret: _Secret = "") -> Response:
    """The app shows the right codes; show the recovery codes, once.

    secret : shown again after a wrong code; it is the one begun with, or no code of it fits
    """
    accounts = room_of(request).accounts
    try:
        codes = accounts.confirm_factor(who.account, code, address_of(request))
    except InputError as error:
        return factor_form(request, who, error.faults, secret=secret)
    return factor_form(request, who, codes=codes)


@router.post("/people/{account}/second-factor/clear")
def clear(
    request: Request, who: Annotated[Visitor, Depends(needs(Role.ADMIN))], account: UUID
) -> Response:
    """Take somebody's second factor away, as when their phone is lost."""
    admit.clear_factor(room_of(request).accounts, account, by=who.account)
    return RedirectResponse("/people", 303)


def factor_form(
    request: Request,
    who: Visitor,
    faults: tuple[Fault, ...] = (),
    *,
    secret: str = "",
    codes: tuple[str, ...] = (),
) -> Response:
    """The page of somebody's own second factors."""
    room = room_of(request)
    there = room.accounts.account(who.account)
    login = there.login if there is not None else who.name
    return render(
        request,
        "second-factor.html",
        status=422 if faults else 200,
        faults=faults,
        codes=codes,
        is_set=room.accounts.has_code_app(who.account),
        secret=secret,
        passkeys=room.accounts.passkeys(who.account),
        place=place_of(request),
        left=room.accounts.recovery_codes_left(who.account),
        groups=[secret[n : n + 4] for n in range(0, len(secret), 4)],
        qr=_qr(login, secret) if secret else "",
        needed=room.beyond and who.may(Role.ADMIN) and not room.accounts.has_factor(who.account),
    )


def _qr(login: str, secret: str) -> str:
    """A picture that apps for codes read, as an address of its own."""
    import segno

    name = quote(f"Splicewright:{login}")
    uri = f"otpauth://totp/{name}?secret={secret}&issuer=Splicewright"
    # Dark on light in both schemes, or a camera does not read it.
    picture: str = segno.make(uri, error="m").svg_data_uri(scale=5, border=4, light="#fff")
    return picture
