"""Plan a job again while it is in hand: an answer or a measured value changed, all else as it was.

The new plan is the next version of the same joint's, or of the job's where it makes none. What was
done stays done where it still holds (`store.present.plan_versions`).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any
from uuid import UUID, uuid5

from splicewright.actions.plan.from_answers import (
    FIELDS,
    PLACE,
    ROUND,
    Answers,
    Draft,
    Typed,
    asked_for,
)
from splicewright.actions.register.record_facts import append_once
from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from splicewright.job import JointPlan
    from splicewright.joint import Range
    from splicewright.plant import Conveyor, Work
    from splicewright.quantities import Given, System
    from splicewright.store import Register
    from splicewright.store.present.job_view import JobView

THICKNESS = ("measure", "Belt thickness, "), ("whole", "Belt thickness at ")
WIDTH = ("whole", "Belt width, both ends")
"""Step and name of the readings that a plan rests on: the freshest first."""
MEASURED_AT = frozenset(step for step, _ in (*THICKNESS, WIDTH))
"""Steps at which something is measured that the plan rests on."""


@dataclass(frozen=True, slots=True)
class Measured:
    """Values of the job that a plan rests on, by the field of the form [SI]."""

    thickness: tuple[float, ...] = ()
    width: float | None = None

    def __bool__(self) -> bool:
        return bool(self.thickness) or self.width is not None


def answers_of(work: Work, system: System) -> dict[str, list[str]]:
    """The answers of the form that a plan was made of, as people write them; blank where assumed.

    Numbers are as exact as they are shown; what is left as it stands here counts as it was.
    """
    from splicewright.plant.filling.work_tables import entry_of

    def typed(given: Given | None) -> list[str]:
        if given is None or entry_of(given) is None:
            return []
        if given.low != given.high:
            return [f"{_shown(given, given.low, system)} to {_shown(given, given.high, system)}"]
        return [_shown(given, given.value, system)]

    return {
        "name": [work.name],
        "job": [work.job.value],
        "run": [] if work.anywhere else [work.run],
        "distance": typed(work.distance),
        "thickness": [text for t in work.thickness for text in typed(t)],
        "width": typed(work.belt_width),
        "cut_out": typed(work.cut_out),
        "insert": typed(work.insert),
        "load_left": typed(work.load_left),
        "kind": [work.kind.value],
        "travel": [work.travel.value],
        "environment": [e.value for e in work.environment],
        "scrapers": ["yes" if work.scrapers else "no"],
        "service_factor": typed(work.service_factor),
        "curve_depth": typed(work.curve_depth),
        "notch_width": typed(work.notch_width),
        "people": [str(work.crew)],
        "tools": [work.tools.value],
        "window": typed(work.window),
        "clamp_factor": typed(work.clamp_factor),
        "damage": [work.damage.value] if work.damage is not None else [],
        "damage_length": typed(work.damage_length),
        "damage_width": typed(work.damage_width),
        "press_length": typed(work.press_length),
        "press_width": typed(work.press_width),
        "press_bias": typed(work.press_bias),
        "press_temperature": typed(work.press_temperature),
        "air": typed(work.air),
        "humidity": typed(work.humidity),
        "round_way": [work.round_way.value] if work.round_way.value == "foot" else [],
        "round_name": [joint.name for joint in work.round],
        "round_behind": [(typed(joint.behind) or [""])[0] for joint in work.round],
    }


def _shown(given: Given, value: float, system: System) -> str:
    from splicewright.quantities import Kind, show, show_time

    return show_time(value) if given.kind is Kind.TIME else show(value, given.kind, system)


def measured_in(view: JobView) -> Measured:
    """What the crew measured that the plan rests on: thickness across the cut, else at the edges;
    width. Of two places measured the smaller width counts."""
    from splicewright.store.facts.job_facts import ValueRecorded

    values: dict[tuple[str, str], list[tuple[str, int, float]]] = {}
    for (step, reading, box), answer in view.sheet.values.items():
        recorded = answer.last.what
        assert isinstance(recorded, ValueRecorded)  # job_sheet has sorted them
        for known, name in (*THICKNESS, WIDTH):
            if step == known and reading.startswith(name):
                values.setdefault((known, name), []).append((reading, box, recorded.value))
    thickness = next((values[key] for key in THICKNESS if key in values), [])
    width = min((value for *_, value in values.get(WIDTH, [])), default=None)
    return Measured(tuple(value for *_, value in sorted(thickness)), width)


def with_measured(
    answers: dict[str, list[str]], measured: Measured, system: System
) -> dict[str, list[str]]:
    """The answers with what was measured in place of what was answered before."""
    from splicewright.quantities import Kind, show

    updated = dict(answers)
    if measured.thickness:
        updated["thickness"] = [show(v, Kind.LENGTH, system) for v in measured.thickness]
    if measured.width is not None:
        updated["width"] = [show(measured.width, Kind.LENGTH, system)]
    return updated


def draft_again(
    before: JointPlan,
    conveyor: Conveyor,
    answers: Answers,
    system: System,
    ranges: tuple[Range, ...] = (),
) -> Draft:
    """Plan again with those answers that can be used, and say what is wrong with the others.

    conveyor : as its newest file says
    answers : of the form; what is as `answers_of` gave it stays exactly as it was
    system : units of `answers_of`
    """
    from splicewright.job import plan

    typed = _typed(before.work, answers, system, conveyor)
    for _ in range(4):  # faults of the fields, of the work on this conveyor, of both together
        work = typed.work(conveyor)
        if work is not None:
            # Times as they were: what is not answered otherwise stays.
            return Draft(plan(conveyor, work, ranges, before.past), tuple(typed.faults))
        typed.leave_out_faulty()
    return Draft(None, tuple(typed.faults))


def _typed(work: Work, answers: Answers, system: System, conveyor: Conveyor) -> Typed:
    """The answers over what the plan was made of."""
    from splicewright.plant import JobKind
    from splicewright.plant.filling.work_tables import work_tables

    stood = answers_of(work, system)
    changed = {
        field
        for field in FIELDS
        if field != "name" and _written(answers.get(field, ())) != _written(stood[field])
    }
    if "job" in changed:  # what else is asked follows from it
        changed |= frozenset[str]().union(*(asked_for(kind) for kind in JobKind))
    if changed & set(ROUND):
        changed |= set(ROUND)
    kept_answers = {"name": [work.name], "job": answers.get("job", stood["job"])}
    typed = Typed.of({f: answers.get(f, ()) for f in changed} | kept_answers, conveyor)
    gone = {PLACE[field] for field in changed if field in PLACE}
    tables: dict[str, Any] = work_tables(work)
    if "job" in changed:
        gone.add(("work", "reason"))
    else:
        typed.data["work"].pop("kind")  # as it was stated, or not
    for table in {table for table, _ in PLACE.values()}:
        kept = {k: v for k, v in tables.get(table, {}).items() if (table, k) not in gone}
        typed.data[table] = kept | typed.data[table]
        typed.places |= {
            k: list(range(1, len(v) + 1)) for k, v in kept.items() if isinstance(v, list)
        }
    if "round" in tables and not changed & set(ROUND):
        typed.data["round"] = tables["round"]
        typed.places["round"] = list(range(1, len(work.round) + 1))
    return typed


def _written(texts: Sequence[str]) -> list[str]:
    return [text.strip() for text in texts if text.strip()]


def record_again(
    register: Register,
    job: UUID,
    plan: JointPlan,
    why: str,
    *,
    seen: int,
    by: str,
    now: datetime,
    person: UUID | None = None,
    device: str = "",
) -> int:
    """Record a plan as the next version of a job's.

    why : the job is planned again; the crew reads it
    seen : number of the version that was looked at
    Returns the number of the version. Raises InputError: no such job, one without a plan, one that
    is over, the same plan as before, no reason, another version since `seen`. Raises
    NotAllowedError: only leads and admins plan a job again (`store.authority`).
    """
    from splicewright.actions.job.read import read_job
    from splicewright.store import Fact
    from splicewright.store.facts.job_facts import JobOpened, JobPlannedAgain
    from splicewright.store.facts.joint_facts import JointPlanned

    view = read_job(register, job)
    if view is None:
        raise InputError(Fault("job", f"the register knows no job {job}"))
    faults = why_not_again(view)
    if not faults and view.plan is not None and view.plan.id == plan.id:
        faults.append(Fault("", "nothing is changed: this is the plan the job has"))
    elif not faults and seen != len(view.versions):
        say = f"somebody planned the job again meanwhile: version {len(view.versions)}. Look at it"
        faults.append(Fault("", f"{say} first"))
    elif not faults and view.joint is None and plan.work.job.joins:
        say = f'"{plan.work.job.value}" makes a joint, this job makes none; plan a new job'
        faults.append(Fault("job", say))
    if not why.strip():
        faults.append(Fault("why", "is empty; say why the job is planned again: the crew reads it"))
    if faults:
        raise InputError(*faults)
    joint = view.joint
    content = plan.to_json().encode()
    digest = register.keep(content, "application/json")
    after = plan.follow_up
    planned = (
        JointPlanned(
            joint.joint,
            joint.conveyor,
            joint.label,
            joint.belt,
            joint.place,
            digest,
            plan.id,
            after.retighten_after.value,
            after.inspect_after.value,
            plan.construction,
        )
        if joint is not None
        else JobOpened(job, view.job.conveyor, view.job.name, None, digest, plan.id)
    )
    planned_again = JobPlannedAgain(job, plan.id, why.strip())
    once = uuid5(job, f"{digest}\n{len(view.versions)}")
    facts = [(uuid5(once, "planned"), planned), (uuid5(once, "again"), planned_again)]
    append_once(register, *(Fact(id_, now, by, event, person, device) for id_, event in facts))
    return len(view.versions) + 1


def why_not_again(view: JobView) -> list[Fault]:
    """Why a job cannot be planned again; empty when it can."""
    from splicewright.store import State

    if view.plan is None:
        return [Fault("job", "has no plan; plan the joint first")]
    if view.job.closed is not None:
        subject = "joint" if view.joint is not None else "job"
        return [Fault("job", f"is over; plan a new {subject} instead")]
    if view.joint is not None and view.joint.state not in {State.PLANNED, State.BUILT}:
        return [Fault("job", f"its joint is {view.joint.state.value}; plan a new joint instead")]
    return []
