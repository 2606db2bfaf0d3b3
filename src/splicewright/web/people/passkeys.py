"""Pages: passkeys as second factors: added, removed, given at sign-in.

A form asks for the options by script, the browser makes or signs, and the form is sent with what
came of it. Without script a form arrives empty, and is answered with what to do instead.
"""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import JSONResponse, RedirectResponse, Response

from splicewright.errors import Fault, InputError
from splicewright.store import TooOftenError
from splicewright.web.app.visitor import (
    FACTOR_PATH,
    Visitor,
    cookie_name,
    room_of,
    visitor,
)
from splicewright.web.people.second_factor import code_form, factor_form
from splicewright.web.people.sign_in import (
    CODE_PATH,
    address_of,
    check_form,
    own_path,
    place_of,
    retry_after,
)

router = APIRouter()
_Text = Annotated[str, Form(max_length=200)]
_Sent = Annotated[str, Form(max_length=20_000)]
_Who = Annotated[Visitor, Depends(visitor)]
_NOTHING_SENT = Fault(
    "passkey",
    "was not sent by the browser: passkeys need JavaScript and a browser that knows them; "
    "use an app for codes instead",
)


@router.post(f"{FACTOR_PATH}/passkeys/options")
def options_to_add(request: Request, who: _Who) -> Response:
    """What the browser needs to make a passkey."""
    try:
        options = room_of(request).accounts.begin_passkey(who.account, place_of(request))
    except InputError as error:
        return JSONResponse({"refusal": _refusal(error.faults)}, 422)
    return Response(options, media_type="application/json")


@router.post(f"{FACTOR_PATH}/passkeys")
def add(request: Request, who: _Who, name: _Text = "", passkey: _Sent = "") -> Response:
    """Keep a passkey; show the recovery codes, once, when it is the first factor."""
    if not passkey:
        return factor_form(request, who, (_NOTHING_SENT,))
    accounts = room_of(request).accounts
    try:
        codes = accounts.add_passkey(who.account, name, passkey, place_of(request))
    except InputError as error:
        return factor_form(request, who, error.faults)
    return factor_form(request, who, codes=codes) if codes else RedirectResponse(FACTOR_PATH, 303)


@router.post(f"{FACTOR_PATH}/passkeys/{{passkey}}/remove")
def remove(request: Request, who: _Who, passkey: UUID) -> Response:
    """Take one's own passkey away."""
    try:
        room_of(request).accounts.remove_passkey(who.account, passkey)
    except InputError as error:
        return factor_form(request, who, error.faults)
    return RedirectResponse(FACTOR_PATH, 303)


@router.post(f"{CODE_PATH}/passkey/options")
def options_to_sign_in(request: Request, form: _Text = "") -> Response:
    """What the browser needs to sign in with a passkey."""
    check_form(request, form)
    options = room_of(request).accounts.ask_passkey(_token(request), place_of(request))
    if options is None:
        say = f"No passkey of yours was made for {place_of(request).host}: give a code instead."
        return JSONResponse({"refusal": say}, 422)
    return Response(options, media_type="application/json")


@router.post(f"{CODE_PATH}/passkey")
def give(request: Request, passkey: _Sent = "", next: _Text = "/", form: _Text = "") -> Response:
    """Give what the passkey signed."""
    check_form(request, form)
    accounts, token = room_of(request).accounts, _token(request)
    if accounts.waiting(token) is None:
        return RedirectResponse("/sign-in", 303)
    if not passkey:
        return code_form(request, next, _NOTHING_SENT)
    try:
        if accounts.pass_passkey(token, passkey, place_of(request), address_of(request)):
            return RedirectResponse(own_path(next), 303)
    except TooOftenError as error:
        page = code_form(request, next, Fault("", str(error).capitalize() + "."), 429)
        page.headers.update(retry_after(error))
        return page
    say = "is none of yours, or signed something else; try again, or give a code"
    return code_form(request, next, Fault("passkey", say))


def _token(request: Request) -> str:
    return request.cookies.get(cookie_name(room_of(request)), "")


def _refusal(faults: tuple[Fault, ...]) -> str:
    return "; ".join(f"{f.key} {f.sentence}".strip() for f in faults)
