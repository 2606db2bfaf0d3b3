"""API: what the register knows."""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
from datetime import datetime, timedelta
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Path, Query, Request

from splicewright.actions.fleet.due import see_due
from splicewright.errors import Fault, InputError
from splicewright.store import State, Stored
from splicewright.store.authority import Scope
from splicewright.store.facts.joint_facts import ReadingTaken
from splicewright.store.facts.kinds import LATEST, Moment, Text
from splicewright.web.api.caller import Caller, needs_scope
from splicewright.web.api.models import (
    BeltOut,
    ConveyorOut,
    DamageOut,
    DueOut,
    JobOut,
    JointOut,
    JointsOut,
    PersonOut,
    PieceOut,
    ReadingOut,
    SiteOut,
    StockOut,
)
from splicewright.web.api.paging import Paged
from splicewright.web.app.problems import NotThereError
from splicewright.web.app.visitor import room_of

router = APIRouter(tags=["register"])
Reader = Annotated[Caller, Depends(needs_scope(Scope.READ))]
Limit = Annotated[int, Query(ge=1, le=1000, description="How many at most.")]
Id = Annotated[UUID, Path()]
_MOST_DUE = 20_000


@router.get("/sites")
def sites(request: Request, _: Reader, paged: Paged) -> list[SiteOut]:
    """All sites, by name."""
    page = paged.page(room_of(request).register.sites(), lambda s: s.site)
    return [SiteOut.model_validate(s) for s in page]


@router.get("/sites/{site}")
def site(request: Request, _: Reader, site: Id) -> SiteOut:
    """One site."""
    row = room_of(request).register.site(site)
    return SiteOut.model_validate(_there(row, "site", site))


@router.get("/sites/{site}/stock")
def stock(request: Request, _: Reader, site: Id, paged: Paged) -> list[StockOut]:
    """What lies in a site's store, by item."""
    register = room_of(request).register
    _there(register.site(site), "site", site)
    page = paged.page(register.stock(site), lambda s: s.item)
    return [StockOut.model_validate(s) for s in page]


@router.get("/conveyors")
def conveyors(
    request: Request, _: Reader, paged: Paged, site: UUID | None = None
) -> list[ConveyorOut]:
    """All conveyors, or those of a site, by name."""
    page = paged.page(room_of(request).register.conveyors(site), lambda c: c.conveyor)
    return [ConveyorOut.model_validate(c) for c in page]


@router.get("/conveyors/{conveyor}")
def conveyor(request: Request, _: Reader, conveyor: Id) -> ConveyorOut:
    """One conveyor."""
    row = room_of(request).register.conveyor(conveyor)
    return ConveyorOut.model_validate(_there(row, "conveyor", conveyor))


@router.get("/conveyors/{conveyor}/belts")
def belts(request: Request, _: Reader, conveyor: Id, paged: Paged) -> list[BeltOut]:
    """Belts placed on a conveyor, the newest first."""
    register = room_of(request).register
    _there(register.conveyor(conveyor), "conveyor", conveyor)
    page = paged.page(register.belts(conveyor), lambda b: b.belt)
    return [BeltOut.model_validate(b) for b in page]


@router.get("/belts/{belt}/pieces")
def pieces(request: Request, _: Reader, belt: Id, paged: Paged) -> list[PieceOut]:
    """Pieces of a belt, removed ones too, by their start."""
    page = paged.page(room_of(request).register.pieces(belt), lambda p: p.piece)
    return [PieceOut.model_validate(p) for p in page]


@router.get("/belts/{belt}/damage")
def damage(request: Request, _: Reader, belt: Id, paged: Paged) -> list[DamageOut]:
    """Damage of a belt, mended too, by its place."""
    page = paged.page(room_of(request).register.damage(belt), lambda d: d.damage)
    return [DamageOut.model_validate(d) for d in page]


@router.get("/joints")
def joints(
    request: Request,
    _: Reader,
    conveyor: UUID | None = None,
    state: Annotated[list[State], Query(description="May be repeated.")] = [],  # noqa: B006
    label: Annotated[Text, Query(max_length=120)] = "",
    after: Annotated[Text, Query(max_length=1000, description="`next` of the page before.")] = "",
    limit: Limit = 500,
) -> JointsOut:
    """Joints by label: of a conveyor, in some states, with one label; a page at a time."""
    rows = room_of(request).register.joints(
        conveyor, state, label=label, after=_read_cursor(after) if after else None, limit=limit
    )
    last = rows[-1] if len(rows) == limit else None
    return JointsOut(
        joints=[JointOut.model_validate(j) for j in rows],
        next=_cursor(last.label, last.joint) if last is not None else None,
    )


@router.get("/joints/{joint}")
def joint(request: Request, _: Reader, joint: Id) -> JointOut:
    """One joint."""
    row = room_of(request).register.joint(joint)
    return JointOut.model_validate(_there(row, "joint", joint))


@router.get("/jobs")
def jobs(
    request: Request,
    _: Reader,
    paged: Paged,
    conveyor: UUID | None = None,
    open_only: bool = False,
) -> list[JobOut]:
    """Jobs of a conveyor or all, the newest first; up to 500 where no limit is sent."""
    register, limit = room_of(request).register, paged.limit or 500
    last = register.job(_id(paged.after)) if paged.after else None
    if paged.after and last is None:
        raise InputError(Fault("after", "is no job; accepted is that of `Link`"))
    after = (last.opened, last.job) if last is not None else None
    rows = register.jobs(conveyor, open_only=open_only, limit=limit + 1, after=after)
    if len(rows) > limit:
        rows = rows[:limit]
        paged.goes_on(rows[-1].job)
    return [JobOut.model_validate(j) for j in rows]


@router.get("/jobs/{job}")
def job(request: Request, _: Reader, job: Id) -> JobOut:
    """One job."""
    return JobOut.model_validate(_there(room_of(request).register.job(job), "job", job))


@router.get("/readings")
def readings(
    request: Request,
    _: Reader,
    paged: Paged,
    about: Annotated[UUID, Query(description="A conveyor, belt, joint or job.")],
    since: Annotated[int, Query(ge=0, lt=2**63, description="Only facts after this number.")] = 0,
) -> list[ReadingOut]:
    """Readings of one thing in the order of arrival, corrections applied."""
    facts = room_of(request).register.facts_about(about, since)
    rows = [
        _reading(s, s.what) for s in facts if isinstance(s.what, ReadingTaken) and not s.withdrawn
    ]
    return [*paged.page(rows, lambda r: r.fact)]


@router.get("/people")
def people(request: Request, _: Reader, paged: Paged) -> list[PersonOut]:
    """All people, by name."""
    page = paged.page(room_of(request).register.people(), lambda p: p.person)
    return [PersonOut.model_validate(p) for p in page]


@router.get("/due")
def due(
    request: Request,
    _: Reader,
    paged: Paged,
    before: Annotated[Moment | None, Query(description="Due before; now when left out.")] = None,
    days: Annotated[float, Query(ge=0, le=3653, description="Further days ahead [d].")] = 0.0,
    site: UUID | None = None,
    conveyor: UUID | None = None,
    joint: UUID | None = None,
) -> list[DueOut]:
    """What is due, values left outside their limits until a day too, the longest due first.

    Up to 200 lines where no limit is sent.
    """
    room = room_of(request)
    until: datetime = min((before or room.now()) + timedelta(days=days), LATEST)
    lines = see_due(
        room.register,
        until,
        site=site,
        conveyor=conveyor,
        joint=joint,
        limit=paged.needed(200, _MOST_DUE),
    )
    rows = [
        DueOut.model_validate(
            {name: getattr(line, name) for name in line.__slots__} | {"why": line.why.say()}
        )
        for line in lines
    ]
    return [*paged.page(rows, _line_key, usual=200)]


def _reading(stored: Stored, reading: ReadingTaken) -> ReadingOut:
    return ReadingOut(
        fact=stored.fact.id,
        of=reading.of,
        about=reading.about,
        what=reading.what,
        measure=reading.measure.value,
        value=reading.value,
        typed=reading.typed,
        note=reading.note,
        when=stored.when,
        by=stored.fact.by,
    )


def _id(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError:
        raise InputError(Fault("after", "is no id; accepted is that of `Link`")) from None


def _line_key(line: DueOut) -> str:
    return hashlib.sha256(line.model_dump_json().encode()).hexdigest()[:24]


def _there(row: object, kind: str, id: UUID) -> object:
    if row is None:
        raise NotThereError(kind, f"the register knows no {kind} {id}")
    return row


def _cursor(label: str, joint: UUID) -> str:
    return base64.urlsafe_b64encode(json.dumps([label, str(joint)]).encode()).decode()


def _read_cursor(text: str) -> tuple[str, UUID]:
    try:
        label, joint = json.loads(base64.b64decode(text.encode("ascii"), b"-_", validate=True))
        if not isinstance(label, str) or not label.isprintable():
            raise ValueError
        label.encode()
        return label, UUID(joint)
    except (ValueError, TypeError, AttributeError, binascii.Error, RecursionError):
        say = "is no place to go on from; accepted is `next` of the page before"
        raise InputError(Fault("after", say)) from None
