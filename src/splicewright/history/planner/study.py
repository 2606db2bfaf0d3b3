"""The planner's page: what to do now and at the stops, what to order, where to look, and why."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.fleet.joints import FleetJoint, life_of
from splicewright.history.fleet.study import FleetLine, FleetStudy
from splicewright.history.fleet.urgency import Urgency
from splicewright.history.life.draws import range_of
from splicewright.history.life.limits import Limits
from splicewright.history.pace import Pace
from splicewright.history.planner.at_stop import AtStop, at_stop
from splicewright.history.planner.next_reading import ReadingWorth
from splicewright.history.planner.next_stop import PlannerCosts, RenewalAge, StopChoice, WarningTime

MOST_LOOKED = 300
"""Joints whose inspection is weighed, the most likely to fail first: no other can be worth more."""
_LAST = date(2999, 12, 31)


@dataclass(frozen=True, slots=True)
class RenewJoint:
    """One running joint, weighed at the coming stop.

    joint, conveyor, site, id : names, and identity for links
    age : use by now [measure]; per_day : further use [measure per day]
    renew_at, renew_span : cheapest age of its conveyor, and its range [measure]; inf where none
    past : whether it is past that age; since : the day it came to it, ahead or behind; None beyond
        the calendar or where there is no such age; since_range : the days of the ends of its range
    chance, chance_span : of failing before the coming stop [0..1]
    between, between_span : of failing between the coming stop and the one after it [0..1]
    leave, leave_span : what leaving it at the coming stop costs more than renewing it; below 0 it
        pays to leave it
    half, double : the same where a failure costs half, and double
    """

    joint: str
    conveyor: str
    site: str
    id: str
    age: float
    per_day: float
    renew_at: float
    renew_span: Limits
    past: bool
    since: date | None
    chance: float
    chance_span: Limits
    between: float
    between_span: Limits
    leave: float
    leave_span: Limits
    half: float
    double: float
    since_range: tuple[date | None, date | None] = (None, None)

    @property
    def renew(self) -> bool:
        """Whether it is renewed at the coming stop."""
        return self.leave > 0

    @property
    def settled(self) -> bool:
        """Whether a failure at half and at double its cost leads to the same."""
        return (self.half > 0) == (self.double > 0) == self.renew


@dataclass(frozen=True, slots=True)
class Look:
    """One inspection, and what it is worth.

    worth, span : expected saving of an inspection now, its cost taken off, and its range
    half, double : where a failure costs half, and double
    seen : chance that it finds damage; saved : that it turns a failure into a renewal
    due : day on which an inspection is due anyway; None without one
    """

    joint: str
    conveyor: str
    id: str
    worth: float
    span: Limits
    half: float
    double: float
    seen: float
    saved: float
    due: date | None = None


@dataclass(frozen=True, slots=True)
class OneReading:
    """A worn place whose next reading decides whether it waits for the stop after the coming one.

    earliest, likely, latest : range of its end
    worth : what that reading saves; None where no cost is stated, or its wear is no line
    half, double : the same where it costs half, and double, to be worn out; nan without
    """

    place: str
    conveyor: str
    id: str
    earliest: date
    likely: date
    latest: date
    worth: ReadingWorth | None = None
    half: float = math.nan
    double: float = math.nan


@dataclass(frozen=True, slots=True)
class OrderLine:
    """Something to order.

    count, each : how many, of what; needed : for which joints or level
    by : day by which it must be ordered; None where the lead time is not known
    late : whether that day has passed
    """

    count: float
    each: str
    needed: str
    by: date | None
    late: bool = False


@dataclass(frozen=True)
class PlannerStudy:
    """The page.

    fleet : the list it rests on; now : its lines that must be acted on now, worst first
    today, until, after : now, the coming stop, the one after it
    costs : None where not stated; warning : None where not known; currency : may be empty
    joints : running joints, the dearest to leave first; empty where nothing can be weighed
    looks : inspections that save money, the most first
    readings : places whose next reading decides, the one that saves most first
    orders : what to order, the earliest day first
    unweighed : why no joint is weighed; unlooked : why no inspection is; empty where they are
    pace : of the conveyors, to turn use into days; None where not known
    renewed : what renewing those joints at the stop saves against leaving them, and its range; nan
    """

    fleet: FleetStudy
    until: date
    after: date
    costs: PlannerCosts | None
    warning: WarningTime | None
    currency: str
    joints: tuple[RenewJoint, ...]
    looks: tuple[Look, ...]
    readings: tuple[OneReading, ...]
    orders: tuple[OrderLine, ...]
    unweighed: str
    unlooked: str
    renewed: float
    renewed_span: Limits | None
    assumed: tuple[str, ...]
    pace: Pace | None = None

    @property
    def today(self) -> date:
        """Day of the page."""
        return self.fleet.today

    @property
    def invented(self) -> bool:
        """Whether the facts are."""
        return self.fleet.invented

    @property
    def now(self) -> tuple[FleetLine, ...]:
        """What must be acted on now."""
        return tuple(
            line for line in self.fleet.lines if line.urgency in {Urgency.NOW, Urgency.OVERDUE}
        )

    @property
    def at_stop(self) -> tuple[FleetLine, ...]:
        """What else is due by the coming stop: a joint to renew only where a task is due at it."""
        renewed = {joint.id for joint in self.to_renew}
        return tuple(
            line
            for line in self.fleet.lines
            if line.urgency is Urgency.STOP
            and not (line.joint and line.id in renewed and (line.due or date.max) > self.until)
        )

    @property
    def to_renew(self) -> tuple[RenewJoint, ...]:
        """Joints to renew at the coming stop."""
        return tuple(joint for joint in self.joints if joint.renew)

    @property
    def places_to_renew(self) -> tuple[OneReading, ...]:
        """Worn places that it costs more to leave at the coming stop than to renew."""
        listed = {(line.conveyor, line.what) for line in (*self.now, *self.at_stop)}
        return tuple(
            r
            for r in self.readings
            if r.worth is not None and r.worth.leave >= 0 and (r.conveyor, r.place) not in listed
        )

    @property
    def past(self) -> tuple[RenewJoint, ...]:
        """Running joints past the age at which renewing costs least."""
        return tuple(joint for joint in self.joints if joint.past)

    @property
    def next_time(self) -> tuple[RenewJoint, ...]:
        """Joints that come to that age between the coming stop and the one after it."""
        return tuple(
            j
            for j in self.joints
            if not j.renew and not j.past and j.since is not None and j.since <= self.after
        )


@dataclass(frozen=True)
class Weighed:
    """The running joints with all that was worked out of them."""

    joints: tuple[RenewJoint, ...]
    looks: tuple[Look, ...]
    renewed: float
    renewed_span: Limits | None


def weigh_joints(
    joints: Sequence[FleetJoint],
    today: date,
    until: date,
    after: date,
    costs: PlannerCosts,
    warning: WarningTime | None,
) -> Weighed:
    """Weigh every running joint, and an inspection of each.

    Parameters
    ----------
    joints : all of them, those that failed too
    today, until, after : now, the coming stop, the one after it
    costs : in one currency
    warning : how long damage can be seen; None weighs no inspection

    Raises
    ------
    InputError
        Stops out of order; no failure is on file.
    """
    if not today < until:
        raise InputError(Fault("next stop", f"{until} is not after today, {today}"))
    at = at_stop(joints, today, until, after)
    if at is None:
        return Weighed((), (), math.nan, None)
    rules, fails = at.rules(costs), at.fails()
    stated = at.choice(costs)
    others = [costs.if_failure(times) for times in (0.5, 2.0)]
    half, double = (at.choice(changed).leave for changed in others)
    weighed = tuple(
        _weighed_joint(j, n, today, rules[at.whose[n]], fails, stated, half, double)
        for n, j in enumerate(at.runs)
    )
    renew = stated.leave > 0
    saved = stated.by_law[:, renew].sum(axis=1) if renew.any() else None
    looks: tuple[Look, ...] = ()
    if warning is not None:
        looks = _looks(at, fails[1].mean(axis=0), [costs, *others], warning)
    return Weighed(
        tuple(sorted(weighed, key=lambda j: -j.leave)),
        looks,
        float(saved.mean()) if saved is not None else math.nan,
        range_of(saved) if saved is not None else None,
    )


def _weighed_joint(
    joint: FleetJoint,
    n: int,
    today: date,
    rule: RenewalAge,
    fails: Sequence[Array],
    stated: StopChoice,
    half: Array,
    double: Array,
) -> RenewJoint:
    age = life_of(joint).good
    between = fails[1][:, n] - fails[0][:, n]
    return RenewJoint(
        joint.joint,
        joint.conveyor,
        joint.site,
        joint.id,
        age,
        joint.per_day,
        rule.age,
        rule.span,
        age >= rule.age,
        _day(today, rule.age - age, joint.per_day),
        float(fails[0][:, n].mean()),
        range_of(fails[0][:, n]),
        float(between.mean()),
        range_of(between),
        float(stated.leave[n]),
        stated.span(n),
        float(half[n]),
        float(double[n]),
        (
            _day(today, rule.span.low - age, joint.per_day),
            _day(today, rule.span.high - age, joint.per_day),
        ),
    )


def _day(today: date, use: float, per_day: float) -> date | None:
    """The day that lies so much use ahead, or behind where it is below 0."""
    days = use / per_day if per_day > 0 else math.nan
    if not (date.min - today).days < days < (_LAST - today).days:
        return None
    return today + timedelta(days=math.ceil(days))


def _looks(
    at: AtStop, chance: Array, costs: Sequence[PlannerCosts], warning: WarningTime
) -> tuple[Look, ...]:
    some = np.argsort(-chance, kind="stable")[:MOST_LOOKED]
    stated, half, double = (at.looks(some, c, warning) for c in costs)
    looks = []
    for k, n in enumerate(some):
        if stated.worth[k] <= 0:
            continue
        joint = at.runs[n]
        due = min((d.due for d in joint.duties if d.task == "inspect"), default=None)
        looks.append(
            Look(
                joint.joint,
                joint.conveyor,
                joint.id,
                float(stated.worth[k]),
                stated.span(k),
                float(half.worth[k]),
                float(double.worth[k]),
                float(stated.seen[k]),
                float(stated.saved[k]),
                due,
            )
        )
    return tuple(sorted(looks, key=lambda look: -look.worth))
