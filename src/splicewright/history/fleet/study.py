"""A whole fleet: what is due, worst first, and why; what fails before the next planned stop.

The order is by urgency (now; overdue; before the next planned stop; later). What is due now or
overdue goes by how long ago it came due, the rest by the chance of failing before that stop. Every
line says why it stands where it stands.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.fleet.joints import FleetJoint, fitted, group_of, grouped, life_of
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
from splicewright.history.life.limits import scale_at_least
from splicewright.history.life.lives import Life, gather
from splicewright.history.life.pooling import Prior
from splicewright.history.life.pooling_fleet import ManyGroups
from splicewright.history.life.remaining import count_law
from splicewright.quantities import Sentence
from splicewright.quantities.measure import Measure

if TYPE_CHECKING:
    from numpy.typing import NDArray

LIKELY = 0.05
"""A joint with this chance of failing before the next stop stands among what that stop must face
(assumption of this tool)."""
_LAST = date(2999, 12, 31)
_MORE_LIKELY_THAN_NOT = 0.5  # least chance of what is likely due by then
_BEYOND = 3.0  # times the longest life on file: further off, no life is told


@dataclass(frozen=True, slots=True)
class FleetMatter:
    """Something besides the joints' lives: a damage, wear of a place, a value left outside limits.

    Attributes
    ----------
    what, conveyor, site : names
    urgency : how soon
    reasons : why
    likely : day by which the limit is likely met, or something is due; None without one
    id : of the conveyor, for links
    job : id of the job it is about, for links; empty without one
    """

    what: str
    conveyor: str
    site: str
    urgency: Urgency
    reasons: tuple[Sentence, ...]
    likely: date | None = None
    id: str = ""
    job: str = ""


@dataclass(frozen=True, slots=True)
class FleetLine:
    """One line of the list.

    Attributes
    ----------
    what, conveyor, site, urgency, reasons, id, job : as above
    joint : whether it is a joint
    age : use of a joint by now [measure]; nan else
    chance : of failing before the next stop [0..1]; nan where not known
    half_left : use within which half of such joints fail [measure]; nan where not known, or more
        than three times the longest life on file
    half_by : the same as a date; None beyond the calendar
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


@dataclass(frozen=True, slots=True)
class ConveyorOutlook:
    """One conveyor: running joints, failures to expect before the stop, its own life.

    tenth : age by which one joint in ten has failed [measure]; nan where not known
    id : identity of the conveyor
    """

    conveyor: str
    site: str
    running: int
    failures: int
    expected: float
    tenth: float
    id: str = ""


@dataclass(frozen=True)
class FleetStudy:
    """The fleet.

    Attributes
    ----------
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

    def number(self, urgency: Urgency) -> int:
        """How many lines are so urgent."""
        return sum(line.urgency is urgency for line in self.lines)


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

    Parameters
    ----------
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

    Raises
    ------
    InputError
        The stop lies behind, or lives that cannot be.
    """
    if until <= today:
        said = f"{until} is not after today, {today}; accepted is a later day"
        raise InputError(Fault("until", said))
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
    ahead = (until - today).days
    chance, half = _outlook(fleet, index, lives, lived, ahead)
    middle = None
    if fleet:
        middle = fleet.age_left(np.arange(len(groups)), np.zeros(len(groups)), 0.5)
        longest = _BEYOND * max(max(life.good, life.bad if life.failed else 0.0) for life in lives)
        half, middle = (np.where(a > longest, math.nan, a) for a in (half, middle))
    seen = {id(j): n for n, j in enumerate(lived)}
    lines = [
        _line(j, today, until, measure, seen.get(id(j)), chance, half,
              math.nan if middle is None or j.life is None else float(middle[index[seen[id(j)]]]))
        for j in joints if j.running or j.must_not_run
    ]  # fmt: skip
    lines += [
        FleetLine(
            m.what,
            m.conveyor,
            m.site,
            m.urgency,
            m.reasons,
            m.id,
            False,
            due=m.likely,
            job=m.job,
            conveyor_id=m.id,
        )
        for m in matters
    ]
    lines.sort(key=lambda line: _order(line, until))
    running = np.array([j.running for j in lived], dtype=bool)
    known = chance[running] if fleet else np.empty(0)
    none = float(count_law(known)[0]) if known.size else math.nan
    days = [j.watched for j in joints if j.watched is not None]
    begun, ended = ([d[k].toordinal() for d in days] for k in (0, 1))
    return FleetStudy(
        name, today, until, measure, tuple(lines),
        _conveyors(groups, lived, index, chance, fleet),
        sum(j.running for j in joints), failures,
        float(known.sum()) if fleet else math.nan, none, failure_cost, why_not, at_least,
        stops_by_cause(stops, today, stop_cost=stop_cost,
                       failure_cost=0.0 if math.isnan(failure_cost) else failure_cost),
        years_of_stops(stops, begun, ended, today, stop_cost=stop_cost,
                       failure_cost=0.0 if math.isnan(failure_cost) else failure_cost),
        trend_of_failures(stops, begun, ended, today),
        belief.sentence if fleet else "", tuple(assumed), tuple(left_out), invented,
        trends_by_cause(stops, begun, ended, today),
    )  # fmt: skip


def _outlook(
    fleet: ManyGroups | None, index: NDArray[np.intp], lives: Sequence[Life],
    lived: Sequence[FleetJoint], ahead: int,
) -> tuple[Array, Array]:  # fmt: skip
    """Chance before the stop and further use of half, of each joint that has run."""
    if fleet is None:
        return np.full(len(lived), math.nan), np.full(len(lived), math.nan)
    ages = np.array([life.good for life in lives])
    further = np.array([j.per_day * ahead for j in lived])
    return fleet.chance_of_failing(index, ages, further), fleet.age_left(index, ages, 0.5)


def _line(
    joint: FleetJoint, today: date, until: date, measure: Measure, row: int | None,
    chance: Array, half: Array, middle: float,
) -> FleetLine:  # fmt: skip
    sure = float(chance[row]) if row is not None and joint.running else math.nan
    left = float(half[row]) if row is not None and joint.running else math.nan
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
    reasons = joint_reasons(
        joint.must_not_run, joint.duties, today, until, measure.kind, sure, age, left, middle,
        joint.stands, joint.watched is not None,
    )  # fmt: skip
    half_by = None
    if math.isfinite(left) and joint.per_day > 0 and left / joint.per_day < (_LAST - today).days:
        half_by = today + timedelta(days=left / joint.per_day)
    return FleetLine(
        joint.joint, joint.conveyor, joint.site, urgency, reasons, joint.id, True, age, sure, left,
        half_by, due, conveyor_id=joint.conveyor_id,
    )  # fmt: skip


def _order(line: FleetLine, until: date) -> tuple[int, date, float, date, str, str]:
    """Now and overdue by how long ago they came due; the rest by chance."""
    chance = line.chance if math.isfinite(line.chance) else 0.0
    if not line.joint and line.due is not None and line.due <= until:
        chance = _MORE_LIKELY_THAN_NOT
    acting = line.urgency.rank < Urgency.STOP.rank
    dateless = line.joint and line.urgency is Urgency.NOW  # must not run, whatever is due when
    since = line.due if acting and not dateless and line.due is not None else date.min
    return (line.urgency.rank, since, -chance, line.due or _LAST, line.conveyor, line.what)


def _conveyors(
    groups: Sequence[str], lived: Sequence[FleetJoint], index: NDArray[np.intp], chance: Array,
    fleet: ManyGroups | None,
) -> tuple[ConveyorOutlook, ...]:  # fmt: skip
    running = np.array([j.running for j in lived], dtype=np.float64)
    failed = np.array([life_of(j).failed for j in lived], dtype=np.float64)
    size = len(groups)
    count, broke = (np.bincount(index, w, size) for w in (running, failed))
    expected = np.bincount(index, np.where(running > 0, chance, 0.0), size)
    tenth = np.full(size, math.nan)
    if fleet is not None:
        tenth = fleet.age_left(np.arange(size), np.zeros(size), 0.1)
    first: dict[str, FleetJoint] = {}
    for joint in lived:
        first.setdefault(group_of(joint), joint)
    found = [
        ConveyorOutlook(
            first[g].conveyor, first[g].site, int(count[n]), int(broke[n]),
            float(expected[n]) if fleet else math.nan, float(tenth[n]), first[g].conveyor_id,
        )
        for n, g in enumerate(groups)
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda c: (-c.expected if fleet else 0.0, c.conveyor)))
