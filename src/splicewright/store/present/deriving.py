"""How each fact changes the present state: the one place for it.

Facts are taken in the order of their arrival. Two phones may send in any order, so a joint
never goes back in its life: built after running stays running, and removed is the end.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from functools import singledispatch
from typing import Protocol, TypeVar, cast
from uuid import UUID

from splicewright.store.facts import job_facts, joint_facts, plant_facts
from splicewright.store.facts.contents import names_content
from splicewright.store.facts.facts import Correction, Stored
from splicewright.store.facts.joint_facts import Task
from splicewright.store.facts.kinds import LATEST, Stream, What
from splicewright.store.present.present import (
    BeltNow,
    ContentNow,
    ConveyorNow,
    DamageNow,
    DeviationNow,
    DueNow,
    JobNow,
    JointNow,
    PersonNow,
    PieceNow,
    Row,
    SiteNow,
    Standing,
    State,
    StockNow,
    SubjectNow,
    key_of,
)

R = TypeVar("R", bound=Row)
_MUST_NOT_RUN = "an inspection found that it must not run"


class Present(Protocol):
    """The rows while facts are worked into them."""

    def get(self, kind: type[R], *key: object) -> R | None:
        """The row of that kind and key, None when there is none."""

    def put(self, row: Row) -> None:
        """Add a row or replace the one with its key."""

    def drop(self, kind: type[Row], *key: object) -> None:
        """Remove a row; nothing happens when there is none."""

    def about(self, kind: type[R], subject: UUID) -> Iterable[R]:
        """The rows of that kind that the facts about one thing made."""


class MemoryPresent:
    """The rows of the present state in memory: what a register's tables are checked against."""

    def __init__(self) -> None:
        self._rows: dict[type[Row], dict[tuple[object, ...], Row]] = {}

    def get(self, kind: type[R], *key: object) -> R | None:
        """The row of that kind and key."""
        row = self._rows.get(kind, {}).get(key)
        assert row is None or isinstance(row, kind)
        return row

    def put(self, row: Row) -> None:
        """Add or replace a row."""
        self._rows.setdefault(type(row), {})[key_of(row)] = row

    def drop(self, kind: type[Row], *key: object) -> None:
        """Remove a row."""
        self._rows.get(kind, {}).pop(key, None)

    def about(self, kind: type[R], subject: UUID) -> Iterable[R]:
        """The rows of that kind about one thing."""
        there = cast("dict[tuple[object, ...], R]", self._rows.get(kind, {}))
        return [row for key, row in there.items() if key[0] == subject]

    def rows(self, kind: type[Row]) -> dict[tuple[object, ...], Row]:
        """All rows of a kind by their keys."""
        return self._rows.get(kind, {})


def derive(stored: Stored, present: Present) -> None:
    """Work one fact into the present state; a withdrawn fact changes only the version."""
    if not stored.withdrawn:
        _derive(stored.what, stored, present)
        _mark_change(stored, present)
    fact, digest = stored.fact, names_content(stored.what) if not stored.withdrawn else None
    present.put(SubjectNow(fact.subject, fact.stream, stored.seq))
    if digest is not None:
        present.put(ContentNow(fact.subject, digest))


def amend(facts: Sequence[Stored]) -> tuple[Stored, ...]:
    """Facts with the corrections among them applied; of two corrections the later counts."""
    corrections = {
        s.fact.what.corrects: s.fact.what for s in facts if isinstance(s.fact.what, Correction)
    }
    return tuple(
        s.amended(corrections[s.fact.id]) if s.fact.id in corrections else s for s in facts
    )


def _mark_change(stored: Stored, present: Present) -> None:
    """A signed job shows that something came after its signature."""
    if stored.fact.stream is not Stream.JOB or isinstance(stored.what, job_facts.SignedOff):
        return
    job = present.get(JobNow, stored.fact.subject)
    if job is not None and job.signed is not None:
        present.put(replace(job, changed=True))


@singledispatch
def _derive(event: What, stored: Stored, present: Present) -> None:
    """Facts that are only read in the thing's own history change no row."""


@_derive.register
def _(event: plant_facts.SiteAdded, stored: Stored, present: Present) -> None:
    present.put(SiteNow(event.site, event.name, event.note))


@_derive.register
def _(event: plant_facts.StockMoved, stored: Stored, present: Present) -> None:
    there = present.get(StockNow, event.site, event.item)
    present.put(StockNow(event.site, event.item, event.count + (there.count if there else 0.0)))


@_derive.register
def _(event: plant_facts.ConveyorRecorded, stored: Stored, present: Present) -> None:
    before = present.get(ConveyorNow, event.conveyor)
    number = before.file_version + 1 if before is not None else 1
    present.put(
        ConveyorNow(
            event.conveyor,
            event.site,
            event.name,
            event.file,
            number,
            event.belt_length,
            event.speed,
        )
    )


@_derive.register
def _(event: plant_facts.BeltPlaced, stored: Stored, present: Present) -> None:
    before = present.get(BeltNow, event.belt)
    placed = before.placed if before is not None else stored.when
    present.put(
        BeltNow(event.belt, event.conveyor, event.name, event.length, event.marking, placed)
    )


@_derive.register
def _(event: plant_facts.PiecePlaced, stored: Stored, present: Present) -> None:
    before = present.get(PieceNow, event.belt, event.piece)
    placed = before.placed if before is not None else stored.when
    present.put(
        PieceNow(
            event.piece,
            event.belt,
            event.name,
            event.start,
            event.length,
            event.marking,
            event.made,
            placed,
            None,
        )
    )


@_derive.register
def _(event: plant_facts.PieceRemoved, stored: Stored, present: Present) -> None:
    piece = present.get(PieceNow, event.belt, event.piece)
    if piece is not None:
        present.put(replace(piece, removed=stored.when))


@_derive.register
def _(event: plant_facts.DamageFound, stored: Stored, present: Present) -> None:
    before = present.get(DamageNow, event.belt, event.damage)
    found = before.found if before is not None else stored.when
    present.put(
        DamageNow(
            event.damage,
            event.belt,
            event.place,
            event.length,
            event.grade,
            event.across,
            event.note,
            found,
            None,
        )
    )


@_derive.register
def _(event: plant_facts.DamageMended, stored: Stored, present: Present) -> None:
    damage = present.get(DamageNow, event.belt, event.damage)
    if damage is not None:
        present.put(replace(damage, mended=stored.when))


@_derive.register
def _(event: plant_facts.PersonAdded, stored: Stored, present: Present) -> None:
    present.put(PersonNow(event.person, event.name, event.role))


@_derive.register
def _(event: joint_facts.JointPlanned, stored: Stored, present: Present) -> None:
    before = present.get(JointNow, event.joint)
    planned = JointNow(
        event.joint,
        event.conveyor,
        event.belt,
        event.label,
        event.place,
        State.PLANNED,
        event.plan,
        event.plan_id,
        event.retighten_after,
        event.inspect_after,
        stored.when,
        construction=event.construction,
    )
    if before is not None:
        # Planned anew: a new plan does not undo what was done with the joint.
        planned = replace(
            before,
            conveyor=event.conveyor,
            belt=event.belt,
            label=event.label,
            place=event.place,
            plan=event.plan,
            plan_id=event.plan_id,
            retighten_after=event.retighten_after,
            inspect_after=event.inspect_after,
            construction=event.construction or before.construction,
        )
    present.put(planned)


@_derive.register
def _(event: joint_facts.JointDescribed, stored: Stored, present: Present) -> None:
    joint = present.get(JointNow, event.joint)
    if joint is not None and joint.plan is None:
        kind = joint_facts.HINGED if event.hinged else joint_facts.SOLID
        present.put(replace(joint, construction=kind))


@_derive.register
def _(event: joint_facts.JointBuilt, stored: Stored, present: Present) -> None:
    joint = present.get(JointNow, event.joint)
    if joint is not None:
        state = State.BUILT if joint.state is State.PLANNED else joint.state
        present.put(replace(joint, state=state, built=joint.built or stored.when))


@_derive.register
def _(event: joint_facts.JointPutToWork, stored: Stored, present: Present) -> None:
    joint = present.get(JointNow, event.joint)
    if joint is None:
        return
    first = joint.put_to_work is None
    # Of a joint that must not run, taken only with a lead's reason: either is true, not both.
    decided = joint.can_run is False and event.why.strip() != ""
    if decided:
        _no_longer_barred(joint, present)
    present.put(
        replace(
            joint,
            state=_unless_removed(joint, State.RUNNING),
            can_run=None if decided else joint.can_run,
            put_to_work=joint.put_to_work or stored.when,
            stopped=joint.stopped if joint.state is State.REMOVED else None,
        )
    )
    if first and joint.state is not State.REMOVED:
        if joint.retightened is None:
            _due_after(joint, Task.RETIGHTEN, joint.retighten_after, stored.when, present)
        if joint.inspected is None:
            _due_after(joint, Task.INSPECT, joint.inspect_after, stored.when, present)


def _no_longer_barred(joint: JointNow, present: Present) -> None:
    due = present.get(DueNow, joint.joint, Task.RENEW)
    if due is not None and due.why == _MUST_NOT_RUN:
        present.drop(DueNow, joint.joint, Task.RENEW)


@_derive.register
def _(event: joint_facts.JointSuspended, stored: Stored, present: Present) -> None:
    joint = present.get(JointNow, event.joint)
    if joint is not None and joint.state is not State.REMOVED:
        present.put(replace(joint, state=State.SUSPENDED, stopped=stored.when))


@_derive.register
def _(event: joint_facts.JointRemoved, stored: Stored, present: Present) -> None:
    joint = present.get(JointNow, event.joint)
    if joint is None:
        return
    present.put(replace(joint, state=State.REMOVED, removed=stored.when, mode=event.mode))
    for task in Task:
        present.drop(DueNow, event.joint, task)


@_derive.register
def _(event: joint_facts.JointSeen, stored: Stored, present: Present) -> None:
    joint = present.get(JointNow, event.joint)
    if joint is not None and (joint.seen is None or joint.seen <= stored.when):
        present.put(replace(joint, seen_station=event.station, seen=stored.when))


@_derive.register
def _(event: joint_facts.InspectionClosed, stored: Stored, present: Present) -> None:
    joint = present.get(JointNow, event.joint)
    if joint is None:
        return
    if joint.inspected is not None and joint.inspected > stored.when:
        # An older round that arrived late; that it must not run still counts, unless somebody
        # decided later that it may; of a phone whose clock was wrong nobody knows.
        if event.can_run is False and (joint.can_run is None or stored.odd_date):
            present.put(replace(joint, can_run=False))
            _renew_at_once(joint, stored.when, present)
        return
    # An inspection that leaves it open takes back nothing: the joint still must not run.
    barred = joint.can_run is False and event.can_run is None
    present.put(replace(joint, inspected=stored.when, can_run=False if barred else event.can_run))
    if joint.state is State.REMOVED:
        return
    if event.can_run is False:
        _renew_at_once(joint, stored.when, present)
    if event.can_run is True:
        _no_longer_barred(joint, present)
    present.drop(DueNow, joint.joint, Task.INSPECT)
    after = event.next_after if event.next_after is not None else joint.inspect_after
    _due_after(joint, Task.INSPECT, after, stored.when, present)


@_derive.register
def _(event: joint_facts.JointRetightened, stored: Stored, present: Present) -> None:
    joint = present.get(JointNow, event.joint)
    if joint is not None:
        present.put(replace(joint, retightened=stored.when))
    present.drop(DueNow, event.joint, Task.RETIGHTEN)


@_derive.register
def _(event: joint_facts.DueSet, stored: Stored, present: Present) -> None:
    joint = present.get(JointNow, event.joint)
    if joint is None or joint.state is State.REMOVED:
        return
    if event.due is None:
        present.drop(DueNow, event.joint, event.task)
    else:
        present.put(DueNow(event.joint, joint.conveyor, event.task, event.due, event.why))


@_derive.register
def _(event: job_facts.JobOpened, stored: Stored, present: Present) -> None:
    before = present.get(JobNow, event.job)
    if before is None:
        present.put(JobNow(event.job, event.conveyor, event.joint, event.name, stored.when))
    else:
        named = replace(before, conveyor=event.conveyor, joint=event.joint, name=event.name)
        present.put(named)


@_derive.register
def _(event: job_facts.DeviationSigned, stored: Stored, present: Present) -> None:
    job = present.get(JobNow, event.job)
    if job is None:
        return
    if present.get(DeviationNow, event.job, event.step, event.what, event.box) is None:
        present.put(replace(job, deviations=job.deviations + 1))
    present.put(
        DeviationNow(
            event.job,
            event.step,
            event.what,
            event.box,
            event.measure,
            event.value,
            event.limit,
            event.low,
            event.high,
            event.why,
            event.to_do,
            stored.when,
            stored.fact.by,
            event.until,
        )
    )


@_derive.register
def _(event: job_facts.ValueRecorded, stored: Stored, present: Present) -> None:
    for row in _deviations(event.job, present):
        if (row.step, row.what) == (event.step, event.what) and row.box in {0, event.box}:
            present.put(replace(row, standing=_standing(row, event.value)))


@_derive.register
def _(event: Correction, stored: Stored, present: Present) -> None:
    # What was recorded after a deviation is worked in as corrected; but the value that was signed
    # may have been corrected or withdrawn itself, and it came before.
    if event.of is Stream.JOB:
        for row in _deviations(event.about, present):
            if row.standing is Standing.STANDS:
                present.put(replace(row, standing=Standing.CHANGED))


@_derive.register
def _(event: job_facts.SignedOff, stored: Stored, present: Present) -> None:
    job = present.get(JobNow, event.job)
    before = present.get(SubjectNow, event.job)
    if job is not None:
        present.put(
            replace(
                job,
                signed=stored.when,
                signed_by=stored.fact.by,
                changed=before is not None and event.seen < before.version,
                closed=stored.when if event.closes else job.closed,
            )
        )


def _deviations(job: UUID, present: Present) -> Iterable[DeviationNow]:
    """Those of a job; most have none, and that costs nothing."""
    there = present.get(JobNow, job)
    return present.about(DeviationNow, job) if there is not None and there.deviations else ()


def _standing(row: DeviationNow, value: float) -> Standing:
    """What becomes of a deviation whose box was written anew."""
    if row.box == 0 or (row.low is None and row.high is None):
        return Standing.CHANGED
    if abs(value - row.value) <= 1e-9 * abs(value):
        return Standing.STANDS
    low = -math.inf if row.low is None else row.low
    high = math.inf if row.high is None else row.high
    return Standing.RIGHT if low <= value <= high else Standing.CHANGED


def _unless_removed(joint: JointNow, state: State) -> State:
    return State.REMOVED if joint.state is State.REMOVED else state


def _renew_at_once(joint: JointNow, moment: datetime, present: Present) -> None:
    """Renewing is due since it was found that the joint must not run, or since longer."""
    if joint.state is not State.REMOVED:
        there = present.get(DueNow, joint.joint, Task.RENEW)
        since = moment if there is None else min(moment, there.due)
        present.put(DueNow(joint.joint, joint.conveyor, Task.RENEW, since, _MUST_NOT_RUN))


def _due_after(
    joint: JointNow, task: Task, after: float | None, start: datetime, present: Present
) -> None:
    if after is None:
        return
    # An interval beyond the calendar is as good as the calendar's end.
    due = start + timedelta(seconds=min(after, (LATEST - start).total_seconds()))
    why = "interval set by the plan or the last inspection"
    present.put(DueNow(joint.joint, joint.conveyor, task, due, why))
