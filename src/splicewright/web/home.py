"""Page: today's work. What must not run, what is overdue, jobs in hand, the round; then find."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import URL

from splicewright.actions.fleet.due import see_due
from splicewright.actions.job.read import read_job
from splicewright.actions.register.kept_files import kept_ranges
from splicewright.actions.register.use import conveyor_labels
from splicewright.store import Register
from splicewright.store.present.present import ConveyorNow, JobNow
from splicewright.web.app.rendering import Entry, render
from splicewright.web.app.visitor import Role, Visitor, cookie_name, room_of, visitor
from splicewright.web.conveyor.find import conveyors_with

router = APIRouter()
NAVIGATION = (Entry("/", "Today", place=5),)
_JOBS, _LINES = 5, 12
"""Jobs in hand whose next hold point is told, and lines of a list."""
_LOOKED_AT = 40
"""Open jobs that are looked through for the visitor's own."""


@dataclass(frozen=True, slots=True)
class JobInHand:
    """An open job: whether the visitor wrote something on it, and what is next.

    hold : the next hold point in words, "" when all are signed or there is no plan
    """

    job: JobNow
    mine: bool
    hold: str
    signed: int
    holds: int


@router.get("/")
def today(request: Request, who: Annotated[Visitor, Depends(visitor)], q: str = "") -> Response:
    """Today's work of whoever is signed in."""
    if q:
        return RedirectResponse(str(URL("/find").include_query_params(q=q)), 303)
    room = room_of(request)
    register, now = room.register, room.now()
    with register.at_one_moment():
        barred = register.barred(limit=_LINES)
        stops = {joint.joint for joint in barred}
        lines = [d for d in see_due(register, now + timedelta(days=1)) if d.joint not in stops]
        late = [line for line in lines if line.due < now and line.task != "inspect"]
        round_ = [line for line in lines if line.task == "inspect"]
        conveyors, more = conveyors_with(register, "")
        return render(
            request,
            "home.html",
            barred=barred,
            now=now,
            late=late[:_LINES],
            more_late=max(0, len(late) - _LINES),
            round=round_[:_LINES],
            more_round=max(0, len(round_) - _LINES),
            jobs=_jobs(register, who),
            names=conveyor_labels(register),
            found=conveyors[:_LINES],
            q="",
            more=more + max(0, len(conveyors) - _LINES),
            inspects=who.may(Role.CREW),
            untold=room.push is not None
            and room.accounts.push.of(request.cookies[cookie_name(room)]) is None,
            begin=_begin(request, who, conveyors),
        )


@dataclass(frozen=True, slots=True)
class BeginStep:
    """One step of setting up a site; path : where it is done; waits : for what, if it was begun."""

    word: str
    path: str
    done: bool
    waits: str = ""


def _begin(
    request: Request, who: Visitor, conveyors: list[tuple[ConveyorNow, str]]
) -> tuple[BeginStep, ...]:
    """What a lead still sets up, until the first joint is there; empty afterwards."""
    room = room_of(request)
    if not who.may(Role.LEAD) or room.register.joints(limit=1):
        return ()
    first = conveyors[0][0] if conveyors else None
    ranges = kept_ranges(room.register, first.site) if first is not None else ()
    fasteners = f"/sites/{first.site}/fasteners/new" if first is not None else "/conveyors/new"
    plan = f"/conveyors/{first.conveyor}/plan" if first is not None else "/conveyors/new"
    return (
        BeginStep(
            "Add a conveyor: seven answers are enough to begin", "/conveyors/new", first is not None
        ),
        BeginStep("Add the fasteners you have, from their maker's data", fasteners, bool(ranges)),
        BeginStep(
            "Let people in: crew write, leads plan",
            "/people",
            len(room.accounts.accounts()) > 1,
            "link made, not used yet" if room.accounts.invitations() else "",
        ),
        BeginStep("Plan the first joint", plan, False),
    )


def _jobs(register: Register, who: Visitor) -> list[JobInHand]:
    """The visitor's own open jobs first, then the newest."""
    open_ = register.jobs(open_only=True, limit=_LOOKED_AT)
    mine = {
        job.job
        for job in open_
        if any(s.fact.person == who.account for s in register.facts_about(job.job))
    }
    first = sorted(open_, key=lambda job: job.job not in mine)[:_JOBS]
    return [_in_hand(register, job, mine=job.job in mine) for job in first]


def _in_hand(register: Register, job: JobNow, *, mine: bool) -> JobInHand:
    view = read_job(register, job.job)
    if view is None or view.plan is None:
        return JobInHand(job, mine, "", 0, 0)
    holds = [step for step in view.plan.steps if step.hold_point is not None]
    left = [step for step in holds if step.key not in view.sheet.hold_points]
    next_hold = f"step {left[0].number}, {left[0].title}" if left else ""
    return JobInHand(job, mine, next_hold, len(holds) - len(left), len(holds))
