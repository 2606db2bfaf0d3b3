"""Apps of the tests: built once in a run and moved from one register to the next.

The framework puts the routes of an app together when they are first asked for, which takes a
quarter of a second for each app: longer than most tests.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from weakref import ref

from fastapi import FastAPI

from splicewright.web.app.room import Room
from splicewright.web.routes import make_app


class Visit:
    """Somebody who uses an app; when it is gone, the next may."""


@dataclass
class _Built:
    app: FastAPI
    room: Room
    visit: ref[Visit]


_BUILT: list[_Built] = []


def app_over(room: Room, visit: Visit) -> FastAPI:
    """An app over this room that nobody else uses while the visit lasts."""
    for built in _BUILT:
        if built.visit() is None:
            built.visit = ref(visit)
            # All parts of the app hold this one room: it becomes the other in its place.
            for part in fields(Room):
                object.__setattr__(built.room, part.name, getattr(room, part.name))
            return built.app
    _BUILT.append(_Built(make_app(room), room, ref(visit)))
    return _BUILT[-1].app
