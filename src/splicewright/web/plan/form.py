"""Pages: plan a joint in a short form, with the effect of every answer at once."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any
from uuid import UUID, uuid4

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from splicewright.actions.job.step_times import past_shares
from splicewright.actions.plan.from_answers import (
    FIELDS,
    ROUND,
    Draft,
    draft_from_answers,
    plan_from_answers,
)
from splicewright.actions.plan.record import record_job, record_plan, recorded_plan
from splicewright.actions.register.kept_files import KeptRange, kept_conveyor, kept_ranges
from splicewright.errors import Fault, InputError
from splicewright.plant import Damage, Environment, JobKind, JointKind, Tools, Travel
from splicewright.quantities import Kind, read
from splicewright.store import Register
from splicewright.store.present.present import ConveyorNow
from splicewright.web.app.answer_cache import LastAnswers
from splicewright.web.app.rendering import render
from splicewright.web.app.visitor import Role, Visitor, needs, room_of, said_by
from splicewright.web.plan import words

if TYPE_CHECKING:
    from splicewright.job.steps.timing import PastShares
    from splicewright.joint import Range
    from splicewright.plant import Conveyor

router = APIRouter()
_PAST: LastAnswers[PastShares] = LastAnswers(8)
Crew = Annotated[Visitor, Depends(needs(Role.CREW))]

BOXES = 5
"""Boxes for the belt's thickness, from the left edge to the right."""
ROWS = 6
"""Rows for the joints of a round that an empty form shows."""
LONGEST = 200
"""Characters of one answer that are looked at."""
_OWN = ("label", "belt", "place", "ranges", "sent")
"""What the form asks beside the work itself; `sent` tells a plan sent twice from two plans."""
_FIRST = {
    "job": JobKind.ANEW.value,
    "kind": JointKind.HINGED.value,
    "people": "2",
    "tools": Tools.HAND.value,
    "scrapers": "yes",
}
CHOICES: dict[str, Any] = {
    "jobs": list(JobKind),
    "damages": list(Damage),
    "kinds": list(JointKind),
    "travels": list(Travel),
    "environments": list(Environment),
    "tools": list(Tools),
}


async def typed(request: Request) -> FormData:
    """What was typed into the form."""
    return await request.form()


Typed = Annotated[FormData, Depends(typed)]


@dataclass(frozen=True, slots=True)
class _Asked:
    """A conveyor with all that the form of a joint on it needs."""

    now: ConveyorNow
    conveyor: Conveyor
    ranges: tuple[KeptRange, ...]
    past: PastShares

    def chosen(self, answers: dict[str, list[str]]) -> tuple[Range, ...]:
        """The ranges that are ticked."""
        return tuple(k.range for k in self.ranges if k.digest in answers["ranges"])


@router.get("/conveyors/{conveyor}/plan")
def form(request: Request, conveyor: UUID, who: Crew) -> Response:
    """The empty form, with what is taken while nothing is answered."""
    asked = _asked(request, conveyor)
    answers = {field: [_FIRST[field]] if field in _FIRST else [] for field in (*FIELDS, *_OWN)}
    answers["ranges"] = [kept.digest for kept in asked.ranges]
    answers["sent"] = [str(uuid4())]
    answers["label"] = [_next_label(room_of(request).register, conveyor)]
    answers["belt"] = [str(b.belt) for b in room_of(request).register.belts(conveyor)[:1]]
    return _page(request, asked, answers, _draft(asked, answers), who)


@router.post("/conveyors/{conveyor}/plan/answer")
def answer(request: Request, conveyor: UUID, who: Crew, form: Typed) -> Response:
    """What the answers give so far; nothing is recorded."""
    asked = _asked(request, conveyor)
    answers = _answers(form)
    draft = _draft(asked, answers)
    if request.headers.get("hx-request"):
        context = shown(draft, who)
        context |= {"moved": None, "fields": fault_places()}
        return render(request, "plan-answer.html", swapped=True, **context)
    return _page(request, asked, answers, draft, who)


@router.post("/conveyors/{conveyor}/plan")
def make(request: Request, conveyor: UUID, who: Crew, form: Typed) -> Response:
    """Make the plan: it is recorded, and a job is opened for it; sent twice, once."""
    asked, room = _asked(request, conveyor), room_of(request)
    answers = _answers(form)
    faults: list[Fault] = []
    sent = _sent(answers)
    label, belt, place = _where(asked, room.register, answers, faults)
    taken = bool(label) and bool(room.register.joints(conveyor, label=label))
    answers["name"] = [_name(asked.now.name, label, answers)]
    try:
        plan = plan_from_answers(asked.conveyor, answers, asked.chosen(answers), asked.past)
    except InputError as error:
        faults.extend(error.faults)
    else:
        if not plan.work.job.joins:
            done = record_job(
                said_by(request, who),
                plan,
                conveyor=conveyor,
                by=who.name,
                person=who.account,
                now=room.now(),
                device="page",
                sent=sent,
            )
            return RedirectResponse(f"/jobs/{done}", 303)
        # Looked for after the name: whoever finds the name taken by a double tap finds the plan.
        before = recorded_plan(room.register, plan, label, belt, place, sent)
        if before is not None and not faults:
            return RedirectResponse(f"/joints/{before.joint}/plan", 303)
    if taken:
        say = f'"{label}" is a joint of {asked.now.name} already; give another name'
        faults.append(Fault("label", say))
    if faults:
        draft = _draft(asked, answers)
        faulty_draft = Draft(
            draft.plan, tuple({f.key: f for f in (*draft.faults, *faults)}.values())
        )
        return _page(request, asked, answers, faulty_draft, who, status=422)
    record = record_plan(
        said_by(request, who),
        plan,
        conveyor=conveyor,
        label=label,
        by=who.name,
        person=who.account,
        now=room.now(),
        belt=belt,
        place=place,
        device="page",
        sent=sent,
    )
    return RedirectResponse(f"/joints/{record.joint}/plan", 303)


def _name(conveyor: str, label: str, answers: dict[str, list[str]]) -> str:
    """What the job is called: by its joint, or by its kind where it makes none."""
    kind = (answers["job"] or [""])[0]
    joins = kind not in list(JobKind) or JobKind(kind).joins
    return f"{conveyor}, joint {label}" if joins else f"{conveyor}: {kind}"


@router.post("/conveyors/{conveyor}/plan/crew-pack")
def crew_pack_of(request: Request, conveyor: UUID, who: Crew, form: Typed) -> Response:
    """The crew pack of the answers, of any kind of job; nothing is recorded."""
    from splicewright.sheets.crew_pack.pack import crew_pack

    asked = _asked(request, conveyor)
    answers = _answers(form)
    try:
        plan = plan_from_answers(asked.conveyor, answers, asked.chosen(answers), asked.past)
    except InputError as error:
        draft = _draft(asked, answers)
        faulty_draft = Draft(draft.plan, error.faults)
        return _page(request, asked, answers, faulty_draft, who, status=422)
    headers = {"content-disposition": f'attachment; filename="crew-pack-{plan.id}.pdf"'}
    return Response(crew_pack(plan, who.units), media_type="application/pdf", headers=headers)


def _asked(request: Request, conveyor: UUID) -> _Asked:
    register = room_of(request).register
    now = register.conveyor(conveyor)
    if now is None:
        raise HTTPException(404)
    past = _PAST.answer(
        register, room_of(request).now().date(), None, lambda: past_shares(register)
    )
    return _Asked(now, kept_conveyor(register, conveyor), kept_ranges(register, now.site), past)


def _answers(form: FormData) -> dict[str, list[str]]:
    """Field -> texts; uploads and overlong texts are no answers to this form."""
    answers: dict[str, list[str]] = {}
    for field in (*FIELDS, *_OWN):
        texts = [t for t in form.getlist(field) if isinstance(t, str)]
        answers[field] = [t[:LONGEST] for t in texts[:50]]
    return answers


def _draft(asked: _Asked, answers: dict[str, list[str]]) -> Draft:
    return draft_from_answers(asked.conveyor, answers, asked.chosen(answers), asked.past)


def _sent(answers: dict[str, list[str]]) -> UUID:
    """Id of the form; a form without one is taken as sent once."""
    text = (answers["sent"] or [""])[0]
    try:
        answers["sent"] = [text] if text else [str(uuid4())]
        return UUID(answers["sent"][0])
    except ValueError:
        say = "the page did not say which form this is; reload it"
        raise InputError(Fault("sent", say)) from None


def _where(
    asked: _Asked, register: Register, answers: dict[str, list[str]], faults: list[Fault]
) -> tuple[str, UUID | None, float | None]:
    """Name of the joint, its belt and its place on it; what is wrong goes to the faults."""
    label = (answers["label"] or [""])[0].strip()
    if not label or len(label) > 60 or not label.isprintable():
        faults.append(Fault("label", "is missing; accepted is a name of up to 60 letters"))
    belts = {str(b.belt): b for b in register.belts(asked.now.conveyor)}
    chosen = (answers["belt"] or [""])[0]
    belt = belts.get(chosen)
    if chosen and belt is None:
        faults.append(Fault("belt", "is no belt of this conveyor; choose one of the list"))
    place_typed = (answers["place"] or [""])[0].strip()
    place = None
    if place_typed:
        try:
            place = read(place_typed, Kind.DISTANCE)
        except InputError as error:
            faults.append(Fault("place", error.faults[0].sentence))
        else:
            if belt is None:
                faults.append(Fault("place", "stands without a belt; choose the belt it is on"))
            elif not 0 <= place <= belt.length:
                say = f'"{place_typed}" is not on this belt; accepted is 0 to {belt.length:g} m'
                faults.append(Fault("place", say))
    return label, belt.belt if belt else None, place


def _next_label(register: Register, conveyor: UUID) -> str:
    taken = {joint.label for joint in register.joints(conveyor)}
    return next(f"J{n}" for n in range(1, len(taken) + 2) if f"J{n}" not in taken)


def _page(
    request: Request,
    asked: _Asked,
    answers: dict[str, list[str]],
    draft: Draft,
    who: Visitor,
    status: int = 200,
) -> Response:
    thickness = [*answers["thickness"], *[""] * BOXES][: max(BOXES, len(answers["thickness"]))]
    register = room_of(request).register
    return render(
        request,
        "plan-form.html",
        status=status,
        now=asked.now,
        conveyor=asked.conveyor,
        again=None,
        post_to=f"/conveyors/{asked.now.conveyor}/plan",
        moved=None,
        belts=register.belts(asked.now.conveyor),
        ranges=asked.ranges,
        one={field: (texts or [""])[0] for field, texts in answers.items()},
        many=answers,
        thickness=thickness,
        swapped=False,
        rows=max(ROWS, len(answers[ROUND[0]])),
        **CHOICES,
        **shown(draft, who),
    )


def shown(draft: Draft, who: Visitor) -> dict[str, Any]:
    """The answer in words, and the faults by field."""
    from splicewright.sheets.crew_pack.answer import answer as answered

    counted = Counter(fault.key for fault in draft.faults)
    faults = {key: [f for f in draft.faults if f.key == key] for key in counted}
    plan = draft.plan
    if plan is None:
        return {"plan": None, "fault_at": faults, "answer": None}
    texts = answered(plan, who.units)
    return {
        "plan": plan,
        "fault_at": faults,
        "answer": texts,
        "glance": f"{texts['take_up']}, {plan.timing.likely.show()}",
        "numbers": words.numbers(plan, who.units),
        "candidates": words.candidates(plan, who.units),
        "assumptions": words.assumptions(plan, who.units),
    }


def fault_places() -> tuple[str, ...]:
    """Every field with a place for its fault; each is swapped with the answer."""
    boxes = (
        *(f"thickness.{n}" for n in range(1, BOXES + 1)),
        *(f"{field}.{n}" for field in ROUND for n in range(1, ROWS + 1)),
    )
    return (*(f for f in FIELDS if f != "thickness"), "thickness", *boxes)
