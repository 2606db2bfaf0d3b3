"""Lives of joints from the register: when last seen good, when first known failed.

================================  ===========================================================
what the register says            how it counts
================================  ===========================================================
removed, renewed or with belt     good to that age (suspended)
removed: pull-out, pin broken     failed at that age: the belt parts and stops
removed for any other mode        failed between the last look that found it good and then
the last look: must not run       failed between the look before and that look
runs, or stands                   good to now, or to when it was stopped
================================  ===========================================================

The log of a conveyor begins when the register first knew it; if joints that were removed, or found
unfit, before that are on file, when the first of those was put to work. Joints that ran before
their log began are left-truncated. These are assumptions of this tool; a pull-out or broken pin is
taken as seen when it happens because it parts the belt, other modes as found by somebody who
looked. A removal whose mode is "other" counts as a failure, the safe side.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING
from uuid import UUID

from splicewright.errors import SplicewrightError

if TYPE_CHECKING:
    from datetime import date

    from splicewright.actions.register.use import Looked
    from splicewright.history.fleet.joints import Duty, FleetJoint
    from splicewright.history.fleet.stops import Stop
    from splicewright.history.life.lives import Life
    from splicewright.history.life.study import Record
    from splicewright.history.meter import Meter
    from splicewright.store.present.present import JointNow

_LONGEST_STOP = timedelta(days=30)
_MOST_PLANS = 300
_MOST_DUE = 1_000_000
TRUNCATION = (
    "A joint that ran before the register knew its conveyor counts only from then on, unless "
    "joints removed earlier are on file, too"
)
FOUND = (
    "Pull-outs and broken pins count as seen when they happened, other failures as somewhere "
    "since the last inspection; a removal without a known mode counts as a failure"
)


@dataclass(frozen=True)
class JointsRead:
    """What the register says of joints.

    records : a life for each joint that has run, for `study_life`
    joints : the same and those still to run, for `study_fleet`
    stops : joints taken out
    """

    records: tuple[Record, ...]
    joints: tuple[FleetJoint, ...]
    stops: tuple[Stop, ...]


def lives_of_register(looked: Looked, *, kinds: bool = True) -> JointsRead:
    """Read all joints of the conveyors looked at.

    looked : conveyors and meters; what cannot be used is added to its `left_out`
    kinds : read each joint's kind from its kept plan, which takes a while for large fleets
    """
    from splicewright.history.fleet.joints import FleetJoint
    from splicewright.history.life.study import Record
    from splicewright.store import State

    by_conveyor = _by_conveyor(looked)
    begun = _log_begun(looked, by_conveyor)
    duties = _duties(looked)
    records, joints, stops = [], [], []
    kept = _Kinds(looked) if kinds else None
    for conveyor, rows in by_conveyor.items():
        name, site = looked.labels[conveyor], looked.sites[looked.conveyors[conveyor].site]
        meter = looked.meters.get(conveyor)
        if meter is None:
            continue
        lives = _lives(looked, conveyor, rows, meter, begun[conveyor])
        starts = sorted(j.put_to_work for j in rows if j.put_to_work is not None)
        for joint, life in zip(rows, lives, strict=True):
            there = joint.state in {State.RUNNING, State.SUSPENDED}
            bad_look = joint.can_run is False and joint.state is not State.REMOVED
            runs = there and life is not None and not life.failed
            if life is not None:
                kind = kept.of(joint) if kept else ""
                records.append(Record(life, kind, name, runs, per_day=meter.rate))
            joints.append(
                FleetJoint(
                    joint.label,
                    name,
                    site,
                    life,
                    meter.rate,
                    str(joint.joint),
                    str(conveyor),
                    runs,
                    bad_look and there,
                    duties.get(joint.joint, ()),
                    _watched(joint, begun[conveyor], looked.now),
                    _stands(joint),
                )
            )
            if joint.state is State.REMOVED:
                stops.append(_stop(joint, name, starts))
    looked.assumed.extend((FOUND, TRUNCATION))
    if kept and kept.unread:
        looked.left_out.append(f"{kept.unread} kept plans could not be read for the kind of joint")
    return JointsRead(tuple(records), tuple(joints), tuple(s for s in stops if s is not None))


def _by_conveyor(looked: Looked) -> dict[UUID, list[JointNow]]:
    by_conveyor: dict[UUID, list[JointNow]] = {c: [] for c in looked.conveyors}
    for joint in looked.joints():
        by_conveyor[joint.conveyor].append(joint)
    return by_conveyor


def _log_begun(
    looked: Looked, by_conveyor: Mapping[UUID, Sequence[JointNow]]
) -> dict[UUID, datetime]:
    """When each conveyor's joints began to be watched."""
    known: dict[UUID, datetime] = {}
    for stored in looked.facts("conveyor recorded"):
        known.setdefault(stored.fact.subject, stored.received)
    begun = {}
    for conveyor, rows in by_conveyor.items():
        first = known.get(conveyor, looked.now)
        earlier = [
            j.put_to_work or j.built or first
            for j in rows
            if (j.removed is not None and j.removed < first)
            or (j.can_run is False and j.inspected is not None and j.inspected < first)
        ]
        begun[conveyor] = min([first, *earlier])
    return begun


def _lives(
    looked: Looked, conveyor: UUID, rows: Sequence[JointNow], meter: Meter, begun: datetime
) -> list[Life | None]:
    """The life of each joint, None for one that has not run or whose ages cannot be."""
    import numpy as np

    from splicewright.history.life.lives import Life

    spans = [_span(looked, j) for j in rows]
    late = looked.now
    days = [[_day(m or late) for m in (span or (late, late, late))] for span in spans]
    moments = np.array(days, dtype=np.float64).reshape(-1, 3)
    totals = meter.totals_on(moments)
    start = float(meter.totals_on(_day(begun)))
    lives: list[Life | None] = []
    several = len(looked.conveyors) > 1
    for joint, span, (zero, good_at, bad_at) in zip(rows, spans, totals.tolist(), strict=True):
        if span is None:
            lives.append(None)
            continue
        name = f"{looked.labels[conveyor]} {joint.label}" if several else joint.label
        entered = max(0.0, start - zero)
        good, bad = max(good_at - zero, entered), math.inf
        cause = ""
        if span[2] is not None:
            bad = bad_at - zero
            cause = joint.mode.value if joint.mode is not None else "found unfit to run"
        if bad <= 0 or bad < good or (bad <= entered and entered > 0):
            looked.left_out.append(
                f"{name}: failed before it had run, or before its log began; left out"
            )
            lives.append(None)
            continue
        lives.append(Life(good, bad, entered, looked.measure, name, cause))
    return lives


def _span(looked: Looked, joint: JointNow) -> tuple[datetime, datetime, datetime | None] | None:
    """Put to work, last known good, first known failed (None while it is not)."""
    from splicewright.store import State
    from splicewright.store.facts.joint_facts import Mode

    start = joint.put_to_work or (joint.built if joint.state is State.REMOVED else None)
    if start is None:
        return None
    end = joint.stopped or joint.removed
    if joint.state is not State.REMOVED:
        end = joint.stopped if joint.state is State.SUSPENDED else looked.now
    until = max(start, end or looked.now)
    unfit = joint.can_run is False and joint.inspected is not None
    if joint.state is State.REMOVED and joint.mode in {Mode.RENEWED, Mode.BELT_CHANGED}:
        if not unfit:
            return start, until, None
    elif joint.state is not State.REMOVED and not unfit:
        return start, until, None
    if unfit and joint.inspected is not None:
        look = max(start, joint.inspected)
        return start, _good_look_before(looked, joint, start, look), look
    if joint.mode in {Mode.PULL_OUT, Mode.PIN_BROKEN}:
        return start, until, until
    looked_at = joint.inspected
    return start, looked_at if looked_at and start < looked_at <= until else start, until


def _good_look_before(looked: Looked, joint: JointNow, start: datetime, look: datetime) -> datetime:
    """The last inspection before `look` that did not find it unfit, or when it was put to work."""
    from splicewright.store.facts.joint_facts import InspectionClosed

    good = [
        s.when
        for s in looked.register.facts_about(joint.joint)
        if not s.withdrawn
        and isinstance(s.what, InspectionClosed)
        and s.what.can_run is not False
        and start < s.when < look
    ]
    return max(good, default=start)


def _day(moment: datetime) -> float:
    """A moment as ordinal with the fraction of its day."""
    return moment.toordinal() + (moment.hour * 3600 + moment.minute * 60 + moment.second) / 86400.0


def _watched(joint: JointNow, begun: datetime, now: datetime) -> tuple[date, date] | None:
    start = joint.put_to_work
    if start is None:
        return None
    first, last = max(start, begun), joint.removed or now
    return (first.date(), max(first, last).date())


def _stands(joint: JointNow) -> date | None:
    from splicewright.store import State

    stopped = joint.stopped if joint.state is State.SUSPENDED else None
    return stopped.date() if stopped is not None else None


def _stop(joint: JointNow, conveyor: str, starts: Sequence[datetime]) -> Stop | None:
    """How a joint was taken out, and how long the belt stood: to the next joint put to work."""
    from splicewright.history.fleet.stops import Stop
    from splicewright.store.facts.joint_facts import Mode

    when = joint.stopped or joint.removed
    if when is None or joint.mode is None:
        return None
    next_ = bisect_left(starts, when)
    lasted = math.nan
    # taken out and put to work at one moment: days were recorded, not hours
    if next_ < len(starts) and timedelta(0) < starts[next_] - when <= _LONGEST_STOP:
        lasted = (starts[next_] - when).total_seconds()
    failed = joint.mode not in {Mode.RENEWED, Mode.BELT_CHANGED}
    return Stop(conveyor, joint.label, joint.mode.value, when.date(), failed, lasted)


def _duties(looked: Looked) -> dict[UUID, tuple[Duty, ...]]:
    """What is due at each joint, however far ahead."""
    from splicewright.history.fleet.joints import Duty

    only = next(iter(looked.conveyors)) if len(looked.conveyors) == 1 else None
    by_joint: dict[UUID, list[Duty]] = {}
    far = datetime(2199, 12, 31, tzinfo=looked.now.tzinfo)
    for item in looked.register.due(far, conveyor=only, limit=_MOST_DUE):
        by_joint.setdefault(item.joint, []).append(Duty(item.task.value, item.due.date(), item.why))
    return {joint: tuple(duties) for joint, duties in by_joint.items()}


class _Kinds:
    """Kinds of joint from the kept plans; each plan is read once."""

    def __init__(self, looked: Looked) -> None:
        self._register = looked.register
        self._known: dict[str, str] = {}
        self.unread = 0

    def of(self, joint: JointNow) -> str:
        """Kind of a joint, empty when nobody said it; registers of before have it in plans only."""
        if joint.plan is None or joint.construction:
            return joint.construction
        if joint.plan not in self._known:
            self._known[joint.plan] = self._read(joint.plan)
        return self._known[joint.plan]

    def _read(self, digest: str) -> str:
        from splicewright.job import JointPlan

        if len(self._known) >= _MOST_PLANS:
            self.unread += 1
            return ""
        try:
            plan = JointPlan.from_json(self._register.content(digest).data)
        except SplicewrightError:
            self.unread += 1
            return ""
        return plan.construction
