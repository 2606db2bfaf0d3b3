"""The customer's report of a job: from what the register knows to a PDF."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID

from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from splicewright.actions.folder.writing import PaperName
    from splicewright.job import JointPlan
    from splicewright.quantities import System
    from splicewright.sheets.reports.job import JobReport, PartUsed, StepDone
    from splicewright.store import Register
    from splicewright.store.present.job_view import JobView

MOST_PHOTOGRAPHS = 24
"""On one report; the newest are left out and counted."""
MOST_OPEN = 12
"""Open points that a report lists."""


def report_on_job(
    register: Register, job: UUID, now: datetime, system: System = "metric", paper: PaperName = "A4"
) -> bytes:
    """Make the report that a customer gets after a job.

    Raises InputError: the register does not know the job. Raises OutputError: the document cannot
    be made.
    """
    from splicewright.sheets.canvas.paper import PAPERS
    from splicewright.sheets.reports.job import customer_report

    return customer_report(told_of(register, job, now, system), system, PAPERS[paper])


def find_job(register: Register, name: str) -> UUID:
    """The job of that id or name.

    Raises InputError: there is none, or several have the name.
    """
    jobs = [j for j in register.jobs() if name in {str(j.job), j.name}]
    if len(jobs) == 1:
        return jobs[0].job
    if not jobs:
        some = ", ".join(f'"{j.name}"' for j in register.jobs()[:5]) or "none"
        raise InputError(Fault("job", f'the register knows no job "{name}"; it knows {some}'))
    ids = ", ".join(str(j.job) for j in jobs)
    raise InputError(Fault("job", f'"{name}" is the name of {len(jobs)} jobs; give an id: {ids}'))


def told_of(
    register: Register, job: UUID, now: datetime, system: System, *, pictures: bool = True
) -> JobReport:
    """What the register says of a job, in words.

    pictures : whether photographs are made ready for paper
    Raises InputError: the register does not know the job.
    """
    from splicewright.actions.job.left_outside import left_outside_of
    from splicewright.actions.job.read import read_job
    from splicewright.sheets.crew_pack.answer import invented
    from splicewright.sheets.reports.job import JobReport

    view = read_job(register, job)
    if view is None:
        raise InputError(Fault("job", f"the register knows no job {job}"))
    plan, joint = view.plan, view.joint
    left = left_outside_of(register, joint.joint) if joint is not None else ()
    return JobReport(
        conveyor=view.conveyor.name,
        job=view.job.name,
        joint=joint.label if joint is not None else "",
        place=""
        if plan is None
        else f"{plan.work.run}, {plan.work.distance.show(system)} along it",
        standing=_standing(view),
        day=now.date(),
        invented=plan is not None and invented(plan),
        found=_findings(plan, system),
        done=_done(view),
        measured=_measured(view, system),
        parts=_parts(view, system),
        people=plan.work.crew if plan is not None else None,
        planned=plan.timing.likely.value if plan is not None else None,
        photographs=_photographs(register, view) if pictures else (),
        left=left,
        recommended=_recommended(plan),
        open=_open(view),
        signed=tuple(
            f"{getattr(e.what, 'role', '')}: {e.by}, {e.when.date().isoformat()}"
            for e in view.sheet.signatures
        ),
    )


def _standing(view: JobView) -> str:
    early = "".join(f" Signed out of order: {wording}." for wording in view.out_of_order())
    if view.job.closed is not None:
        return f"Closed on {view.job.closed.date().isoformat()}.{early}"
    open_ = len(view.keeps_open())
    if not open_:
        return f"Not closed yet; nothing keeps it open.{early}"
    return f"Not closed yet: {open_} {'point is' if open_ == 1 else 'points are'} open.{early}"


def _findings(plan: JointPlan | None, system: System) -> tuple[str, ...]:
    if plan is None:
        return ()
    work = plan.work
    sentences = [f"Reason for the job: {work.job.value}."]
    if work.damage is not None:
        sides = [s for s in (work.damage_length, work.damage_width) if s is not None]
        size = ", " + " × ".join(s.show(system) for s in sides) if sides else ""
        sentences.append(f"Damage: {work.damage.value}{size}.")
    if plan.fastener is not None:
        sentences.append(f"Joint: {plan.fastener.name}, {plan.fastener.material}.")
    return tuple(sentences)


def _done(view: JobView) -> tuple[StepDone, ...]:
    from splicewright.sheets.reports.job import StepDone

    def by(key: str) -> str:
        answer = view.sheet.ticks.get((key, 0))
        ticked = answer is not None and getattr(answer.last.what, "done", False)
        holds = view.sheet.hold_points.get(key, ())
        return answer.last.by if answer is not None and ticked else holds[-1].by if holds else ""

    steps = view.plan.steps if view.plan is not None else ()
    return tuple(
        StepDone(step.number, step.title, by(step.key), view.sheet.times.get(step.key))
        for step in steps
    )


def _measured(view: JobView, system: System) -> tuple[tuple[str, str, str, str], ...]:
    from splicewright.job import AgainstLimits
    from splicewright.quantities import show

    steps = view.plan.steps if view.plan is not None else ()
    return tuple(
        (
            a.what + (f", box {a.box}" if a.reading.boxes > 1 and a.box else ""),
            show(a.value, a.reading.kind, system),
            a.reading.limit.say(system),
            "" if a.verdict is AgainstLimits.OPEN else a.verdict.value,
        )
        for step in steps
        for a in view.judged(step)
    )


def _parts(view: JobView, system: System) -> tuple[PartUsed, ...]:
    from splicewright.sheets.reports.job import PartUsed
    from splicewright.store.facts.job_facts import PARTS

    parts = view.plan.parts if view.plan is not None else ()
    ticks = view.sheet.ticks
    return tuple(
        PartUsed(part.name, part.total, part.size.say(system), getattr(tick.last.what, "lot", ""))
        for line, part in enumerate(parts, 1)
        if (tick := ticks.get((PARTS, line))) is not None and getattr(tick.last.what, "done", False)
    )


def _photographs(register: Register, view: JobView) -> tuple[tuple[str, str], ...]:
    from splicewright.sheets.photographs import for_paper
    from splicewright.store.facts.joint_facts import PhotoAdded

    titles = {s.key: s.title for s in view.plan.steps} if view.plan is not None else {}
    pictures = []
    for entry in view.sheet.photos[:MOST_PHOTOGRAPHS]:
        event = entry.what
        assert isinstance(event, PhotoAdded)  # job_sheet puts nothing else there
        caption = [event.caption or titles.get(event.step, "") or "photograph", entry.by]
        caption.append(entry.when.strftime("%Y-%m-%d %H:%M"))
        pictures.append((for_paper(register.content(event.photo).data), ", ".join(caption)))
    return tuple(pictures)


def _open(view: JobView) -> tuple[str, ...]:
    """What keeps the job open, as far as a reader wants it."""
    if view.job.closed is not None:
        return ()
    reasons = view.keeps_open()
    more = (f"{len(reasons) - MOST_OPEN} more.",) if len(reasons) > MOST_OPEN else ()
    return (*(f"{one[:1].upper()}{one[1:]}." for one in reasons[:MOST_OPEN]), *more)


def _recommended(plan: JointPlan | None) -> tuple[str, ...]:
    if plan is not None and not plan.work.job.joins and plan.work.job.clamped:
        return (
            "This repair has an end: keep the limits of load, date and hours that were decided, "
            "and look at it after one hour of running (common practice, no source).",
        )
    if plan is None or plan.fastener is None:
        return ()
    after = plan.follow_up
    return (
        f"Go over the joint after {after.retighten_after.show()} of running "
        "(common practice, no source).",
        f"Inspect it first {after.inspect_after.show()} after the restart.",
    )
