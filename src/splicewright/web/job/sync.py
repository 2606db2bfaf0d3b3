"""What phones send that they kept without signal, and the service worker that lets them keep it.

A page kept for a week holds a stale CSRF secret. Entries are therefore taken on the session's
cookie and on where the request comes from: a browser says so in `Sec-Fetch-Site` or `Origin`, and
neither can be set by a page of another site.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import logging
from collections.abc import Callable
from functools import cache
from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Depends, Request
from fastapi.responses import JSONResponse, Response
from pydantic import BaseModel, Field
from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool

from splicewright.actions.inspection.recorded import bearing, keep_verdicts
from splicewright.actions.outbox import record_outbox
from splicewright.actions.register.record_facts import Outcome
from splicewright.background.requests import begin_measurings
from splicewright.errors import SplicewrightError
from splicewright.store.accounts.phones import PhoneHeard, PhoneKnown, PhoneReport
from splicewright.web.app.rendering import STATIC, static
from splicewright.web.app.room import Room
from splicewright.web.app.visitor import (
    ForeignFormError,
    Needs,
    Role,
    RoleNeededError,
    SignInNeededError,
    Visitor,
    cookie_name,
    find_visitor,
    room_of,
)

router = APIRouter()
MOST_AT_ONCE = 200
"""Facts in one request."""
_LARGEST = 2**53
"""The largest whole number a script counts to."""
_COOKIE_LASTS = 400 * 24 * 3600
_STATUS = {"recorded": 200, "already": 200, "conflict": 409, "refused": 422}
SHELL = (
    "icon.svg",
    "splicewright.css",
    "job.css",
    "splicewright.js",
    "on-the-phone.js",
    "job-page.js",
    "measured.css",
    "measure-page.js",
    "vendor/htmx-4.0.1.min.js",
)
"""Static files that a job page needs, the page where belt ends are photographed, or every other."""


class FromOurPage(Needs):
    """As `needs`, for requests of pages that may be a week old: no CSRF secret is asked for."""

    async def __call__(self, request: Request) -> Visitor:
        """The visitor, when they may come in and the request is from a page of ours."""
        visitor = await run_in_threadpool(find_visitor, request)
        if visitor is None:
            raise SignInNeededError
        # Where one is told, the guard of the app has refused other sites already.
        if not {"origin", "sec-fetch-site"} & set(request.headers):
            raise ForeignFormError
        if not visitor.may(self.role):
            raise RoleNeededError(self.role)
        return visitor


from_our_page = FromOurPage(Role.CREW)


class OfPhone(BaseModel):
    """What a phone says of itself; see `PhoneReport`.

    store : what it calls a store that has no id yet; None from a page of an earlier version
    entries : ever written on it; phones keep, send and hear that number as `made`
    ask : facts it has receipts for, to hear whether the register has them still
    """

    id: UUID | None
    store: UUID | None = None
    device: Annotated[str, Field(max_length=200)]
    entries: Annotated[int, Field(alias="made", ge=0, le=_LARGEST)]
    waits: Annotated[int, Field(ge=0, le=_LARGEST)]
    ask: Annotated[list[UUID], Field(max_length=MOST_AT_ONCE)] = []


class Sent(BaseModel):
    """What a phone sends: facts in their order, all made by one account.

    phone : None from a page of an earlier version
    """

    account: UUID
    facts: Annotated[list[Any], Field(max_length=MOST_AT_ONCE)]
    phone: OfPhone | None = None


@router.post("/sync")
def take(
    request: Request, sent: Sent, who: Annotated[Visitor, Depends(from_our_page)]
) -> JSONResponse:
    """Record what a phone kept; each fact gets its own status, none while facts are lacking."""
    if sent.account != who.account:
        return foreign(who)
    room = room_of(request)
    lacks = room.accounts.phones.lacking(sent.phone.ask) if sent.phone is not None else frozenset()
    # What a register that was set back lacks comes first: what is sent may speak of it.
    facts = [] if lacks else sent.facts
    outcomes = record_outbox(room.register, who.actor, facts)
    there = [o.receipt.id for o in outcomes if o.receipt is not None]
    sentences, rest = _verdicts(room, who, bearing(facts, there))
    # The facts are recorded; what cannot be asked for now is asked for when the page is opened.
    with contextlib.suppress(SplicewrightError):
        begin_measurings(room.background, room.register, _to_measure(facts), who.name, who.account)
    body: dict[str, Any] = {"outcomes": [_outcome_out(o) for o in outcomes], "told": sentences}
    later = BackgroundTask(rest) if rest is not None else None
    if sent.phone is None:
        return JSONResponse(body, background=later)
    heard = _hear(request, who, sent.phone, len(there))
    body["phone"] = {
        "id": str(heard.phone),
        "lost": _known(heard.lost) if heard.lost is not None else None,
        "elsewhere": [_known(other) for other in heard.elsewhere],
        "lacks": sorted(map(str, lacks)),
    }
    answer = JSONResponse(body, background=later)
    answer.headers.append("Set-Cookie", _phone_cookie(room, heard.phone))
    return answer


def _verdicts(
    room: Room, who: Visitor, recorded: list[UUID]
) -> tuple[list[str], Callable[[], None] | None]:
    """What the server says of inspections that just arrived.

    They are recorded and acknowledged, whatever becomes of the calculation: a verdict that fails
    here is worked when the inspection is opened.
    """
    try:
        worked, rest = keep_verdicts(room.register, who.actor, recorded, room.now())
    except Exception:
        logging.getLogger(__name__).exception("the verdict of an inspection was not worked")
        return [], None
    return [sentence for each in worked for sentence in each.sentences()], rest


def _hear(request: Request, who: Visitor, phone: OfPhone, arrived: int) -> PhoneHeard:
    room = room_of(request)
    try:
        cookie = UUID(request.cookies.get(f"{cookie_name(room)}-phone", ""))
    except ValueError:
        cookie = None
    waits = max(0, phone.waits - arrived)
    report = PhoneReport(phone.id, phone.device, phone.entries, waits, phone.store)
    return room.accounts.phones.hear(who.account, report, cookie)


def _phone_cookie(room: Room, phone: UUID) -> str:
    """The phone's id where it outlives what the browser's store holds."""
    secure = "; Secure" if room.secure else ""
    lasts = f"Path=/; Max-Age={_COOKIE_LASTS}; HttpOnly; SameSite=Lax{secure}"
    return f"{cookie_name(room)}-phone={phone}; {lasts}"


def _known(phone: PhoneKnown) -> dict[str, Any]:
    return {
        "device": phone.device,
        "made": phone.entries,
        "waits": phone.waits,
        "heard": phone.heard.isoformat(),
    }


def _to_measure(facts: list[Any]) -> set[UUID]:
    """Things of which photographs came that are to be measured."""
    things = set()
    for fact in facts:
        event = fact.get("what") if isinstance(fact, dict) else None
        if isinstance(event, dict) and event.get("measure"):
            with contextlib.suppress(ValueError):
                things.add(UUID(str(event.get("about"))))
    return things


def foreign(who: Visitor) -> JSONResponse:
    """Entries that somebody else made are not taken under this name."""
    say = f"made under another account; {who.name} is signed in now"
    return JSONResponse(
        {"error": [{"key": "account", "sentence": say, "line": None}], "account": str(who.account)},
        403,
    )


def account_header(who: Visitor) -> dict[str, str]:
    """Tells the service worker whose copy it keeps."""
    return {"X-Account": str(who.account)}


def _outcome_out(outcome: Outcome) -> dict[str, Any]:
    receipt = outcome.receipt
    return {
        "id": str(outcome.id) if outcome.id is not None else None,
        "status": _STATUS[outcome.verdict],
        "seq": receipt.seq if receipt is not None else None,
        "received": receipt.received.isoformat() if receipt is not None else None,
        "faults": [{"key": f.key, "sentence": f.sentence} for f in outcome.faults],
    }


@router.get("/service-worker.js")
def service_worker() -> Response:
    """The service worker; its version is the digest of all it keeps, so it changes with them."""
    headers = {"Cache-Control": "no-cache", "Service-Worker-Allowed": "/"}
    return Response(_worker(), media_type="text/javascript; charset=utf-8", headers=headers)


@cache
def _worker() -> str:
    shell = [static(name) for name in SHELL]
    own = (STATIC / "service-worker.js").read_text("utf-8")
    version = hashlib.sha256("\n".join((*shell, own)).encode()).hexdigest()[:12]
    return f"const VERSION = {json.dumps(version)};\nconst SHELL = {json.dumps(shell)};\n{own}"
