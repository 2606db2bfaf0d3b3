"""The API: everything the pages and the command line can do with the register, for programs.

It is an app of its own, mounted at /api/1, so that its errors, its description and its door are
its own: a program gets a problem document where a person gets a page.
"""

from __future__ import annotations

from typing import Any

from fastapi import FastAPI
from fastapi.routing import APIRoute
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from splicewright.errors import Fault
from splicewright.version import __version__
from splicewright.web.api import (
    background,
    facts,
    hooks,
    incoming,
    plans,
    questions,
    register,
    tables,
)
from splicewright.web.api.conditions import Marks
from splicewright.web.api.rates import Rates
from splicewright.web.app import problems
from splicewright.web.app.problems import MEDIA_TYPE, Problem, problem
from splicewright.web.app.room import Room

PATH = "/api/1"
LARGEST_JSON = 2_000_000
"""Bytes of a JSON body; what carries a file may be as large as the app takes."""
_CARRY_FILES = ("/background/import", "/contents/")
_ABOUT = (
    "The register of joints for programs. Numbers are SI; each field says its unit. Errors are "
    "problem documents (RFC 9457) that name field, fault and what is accepted. Sending a fact or "
    "a background task with an id of your own again is harmless."
)
_TAGS = [
    {"name": "register", "description": "What the register knows."},
    {"name": "facts", "description": "Facts in and out, and what they name by digest."},
    {"name": "planning", "description": "Conveyor files, plans, assessments."},
    {"name": "questions", "description": "Wear, life, stock, shutdowns, by tables or register."},
    {"name": "hooks", "description": "Other systems told of facts as they are recorded."},
    {"name": "incoming", "description": "Readings of other systems, by the mapping of a site."},
    {"name": "background", "description": "Long work: imports, bundles of job folders, forecasts."},
]
_PARTS = (register, facts, tables, plans, questions, background, hooks, incoming)
_PROBLEM = {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}
_ERRORS: dict[int | str, dict[str, Any]] = {
    status: {"description": meaning, "content": _PROBLEM}
    for status, meaning in (
        (400, "The body cannot be read."),
        (401, "No token, or one that does not work."),
        (403, "The token may not do this."),
        (404, "There is no such thing."),
        (409, "Somebody else was faster."),
        (412, "What was to be replaced changed: see `If-Match`."),
        (413, "The body is too large."),
        (422, "Something sent cannot be used."),
        (429, "Too often; send again after `Retry-After` seconds."),
        (503, "The register is busy; send again after `Retry-After` seconds."),
        (507, "The disk is full; nothing was recorded."),
    )
}


def make_api(room: Room | None = None) -> FastAPI:
    """The API over a register; without a room only to describe it."""
    api = FastAPI(
        title="Splicewright",
        version=__version__,
        summary="The register of joints.",
        description=_ABOUT,
        openapi_tags=_TAGS,
        docs_url=None,
        redoc_url=None,
        openapi_url="/openapi.json",
        responses=_ERRORS,
        root_path_in_servers=False,
        servers=[{"url": PATH}],
        separate_input_output_schemas=False,
    )
    api.state.room = room
    parts = [p.router for p in _PARTS]
    for part in (*parts, background.moved):
        api.include_router(part)
    api.state.every_route = tuple(
        r for part in (*parts, background.moved) for r in part.routes if isinstance(r, APIRoute)
    )
    problems.listen(api)
    api.add_middleware(_Limit)
    api.add_middleware(Marks)
    api.add_middleware(Rates)
    _describe(api)
    return api


def _describe(api: FastAPI) -> None:
    """Let the description name the problem document, which no route returns itself."""
    original = api.openapi

    def openapi() -> dict[str, Any]:
        if api.openapi_schema is None:
            schema = original()
            schemas = schema["components"]["schemas"]
            problem_schema = Problem.model_json_schema(ref_template="#/components/schemas/{model}")
            schemas.update(problem_schema.pop("$defs", {}))
            schemas["Problem"] = problem_schema
            for unused in ("HTTPValidationError", "ValidationError"):
                schemas.pop(unused, None)
            for path in schema["paths"].values():
                for route in path.values():
                    route["responses"]["422"] = _ERRORS[422]
        assert api.openapi_schema is not None
        return api.openapi_schema

    api.openapi = openapi  # type: ignore[method-assign]


class _Limit:
    """Refuses JSON bodies larger than any request needs, and marks answers as not to be kept."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        path = scope.get("path", "").removeprefix(PATH)
        if scope["type"] != "http" or path.startswith(_CARRY_FILES):
            await self.app(scope, receive, send)
            return
        length = dict(scope["headers"]).get(b"content-length", b"0")
        if not length.isdigit() or int(length) > LARGEST_JSON:
            await _too_large()(scope, receive, send)
            return
        taken, refused = 0, False

        async def counted() -> Message:
            nonlocal taken, refused
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > LARGEST_JSON:
                refused = True
                return {"type": "http.request", "body": b"", "more_body": False}
            return message

        async def answered(message: Message) -> None:
            if not refused:
                await send(message)

        await self.app(scope, counted, answered)
        if refused:
            await _too_large()(scope, receive, send)


def _too_large() -> ASGIApp:
    most = LARGEST_JSON // 1_000_000
    return problem(413, "Too large", [Fault("", f"the body is too large; accepted is {most} MB")])
