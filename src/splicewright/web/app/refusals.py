"""What pages say when they refuse: one sentence of what is wrong and what to do."""

from __future__ import annotations

import contextlib
from urllib.parse import quote

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse, Response
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException

from splicewright.actions.people.admit import NotYoursError
from splicewright.errors import Fault, InputError, SplicewrightError
from splicewright.store import (
    BusyError,
    ConflictError,
    DamagedError,
    FullError,
    NotAllowedError,
    TooOftenError,
)
from splicewright.store.authority import WITHDRAWN
from splicewright.web.app.guard import HEADERS
from splicewright.web.app.methods import with_allow
from splicewright.web.app.rendering import render
from splicewright.web.app.visitor import (
    FACTOR_PATH,
    FactorNeededError,
    ForeignFormError,
    RoleNeededError,
    SignInNeededError,
    find_visitor,
)

_MAY = {
    "viewer": "everybody who is signed in",
    "crew": "crew, leads and admins",
    "lead": "leads and admins",
    "admin": "admins",
}


def by_script(request: Request) -> bool:
    """Whether a script asked, not a person opening a page."""
    if request.headers.get("hx-request"):
        return True
    accepted = request.headers.get("accept", "")
    if "text/html" in accepted:
        # A page opened by a person, even where the service worker asks for it in their stead.
        return False
    script = request.headers.get("sec-fetch-dest", "document") == "empty"
    return script or "application/json" in accepted


def refuse(
    request: Request,
    status: int,
    title: str,
    faults: tuple[Fault, ...],
    headers: dict[str, str] | None = None,
) -> Response:
    """A refusal as a page, or as JSON for scripts."""
    response: Response
    if by_script(request):
        errors = [{"key": f.key, "sentence": f.sentence, "line": f.line} for f in faults]
        response = JSONResponse({"error": errors}, status)
    else:
        response = render(request, "refused.html", status=status, title=title, faults=faults)
    response.headers.update(headers or {})
    return response


def listen(app: FastAPI) -> None:
    """Turn errors into refusals."""

    @app.exception_handler(SignInNeededError)
    async def _sign_in(request: Request, error: SignInNeededError) -> Response:
        if by_script(request):
            return JSONResponse({"error": [{"key": "", "sentence": "sign in first"}]}, 401)
        target = request.url.path + (f"?{request.url.query}" if request.url.query else "")
        there = f"?next={quote(target, safe='')}" if request.method == "GET" else ""
        return RedirectResponse(f"/sign-in{there}", 303)

    @app.exception_handler(FactorNeededError)
    async def _factor(request: Request, error: FactorNeededError) -> Response:
        if by_script(request) or request.method != "GET":
            return refuse(request, 403, "Second factor", (Fault("", str(error)),))
        return RedirectResponse(FACTOR_PATH, 303)

    @app.exception_handler(RoleNeededError)
    async def _role(request: Request, error: RoleNeededError) -> Response:
        say = f"This is for {_MAY[error.needed.value]}. Ask a lead or admin if you need it."
        return refuse(request, 403, "Not for your role", (Fault("", say),))

    @app.exception_handler(NotYoursError)
    async def _not_yours(request: Request, error: NotYoursError) -> Response:
        return refuse(request, 403, "Not for your role", (Fault("", str(error)),))

    @app.exception_handler(ForeignFormError)
    async def _foreign(request: Request, error: ForeignFormError) -> Response:
        say = "The form was not from a page of this session. Go back, reload it and send again."
        return refuse(request, 403, "Not sent", (Fault("", say),))

    @app.exception_handler(NotAllowedError)
    async def _not_allowed(request: Request, error: NotAllowedError) -> Response:
        return refuse(request, 403, "Not for your role", error.faults)

    @app.exception_handler(InputError)
    async def _input(request: Request, error: InputError) -> Response:
        return refuse(request, 422, "This cannot be used", error.faults)

    @app.exception_handler(RequestValidationError)
    async def _validation(request: Request, error: RequestValidationError) -> Response:
        if any(e["loc"][0] == "path" for e in error.errors()):
            title, say = _HTTP[404]  # no thing has such an id
            return refuse(request, 404, title, (Fault("", say),))
        faults = tuple(
            Fault(".".join(str(p) for p in e["loc"][1:]), e["msg"].lower()) for e in error.errors()
        )
        return refuse(request, 422, "This cannot be used", faults)

    @app.exception_handler(ConflictError)
    async def _conflict(request: Request, error: ConflictError) -> Response:
        return refuse(request, 409, "Somebody else was faster", (Fault("", str(error)),))

    @app.exception_handler(TooOftenError)
    async def _too_often(request: Request, error: TooOftenError) -> Response:
        after = {"Retry-After": str(int(error.wait) + 1)}
        return refuse(request, 429, "Too many tries", (Fault("", str(error)),), after)

    @app.exception_handler(BusyError)
    async def _busy(request: Request, error: BusyError) -> Response:
        return refuse(request, 503, "Not now", (Fault("", str(error)),), {"Retry-After": "5"})

    @app.exception_handler(FullError)
    async def _full(request: Request, error: FullError) -> Response:
        return refuse(request, 507, "Not recorded", (Fault("", str(error)),))

    @app.exception_handler(DamagedError)
    async def _damaged(request: Request, error: DamagedError) -> Response:
        return refuse(request, 500, "The register is damaged", (Fault("", str(error)),))

    @app.exception_handler(Exception)
    async def _unforeseen(request: Request, error: Exception) -> Response:
        # The server logs where it happened; the page tells nothing of the inside. The API, which is
        # mounted, has answered by itself by then, and stands in the request as the app.
        request.scope["app"] = app
        say = (
            "Unexpected error. What you sent was recorded completely or not at all: check "
            "before you send it again."
        )
        # This answer goes past the guard, which would set its headers.
        return refuse(request, 500, "Something went wrong", (Fault("", say),), HEADERS)

    @app.exception_handler(HTTPException)
    async def _http(request: Request, error: HTTPException) -> Response:
        title, say = _HTTP.get(error.status_code, ("Not possible", str(error.detail)))
        headers = dict(error.headers or {})
        if error.status_code == 405:
            headers = with_allow(request, headers)
        with contextlib.suppress(SplicewrightError, FactorNeededError):
            # No page looked who is there: the menu is shown to those who are.
            await run_in_threadpool(find_visitor, request)
        return refuse(request, error.status_code, title, (Fault("", say),), headers)


_HTTP = {
    404: ("Not here", "There is nothing at this address; it may have been typed wrong."),
    410: ("Withdrawn", f"{WITHDRAWN[0].upper()}{WITHDRAWN[1:]}."),
    405: ("Not possible", "This address cannot be used that way."),
}
