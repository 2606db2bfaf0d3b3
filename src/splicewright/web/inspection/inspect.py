"""Pages: inspect a joint by tapping its plates, and see at once whether it can run."""

from __future__ import annotations

import itertools
import threading
from collections import OrderedDict
from typing import TYPE_CHECKING, Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from starlette.background import BackgroundTask
from starlette.datastructures import FormData

from splicewright.actions.inspection.assess_taps import (
    STATES,
    WORN_KEEPS,
    PlateTaps,
    assess_taps,
    looked_at,
    read_taps,
    unsaid,
    warm_up,
)
from splicewright.actions.inspection.record import Closing, new_inspection, record_inspection
from splicewright.errors import Fault, InputError
from splicewright.quantities import Kind, read
from splicewright.store.authority import may_say
from splicewright.store.facts.joint_facts import (
    InspectionClosed,
)
from splicewright.web.app.rendering import render
from splicewright.web.app.visitor import Role, Visitor, needs, room_of, said_by, visitor
from splicewright.web.inspection.look_back import plates_seen, states_of
from splicewright.web.inspection.tapped_joint import (
    LEVELS,
    NotDescribedError,
    TappedJoint,
    tapped_joint,
)
from splicewright.web.job.steps import unit_table
from splicewright.web.job.sync import account_header

if TYPE_CHECKING:
    from splicewright.job.inspection.joint_assessment import JointAssessment

router = APIRouter()
Anybody = Annotated[Visitor, Depends(visitor)]
Crew = Annotated[Visitor, Depends(needs(Role.CREW))]
_FIELD_OF = {
    "what.can_run": "decision",
    "what.not_seen": "not_seen",
    "what.note": "note",
    "what": "decision",
}
"""Fields of the page by what a fact calls them."""
ROWS = 3
"""Empty rows for what is said of single plates."""
_ROW_FIELDS = ("more_end", "more_plate", "more_kept", "more_bolts", "more_note")
_ONE_FIELDS = (
    "worn_keeps",
    "pin_now",
    "pin_new",
    "torn_left",
    "torn_right",
    "breaking",
    "decision",
    "next_after",
    "note",
    "not_seen",
)
_INSPECTIONS = 500
"""Inspections under way that are told apart."""


async def typed(request: Request) -> FormData:
    """What was tapped and typed."""
    return await request.form(max_fields=3000)


Typed = Annotated[FormData, Depends(typed)]


class _Turns:
    """Questions about inspections, worked one at a time; what a later tap replaced is not worked.

    Threads would only slow each other down: the work is the processor's alone.
    """

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self._latest: OrderedDict[UUID, int] = OrderedDict()
        self._count = itertools.count()

    def ask(self, inspection: UUID) -> int:
        """Take a turn."""
        turn = next(self._count)
        self._latest[inspection] = turn
        self._latest.move_to_end(inspection)
        while len(self._latest) > _INSPECTIONS:
            self._latest.popitem(last=False)
        return turn

    def newest(self, inspection: UUID, turn: int) -> bool:
        """Whether nobody asked about that inspection since."""
        return self._latest.get(inspection, turn) == turn


_TURNS = _Turns()


@router.get("/joints/{joint}/inspect")
def form(request: Request, joint: UUID, who: Crew) -> Response:
    """The joint from above; nothing is said of a plate until somebody says it."""
    try:
        here = tapped_joint(request, joint)
    except NotDescribedError:
        return RedirectResponse(f"/joints/{joint}/describe", 303)
    response = _page(request, here, {}, new_inspection())
    response.headers.update(account_header(who))
    if here.tapped is not None:
        # What the first answer needs is worked while the crew looks at the joint.
        response.background = BackgroundTask(warm_up, here.tapped)
    return response


@router.post("/joints/{joint}/inspect/verdict")
def verdict(request: Request, joint: UUID, who: Crew, form: Typed) -> Response:
    """Can it run? Worked anew for every tap; nothing is recorded."""
    here, fields, inspection = tapped_joint(request, joint), _fields(form), _id(form)
    by_script = bool(request.headers.get("hx-request"))
    turn = _TURNS.ask(inspection)
    with _TURNS.lock:
        if by_script and not _TURNS.newest(inspection, turn):
            return Response(status_code=204)  # a later tap has been made: it gets the answer
        seen, assessment, faults = _assessed(here, fields)
    context = _verdict_context(here, seen, assessment, faults, who)
    if by_script:
        return render(
            request,
            "inspection-verdict.html",
            swapped=True,
            places=_places(fields),
            unsaid=unsaid(fields, here.picture.plates),
            **context,
        )
    return _page(request, here, fields, inspection, context)


@router.post("/joints/{joint}/inspections")
def record(request: Request, joint: UUID, who: Crew, form: Typed) -> Response:
    """Record the inspection."""
    here, fields, room = tapped_joint(request, joint), _fields(form), room_of(request)
    inspection = _id(form)
    with _TURNS.lock:
        seen, assessment, faults = _assessed(here, fields)
    closing = _closing(here, fields, who, faults)
    if seen is not None and not faults:
        try:
            record_inspection(
                said_by(request, who),
                joint,
                inspection,
                seen,
                closing,
                assessment if assessment is not None and seen.anything else None,
                by=who.name,
                now=room.now(),
                person=who.account,
                device="page",
            )
        except InputError as error:
            faults.extend(Fault(_FIELD_OF.get(f.key, f.key), f.sentence) for f in error.faults)
    if faults:
        context = _verdict_context(here, seen, assessment, faults, who)
        return _page(request, here, fields, inspection, context, status=422)
    return RedirectResponse(f"/joints/{joint}/inspections/{inspection}?sent=1", 303)


def _fields(form: FormData) -> dict[str, list[str]]:
    """Field -> texts, cut to a sane length."""
    fields: dict[str, list[str]] = {}
    for key, value in form.multi_items():
        if isinstance(value, str) and key not in {"csrf", "inspection"}:
            fields.setdefault(key[:40], []).append(value[:2000])
    return fields


def _id(form: FormData) -> UUID:
    try:
        return UUID(str(form.get("inspection", "")))
    except ValueError:
        say = "the page did not say which inspection this is; reload it"
        raise InputError(Fault("inspection", say)) from None


def _assessed(
    here: TappedJoint, fields: dict[str, list[str]]
) -> tuple[PlateTaps | None, JointAssessment | None, list[Fault]]:
    """What was seen and what follows from it; what is wrong instead, by field."""
    try:
        seen = read_taps(fields, here.picture.plates, here.now.label, invented=here.invented)
    except InputError as error:
        return None, None, list(error.faults)
    if here.tapped is None:
        return seen, None, []
    try:
        return seen, assess_taps(here.tapped, seen), []
    except InputError as error:
        return seen, None, list(error.faults)


def _closing(
    here: TappedJoint, fields: dict[str, list[str]], who: Visitor, faults: list[Fault]
) -> Closing:
    one = {field: (fields.get(field) or [""])[0].strip() for field in _ONE_FIELDS}
    ends, sound = looked_at(fields, here.picture.plates)
    decided = {"": None, "open": None, "stop": False, "run": True}
    if one["decision"] not in decided:
        faults.append(Fault("decision", "is not known; accepted is open, must not run or may run"))
    joint, decision = here.now.joint, decided.get(one["decision"])
    fault = may_say(who.actor, InspectionClosed(joint, joint, decision))
    if fault is not None:
        faults.append(Fault("decision", fault.sentence))
    after = None
    if one["next_after"]:
        try:
            after = read(one["next_after"], Kind.TIME)
        except InputError as error:
            faults.append(Fault("next_after", error.faults[0].sentence))
        else:
            if not 0 < after <= 10 * 366 * 86400:
                say = f'"{one["next_after"]}" is not accepted; accepted is up to ten years'
                faults.append(Fault("next_after", say))
    if decision and not one["not_seen"]:
        say = (
            'is empty; say what was not looked at before it may run on; accepted is also "nothing"'
        )
        faults.append(Fault("not_seen", say))
    return Closing(ends, here.picture.plates, decision, after, one["note"], sound, one["not_seen"])


def _page(
    request: Request,
    here: TappedJoint,
    fields: dict[str, list[str]],
    inspection: UUID,
    context: dict[str, Any] | None = None,
    status: int = 200,
) -> Response:
    rows = [
        list(row)
        for row in zip(*(_column(fields, name) for name in _ROW_FIELDS), strict=True)
        if any(row[1:])
    ]
    rows += [["", "", "", "", ""]] * ROWS
    return render(
        request,
        "inspection-form.html",
        status=status,
        joint=here.now,
        conveyor=room_of(request).register.conveyor(here.now.conveyor),
        picture=here.picture,
        inspection=inspection,
        states={key: (value or [""])[0] for key, value in fields.items() if "." in key},
        all_states=STATES,
        one={field: (fields.get(field) or [""])[0] for field in _ONE_FIELDS},
        looked=fields.get("looked", []),
        rows=rows,
        unsaid=unsaid(fields, here.picture.plates) if context is not None else 0,
        pin=here.pin,
        condensed=here.condensed,
        kinds=unit_table({Kind.LENGTH, Kind.SHARE, Kind.TIME, Kind.WIDTH_FORCE}),
        last=here.last,
        last_states=states_of(here.last) if here.last is not None else {},
        last_found=plates_seen(here.last, None) if here.last is not None else (),
        worn_keeps=WORN_KEEPS,
        swapped=False,
        **(
            context
            or {
                "assessment": None,
                "fault_at": {},
                "level": None,
                "asked": False,
                "known": here.known,
                "missing": here.missing,
            }
        ),
    )


def _column(fields: dict[str, list[str]], name: str) -> list[str]:
    longest = max(len(fields.get(each, ())) for each in _ROW_FIELDS)
    return (fields.get(name, []) + [""] * longest)[:longest]


def _verdict_context(
    here: TappedJoint,
    seen: PlateTaps | None,
    assessment: JointAssessment | None,
    faults: list[Fault],
    who: Visitor,
) -> dict[str, Any]:
    by_field = {fault.key: [f for f in faults if f.key == fault.key] for fault in faults}
    beside = {"fault_at": by_field, "asked": True, "known": here.known, "missing": here.missing}
    if assessment is None:
        return {"assessment": None, "level": None} | beside
    return beside | {
        "assessment": assessment,
        "level": LEVELS[assessment.verdict.name] if seen is not None and seen.anything else None,
        "reasons": [sentence.say(who.units) for sentence in assessment.reasons],
        "assumptions": [sentence.say(who.units) for sentence in assessment.assumptions],
    }


def _places(fields: dict[str, list[str]]) -> tuple[str, ...]:
    """Every field with a place for its fault; each is swapped with the verdict."""
    rows = len(_column(fields, "more_end"))
    more = tuple(f"{name}.{row}" for row in range(1, rows + 1) for name in _ROW_FIELDS[:4])
    return (*_ONE_FIELDS[:6], *more)
