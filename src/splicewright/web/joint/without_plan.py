"""Pages: a joint without a plan, described by what can be seen of it, so that it can be judged."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID, uuid4

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from splicewright.actions.joint.describe import (
    FIELDS,
    KINDS,
    describe_joint,
    known_joint,
    record_found_joint,
)
from splicewright.errors import Fault, InputError
from splicewright.quantities import Kind, show
from splicewright.store.facts.joint_facts import JointDescribed
from splicewright.store.present.present import ConveyorNow, JointNow
from splicewright.web.app.rendering import render
from splicewright.web.app.visitor import Role, Visitor, needs, room_of, said_by
from splicewright.web.conveyor.conveyor import find_conveyor
from splicewright.web.joint.joint import find_joint

router = APIRouter()
_Crew = Annotated[Visitor, Depends(needs(Role.CREW))]
_OWN = ("label", "place", "sent")
_LENGTHS = ("width", "pitch", "plate_width", "pin")
_FORCES = ("rated", "starting_rated")


async def typed(request: Request) -> FormData:
    """What was typed."""
    return await request.form()


_Typed = Annotated[FormData, Depends(typed)]


@router.get("/conveyors/{conveyor}/found-joint")
def found_form(request: Request, who: _Crew, conveyor: UUID) -> Response:
    """The form for a joint that was found on the belt."""
    there = find_conveyor(room_of(request).register, conveyor)
    return _page(request, who, there, None, {"kind": "hinged"})


@router.post("/conveyors/{conveyor}/found-joint")
def record_found(request: Request, who: _Crew, conveyor: UUID, form: _Typed) -> Response:
    """Record it, and go on to its inspection."""
    room, answers = room_of(request), _answers(form)
    there = find_conveyor(room.register, conveyor)
    try:
        joint = record_found_joint(
            said_by(request, who),
            there,
            answers["label"],
            answers["place"],
            answers,
            by=who.name,
            now=room.now(),
            sent=_id(answers),
            person=who.account,
            device="page",
        )
    except InputError as error:
        return _page(request, who, there, None, answers, error.faults)
    return RedirectResponse(f"/joints/{joint}/inspect", 303)


@router.get("/joints/{joint}/describe")
def describe_form(request: Request, who: _Crew, joint: UUID) -> Response:
    """The form for a joint that is on file without a plan, with what was said of it last."""
    register = room_of(request).register
    there = find_joint(register, joint)
    if there.plan is not None:
        raise InputError(Fault("joint", f"{there.label} has a plan, which says what it is"))
    conveyor = find_conveyor(register, there.conveyor)
    known = known_joint(register, there)
    typed = _as_typed(known.description, who) if known is not None else {"kind": "hinged"}
    return _page(request, who, conveyor, there, typed)


@router.post("/joints/{joint}/describe")
def describe(request: Request, who: _Crew, joint: UUID, form: _Typed) -> Response:
    """Record what it is, and go on to its inspection."""
    room, answers = room_of(request), _answers(form)
    there = find_joint(room.register, joint)
    try:
        describe_joint(
            said_by(request, who),
            joint,
            answers,
            by=who.name,
            now=room.now(),
            sent=_id(answers),
            person=who.account,
            device="page",
        )
    except InputError as error:
        conveyor = find_conveyor(room.register, there.conveyor)
        return _page(request, who, conveyor, there, answers, error.faults)
    return RedirectResponse(f"/joints/{joint}/inspect", 303)


def _answers(form: FormData) -> dict[str, str]:
    """Field -> text, cut to a sane length."""
    answers = {}
    for field in (*FIELDS, *_OWN):
        text = form.get(field, "")
        answers[field] = text[:2000].strip() if isinstance(text, str) else ""
    return answers


def _id(answers: dict[str, str]) -> UUID:
    try:
        return UUID(answers["sent"])
    except ValueError:
        say = "the page did not say which form this is; reload it"
        raise InputError(Fault("sent", say)) from None


def _as_typed(description: JointDescribed, who: Visitor) -> dict[str, str]:
    """What was said last, as somebody would type it."""
    typed = {"kind": "hinged" if description.hinged else "solid", "plates": str(description.plates)}
    typed |= {
        "source": description.source,
        "note": description.note,
        "bolts": str(description.bolts or ""),
    }
    for fields, kind in ((_LENGTHS, Kind.LENGTH), (_FORCES, Kind.WIDTH_FORCE)):
        for field in fields:
            value: float | None = getattr(description, field)
            typed[field] = show(value, kind, who.units) if value is not None else ""
    return typed | {
        "since": f"{description.since:%Y-%m-%d}" if description.since is not None else ""
    }


def _page(
    request: Request,
    who: Visitor,
    conveyor: ConveyorNow,
    joint: JointNow | None,
    answers: dict[str, str],
    faults: tuple[Fault, ...] = (),
) -> Response:
    one: dict[str, Any] = dict.fromkeys((*FIELDS, *_OWN), "") | answers
    one["sent"] = one["sent"] or str(uuid4())
    return render(
        request,
        "joint-without-plan.html",
        status=422 if faults else 200,
        conveyor=conveyor,
        joint=joint,
        one=one,
        kinds=KINDS,
        faults=tuple(f for f in faults if f.key not in one),
        fault_at={f.key: [g for g in faults if g.key == f.key] for f in faults},
        swapped=False,
    )
