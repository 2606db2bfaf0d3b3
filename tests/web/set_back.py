"""A served app whose register is set back to an older copy, as after a disk failed."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

from fastapi import FastAPI

from splicewright.store.sql.register import SqlRegister, open_register
from splicewright.web.app.room import Room


def set_back(app: FastAPI, copy: Path) -> SqlRegister:
    """Open a copy of the register, and let the app go on with it; the caller closes it."""
    room: Room = app.state.room
    opened = open_register(copy, clock=room.now, check=False)
    put_in(
        app, Room(opened, opened.accounts(hash_memory=64), room.now, secure=False, invented=True)
    )
    return opened


def put_in(app: FastAPI, room: Room) -> None:
    """All parts of the app hold one room: it becomes the other in its place."""
    there: Room = app.state.room
    for part in fields(Room):
        object.__setattr__(there, part.name, getattr(room, part.name))
