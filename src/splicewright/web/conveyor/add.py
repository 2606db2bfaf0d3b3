"""Pages: add a conveyor by its file, and the next version of one."""

from __future__ import annotations

from typing import Annotated, Literal
from uuid import UUID

from fastapi import APIRouter, Depends, Request, UploadFile
from fastapi.responses import RedirectResponse, Response

from splicewright.actions.conveyor.record import RecordedConveyor, record_conveyor
from splicewright.actions.files.start import template_text
from splicewright.errors import Fault, InputError
from splicewright.files.typed_file import sent_file
from splicewright.web.app.rendering import file_sent, render
from splicewright.web.app.visitor import Role, Visitor, needs, room_of, said_by
from splicewright.web.conveyor.conveyor import find_conveyor

router = APIRouter()
LARGEST = 1_000_000
"""Bytes of a conveyor file, as `check` has it."""
_Lead = Annotated[Visitor, Depends(needs(Role.LEAD))]


@router.get("/conveyors/add")
def add_page(request: Request, who: _Lead) -> Response:
    """The form to add a conveyor."""
    return render(request, "conveyor-add.html", conveyor=None, faults=(), notice="")


@router.post("/conveyors/add")
def add(request: Request, who: _Lead, file: UploadFile | None = None) -> Response:
    """Add a conveyor from its file: all of it, or nothing and every fault."""
    done = _record(request, who, file, "new")
    if isinstance(done, RecordedConveyor):
        return RedirectResponse(f"/conveyors/{done.conveyor}", 303)
    return render(request, "conveyor-add.html", status=422, conveyor=None, faults=done, notice="")


@router.get("/conveyors/blank.toml")
def blank(request: Request, who: _Lead) -> Response:
    """A commented conveyor file to fill in."""
    return file_sent(template_text("conveyor"), "conveyor.toml", "application/toml")


@router.get("/conveyors/{conveyor}/next")
def next_page(request: Request, who: _Lead, conveyor: UUID) -> Response:
    """The form to give a conveyor's next version."""
    there = find_conveyor(room_of(request).register, conveyor)
    return render(request, "conveyor-add.html", conveyor=there, faults=(), notice="")


@router.post("/conveyors/{conveyor}/next")
def next_version(
    request: Request, who: _Lead, conveyor: UUID, file: UploadFile | None = None
) -> Response:
    """Record the next version of a conveyor's file."""
    there = find_conveyor(room_of(request).register, conveyor)
    done = _record(request, who, file, conveyor)
    if not isinstance(done, RecordedConveyor):
        return render(
            request, "conveyor-add.html", status=422, conveyor=there, faults=done, notice=""
        )
    if not done.new:
        message = f"This very file is version {done.version} already; nothing was recorded."
        return render(request, "conveyor-add.html", conveyor=there, faults=(), notice=message)
    return RedirectResponse(f"/conveyors/{conveyor}", 303)


def _record(
    request: Request, who: Visitor, file: UploadFile | None, only: UUID | Literal["new"]
) -> RecordedConveyor | tuple[Fault, ...]:
    room = room_of(request)
    if file is None or not file.filename:
        return (Fault("file", "is missing; choose a conveyor file (TOML)"),)
    data = file.file.read(LARGEST + 1)
    try:
        return record_conveyor(
            said_by(request, who),
            sent_file(data, file.filename, "conveyor.toml"),
            by=who.name,
            person=who.account,
            now=room.now(),
            device="page",
            only=only,
        )
    except InputError as error:
        return error.faults
