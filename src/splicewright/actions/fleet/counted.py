"""See a fleet too large to look at joint by joint: from counts, and what presses most."""

from __future__ import annotations

import math
from collections import Counter, deque
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING
from uuid import UUID

from splicewright.history.fleet.urgency import Urgency
from splicewright.history.life.counts import records_of

if TYPE_CHECKING:
    from splicewright.history.fleet.counted import CountedLaw
    from splicewright.history.fleet.joints import FleetJoint
    from splicewright.history.fleet.study import FleetMatter, FleetStudy
    from splicewright.history.life.counts import LifeCount
    from splicewright.store import Register
    from splicewright.store.register import Pressing

ONE_BY_ONE = 5_000
"""Joints up to which a fleet is looked at joint by joint."""
LISTED = 200
"""Lines of each reason that are listed of more."""
MOST_MATTERS = 2_000
"""Open damages, and values left outside limits, that are listed and counted."""
_DAY = 86_400.0
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
ASSUMED = (
    f"of more than {ONE_BY_ONE} joints, lives are counted by the calendar, as if no belt ever "
    "stood still, and all sites together, each kind of joint by itself; one conveyor, or a fleet "
    "asked for in running time, tonnage or turns, is looked at joint by joint, with meters, "
    "inspections and the day each log began, which takes longer",
    "a failure counts from the day the joint was removed or found unfit to run",
    f"listed are the first {LISTED} that must not run or stand, that are due, and that have run "
    "longest; all are counted",
)
CHANGE_NOTHING = frozenset(
    {
        "plate inspected",
        "end inspected",
        "plate judged",
        "joint measured",
        "joint assessed",
        "phone verdict",
        "reading taken",
        "photograph added",
        "photograph measured",
        "stock moved",
        "step ticked",
        "step timed",
        "job commented",
        "job handed over",
        "wear limit set",
        "fasteners recorded",
    }
)
"""Kinds of facts that a fleet answered from counts does not read: most of what a register holds."""
LEFT_OUT = (
    "wear of places is not in a list this long; it is on the page Wear and life of each conveyor",
)


def see_counted_fleet(
    register: Register,
    counts: Sequence[LifeCount],
    now: datetime,
    until: date,
    *,
    failure_cost: float = math.nan,
    assumed: Sequence[str] = (),
) -> FleetStudy:
    """Put a large fleet in order.

    now, until : now, and the next planned stop
    failure_cost : of a failure; nan if unknown
    assumed : to be told beside what is assumed here
    Raises InputError: the stop lies behind.
    """
    from splicewright.history.fleet.counted import study_counted_fleet

    law = _law(counts, now, until)
    sites = register.sites()
    names = {s.site: s.name for s in sites}
    today, stop = (datetime.combine(day, time(), UTC) for day in (now.date(), until))
    # Due on the day of the stop is due before it, as in `urgency_of_duty`.
    pressing = register.pressing(today, stop + timedelta(days=1), LISTED)
    matters = _matters(register, names, now.date(), until)
    numbers = Counter(m.urgency for m in matters)
    numbers[Urgency.NOW] += pressing.unfit
    numbers[Urgency.OVERDUE] += pressing.late
    numbers[Urgency.STOP] += pressing.soon
    numbers[Urgency.LATER] += max(0, law.running - pressing.late - pressing.soon)

    def not_due(kind: str, first: int, last: int) -> int:
        begun, before = (_EPOCH + timedelta(days=day) for day in (first, last))
        return register.running_not_due(begun, before, stop + timedelta(days=1), kind)

    return study_counted_fleet(
        law,
        _joints(pressing, names, now),
        matters,
        numbers,
        not_due,
        name=", ".join(sorted(names.values())) if len(names) < 4 else f"{len(names)} sites",
        failure_cost=failure_cost,
        assumed=(*assumed, *ASSUMED),
        left_out=LEFT_OUT,
        invented=any("invented" in f"{s.name} {s.note}".lower() for s in sites),
    )


_LAWS: deque[tuple[Sequence[LifeCount], CountedLaw]] = deque(maxlen=4)


def _law(counts: Sequence[LifeCount], now: datetime, until: date) -> CountedLaw:
    """The law of these counts, worked once a day while they are the same.

    Most facts that a fleet reads (an inspection closed, a task done) neither begin nor end a life:
    they change its lines, which are read anew, and no count.
    """
    from splicewright.history.fleet.counted import law_of_counts

    for counted, law in tuple(_LAWS):
        if (law.now.date(), law.until) == (now.date(), until) and counted == counts:
            return law
    new = law_of_counts(counts, now, until)
    _LAWS.append((counts, new))
    return new


def _joints(pressing: Pressing, sites: Mapping[UUID, str], now: datetime) -> tuple[FleetJoint, ...]:
    from splicewright.history.fleet.joints import Duty, FleetJoint
    from splicewright.store.present.life import life_of
    from splicewright.store.present.present import State

    duties: dict[UUID, list[Duty]] = {}
    for item in pressing.duties:
        duties.setdefault(item.joint, []).append(Duty(item.task.value, item.due.date(), item.why))
    where = {c.conveyor: c for c in pressing.conveyors}
    joints = []
    for joint in pressing.joints:
        counted, conveyor = life_of(joint), where[joint.conveyor]
        life = records_of([counted], now)[0].life if counted is not None else None
        stands = joint.stopped if joint.state is State.SUSPENDED else None
        unfit = joint.can_run is False
        site = sites[conveyor.site]
        joints.append(
            FleetJoint(
                joint.label,
                f"{site}: {conveyor.name}",
                site,
                life,
                _DAY,
                str(joint.joint),
                str(joint.conveyor),
                not unfit,
                unfit,
                tuple(duties.get(joint.joint, ())),
                stands=stands.date() if stands is not None else None,
                watched=None
                if joint.put_to_work is None
                else (joint.put_to_work.date(), now.date()),
                kind=joint.construction,
            )
        )
    return tuple(joints)


def _matters(
    register: Register, sites: Mapping[UUID, str], today: date, until: date
) -> tuple[FleetMatter, ...]:
    from splicewright.actions.fleet.due import left_outside
    from splicewright.actions.fleet.from_register import damage_matter, left_matter
    from splicewright.store.facts.kinds import LATEST

    damage = [
        damage_matter(row, conveyor, f"{sites[conveyor.site]}: {conveyor.name}", sites)
        for row, conveyor in register.open_damage(MOST_MATTERS)
    ]
    left = [
        left_matter(line, f"{sites[line.site]}: {line.conveyor_name}", sites, today, until)
        for line in left_outside(register, LATEST, limit=MOST_MATTERS)
    ]
    return (*damage, *left)
