"""A whole fleet: what is due, worst first, and why; what fails before the next planned stop.

The order is by urgency (now; overdue; before the next planned stop; later). What is due now or
overdue goes by how long ago it came due, the rest by the chance of failing before that stop. Every
line says why it stands where it stands.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.fleet.joints import FleetJoint, fitted, grouped, life_of
from splicewright.history.fleet.outlook import ConveyorOutlook, Outlook, conveyors_of, outlook_of
from splicewright.history.fleet.reasons import joint_reasons
from splicewright.history.fleet.stops import (
    CauseOfStops,
    Stop,
    Trend,
    YearOfStops,
    stops_by_cause,
    trend_of_failures,
    trends_by_cause,
    years_of_stops,
)
from splicewright.history.fleet.urgency import Urgency, urgency_of_duty
from splicewright.history.life.draws import CONFIDENCE
from splicewright.history.life.limits import Limits, scale_at_least
from splicewright.history.life.lives import gather
from splicewright.history.life.pooling import Prior
from splicewright.history.pace import day_when
from splicewright.quantities import Record, Sentence
from splicewright.quantities.going_on import go_on
from splicewright.quantities.measure import Measure

LIKELY = 0.05
"""A joint with this chance of failing before the next stop stands among what that stop must face
(assumption of this tool)."""
_LAST = date(2999, 12, 31)
_MORE_LIKELY_THAN_NOT = 0.5  # least chance of what is likely due by then
_BEYOND = 3.0  # times the longest life on file: further off, no life is told


@dataclass(frozen=True, slots=True)
class FleetMatter:
    """Something besides the joints' lives: a damage, wear of a place, a value left outside limits.

    what, conveyor, site : names
    urgency : how soon
    reasons : why
    likely : day by which the limit is likely met, or something is due; None without one
    id : of the conveyor, for links
    job : id of the job it is about, for links; empty without one
    record : explains the numbers of the reasons
    """

    what: str
    conveyor: str
    site: str
    urgency: Urgency
    reasons: tuple[Sentence, ...]
    likely: date | None = None
    id: str = ""
    job: str = ""
    record: Record | None = field(default=None, repr=False)


@dataclass(frozen=True, slots=True)
class FleetLine:
    """One line of the list.

    what, conveyor, site, urgency, reasons, id, job, record : as above
    joint : whether it is a joint
    age : use of a joint by now [measure]; nan else
    chance : of failing before the next stop [0..1]; nan where not known
    half_left : use within which half of such joints fail [measure]; nan where not known, or more
        than three times the longest life on file
    half_by : the same as a date; None beyond the calendar
    chance_range : holds the chance with 90 %, as far as the records tell; None where not known
    half_range : the same of `half_by`; None in it beyond the calendar
    due : the earliest thing due; None without one
    conveyor_id : identity of the conveyor
    """

    what: str
    conveyor: str
    site: str
    urgency: Urgency
    reasons: tuple[Sentence, ...]
    id: str
    joint: bool
    age: float = math.nan
    chance: float = math.nan
    half_left: float = math.nan
    half_by: date | None = None
    due: date | None = None
    job: str = ""
    conveyor_id: str = ""
    chance_range: Limits | None = None
    half_range: tuple[date | None, date | None] = (None, None)
    record: Record | None = field(default=None, repr=False)


@dataclass(frozen=True)
class FleetStudy:
    """The fleet.

    name : of the register or site
    today, until : now, and the next planned stop
    measure : what ages are counted in
    lines : worst first
    conveyors : most failures expected first
    running, failures : joints in the belts, and how many failed so far
    expected : mean number that fail before the stop; nan where not known
    none_fails : chance that none does; nan where not known
    failure_cost : of a failure, nan when not given
    why_not : why no chance is known; empty when it is
    at_least : age that nine in ten reach at least, where no failure is on file; nan else
    causes, years, trend : stops behind us
    belief : what was believed beforehand
    assumed : named assumptions behind the list
    left_out : what could not be used, and why
    invented : the facts are
    cause_trends : the trend of each cause of failure, the surest difference first
    counts : failures before the stop lie between these nine times in ten; None where not known
    numbers : how many are so urgent, where `lines` are only the first of them; None where all are
    prior : the belief that chances lean on; None takes the one that is assumed
    kinds : where joints are counted together, each kind of joint, most failures expected first
    """

    name: str
    today: date
    until: date
    measure: Measure
    lines: tuple[FleetLine, ...]
    conveyors: tuple[ConveyorOutlook, ...]
    running: int
    failures: int
    expected: float
    none_fails: float
    failure_cost: float
    why_not: str
    at_least: float
    causes: tuple[CauseOfStops, ...]
    years: tuple[YearOfStops, ...]
    trend: Trend
    belief: str
    assumed: tuple[str, ...]
    left_out: tuple[str, ...]
    invented: bool = False
    cause_trends: tuple[tuple[str, Trend], ...] = ()
    counts: Limits | None = None
    numbers: Mapping[Urgency, int] | None = None
    prior: Prior | None = field(default=None, repr=False)
    kinds: tuple[ConveyorOutlook, ...] = ()

    @property
    def expected_cost(self) -> float:
        """Mean cost of the failures before the stop; nan where not known."""
        return self.expected * self.failure_cost

    def number(self, urgency: Urgency) -> int:
        """How many lines are so urgent."""
        if self.numbers is not None:
            return self.numbers[urgency]
        return sum(line.urgency is urgency for line in self.lines)

    @property
    def all_lines(self) -> int:
        """How many lines there are, those that are only counted too."""
        return sum(self.numbers.values()) if self.numbers is not None else len(self.lines)


def study_fleet(
    joints: Sequence[FleetJoint],
    matters: Sequence[FleetMatter] = (),
    stops: Sequence[Stop] = (),
    *,
    today: date,
    until: date,
    measure: Measure = Measure.TIME,
    name: str = "",
    stop_cost: float = math.nan,
    failure_cost: float = math.nan,
    prior: Prior | None = None,
    assumed: Sequence[str] = (),
    left_out: Sequence[str] = (),
    invented: bool = False,
) -> FleetStudy:
    """Put the fleet in order.

    joints : all of them, those that failed or were taken out too: they say how long joints last
    matters : damages and worn places
    stops : behind us
    today, until : now, and the next planned stop
    measure : what lives are counted in
    name : of the register or site
    stop_cost, failure_cost : of standing still [per s], and of a failure besides; nan if unknown
    prior : what is believed beforehand
    assumed, left_out : to be told with the answer
    invented : the facts are
    Raises InputError: the stop lies behind, or lives that cannot be.
    """
    if until <= today:
        wording = f"{until} is not after today, {today}; accepted is a later day"
        raise InputError(Fault("until", wording))
    belief = prior or Prior()
    lived = [j for j in joints if j.life is not None]
    groups, index = grouped(lived)
    lives = [life_of(j) for j in lived]
    failures = sum(life.failed for life in lives)
    fleet = None
    why_not, at_least = "", math.nan
    if failures:
        fleet = fitted(groups, index, lives, belief)
    elif lives:
        why_not = "no failure is on file, so no chance of failing can be worked out"
        at_least = scale_at_least(gather(lives), belief.shape, 0.9).age_at(0.1)
    else:
        why_not = "no joint has run yet"
    outlook = outlook_of(fleet, index, lived, (until - today).days)
    middle = None
    if fleet:
        middle = fleet.age_left(np.arange(len(groups)), np.zeros(len(groups)), 0.5)
        longest = _BEYOND * max(max(life.good, life.bad if life.failed else 0.0) for life in lives)
        middle = np.where(middle > longest, math.nan, middle)
        outlook.half[outlook.half > longest] = math.nan
    seen = {id(j): n for n, j in enumerate(lived)}
    lines = [
        line_of(
            j,
            today,
            until,
            measure,
            outlook,
            seen.get(id(j)),
            math.nan if middle is None or j.life is None else float(middle[index[seen[id(j)]]]),
        )
        for j in joints
        if j.running or j.must_not_run
    ]
    lines += [line_of_matter(m) for m in matters]
    lines.sort(key=lambda line: order_of(line, until))
    days = [j.watched for j in joints if j.watched is not None]
    begun, ended = ([d[k].toordinal() for d in days] for k in (0, 1))
    return FleetStudy(
        name,
        today,
        until,
        measure,
        tuple(lines),
        conveyors_of(groups, lived, index, outlook, fleet, today),
        sum(j.running for j in joints),
        failures,
        outlook.expected,
        outlook.none,
        failure_cost,
        why_not,
        at_least,
        stops_by_cause(
            stops,
            today,
            stop_cost=stop_cost,
            failure_cost=0.0 if math.isnan(failure_cost) else failure_cost,
        ),
        years_of_stops(
            stops,
            begun,
            ended,
            today,
            stop_cost=stop_cost,
            failure_cost=0.0 if math.isnan(failure_cost) else failure_cost,
        ),
        trend_of_failures(stops, begun, ended, today),
        belief.sentence if fleet else "",
        tuple(assumed),
        tuple(left_out),
        invented,
        trends_by_cause(stops, begun, ended, today),
        outlook.counts,
        prior=prior,
    )


def line_of(
    joint: FleetJoint,
    today: date,
    until: date,
    measure: Measure,
    outlook: Outlook,
    row: int | None,
    middle: float,
) -> FleetLine:
    """A joint as a line; `row` is its place in the outlook, `middle` what a new one reaches."""
    go_on()
    sure = float(outlook.chance[row]) if row is not None else math.nan
    left = float(outlook.half[row]) if row is not None else math.nan
    span = None
    if row is not None and math.isfinite(sure):
        span = Limits(float(outlook.low[row]), float(outlook.high[row]), CONFIDENCE)
    age = joint.life.good if joint.life is not None else math.nan
    dues = [d.due for d in joint.duties]
    due = min([*dues, *([joint.stands] if joint.stands else [])], default=None)
    urgency = urgency_of_duty(due, today, until)
    if joint.must_not_run:
        urgency = Urgency.NOW
    elif joint.stands is not None:
        urgency = Urgency.OVERDUE
    elif urgency is Urgency.LATER and sure >= LIKELY:
        urgency = Urgency.STOP
    half_by: date | None = None
    half_range: tuple[date | None, date | None] = (None, None)
    if row is not None and math.isfinite(left):
        half_by, *ends = (
            day_when(today, use, joint.per_day)
            for use in (left, float(outlook.half_low[row]), float(outlook.half_high[row]))
        )
        half_range = (ends[0], ends[1])
    reasons = joint_reasons(
        joint.must_not_run,
        joint.duties,
        today,
        until,
        measure.kind,
        sure,
        span,
        age,
        left,
        middle,
        joint.stands,
        joint.watched is not None,
        half_by,
        day_when(today, middle, joint.per_day),
    )
    return FleetLine(
        joint.joint,
        joint.conveyor,
        joint.site,
        urgency,
        reasons,
        joint.id,
        True,
        age,
        sure,
        left,
        half_by,
        due,
        conveyor_id=joint.conveyor_id,
        chance_range=span,
        half_range=half_range,
    )


def line_of_matter(matter: FleetMatter) -> FleetLine:
    """A damage, worn place or value left outside as a line."""
    return FleetLine(
        matter.what,
        matter.conveyor,
        matter.site,
        matter.urgency,
        matter.reasons,
        matter.id,
        False,
        due=matter.likely,
        job=matter.job,
        conveyor_id=matter.id,
        record=matter.record,
    )


def order_of(line: FleetLine, until: date) -> tuple[int, date, float, date, str, str]:
    """Now and overdue by how long ago they came due; the rest by chance."""
    chance = line.chance if math.isfinite(line.chance) else 0.0
    if not line.joint and line.due is not None and line.due <= until:
        chance = _MORE_LIKELY_THAN_NOT
    acting = line.urgency.rank < Urgency.STOP.rank
    dateless = line.joint and line.urgency is Urgency.NOW  # must not run, whatever is due when
    since = line.due if acting and not dateless and line.due is not None else date.min
    return (line.urgency.rank, since, -chance, line.due or _LAST, line.conveyor, line.what)
