"""Pages: plan a job in hand again, with what moves shown before it is recorded."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from splicewright.actions.job.read import read_job
from splicewright.actions.plan.again import (
    answers_of,
    draft_again,
    measured_in,
    record_again,
    why_not_again,
    with_measured,
)
from splicewright.actions.plan.from_answers import FIELDS, ROUND, Draft
from splicewright.actions.register.kept_files import KeptRange, kept_conveyor, kept_ranges
from splicewright.errors import InputError
from splicewright.store.facts.job_facts import StepTicked
from splicewright.store.present.job_view import JobView
from splicewright.web.app.rendering import render
from splicewright.web.app.visitor import Role, Visitor, needs, room_of, said_by
from splicewright.web.plan.form import BOXES, CHOICES, LONGEST, ROWS, fault_places, shown, typed
from splicewright.web.plan.versions import PlanMoved, plan_moved

if TYPE_CHECKING:
    from splicewright.job import JointPlan
    from splicewright.plant import Conveyor

router = APIRouter()
Lead = Annotated[Visitor, Depends(needs(Role.LEAD))]
Typed = Annotated[FormData, Depends(typed)]
_OWN = ("ranges", "why", "seen")


@dataclass(frozen=True, slots=True)
class _Asked:
    """A job with all that planning it again needs."""

    view: JobView
    plan: JointPlan
    conveyor: Conveyor
    ranges: tuple[KeptRange, ...]

    @property
    def done(self) -> set[str]:
        """Steps that count as done or signed now."""
        sheet = self.view.sheet
        ticked = {
            step
            for (step, _), answer in sheet.ticks.items()
            if isinstance(answer.last.what, StepTicked) and answer.last.what.done
        }
        return ticked | set(sheet.hold_points)

    def draft(self, answers: dict[str, list[str]], who: Visitor) -> Draft:
        """What the answers give."""
        chosen = tuple(k.range for k in self.ranges if k.digest in answers["ranges"])
        return draft_again(self.plan, self.conveyor, answers, who.units, chosen)


@router.get("/jobs/{job}/plan-again")
def form(request: Request, job: UUID, who: Lead, measured: str = "") -> Response:
    """The answers of the job's plan; with `measured=yes`, what the crew measured in place."""
    asked = _asked(request, job)
    answers = answers_of(asked.plan.work, who.units)
    if measured:
        answers = with_measured(answers, measured_in(asked.view), who.units)
    answers |= {
        "ranges": [kept.digest for kept in asked.ranges],
        "why": ["what was measured differs from what was planned with"] if measured else [],
        "seen": [str(len(asked.view.versions))],
    }
    return _page(request, asked, answers, asked.draft(answers, who), who)


@router.post("/jobs/{job}/plan-again/answer")
def answer(request: Request, job: UUID, who: Lead, form: Typed) -> Response:
    """What the answers give so far, and what moves; nothing is recorded."""
    asked = _asked(request, job)
    answers = _answers(form)
    draft = asked.draft(answers, who)
    if request.headers.get("hx-request"):
        context = shown(draft, who) | {"moved": _moved(asked, draft, who)}
        return render(request, "plan-answer.html", swapped=True, fields=fault_places(), **context)
    return _page(request, asked, answers, draft, who)


@router.post("/jobs/{job}/plan-again")
def make(request: Request, job: UUID, who: Lead, form: Typed) -> Response:
    """Record the next version of the job's plan."""
    asked, room = _asked(request, job), room_of(request)
    answers = _answers(form)
    draft = asked.draft(answers, who)
    seen = (answers["seen"] or [""])[0]
    faults = list(draft.faults)
    if draft.plan is not None and not faults:
        if asked.plan.id == draft.plan.id and seen == str(len(asked.view.versions) - 1):
            return RedirectResponse(f"/jobs/{job}#moved", 303)  # sent twice
        try:
            record_again(
                said_by(request, who),
                job,
                draft.plan,
                (answers["why"] or [""])[0],
                seen=int(seen) if seen.isascii() and seen.isdigit() else 0,
                by=who.name,
                now=room.now(),
                person=who.account,
                device="page",
            )
        except InputError as error:
            faults += error.faults
        else:
            return RedirectResponse(f"/jobs/{job}#moved", 303)
    faulty_draft = Draft(draft.plan, tuple(faults))
    return _page(request, asked, answers, faulty_draft, who, status=422)


def _asked(request: Request, job: UUID) -> _Asked:
    register = room_of(request).register
    view = read_job(register, job)
    if view is None:
        raise HTTPException(404)
    faults = why_not_again(view)
    if faults or view.plan is None:
        raise InputError(*faults)
    return _Asked(
        view,
        view.plan,
        kept_conveyor(register, view.conveyor.conveyor),
        kept_ranges(register, view.conveyor.site),
    )


def _answers(form: FormData) -> dict[str, list[str]]:
    """Field -> texts; uploads are no answers to this form."""
    answers: dict[str, list[str]] = {}
    for field in (*FIELDS, *_OWN):
        texts = [t for t in form.getlist(field) if isinstance(t, str)]
        answers[field] = [t[: 2000 if field == "why" else LONGEST] for t in texts[:50]]
    return answers


def _moved(asked: _Asked, draft: Draft, who: Visitor) -> PlanMoved | None:
    if draft.plan is None:
        return None
    return plan_moved(asked.plan, draft.plan, asked.done, who.units)


def _page(
    request: Request,
    asked: _Asked,
    answers: dict[str, list[str]],
    draft: Draft,
    who: Visitor,
    status: int = 200,
) -> Response:
    thickness = [*answers["thickness"], *[""] * BOXES][: max(BOXES, len(answers["thickness"]))]
    context: dict[str, Any] = {
        "now": asked.view.conveyor,
        "again": asked.view,
        "conveyor": asked.conveyor,
        "belts": (),
        "ranges": asked.ranges,
        "one": {"label": "", "sent": "", "place": "", "belt": ""}
        | {field: (texts or [""])[0] for field, texts in answers.items()},
        "many": answers,
        "thickness": thickness,
        "swapped": False,
        "rows": max(ROWS, len(answers[ROUND[0]])),
        "post_to": f"/jobs/{asked.view.job.job}/plan-again",
        "moved": _moved(asked, draft, who),
    }
    return render(
        request, "plan-form.html", status=status, **context, **CHOICES, **shown(draft, who)
    )
