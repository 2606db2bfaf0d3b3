"""Pages: a recorded plan, every number of it explained, its crew pack, dossier and drawings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Literal
from urllib.parse import urlencode
from uuid import UUID

from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import Response

from splicewright.actions.job.left_outside import left_outside_of
from splicewright.actions.register.kept_files import kept_plan
from splicewright.actions.register.witness import witness_of_plan
from splicewright.web.app.rendering import file_sent, render
from splicewright.web.app.visitor import Visitor, room_of, visitor
from splicewright.web.plan import loads, words
from splicewright.web.plan.packs import PackShelf, PackState, Wanted

if TYPE_CHECKING:
    from splicewright.actions.folder.writing import PaperName
    from splicewright.job import JointPlan
    from splicewright.quantities import System

router = APIRouter()
Anybody = Annotated[Visitor, Depends(visitor)]
PATIENCE = 6.0
"""How long a download waits for its file before it tells that it is being drawn [s]."""
_MEDIA = {
    "pdf": "application/pdf",
    "svg": "image/svg+xml",
    "dxf": "image/vnd.dxf",
    "json": "application/json",
}
_SHELF = PackShelf()


@router.get("/joints/{joint}/plan")
def plan_page(request: Request, joint: UUID, who: Anybody) -> Response:
    """The newest plan of a joint."""
    from splicewright.sheets.crew_pack.answer import answer
    from splicewright.sheets.crew_pack.crew import isolation

    register = room_of(request).register
    digest, plan = _plan(request, joint)
    there = register.joint(joint)
    assert there is not None  # it has a plan
    jobs = [j for j in register.jobs(there.conveyor) if j.joint == joint]
    return render(
        request,
        "plan-page.html",
        joint=there,
        conveyor=register.conveyor(there.conveyor),
        jobs=jobs,
        plan=plan,
        has_plates=loads.has_plates(plan),
        loads=loads.told_at_once(digest, who.units),
        answer=answer(plan, who.units),
        isolation=isolation(plan, who.units),
        numbers=words.numbers(plan, who.units),
        candidates=words.candidates(plan, who.units),
        assumptions=words.assumptions(plan, who.units),
    )


@router.get("/joints/{joint}/plan/why")
def worksheet(request: Request, joint: UUID, who: Anybody) -> Response:
    """Every number of the plan."""
    _, plan = _plan(request, joint)
    there = room_of(request).register.joint(joint)
    lines = words.worksheet(plan.worksheet, who.units)
    assert there is not None  # it has a plan
    return render(
        request,
        "plan-worksheet.html",
        title=f"All numbers of {plan.mark}",
        lines=lines,
        back=f"/joints/{joint}/plan",
        back_word=f"Plan of {there.label}",
        why=f"/joints/{joint}/plan/why",
    )


@router.get("/joints/{joint}/plan/why/{key}")
def explain(request: Request, joint: UUID, key: str, who: Anybody) -> Response:
    """One number: its formula, its inputs, their origin, down to the last."""
    _, plan = _plan(request, joint)
    there = room_of(request).register.joint(joint)
    if key not in set(plan.worksheet.keys()):
        raise HTTPException(404)
    lines = words.why(plan.worksheet, key, who.units)
    assert there is not None  # it has a plan
    return render(
        request,
        "plan-why.html",
        lines=lines,
        back=f"/joints/{joint}/plan",
        back_word=f"Plan of {there.label}",
        why=f"/joints/{joint}/plan/why",
        query="",
    )


@router.get("/joints/{joint}/plan/files")
def files(
    request: Request,
    joint: UUID,
    who: Anybody,
    paper: Literal["A4", "Letter"] = "A4",
    units: Literal["metric", "inch"] | None = None,
) -> Response:
    """The files of the job; they are drawn when somebody asks."""
    state = _asked(request, joint, units or who.units, paper)
    by_htmx = bool(request.headers.get("hx-request"))
    names = [(name, words.CALLED.get(name, name)) for name in sorted(state.files, key=_place)]
    response = render(
        request,
        "plan-files.html" if by_htmx else "plan-files-page.html",
        joint=room_of(request).register.joint(joint),
        state=state,
        names=names,
        paper=paper,
        chosen=units or who.units,
        query=urlencode({"paper": paper, "units": units or who.units}),
    )
    if not by_htmx and state.state == "drawing":
        response.headers["Refresh"] = "2"
    return response


@router.get("/joints/{joint}/plan/files/{name}")
def file(
    request: Request,
    joint: UUID,
    name: str,
    who: Anybody,
    paper: Literal["A4", "Letter"] = "A4",
    units: Literal["metric", "inch"] | None = None,
) -> Response:
    """One file of the pack."""
    state = _asked(request, joint, units or who.units, paper, PATIENCE)
    if state.state != "ready":
        return files(request, joint, who, paper, units)
    if name not in state.files:
        raise HTTPException(404)
    there = room_of(request).register.joint(joint)
    assert there is not None  # it has a plan
    label = "".join(c if c.isascii() and c.isalnum() else "-" for c in there.label)
    ending = name.rpartition(".")[2]
    sent = state.files[name], f"{label}-{name}", _MEDIA[ending]
    return file_sent(*sent, open_it=ending in {"pdf", "svg"})


def _plan(request: Request, joint: UUID) -> tuple[str, JointPlan]:
    register = room_of(request).register
    if register.joint(joint) is None:
        raise HTTPException(404)
    kept = kept_plan(register, joint)
    if kept is None:
        raise HTTPException(404)
    return kept


def _asked(
    request: Request, joint: UUID, units: System, paper: PaperName, wait: float = 0.0
) -> PackState:
    digest, plan = _plan(request, joint)
    register = room_of(request).register
    left = left_outside_of(register, joint)
    witness = witness_of_plan(register, joint, digest)
    return _SHELF.ask(Wanted(digest, units, paper, left, witness), plan, wait)


def _place(name: str) -> int:
    return list(words.CALLED).index(name) if name in words.CALLED else len(words.CALLED)
