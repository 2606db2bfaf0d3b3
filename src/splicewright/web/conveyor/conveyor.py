"""Pages of one conveyor: drawings, belt map, joints, what is due, jobs, history."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Annotated, Literal
from uuid import UUID

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import Response

from splicewright.actions.belt.map import BeltMap, Whereabouts, belt_map, where_now
from splicewright.actions.conveyor.study_recorded import (
    Drawing,
    check_recorded,
    draw_recorded,
    sheet_recorded,
)
from splicewright.actions.fleet.due import see_due
from splicewright.sheets.canvas.svg import svg
from splicewright.sheets.drawings.belt_map import belt_map_drawing
from splicewright.store import Register, State
from splicewright.store.present.present import ConveyorNow, JointNow
from splicewright.web.app.fact_words import Names, tell
from splicewright.web.app.rendering import Entry, file_sent, render
from splicewright.web.app.visitor import Role, Visitor, room_of, visitor

router = APIRouter()
SOON = timedelta(days=30)
_SHOWN, _LONGEST = 12, 1000
"""Entries on the conveyor's page, and on that of its history."""
_Who = Annotated[Visitor, Depends(visitor)]
_LINKS = (
    Entry("/conveyors/{conveyor}/plan", "Plan a joint", Role.CREW),
    Entry("/conveyors/{conveyor}/found-joint", "Add a joint without a plan", Role.CREW),
    Entry("/rounds/{conveyor}", "Inspection round of its joints", Role.CREW),
    Entry("/conveyors/{conveyor}/forecast", "Wear and life", Role.VIEWER),
    Entry("/conveyors/{conveyor}/inspection-interval", "Inspection interval", Role.VIEWER),
    Entry("/conveyors/{conveyor}/decide", "Torn or worn: what to do", Role.VIEWER),
    Entry("/conveyors/{conveyor}/limits", "Limits of wear", Role.VIEWER),
    Entry("/conveyors/{conveyor}/belt", "Record belt, piece or damage", Role.CREW),
    Entry("/conveyors/{conveyor}/edit", "Change an answer", Role.LEAD),
    Entry("/conveyors/{conveyor}/next", "Next version of its file", Role.LEAD),
)
"""What can be done from here; a line is shown where the app has such a page."""


@dataclass(frozen=True, slots=True)
class Row:
    """A joint in the list: where it is now, when that is known."""

    joint: JointNow
    now: Whereabouts | None


def find_conveyor(register: Register, conveyor: UUID) -> ConveyorNow:
    """A conveyor, or the page that says there is none."""
    row = register.conveyor(conveyor)
    if row is None:
        raise HTTPException(404)
    return row


def whereabouts(
    register: Register, conveyor: ConveyorNow, joints: tuple[JointNow, ...], now: datetime
) -> dict[UUID, Whereabouts]:
    """Where joints of a conveyor are now, where that can be told."""
    belts = {b.belt: b.length for b in register.belts(conveyor.conveyor)}
    latest: dict[UUID | None, JointNow] = {}
    for joint in joints:
        if joint.place is None or joint.seen is None or joint.seen > now:
            continue
        before = latest.get(joint.belt)
        if before is None or before.seen is None or joint.seen > before.seen:
            latest[joint.belt] = joint
    by_joint = {}
    for joint in joints:
        length = belts.get(joint.belt) if joint.belt is not None else None
        if joint.state is not State.RUNNING or not length or not conveyor.speed:
            continue
        other = latest.get(joint.belt)
        others = (other,) if other is not None and other.joint != joint.joint else ()
        there = where_now(joint, others, belt_length=length, speed=conveyor.speed, now=now)
        if there is not None:
            by_joint[joint.joint] = there
    return by_joint


def offered(request: Request, links: tuple[Entry, ...], who: Visitor, **ids: UUID) -> list[Entry]:
    """Of these links those the app has and the visitor may follow, with their addresses."""
    there = request.app.state.paths
    return [
        Entry(link.path.format(**ids), link.word, link.role, link.place)
        for link in links
        if link.path in there and who.may(link.role)
    ]


@router.get("/conveyors/{conveyor}")
def conveyor_page(request: Request, who: _Who, conveyor: UUID) -> Response:
    """One conveyor."""
    with room_of(request).register.at_one_moment():
        return _page(request, who, conveyor)


def _page(request: Request, who: Visitor, conveyor: UUID) -> Response:
    room = room_of(request)
    register, now = room.register, room.now()
    there = find_conveyor(register, conveyor)
    joints = register.joints(conveyor, limit=2000)
    where = whereabouts(register, there, joints, now)
    current = [j for j in joints if j.state is not State.REMOVED]
    site = register.site(there.site)
    belt = belt_map(register, conveyor, now, joints)
    names = Names(register)
    about = [conveyor] if belt is None else [conveyor, belt.belt]
    count, facts = register.newest_about(about, _SHOWN)
    return render(
        request,
        "conveyor.html",
        conveyor=there,
        barred=register.barred(conveyor=conveyor, limit=20),
        names={there.conveyor: there.name},
        site=site.name if site is not None else "",
        rows=[Row(j, where.get(j.joint)) for j in current],
        removed=[j for j in joints if j.state is State.REMOVED],
        belt=belt,
        due=see_due(register, now + SOON, conveyor=conveyor),
        now=now,
        jobs=register.jobs(conveyor, limit=50),
        jobs_have_pages="/jobs/{job}" in request.app.state.paths,
        lines=[tell(stored, names, who.units) for stored in facts],
        more=count - len(facts),
        links=offered(request, _LINKS, who, conveyor=conveyor),
        stamp=f"{(there.file or '')[:12]}-{who.units}",
    )


@router.get("/conveyors/{conveyor}/drawings/{drawing}.svg")
def drawing(
    request: Request,
    who: _Who,
    conveyor: UUID,
    drawing: Literal["loop", "tension", "tension-reverse"],
    phone: bool = False,
) -> Response:
    """Side view or tension diagram, as the newest file gives them; `phone`: for its width."""
    register = room_of(request).register
    kind: Drawing = drawing
    data = draw_recorded(register, find_conveyor(register, conveyor), kind, who.units, phone=phone)
    return _picture(request, data)


@router.get("/conveyors/{conveyor}/belt-map.svg")
def belt_map_picture(request: Request, who: _Who, conveyor: UUID) -> Response:
    """The belt that lies on the conveyor now."""
    room = room_of(request)
    find_conveyor(room.register, conveyor)
    belt = belt_map(room.register, conveyor, room.now())
    if belt is None:
        raise HTTPException(404)
    return Response(_map(belt, who, invented=room.invented), media_type="image/svg+xml")


@router.get("/conveyors/{conveyor}/sheet.pdf")
def sheet(request: Request, who: _Who, conveyor: UUID) -> Response:
    """The conveyor sheet: every load case and every number explained."""
    register = room_of(request).register
    there = find_conveyor(register, conveyor)
    name = "".join(c if c.isascii() and c.isalnum() else "-" for c in there.name)
    return file_sent(sheet_recorded(register, there, who.units), f"{name}.pdf", open_it=True)


@router.get("/conveyors/{conveyor}/file")
def kept_file(request: Request, _: _Who, conveyor: UUID) -> Response:
    """The conveyor's file as it was given."""
    register = room_of(request).register
    there = find_conveyor(register, conveyor)
    if there.file is None:
        raise HTTPException(404)
    return file_sent(register.content(there.file).data, "conveyor.toml", "application/toml")


@router.get("/conveyors/{conveyor}/assumed")
def assumed(request: Request, who: _Who, conveyor: UUID) -> Response:
    """What the file lacks, what was assumed for it, and what to measure next."""
    register = room_of(request).register
    there = find_conveyor(register, conveyor)
    checked = check_recorded(register, there)
    return render(request, "assumed.html", conveyor=there, checked=checked)


@router.get("/conveyors/{conveyor}/history")
def conveyor_history(request: Request, who: _Who, conveyor: UUID) -> Response:
    """What was recorded about a conveyor and its belts, the last to arrive first."""
    register = room_of(request).register
    there = find_conveyor(register, conveyor)
    about = [conveyor, *(belt.belt for belt in register.belts(conveyor))]
    count, facts = register.newest_about(about, _LONGEST)
    names = Names(register)
    lines = [tell(stored, names, who.units) for stored in facts]
    return render(
        request,
        "thing-history.html",
        title=there.name,
        back=f"/conveyors/{conveyor}",
        lines=lines,
        more=count - len(facts),
    )


def _map(belt: BeltMap, who: Visitor, *, invented: bool) -> bytes:
    scene = belt_map_drawing(
        belt.name,
        belt.length,
        belt.pieces,
        belt.joints,
        belt.damage,
        who.units,
        invented=invented,
    )
    return svg(scene, margin=5.0).encode()


def _picture(request: Request, data: bytes) -> Response:
    """A drawing; under an address with its stamp it never changes."""
    lasting = "private, max-age=31536000, immutable" if "v" in request.query_params else "no-cache"
    return Response(data, media_type="image/svg+xml", headers={"Cache-Control": lasting})
