"""Pages of one joint: its life, what is due, where it is now, and what happened to it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Form, HTTPException, Request
from fastapi.responses import RedirectResponse, Response

from splicewright.actions.fleet.due import see_due
from splicewright.actions.wear.limits import limits_of
from splicewright.errors import Fault, InputError
from splicewright.quantities import Kind, read
from splicewright.store import Register, Stored, What
from splicewright.store.authority import NOT_HERE
from splicewright.store.facts.job_facts import HoldPointSigned
from splicewright.store.facts.joint_facts import (
    DueSet,
    JointBuilt,
    JointDescribed,
    JointPutToWork,
    JointRemoved,
    JointRetightened,
    JointSeen,
    JointSuspended,
    Mode,
    PhotoAdded,
    ReadingTaken,
    Task,
)
from splicewright.store.present.job_sheet import inspections, job_sheet
from splicewright.store.present.job_view import say_gaps
from splicewright.store.present.present import JointNow, State
from splicewright.web.app.fact_words import Names, event_words, tell
from splicewright.web.app.rendering import Entry, render
from splicewright.web.app.visitor import Role, Visitor, needs, room_of, said_by, visitor
from splicewright.web.conveyor.conveyor import offered, whereabouts

router = APIRouter()
_Who = Annotated[Visitor, Depends(visitor)]
_Crew = Annotated[Visitor, Depends(needs(Role.CREW))]
_Text = Annotated[str, Form()]
_PLAN = Entry("/joints/{joint}/plan", "Its plan", Role.VIEWER)
_INSPECT = Entry("/joints/{joint}/inspect", "Inspect", Role.CREW)
_LINKS = (
    _INSPECT,
    Entry("/joints/{joint}/inspections", "Inspections", Role.VIEWER),
    _PLAN,
    Entry("/joints/{joint}/forecast", "Remaining life", Role.VIEWER),
    Entry("/joints/{joint}/label", "Label with code", Role.VIEWER),
)
LONGEST_AGO = timedelta(days=3650)


def find_joint(register: Register, joint: UUID) -> JointNow:
    """A joint, or the page that says there is none."""
    row = register.joint(joint)
    if row is None:
        raise HTTPException(404)
    return row


@router.get("/joints/{joint}")
def joint_page(request: Request, who: _Who, joint: UUID) -> Response:
    """One joint."""
    return _page(request, who, joint)


@router.post("/joints/{joint}/seen")
def seen(
    request: Request, who: _Crew, joint: UUID, station: _Text = "", ago: _Text = ""
) -> Response:
    """Record where the joint was seen, now or a while ago."""
    room = room_of(request)
    find_joint(room.register, joint)
    try:
        at = read(station, Kind.DISTANCE, "station")
        before = read(ago, Kind.TIME, "ago") if ago.strip() else 0.0
        if not 0 <= before <= LONGEST_AGO.total_seconds():
            raise InputError(Fault("ago", "must be 0 or more, such as 20 min"))
        when = room.now() - timedelta(seconds=before)
        said_by(request, who).append(who.says(JointSeen(joint, at), when))
    except InputError as error:
        return _page(request, who, joint, error.faults, station=station, ago=ago)
    return RedirectResponse(f"/joints/{joint}", 303)


@router.post("/joints/{joint}/happened")
def happened(
    request: Request,
    who: _Crew,
    joint: UUID,
    what: _Text = "",
    version: _Text = "",
    mode: _Text = "",
    note: _Text = "",
    sure: _Text = "",
) -> Response:
    """Record that the joint was built, put to work, re-tightened, suspended or removed.

    That it was removed is asked once more, with what follows.
    """
    room = room_of(request)
    there = find_joint(room.register, joint)
    try:
        fact = who.says(_happening(joint, what, mode, note), room.now())
        if what == "removed" and sure != "yes":
            sent = {"what": what, "version": version, "mode": mode, "note": note}
            return _ask(request, there, "happened", f"Remove {there.label}?", sent, _removal(there))
        said_by(request, who).append(fact, seen={joint: _version(version)})
    except InputError as error:
        return _page(request, who, joint, error.faults, what=what, mode=mode, note=note)
    return RedirectResponse(f"/joints/{joint}", 303)


@router.post("/joints/{joint}/due")
def set_due(
    request: Request,
    who: Annotated[Visitor, Depends(needs(Role.LEAD))],
    joint: UUID,
    task: _Text = "",
    due: _Text = "",
    why: _Text = "",
    sure: _Text = "",
) -> Response:
    """Record when a task is due, or that it is not due any more.

    Renewing, and taking anything off the list, is asked once more with what follows.
    """
    room = room_of(request)
    there = find_joint(room.register, joint)
    try:
        if task not in {t.value for t in Task}:
            raise InputError(Fault("task", "is not known; choose one of the list"))
        when = None
        if due.strip():
            try:
                when = datetime.fromisoformat(due).replace(tzinfo=room.now().tzinfo)
            except ValueError:
                say = f'"{due}" is no date; write it like 2026-05-04'
                raise InputError(Fault("due", say)) from None
        if sure != "yes" and (when is None or task == Task.RENEW):
            wording = f"due {due}" if due else "not due any more"
            head = f"{there.label}: {task} {wording}?"
            sent = {"task": task, "due": due, "why": why}
            return _ask(request, there, "due", head, sent, _new_due(task, due))
        said_by(request, who).append(who.says(DueSet(joint, Task(task), when, why), room.now()))
    except InputError as error:
        return _page(request, who, joint, error.faults, task=task, due=due, why=why)
    return RedirectResponse(f"/joints/{joint}", 303)


def _ask(
    request: Request,
    joint: JointNow,
    where: str,
    head: str,
    sent: dict[str, str],
    follows: tuple[str, ...],
) -> Response:
    """The page that asks once more; nothing is recorded yet."""
    return render(
        request,
        "ask-once.html",
        joint=joint,
        action=f"/joints/{joint.joint}/{where}",
        head=head,
        sent=sent,
        follows=follows,
    )


def _removal(joint: JointNow) -> tuple[str, ...]:
    runs = joint.state is State.RUNNING
    return (
        *(("The register has it running now.",) if runs else ()),
        "It counts as cut out of the belt: nothing is due at it any more.",
        "Its life ends with today's date, and forecasts count it so.",
        "By mistake? Withdraw the entry under Recorded; it stays in the history with who and why.",
    )


def _new_due(task: str, due: str) -> tuple[str, ...]:
    if due:
        return (f"The joint is listed for renewal on {due}; it stays in the belt until removed.",)
    return (f"Nobody is reminded to {task} this joint any more, until it is set again.",)


def _happening(joint: UUID, kind: str, mode: str, note: str) -> What:
    if kind == "built":
        return JointBuilt(joint)
    if kind == "put to work":
        return JointPutToWork(joint, note)
    if kind == "re-tightened":
        return JointRetightened(joint)
    if kind == "suspended":
        return JointSuspended(joint, note)
    if kind == "removed":
        if mode not in {m.value for m in Mode}:
            raise InputError(Fault("mode", "is missing; choose why the joint was removed"))
        return JointRemoved(joint, Mode(mode), note)
    raise InputError(Fault("what", "is not known; choose one of the list"))


def _described(counting: Sequence[Stored], who: Visitor) -> str:
    """What was said last of a joint without a plan."""
    descriptions = [s.what for s in counting if isinstance(s.what, JointDescribed)]
    return event_words(descriptions[-1], who.units).capitalize() if descriptions else ""


def _version(text: str) -> int:
    if not text.isascii() or not text.isdigit() or len(text) > 18:
        raise InputError(Fault("version", "is missing; reload the page"))
    return int(text)


def _page(
    request: Request, who: Visitor, joint: UUID, faults: tuple[Fault, ...] = (), **typed: str
) -> Response:
    with room_of(request).register.at_one_moment():
        return _shown(request, who, joint, faults, typed)


def _shown(
    request: Request, who: Visitor, joint: UUID, faults: tuple[Fault, ...], typed: dict[str, str]
) -> Response:
    room = room_of(request)
    register, now = room.register, room.now()
    there = find_joint(register, joint)
    conveyor = register.conveyor(there.conveyor)
    facts = register.facts_about(joint)
    names = Names(register)
    now_at = None
    if conveyor is not None:
        joints = register.joints(there.conveyor, limit=2000)
        now_at = whereabouts(register, conveyor, joints, now).get(joint)
    jobs = [j for j in register.jobs(there.conveyor) if j.joint == joint]
    missing = {_INSPECT} if there.plateless else set()
    if there.plan is None:
        missing.add(_PLAN)
    counting = [s for s in facts if not s.withdrawn]
    sheets = [(job, job_sheet(register.facts_about(job.job))) for job in jobs]
    return render(
        request,
        "joint.html",
        status=422 if faults else 200,
        joint=there,
        conveyor=conveyor,
        now_at=now_at,
        now=now,
        due=see_due(register, now + LONGEST_AGO, joint=joint),
        inspections=inspections(facts)[::-1],
        not_here=NOT_HERE if there.plateless else "",
        readings=[s for s in counting if isinstance(s.what, ReadingTaken)][::-1],
        limits=limits_of(facts),
        described=_described(counting, who),
        photos=[s for s in counting if isinstance(s.what, PhotoAdded)][::-1],
        photos_have_pages="/photographs/{digest}" in request.app.state.paths,
        jobs=jobs,
        deviations=[(job, entry) for job, sheet in sheets for entry in sheet.deviations],
        signed_over=[
            (job, entry, say_gaps(entry.what.gaps))
            for job, sheet in sheets
            for signed in sheet.hold_points.values()
            for entry in signed
            if isinstance(entry.what, HoldPointSigned) and entry.what.gaps
        ],
        alone=[(job, sheet.one_person) for job, sheet in sheets if sheet.alone],
        jobs_have_pages="/jobs/{job}" in request.app.state.paths,
        lines=[tell(stored, names, who.units) for stored in reversed(facts)],
        links=offered(
            request,
            tuple(link for link in _LINKS if link not in missing),
            who,
            joint=joint,
        ),
        seen_version=register.version(joint),
        modes=[m.value for m in Mode],
        tasks=[t.value for t in Task],
        faults=faults,
        typed=typed,
    )
