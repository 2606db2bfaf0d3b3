"""Pages: add a conveyor by answering, and change a recorded one answer by answer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from splicewright.actions.conveyor.from_answers import (
    GROUPS,
    ConveyorDraft,
    answers_in,
    asked_of,
    draft_conveyor,
)
from splicewright.actions.conveyor.record import record_conveyor
from splicewright.actions.files.check import Checked, check_file
from splicewright.actions.plan.again import answers_of, draft_again
from splicewright.actions.register.kept_files import kept_plan, kept_ranges
from splicewright.errors import Fault, InputError
from splicewright.files.typed_file import InMemory
from splicewright.loop import lay_out
from splicewright.quantities import System, Worksheet
from splicewright.store import Register
from splicewright.tension import demand
from splicewright.web.app.rendering import render
from splicewright.web.app.visitor import Role, Visitor, needs, room_of, said_by
from splicewright.web.conveyor.conveyor import find_conveyor
from splicewright.web.plan.versions import FigureMoved, PlanMoved, plan_moved

if TYPE_CHECKING:
    from splicewright.plant import Conveyor
    from splicewright.store.present.present import ConveyorNow

router = APIRouter()
_Lead = Annotated[Visitor, Depends(needs(Role.LEAD))]
_LONGEST = 120
"""Characters of one answer that are looked at."""
_JOBS = 3
"""Open jobs whose plan is held against the changed conveyor."""
_NAME = "the answers"


async def _form(request: Request) -> FormData:
    """What was typed into the form."""
    return await request.form()


_Typed = Annotated[FormData, Depends(_form)]


@dataclass(frozen=True, slots=True)
class _JobMoved:
    """An open job, and what its plan would be with the changed conveyor."""

    name: str
    job: UUID
    moved: PlanMoved


@router.get("/conveyors/new")
def new_page(request: Request, who: _Lead, site: str = "") -> Response:
    """The questions of a new conveyor."""
    return _page(request, who, None, {"site": site[:_LONGEST]}, draft_conveyor({}), fresh=True)


@router.post("/conveyors/new/answer")
def new_answer(request: Request, who: _Lead, form: _Typed) -> Response:
    """What the answers give so far; nothing is recorded."""
    answers = _answers(form)
    return _page(request, who, None, answers, draft_conveyor(answers))


@router.post("/conveyors/new")
def add(request: Request, who: _Lead, form: _Typed) -> Response:
    """Record the conveyor that the answers describe."""
    answers = _answers(form)
    draft = draft_conveyor(answers)
    faults = draft.faults
    if draft.conveyor is not None:
        done = _recorded(request, who, draft, None)
        if isinstance(done, UUID):
            return RedirectResponse(f"/conveyors/{done}", 303)
        faults = done
    return _page(request, who, None, answers, draft, faults, 422)


@router.get("/conveyors/{conveyor}/edit")
def edit_page(request: Request, who: _Lead, conveyor: UUID) -> Response:
    """The answers as the conveyor's file has them."""
    there, text = _kept(request, conveyor)
    answers = answers_in(text)
    return _page(request, who, there, answers, draft_conveyor(answers, text), fresh=True)


@router.post("/conveyors/{conveyor}/edit/answer")
def edit_answer(request: Request, who: _Lead, conveyor: UUID, form: _Typed) -> Response:
    """What changes with these answers; nothing is recorded."""
    there, text = _kept(request, conveyor)
    answers = _answers(form)
    return _page(request, who, there, answers, draft_conveyor(answers, text))


@router.post("/conveyors/{conveyor}/edit")
def edit(request: Request, who: _Lead, conveyor: UUID, form: _Typed) -> Response:
    """Record the changed file as the conveyor's next version."""
    there, text = _kept(request, conveyor)
    answers = _answers(form)
    draft = draft_conveyor(answers, text)
    faults = draft.faults
    if draft.conveyor is not None and draft.text != text:
        done = _recorded(request, who, draft, conveyor)
        if isinstance(done, UUID):
            return RedirectResponse(f"/conveyors/{done}", 303)
        faults = done
    elif draft.conveyor is not None:
        faults = (Fault("", "nothing is changed"),)
    return _page(request, who, there, answers, draft, faults, 422)


def _recorded(
    request: Request, who: Visitor, draft: ConveyorDraft, only: UUID | None
) -> UUID | tuple[Fault, ...]:
    room = room_of(request)
    try:
        return record_conveyor(
            said_by(request, who),
            InMemory("conveyor.toml", draft.text.encode()),
            by=who.name,
            person=who.account,
            now=room.now(),
            device="page",
            only=only or "new",
        ).conveyor
    except InputError as error:
        fields = {"conveyor.name": "name", "conveyor.site": "site"}
        return tuple(Fault(fields.get(f.key, f.key), f.sentence) for f in error.faults)


def _kept(request: Request, conveyor: UUID) -> tuple[ConveyorNow, str]:
    register = room_of(request).register
    there = find_conveyor(register, conveyor)
    if there.file is None:
        raise HTTPException(404)
    return there, register.content(there.file).data.decode()


def _answers(form: FormData) -> dict[str, str]:
    return {
        asked.field: text[:_LONGEST]
        for _, group in GROUPS
        for asked in group
        if isinstance(text := form.get(asked.field, ""), str)
    }


def _page(
    request: Request,
    who: Visitor,
    there: ConveyorNow | None,
    answers: dict[str, str],
    draft: ConveyorDraft,
    faults: tuple[Fault, ...] | None = None,
    status: int = 200,
    *,
    fresh: bool = False,
) -> Response:
    register = room_of(request).register
    all_faults = draft.faults if faults is None else faults
    kept = _kept(request, there.conveyor)[1] if there is not None else ""
    fields = {a.field for a in asked_of(kept)}
    shown_faults = () if fresh and there is None else all_faults
    # What is still open is asked for by the form itself; said as a fault when it is sent.
    shown_faults = tuple(f for f in shown_faults if status == 422 or "is missing" not in f.sentence)
    swapped = bool(request.headers.get("hx-request"))
    return render(
        request,
        "conveyor-draft.html" if swapped else "conveyor-answers.html",
        status=200 if swapped else status,
        conveyor=there,
        groups=[
            (title, [a for a in group if a.field in fields])
            for title, group in GROUPS
            if any(a.field in fields for a in group)
        ],
        answers=answers,
        fault_at={f.key: [f] for f in shown_faults},
        faults=[f for f in shown_faults if f.key not in fields],
        sites=register.sites() if there is None else (),  # a conveyor stays where it is
        post_to=f"/conveyors/{there.conveyor}/edit" if there else "/conveyors/new",
        fields=sorted(fields),
        swapped=swapped,
        open=sum(1 for f in draft.faults if "is missing" in f.sentence),
        **_shown(register, there, kept, draft, who.units, fresh=fresh),
    )


def _shown(
    register: Register,
    there: ConveyorNow | None,
    kept: str,
    draft: ConveyorDraft,
    units: System,
    *,
    fresh: bool,
) -> dict[str, Any]:
    """What the answers give: figures, what was assumed, what moves in plans of open jobs."""
    if draft.conveyor is None:
        return {"figures": [], "checked": None, "jobs": []}
    now = _figures(draft.conveyor, units)
    before: dict[str, str] = {}
    jobs: list[_JobMoved] = []
    if there is not None:
        as_kept = draft_conveyor(answers_in(kept), kept).conveyor
        before = _figures(as_kept, units) if as_kept is not None else {}
        if not fresh and draft.text != kept:
            jobs = _jobs(register, there, draft.conveyor, units)
    figures = [FigureMoved(name, before.get(name, ""), value) for name, value in now.items()]
    return {"figures": figures, "checked": _checked(draft), "jobs": jobs}


def _checked(draft: ConveyorDraft) -> Checked:
    return check_file(InMemory("conveyor.toml", draft.text.encode()))


def _figures(conveyor: Conveyor, units: System) -> dict[str, str]:
    sheet = Worksheet()
    path = lay_out(conveyor, sheet)
    asked = demand(conveyor, sheet)
    return {
        "belt, once round": path.belt_length.show(units),
        "running tension": asked.running.show(units),
        "starting tension": asked.starting.show(units),
    }


def _jobs(
    register: Register, there: ConveyorNow, conveyor: Conveyor, units: System
) -> list[_JobMoved]:
    """The plans of open jobs as they would be with the changed conveyor."""
    ranges = tuple(k.range for k in kept_ranges(register, there.site))
    moved_jobs = []
    for job in register.jobs(there.conveyor, open_only=True, limit=_JOBS):
        kept = kept_plan(register, job.joint) if job.joint is not None else None
        if kept is None:
            continue
        plan = kept[1]
        after = draft_again(plan, conveyor, answers_of(plan.work, units), units, ranges).plan
        if after is not None:
            moved_jobs.append(_JobMoved(job.name, job.job, plan_moved(plan, after, (), units)))
    return moved_jobs
