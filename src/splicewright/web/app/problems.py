"""What the API says when it refuses: one problem document (RFC 9457) for every error."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import Response
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException

from splicewright.errors import Fault, InputError, OutputError
from splicewright.store import (
    BusyError,
    ConflictError,
    DamagedError,
    FullError,
    NotAllowedError,
    TooOftenError,
)
from splicewright.store.facts.facts import sentence_of
from splicewright.web.app.methods import with_allow

MEDIA_TYPE = "application/problem+json"
RETRY_AFTER = 5
"""After so long a request that met a busy register may be sent again [s]."""
_ACCEPTED = re.compile(r"\baccepted (?:is|are)\s+(.+)$", re.DOTALL)
_MOST = 50
_LONGEST = 500


class FaultOut(BaseModel):
    """One thing wrong: which field, what is wrong in one sentence, what is accepted."""

    field: str = Field(description="Path of the field, as `what.place`; empty for the whole.")
    sentence: str = Field(description="What is wrong, and what is accepted.")
    accepted: str = Field(description="What is accepted, alone; empty where nothing is.")
    file: str = Field(default="", description="Name of the posted file it is about.")
    line: int | None = Field(default=None, description="Line of that file, from 1.")


class Problem(BaseModel):
    """Why a request was refused."""

    type: str = Field(default="about:blank", description="Always `about:blank`.")
    title: str = Field(description="The kind of trouble, in words.")
    status: int = Field(description="HTTP status.")
    detail: str = Field(description="One sentence for a person.")
    faults: list[FaultOut] = Field(description="Everything that is wrong, not only the first.")


def fault_out(fault: Fault) -> FaultOut:
    """A fault as the API says it."""
    sentence = _short(fault.sentence)
    match = _ACCEPTED.search(sentence)
    return FaultOut(
        field=_short(fault.key),
        sentence=sentence,
        accepted=match.group(1) if match else "",
        file=_short(fault.file),
        line=fault.line,
    )


def problem(
    status: int, title: str, faults: Sequence[Fault], headers: dict[str, str] | None = None
) -> Response:
    """A problem document as an answer."""
    shown = [fault_out(fault) for fault in faults[:_MOST]]
    first = shown[0] if shown else None
    detail = f"{first.field}: {first.sentence}" if first and first.field else ""
    document = Problem(
        title=title,
        status=status,
        detail=detail or (first.sentence if first else title),
        faults=shown,
    )
    # ASCII: what was sent may hold half a character, which no UTF-8 can carry back.
    text = json.dumps(document.model_dump())
    return Response(text, status, headers, MEDIA_TYPE)


class NeedsTokenError(Exception):
    """Nobody is known by what was sent."""


class NeedsScopeError(Exception):
    """Who asks may not do this."""

    def __init__(self, sentence: str) -> None:
        self.sentence = sentence
        super().__init__(sentence)


class ChangedError(Exception):
    """What was to be replaced is not what the sender saw (`If-Match`)."""


class NotThereError(Exception):
    """There is no such thing."""

    def __init__(self, field: str, sentence: str) -> None:
        self.fault = Fault(field, sentence)
        super().__init__(sentence)


def listen(api: FastAPI) -> None:
    """Turn every error into a problem document."""

    def on(error: type[Exception], answer: Any) -> None:
        async def handle(request: Request, raised: Exception) -> Response:
            response: Response = answer(raised)
            return response

        api.add_exception_handler(error, handle)

    on(NeedsTokenError, _needs_token)
    on(NeedsScopeError, lambda e: problem(403, "Not allowed", [Fault("", e.sentence)]))
    on(ChangedError, lambda e: problem(412, "Changed meanwhile", [Fault("If-Match", _CHANGED)]))
    on(NotThereError, lambda e: problem(404, "Not here", [e.fault]))
    on(NotAllowedError, lambda e: problem(403, "Not allowed", e.faults))
    on(InputError, lambda e: problem(422, "This cannot be used", e.faults))
    on(RequestValidationError, _validation)
    on(ConflictError, lambda e: problem(409, "Somebody else was faster", [Fault("", str(e))]))
    on(OutputError, lambda e: problem(422, "This cannot be made", [Fault("", str(e))]))
    on(TooOftenError, lambda e: _wait(429, "Too often", e, int(e.wait) + 1))
    on(BusyError, lambda e: _wait(503, "Not now", e, RETRY_AFTER))
    on(FullError, lambda e: problem(507, "Not recorded", [Fault("", str(e))]))
    on(DamagedError, lambda e: problem(500, "The register is damaged", [Fault("", str(e))]))
    api.add_exception_handler(HTTPException, _http)
    on(Exception, lambda e: problem(500, "Our fault", [Fault("", _OURS)]))


def _wait(status: int, title: str, error: Exception, seconds: int) -> Response:
    return problem(status, title, [Fault("", str(error))], {"Retry-After": str(seconds)})


def _needs_token(error: Exception) -> Response:
    say = (
        "a token is needed; accepted is the header Authorization: Bearer and a token that is "
        "neither expired nor revoked"
    )
    return problem(401, "Who asks?", [Fault("Authorization", say)], {"WWW-Authenticate": "Bearer"})


def _validation(error: RequestValidationError) -> Response:
    faults = []
    for detail in error.errors()[:_MOST]:
        where = detail["loc"][1:] if detail["type"] != "json_invalid" else ()
        faults.append(Fault(".".join(str(part) for part in where), sentence_of(detail)))
    return problem(422, "This cannot be used", faults)


async def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    title, say = _HTTP.get(error.status_code, ("Not possible", str(error.detail)))
    headers = dict(error.headers or {})
    if error.status_code == 405:
        headers = with_allow(request, headers)
    return problem(error.status_code, title, [Fault("", say)], headers)


_CHANGED = "is not what is there now; read it again, then send with the ETag of that answer"
_OURS = "unexpected error; see the server's log"
_HTTP = {
    400: ("Not read", "the body cannot be read; accepted is JSON in UTF-8"),
    404: ("Not here", "there is nothing at this address"),
    405: ("Not possible", "this address cannot be used that way"),
}


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST else text[: _LONGEST - 3] + "..."
