"""The app: pages by module, static files, and what every answer carries."""

from __future__ import annotations

from fastapi import FastAPI
from fastapi.routing import APIRoute
from starlette.middleware.gzip import GZipMiddleware

from splicewright.web import (
    adding,
    api,
    belt,
    conveyor,
    deciding,
    deviations,
    due,
    fasteners,
    finding,
    fleet,
    forecasts,
    found_joints,
    history,
    inspecting,
    installing,
    intervals,
    job,
    joint,
    labels,
    people,
    photographs,
    plan_loads,
    plan_pages,
    planning,
    queue_pages,
    refusing,
    shutting,
    signing_in,
    static_files,
    stock,
    sync,
    token_pages,
    wear_limits,
)
from splicewright.web.guarding import Guard, SizeLimit
from splicewright.web.head_requests import HeadAsGet
from splicewright.web.rendering import Entry
from splicewright.web.room import Room

PAGES = (
    signing_in,
    finding,
    adding,  # before conveyor: /conveyors/add is no conveyor
    conveyor,
    belt,
    joint,
    due,
    fleet,
    forecasts,
    intervals,
    wear_limits,
    deciding,
    shutting,
    people,
    history,
    installing,
    job,
    deviations,
    photographs,
    sync,
    planning,
    plan_pages,
    plan_loads,
    found_joints,
    inspecting,
    stock,
    fasteners,
    labels,
    queue_pages,
    token_pages,
)
"""Modules of pages; each has a `router`, and may have `NAVIGATION`, a tuple of `Entry`."""

PUBLIC = frozenset(
    {
        "/sign-in",
        "/join/{secret}",
        "/manifest.webmanifest",
        "/static",
        "/service-worker.js",
        # It has a door of its own: every route asks for a scope.
        api.PATH,
    }
)
"""The only paths that need nobody signed in."""


def make_app(room: Room) -> FastAPI:
    """The web app over a register.

    Parameters
    ----------
    room : register, accounts, clock; pages reach it with `visiting.room_of(request)`
    """
    app = FastAPI(title="Splicewright", docs_url=None, redoc_url=None, openapi_url=None)
    app.state.room = room
    # Before the pages: what is asked for most often, by programs, is found first.
    app.mount(api.PATH, api.make_api(room))
    entries: list[Entry] = []
    for page in PAGES:
        app.include_router(page.router)
        entries.extend(getattr(page, "NAVIGATION", ()))
    app.state.navigation = tuple(sorted(entries, key=lambda e: e.place))
    app.state.paths = frozenset(route.path for route in page_routes())
    app.mount("/static", static_files.serve())
    refusing.listen(app)
    # The last added is the outermost.
    # The usual level 9 takes several times as long as 5 for a twentieth less.
    app.add_middleware(GZipMiddleware, minimum_size=600, compresslevel=5)
    app.add_middleware(SizeLimit)
    app.add_middleware(Guard, room=room)
    app.add_middleware(HeadAsGet)
    return app


def page_routes() -> tuple[APIRoute, ...]:
    """The routes of all pages; those of the API are its own."""
    return tuple(
        route for page in PAGES for route in page.router.routes if isinstance(route, APIRoute)
    )
