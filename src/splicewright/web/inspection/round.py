"""Page: a round of joints to inspect, in walking order, taken along on the phone."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import Response

from splicewright.actions.fleet.due import see_due
from splicewright.store import Register, State
from splicewright.store.authority import NOT_HERE
from splicewright.store.present.present import JointNow
from splicewright.web.app.rendering import render
from splicewright.web.app.visitor import Role, Visitor, needs, room_of
from splicewright.web.job.sync import account_header

router = APIRouter()
_MOST = 60
"""Joints of one round; each is put on the phone."""


_Crew = Annotated[Visitor, Depends(needs(Role.CREW))]


@router.get("/rounds/due")
def due_round(request: Request, who: _Crew) -> Response:
    """The joints whose inspection is due today, conveyor by conveyor."""
    room = room_of(request)
    with room.register.at_one_moment():
        lines = see_due(room.register, room.now() + timedelta(days=1), limit=_MOST * 4)
        ids = [d.joint for d in lines if d.task == "inspect" and d.joint is not None]
        joints = [j for j in map(room.register.joint, dict.fromkeys(ids)) if j is not None]
        return _page(request, who, "Round of what is due today", "due", joints)


@router.get("/rounds/{conveyor}")
def conveyor_round(request: Request, conveyor: UUID, who: _Crew) -> Response:
    """The joints that run on a conveyor, along its belt."""
    register = room_of(request).register
    with register.at_one_moment():
        there = register.conveyor(conveyor)
        if there is None:
            raise HTTPException(404)
        joints = register.joints(conveyor, (State.RUNNING,), limit=_MOST * 4)
        return _page(request, who, f"Round of {there.name}", str(conveyor), joints)


def _page(
    request: Request, who: Visitor, title: str, which: str, joints: Sequence[JointNow]
) -> Response:
    register = room_of(request).register
    walked = _in_walking_order(register, [j for j in joints if not j.plateless])
    page = render(
        request,
        "round.html",
        title=title,
        which=which,
        joints=walked[:_MOST],
        left_out=max(0, len(walked) - _MOST),
        plateless=[j for j in joints if j.plateless],
        not_here=NOT_HERE,
    )
    page.headers.update(account_header(who))
    return page


def _in_walking_order(register: Register, joints: Sequence[JointNow]) -> list[tuple[JointNow, str]]:
    """Joints with the names of their conveyors: those of one together, by their place on the belt.

    A joint whose place nobody knows comes last of its conveyor.
    """
    names = {c.conveyor: c.name for c in register.conveyors()}
    order = sorted(
        joints,
        key=lambda j: (
            names.get(j.conveyor, ""),
            j.place is None,
            j.place or 0.0,
            j.label,
            str(j.joint),
        ),
    )
    return [(joint, names.get(joint.conveyor, "")) for joint in order]
