"""The app: pages by module, static files, and what every answer carries."""

from __future__ import annotations

from fastapi import FastAPI
from fastapi.routing import APIRoute

from splicewright.web import (
    background,
    belt,
    decision,
    fasteners,
    forecast,
    home,
    hooks,
    incoming,
    inspection_interval,
    labels,
    planner,
    register,
    search,
    shutdown,
    stock,
    wear,
)
from splicewright.web.api import routes
from splicewright.web.app import manifest, moved, refusals, static_files
from splicewright.web.app.concurrency_limit import ConcurrencyLimit
from splicewright.web.app.guard import Guard, SizeLimit
from splicewright.web.app.head_requests import HeadAsGet
from splicewright.web.app.packing import LEVEL, SMALLEST, Packing
from splicewright.web.app.rendering import Entry
from splicewright.web.app.room import Room
from splicewright.web.conveyor import add, answers, conveyor, find
from splicewright.web.fleet import calendar, due, fleet
from splicewright.web.inspection import inspect, look_back, on_phone, round
from splicewright.web.job import deviations, jobs, second_person, sync
from splicewright.web.joint import joint, without_plan
from splicewright.web.people import passkeys, people, second_factor, sign_in, tokens
from splicewright.web.photographs import kept, measured, taking
from splicewright.web.plan import again, form, loads, plan, quote

PAGES = (
    sign_in,
    home,
    search,
    second_factor,
    passkeys,
    find,
    add,  # before conveyor: /conveyors/add is no conveyor
    answers,
    conveyor,
    belt,
    joint,
    due,
    planner,
    calendar,
    fleet,
    forecast,
    inspection_interval,
    wear,
    decision,
    shutdown,
    people,
    register,
    manifest,
    jobs,
    deviations,
    second_person,
    kept,
    taking,
    measured,
    sync,
    form,
    again,
    plan,
    loads,
    quote,
    without_plan,
    inspect,
    on_phone,
    look_back,
    round,
    stock,
    fasteners,
    labels,
    background,
    tokens,
    hooks,
    incoming,
    moved,
)
"""Modules of pages; each has a `router`, and may have `NAVIGATION`, a tuple of `Entry`."""

PUBLIC = frozenset(
    {
        "/sign-in",
        "/sign-in/code",
        "/sign-in/code/passkey",
        "/sign-in/code/passkey/options",
        "/join/{secret}",
        "/manifest.webmanifest",
        "/static",
        "/service-worker.js",
        # Its address holds a key that opens it and nothing else.
        "/calendar/{key}",
        # It has a door of its own: every route asks for a scope.
        routes.PATH,
    }
)
"""The only paths that need nobody signed in."""


def make_app(room: Room) -> FastAPI:
    """The web app over a register.

    Parameters
    ----------
    room : register, accounts, clock; pages reach it with `visitor.room_of(request)`
    """
    app = FastAPI(title="Splicewright", docs_url=None, redoc_url=None, openapi_url=None)
    app.state.room = room
    # Before the pages: what is asked for most often, by programs, is found first.
    app.mount(routes.PATH, routes.make_api(room))
    entries: list[Entry] = []
    for page in PAGES:
        app.include_router(page.router)
        entries.extend(getattr(page, "NAVIGATION", ()))
    app.state.navigation = tuple(sorted(entries, key=lambda e: e.place))
    app.state.every_route = page_routes()
    app.state.paths = frozenset(route.path for route in app.state.every_route)
    app.mount("/static", static_files.serve())
    refusals.listen(app)
    # The last added is the outermost.
    app.add_middleware(ConcurrencyLimit, in_process=room.register.in_process)
    app.add_middleware(Packing, minimum_size=SMALLEST, compresslevel=LEVEL)
    app.add_middleware(SizeLimit)
    app.add_middleware(Guard, room=room)
    app.add_middleware(HeadAsGet)
    return app


def page_routes() -> tuple[APIRoute, ...]:
    """The routes of all pages; those of the API are its own."""
    return tuple(
        route for page in PAGES for route in page.router.routes if isinstance(route, APIRoute)
    )
