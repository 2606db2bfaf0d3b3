"""Pages: how long a conveyor's belt and joints last, one joint's own outlook, readings taken."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated, Literal
from urllib.parse import quote
from uuid import UUID

from fastapi import APIRouter, Depends, Form, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from splicewright.actions.life.study import study_recorded_lives
from splicewright.actions.wear.forecast import forecast_recorded_wear
from splicewright.actions.wear.question import WEAR
from splicewright.actions.wear.record_reading import record_reading
from splicewright.errors import Fault, InputError
from splicewright.history.life.few_failures import held_words
from splicewright.history.life.study import LifeStudy
from splicewright.history.wear.study import WearStudy
from splicewright.sheets.pages.document import Document
from splicewright.sheets.pages.report import printed
from splicewright.sheets.reports.fleet import TONES, line_reasons
from splicewright.sheets.reports.life import life_report
from splicewright.sheets.reports.wear import place_sections, wear_report
from splicewright.store import State, Stream
from splicewright.store.present.present import JointNow
from splicewright.web.app.answer_cache import LastAnswers, of_conveyor
from splicewright.web.app.document import Picture, drawing, pictures_at
from splicewright.web.app.rendering import file_sent, render
from splicewright.web.app.visitor import Role, Visitor, needs, room_of, said_by, visitor
from splicewright.web.conveyor.conveyor import find_conveyor
from splicewright.web.fleet.fleet import study_of
from splicewright.web.joint.joint import find_joint
from splicewright.web.plan import words

router = APIRouter()
_Who = Annotated[Visitor, Depends(visitor)]
_Crew = Annotated[Visitor, Depends(needs(Role.CREW))]
_Text = Annotated[str, Form(max_length=400)]
_WEAR: LastAnswers[tuple[WearStudy | None, str]] = LastAnswers(200)


@router.get("/conveyors/{conveyor}/forecast")
def conveyor_forecast(
    request: Request, who: _Who, conveyor: UUID, limit: str = "", recorded: str = ""
) -> Response:
    """Wear of a conveyor's belt and joints, and how long its joints last."""
    return _page(request, who, conveyor, limit[:40], message=_confirmation(recorded))


@router.post("/conveyors/{conveyor}/readings")
def take_reading(
    request: Request,
    who: _Crew,
    conveyor: UUID,
    what: _Text = "",
    value: _Text = "",
    note: _Text = "",
    joint: _Text = "",
) -> Response:
    """Record what was read at a conveyor, or at one of its joints."""
    room = room_of(request)
    find_conveyor(room.register, conveyor)
    typed = {"what": what, "value": value, "note": note, "joint": joint}
    try:
        of, about = Stream.CONVEYOR, conveyor
        if joint:
            of, about = Stream.JOINT, _joint_of(request, conveyor, joint)
        record_reading(
            said_by(request, who),
            of,
            about,
            what,
            value,
            note=note,
            by=who.name,
            now=room.now(),
            person=who.account,
            device="page",
        )
    except InputError as error:
        return _page(request, who, conveyor, "", faults=error.faults, typed=typed)
    return RedirectResponse(f"/conveyors/{conveyor}/forecast?recorded=yes", 303)


@router.get("/conveyors/{conveyor}/forecast/{name}.svg")
def forecast_picture(
    request: Request, who: _Who, conveyor: UUID, name: str, limit: str = "", phone: bool = False
) -> Response:
    """Readings, line and band of one place, or the share of joints still good over age.

    phone : drawn for its width
    """
    return drawing(_report(request, who, conveyor, name, limit), name, phone=phone)


@router.get("/conveyors/{conveyor}/forecast/{report}.pdf")
def report_pdf(
    request: Request, who: _Who, conveyor: UUID, report: Literal["wear", "life"], limit: str = ""
) -> Response:
    """The report on wear or on life."""
    return file_sent(printed(_report(request, who, conveyor, report, limit)), f"{report}.pdf")


def _report(request: Request, who: Visitor, conveyor: UUID, name: str, limit: str) -> Document:
    """The report that a drawing or file of this name is of."""
    if name == "life":
        life = _life(request, conveyor)
        if life is not None:
            return life_report(life, who.units)
    else:
        wear = _wear(request, conveyor, limit[:40])[0]
        if wear is not None:
            return wear_report(wear, who.units)
    raise HTTPException(404)


@router.get("/joints/{joint}/forecast")
def joint_forecast(request: Request, who: _Who, joint: UUID) -> Response:
    """What is left of one joint, and why."""
    room = room_of(request)
    there = find_joint(room.register, joint)
    conveyor = find_conveyor(room.register, there.conveyor)
    fleet = study_of(request, {})
    line = next((n for n in fleet.lines if n.id == str(joint)), None)
    wear = _wear(request, there.conveyor, "")[0]
    worn = None
    if wear is not None:
        sections = [
            section
            for number, place in enumerate(wear.places, 1)
            if place.series.joint == str(joint)
            for section in place_sections(wear, number, who.units)
        ]
        worn = replace(wear_report(wear, who.units), sections=tuple(sections))
    return render(
        request,
        "joint-forecast.html",
        joint=there,
        conveyor=conveyor,
        fleet=fleet,
        line=line,
        why=line_reasons(line, who.units) if line else "",
        look=TONES[line.urgency] if line else "",
        worn=worn if worn is not None and worn.sections else None,
        pictures=_pictures(worn, there.conveyor, ""),
        finite=math.isfinite,
    )


def _pictures(worn: Document | None, conveyor: UUID, limit: str) -> Mapping[str, Picture]:
    query = f"?limit={quote(limit)}" if limit else ""
    return pictures_at(worn, f"/conveyors/{conveyor}/forecast", query) if worn else {}


def _page(
    request: Request,
    who: Visitor,
    conveyor: UUID,
    limit: str,
    *,
    message: str = "",
    faults: tuple[Fault, ...] = (),
    typed: dict[str, str] | None = None,
) -> Response:
    room = room_of(request)
    there = find_conveyor(room.register, conveyor)
    wear, no_wear = _wear(request, conveyor, limit)
    worn = wear_report(wear, who.units) if wear is not None else None
    fleet = study_of(request, {})
    lines = [n for n in fleet.lines if n.joint and n.conveyor_id == str(conveyor)]
    known = [n for n in lines if math.isfinite(n.chance)]
    own = next((c for c in fleet.conveyors if c.id == str(conveyor)), None)
    return render(
        request,
        "forecast.html",
        status=422 if faults else 200,
        conveyor=there,
        worn=worn,
        pictures=_pictures(worn, conveyor, limit),
        no_wear=no_wear,
        fleet=fleet,
        own=own,
        finite=math.isfinite,
        limit=limit,
        notice=message,
        places=[p.series.place for p in wear.places] if wear else [],
        lines=words.explained(WEAR.worksheet(wear) if wear else None, who.units),
        notes=wear.notes if wear else (),
        joints=lines,
        looks=TONES,
        none_known=not known,
        faults=faults,
        typed={"what": "", "value": "", "note": "", "joint": ""} | (typed or {}),
        in_belt=_in_belt(request, conveyor),
        failed=own is not None and own.failures > 0,
        held=held_words(own.failures) if own is not None else "",
    )


def _wear(request: Request, conveyor: UUID, limit: str) -> tuple[WearStudy | None, str]:
    """The wear study, or why there is none."""
    room = room_of(request)
    register, now = room.register, room.now()
    find_conveyor(register, conveyor)

    def forecast() -> tuple[WearStudy | None, str]:
        try:
            return forecast_recorded_wear(register, now, conveyor=conveyor, limit=limit), ""
        except InputError as error:
            # "The register holds no ...": such a fault's sentence goes on from its key.
            names = (f"{f.key}:" if f.key != "register" else "the register" for f in error.faults)
            named = zip(names, error.faults, strict=True)
            return None, "; ".join(f"{name} {f.sentence}" for name, f in named)

    asked = (conveyor, limit)
    return _WEAR.answer(
        register, now.date(), asked, forecast, lambda _: of_conveyor(register, conveyor)
    )


def _life(request: Request, conveyor: UUID) -> LifeStudy | None:
    room = room_of(request)
    find_conveyor(room.register, conveyor)
    try:
        return study_recorded_lives(room.register, room.now(), conveyor=conveyor)
    except InputError:
        return None


def _in_belt(request: Request, conveyor: UUID) -> list[JointNow]:
    states = (State.BUILT, State.RUNNING, State.SUSPENDED)
    return list(room_of(request).register.joints(conveyor, states, limit=500))


def _joint_of(request: Request, conveyor: UUID, joint: str) -> UUID:
    for there in _in_belt(request, conveyor):
        if str(there.joint) == joint:
            return there.joint
    raise InputError(Fault("joint", "is no joint in this belt; choose one of the list"))


def _confirmation(recorded: str) -> str:
    return "Recorded. The forecast below includes it." if recorded else ""
