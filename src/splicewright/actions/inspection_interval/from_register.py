"""Damage as looks saw it: when it was first found, how long it stood, when it failed.

======================================  =====================================================
what the register says of a joint       how it counts
======================================  =====================================================
a closed look without a plate, bolt or  sound so far; damage found before was mended since the
edge that is not right                  look that last saw it
a look with one, closed or not          damage found; it began since it could have been missed
a look that found none, not closed      says nothing: nobody said that it is over
found, and not fit to run at a later    failed between that look and the one before
look
found, and not fit to run at once       failed since the look before, never found
removed: pull-out, pin broken           failed then
removed for any other mode of failure   failed between the last look and then
removed good, stopped, or still in it   had not failed by then
======================================  =====================================================

A worn pin is wear, not damage, and does not count. Joints that ran before their conveyor was on
file are watched from their first sound look on. Along a belt, looks that found nothing are not
written down: its damage is counted from the day it was found to "stop the belt", which is the safe
side. These are assumptions of this tool.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID

if TYPE_CHECKING:
    from splicewright.actions.register.use import Looked
    from splicewright.history.inspection_interval.delay_time import Watch
    from splicewright.history.life.lives import Lives
    from splicewright.history.meter import Meter
    from splicewright.store.facts.plant_facts import Grade
    from splicewright.store.present.present import JointNow

RULES = (
    "Damage of a joint is any plate, bolt or edge found not right, worn plates among them; a worn "
    "pin is wear. It began after the inspection before; a sound inspection afterwards means it "
    "was repaired"
)
FROM_FINDING = (
    "Damage of a belt is counted from the day it was found to the day it was graded stop the belt, "
    "because inspections that found nothing are not on file: the safe side"
)


@dataclass
class _Look:
    """One inspection of a joint."""

    when: datetime
    damaged: bool = False
    unfit: bool = False
    closed: bool = False


@dataclass
class _Case:
    """What is known while one joint's looks are gone through."""

    start: float
    sound: bool
    name: str
    looks: list[float] = field(default_factory=list)
    found: float | None = None
    good: float = 0.0
    watches: list[Watch] = field(default_factory=list)

    def close(self, end: float, good: float, failed: float = math.inf) -> None:
        """End the watch; nothing is kept of a joint whose damage is older than its watch."""
        from splicewright.history.inspection_interval.delay_time import Watch

        until = self.found if self.found is not None else end
        if self.sound and until > self.start:
            looks = tuple(x for x in self.looks if self.start < x <= until)
            self.watches.append(
                Watch(
                    looks,
                    until,
                    self.found,
                    max(good, self.start),
                    failed,
                    1,
                    self.start,
                    self.name,
                )
            )


def watches_of_register(looked: Looked) -> tuple[Watch, ...]:
    """Every joint of the conveyors looked at, from sound to damaged or to the end of its watch."""
    looks, begun = _looks(looked)
    watches: list[Watch] = []
    for joint in looked.joints():
        meter = looked.meters.get(joint.conveyor)
        if meter is not None and joint.put_to_work:
            late = joint.put_to_work < begun.get(joint.conveyor, joint.put_to_work)
            watches += _watched(looked, joint, meter, looks.get(joint.joint, []), late)
    looked.assumed.append(RULES)
    return tuple(watches)


def _watched(
    looked: Looked, joint: JointNow, meter: Meter, looks: Sequence[_Look], late: bool
) -> list[Watch]:
    from splicewright.store import State
    from splicewright.store.facts.joint_facts import Mode

    def use(moment: datetime) -> float:
        part = (moment.hour * 3600 + moment.minute * 60 + moment.second) / 86400.0
        return float(meter.totals_on(moment.toordinal() + part))

    zero = use(joint.put_to_work or looked.now)
    case = _Case(0.0, not late, f"{looked.labels[joint.conveyor]} {joint.label}")
    for look in looks:
        at = max(use(look.when) - zero, 0.0)
        before = max((x for x in case.looks if x <= at), default=case.start)
        case.looks.append(at)
        if look.unfit:
            last = case.good if case.found is not None else max(before, case.start)
            case.close(at, last, at)
            return case.watches
        if look.damaged:
            if case.found is None:
                case.found = at
                if at <= case.start:
                    case.sound = False
            case.good = at
        elif case.found is not None or not case.sound:
            case.close(at, case.good)
            case = _Case(at, True, case.name, [], None, at, case.watches)
    suspended = joint.state is State.SUSPENDED
    end = (joint.removed if joint.state is State.REMOVED else None) or (
        joint.stopped if suspended else None
    )
    last = max(use(end or looked.now) - zero, case.start)
    mode = joint.mode if joint.state is State.REMOVED else None
    if mode is None or mode in {Mode.RENEWED, Mode.BELT_CHANGED}:
        case.close(last, last)
    elif mode in {Mode.PULL_OUT, Mode.PIN_BROKEN}:
        case.close(last, last, last)
    else:
        case.close(last, max([case.good, case.start, *case.looks]), last)
    return case.watches


def _looks(looked: Looked) -> tuple[dict[UUID, list[_Look]], dict[UUID, datetime]]:
    """Inspections of every joint, oldest first, and when each conveyor came on file."""
    from splicewright.joint.inspection.verdict import PlateState
    from splicewright.store.facts.joint_facts import (
        InspectionClosed,
        JointMeasured,
        PlateInspected,
        PlateJudged,
    )
    from splicewright.store.facts.plant_facts import ConveyorRecorded

    kinds = ("plate inspected", "plate judged", "joint measured", "inspection closed")
    by_joint: dict[UUID, dict[UUID, _Look]] = {}
    begun: dict[UUID, datetime] = {}
    for stored in looked.facts(*kinds, "conveyor recorded", sound=False):
        event = stored.what
        if isinstance(event, ConveyorRecorded):
            begun.setdefault(stored.fact.subject, stored.received)
            continue
        assert isinstance(event, PlateInspected | PlateJudged | JointMeasured | InspectionClosed)
        if isinstance(event, PlateInspected) and event.state is PlateState.OK:
            continue  # of one conveyor they are not read: a closed look without damage is sound
        look = by_joint.setdefault(event.joint, {}).setdefault(event.inspection, _Look(stored.when))
        if isinstance(event, InspectionClosed):
            look.when, look.unfit, look.closed = stored.when, event.can_run is False, True
        elif isinstance(event, PlateInspected):
            look.damaged = True
        elif isinstance(event, PlateJudged):
            kept = 1.0 if event.share_kept is None else event.share_kept
            look.damaged |= kept < 1.0 or event.bolts_missing > 0
        else:
            look.damaged |= event.torn_left > 0 or event.torn_right > 0
    looks = {
        joint: sorted(
            (x for x in each.values() if x.when <= looked.now and (x.closed or x.damaged)),
            key=lambda x: x.when,
        )
        for joint, each in by_joint.items()
    }
    return looks, begun


def _use(
    stays: Sequence[tuple[datetime, UUID]], looked: Looked, first: datetime, last: datetime
) -> tuple[float, bool]:
    """Use of a belt from one moment to another, and whether it lay where it is looked at all along.

    stays : when it came, and to which conveyor, in order
    """
    total = 0.0
    for n, (came, conveyor) in enumerate(stays):
        begin = first if n == 0 else max(came, first)
        end = min(stays[n + 1][0], last) if n + 1 < len(stays) else last
        if begin > end or (begin == end and end < last):
            continue
        meter = looked.meters.get(conveyor)
        if meter is None:
            return total, False
        total += float(meter.totals_on(end.toordinal()) - meter.totals_on(begin.toordinal()))
    return total, True


def _delay(
    stays: Sequence[tuple[datetime, UUID]],
    looked: Looked,
    facts: Sequence[tuple[datetime, Grade | None, UUID]],
) -> tuple[float, float]:
    """How long a damage stood since it was found, and at what use it failed, infinite else."""
    from splicewright.store.facts.plant_facts import Grade

    first, stood = facts[0][0], 0.0
    for when, grade in [*(f[:2] for f in facts), (looked.now, Grade.WATCH)]:
        at, known = _use(stays, looked, first, min(when, looked.now))
        if grade is Grade.STOP and known:
            return stood, at
        stood = at
        if grade is None or not known:
            break
    return stood, math.inf


def belt_damage_of_register(looked: Looked) -> tuple[Lives | None, int, float]:
    """Damage of the belts looked at, of those that lie elsewhere now until they went there.

    Returns delays from the day it was found; how many had to stop the belt at once; use watched.
    """
    from splicewright.actions.register.facts import facts_of
    from splicewright.history.life.lives import lives_of
    from splicewright.store.facts.plant_facts import BeltPlaced, DamageFound, DamageMended

    stays: dict[UUID, list[tuple[datetime, UUID]]] = {}
    since: dict[UUID, datetime] = {}
    by_damage: dict[UUID, list[tuple[datetime, Grade | None, UUID]]] = {}
    about = looked.things
    if about is not None:
        about = about.union(*map(looked.register.belts_ever, looked.conveyors))
    kinds = ("belt placed", "damage found", "damage mended")
    for stored in facts_of(looked.register, *kinds, about=about):
        event = stored.what
        if isinstance(event, BeltPlaced):
            stays.setdefault(event.belt, []).append((stored.when, event.conveyor))
            since[event.conveyor] = min(stored.when, since.get(event.conveyor, stored.when))
        elif isinstance(event, DamageFound):
            by_damage.setdefault(event.damage, []).append((stored.when, event.grade, event.belt))
        elif isinstance(event, DamageMended):
            by_damage.setdefault(event.damage, []).append((stored.when, None, event.belt))
    good, bad, at_once = [], [], 0
    for facts in by_damage.values():
        facts.sort(key=lambda f: f[0])
        first, _, belt = facts[0]
        there = sorted(stays.get(belt, ()), key=lambda stay: stay[0])
        if not there or first > looked.now:
            continue
        stood, failed = _delay(there, looked, facts)
        if failed <= 0:
            at_once += 1
        elif failed < math.inf or stood > 0:
            good.append(stood)
            bad.append(failed)
    watched = sum(
        float(meter.totals_on(looked.now.toordinal()) - meter.totals_on(since[c].toordinal()))
        for c, meter in looked.meters.items()
        if c in since
    )
    looked.assumed.append(FROM_FINDING)
    return (lives_of(good, bad) if good else None), at_once, watched
