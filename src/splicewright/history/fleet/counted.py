"""A fleet too large to look at joint by joint: the law from counts, the first lines, how many more.

Joints of one kind are one group, and the kinds lean on each other as conveyors do elsewhere;
sites and conveyors are not told apart, ages are calendar time, and a failure counts as seen on the
day it was removed or found unfit. What a conveyor's own page says from its own meter and
inspections goes first.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.fleet.joints import FleetJoint
from splicewright.history.fleet.outlook import ConveyorOutlook, Outlook, each_outlook
from splicewright.history.fleet.stops import CauseOfStops, Trend
from splicewright.history.fleet.study import (
    LIKELY,
    FleetMatter,
    FleetStudy,
    line_of,
    line_of_matter,
    order_of,
)
from splicewright.history.fleet.urgency import Urgency
from splicewright.history.life.counts import Fate, LifeCount, by_age, records_of
from splicewright.history.life.draws import (
    CONFIDENCE,
    count_law_over,
    laws_for,
    range_of_count,
    ranges_of,
    ranges_of_counts,
)
from splicewright.history.life.limits import Limits, scale_at_least
from splicewright.history.life.lives import gather
from splicewright.history.life.pooling import Prior
from splicewright.history.life.pooling_fleet import ManyGroups, pool_many
from splicewright.quantities.measure import Measure

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from splicewright.history.life.study import Record

UNKNOWN = "kind not on file"
"""Name of joints whose kind nobody said."""
_DAY = 86_400.0
_BELIEF = Prior()
_BEYOND = 3.0  # times the longest life on file: further off, no life is told


@dataclass(frozen=True, slots=True)
class CountedLaw:
    """What counts of lives say by themselves: all of a large fleet but its lines.

    Attributes
    ----------
    now, until : when it was worked, and the next planned stop
    fleet, group : laws of the kinds of joint, None without failures; the place of each kind there
    longest : life on file, failed or not [s]
    why_not, at_least : as `FleetStudy` has them
    running, failed : joints
    causes, kinds : of failures, and of joints
    expected, none, numbers : failures before the stop, chance of none, range of their number
    likely : kinds, with days of putting to work from, and before, which joints are likely to fail
    """

    now: datetime
    until: date
    fleet: ManyGroups | None
    group: Mapping[str, int]
    longest: float
    why_not: str
    at_least: float
    running: int
    failed: int
    causes: tuple[CauseOfStops, ...]
    kinds: tuple[ConveyorOutlook, ...]
    expected: float
    none: float
    numbers: Limits | None
    likely: tuple[tuple[str, int, int], ...]


def law_of_counts(counts: Sequence[LifeCount], now: datetime, until: date) -> CountedLaw:
    """Work out a large fleet's law of life, and how many fail until the stop.

    Parameters
    ----------
    counts : the lives of all its joints
    now, until : now, and the next planned stop

    Raises
    ------
    InputError
        The stop lies behind.
    """
    today, few = now.date(), by_age(counts, now)
    records = records_of(few, now, standing=True)
    if until <= today:
        say = f"{until} is not after today, {today}; accepted is a later day"
        raise InputError(Fault("until", say))
    lives = gather([r.life for r in records], [r.count for r in records]) if records else None
    kinds = list(dict.fromkeys(r.kind for r in records))
    group = {kind: n for n, kind in enumerate(kinds)}
    fleet = None
    if lives is not None and lives.failures:
        of = {k: [r for r in records if r.kind == k] for k in kinds}
        fleet = pool_many(
            {k: gather([r.life for r in rs], [r.count for r in rs]) for k, rs in of.items()},
            _BELIEF,
        )
    why_not, at_least, longest = "", math.nan, math.nan
    if lives is None:
        why_not = "no joint has run yet"
    else:
        longest = float(np.where(lives.suspended, lives.good, lives.bad).max())
        if fleet is None:
            why_not = "no failure is on file, so no chance of failing can be worked out"
            at_least = scale_at_least(lives, _BELIEF.shape, 0.9).age_at(0.1)
    runs = [c for c in few if c.fate in {Fate.RUNNING, Fate.STANDING}]
    of_runs = np.array([group[c.kind] for c in runs], dtype=np.intp)
    whole = _whole(fleet, runs, of_runs, now, (until - today).days)
    begun = [c for c in counts if c.fate is Fate.RUNNING]
    likely = _likely_days(begun, _chances(begun, runs, whole.chance, now))
    failed = Counter[str]()
    for one in counts:
        if one.fate is Fate.FAILED:
            failed[one.cause] += one.count
    return CountedLaw(
        now,
        until,
        fleet,
        group,
        longest,
        why_not,
        at_least,
        sum(c.count for c in runs),
        sum(failed.values()),
        tuple(CauseOfStops(c, True, n, None, 0, 0.0, math.nan) for c, n in failed.most_common()),
        _kinds(kinds, records, runs, of_runs, fleet, whole),
        whole.expected,
        whole.none,
        whole.counts,
        tuple(likely),
    )


def study_counted_fleet(
    law: CountedLaw,
    joints: Sequence[FleetJoint],
    matters: Sequence[FleetMatter],
    numbers: Mapping[Urgency, int],
    not_due: Callable[[str, int, int], int],
    *,
    name: str,
    failure_cost: float = math.nan,
    assumed: Sequence[str] = (),
    left_out: Sequence[str] = (),
    invented: bool = False,
) -> FleetStudy:
    """Put a large fleet in order.

    Parameters
    ----------
    law : what the lives of all its joints say
    joints : the ones to be listed, at a use of 86 400 s a day
    matters : damages and values left outside limits, to be listed
    numbers : of all joints and matters, how many are so urgent by what is due
    not_due : of the joints of a kind put to work from one day on and before another (days from
        1970), how many run and have nothing due before the stop
    name : of the register or site
    failure_cost : of a failure; nan if unknown
    assumed, left_out : to be told with the answer
    invented : the facts are
    """
    today, until, group = law.now.date(), law.until, law.group
    lived = [j for j in joints if j.life is not None]
    index = np.array([group.get(j.kind, 0) for j in lived], dtype=np.intp)
    shown = each_outlook(law.fleet, index, lived, (until - today).days)
    middles = _within_sight(law.fleet, law.longest, shown)
    row = {id(j): n for n, j in enumerate(lived)}
    lines = [
        line_of(
            j,
            today,
            until,
            Measure.TIME,
            shown,
            row.get(id(j)),
            float(middles[group.get(j.kind, 0)]) if middles.size else math.nan,
        )
        for j in joints
    ] + [line_of_matter(m) for m in matters]
    lines.sort(key=lambda line: order_of(line, until))
    likely = sum(not_due(*days) for days in law.likely)
    sums = {u: numbers.get(u, 0) for u in Urgency}
    sums[Urgency.STOP] += likely
    sums[Urgency.LATER] -= likely
    wording = "the trend is worked out for one conveyor at a time in a register of this size"
    return FleetStudy(
        name,
        today,
        until,
        Measure.TIME,
        tuple(lines),
        (),
        law.running,
        law.failed,
        law.expected,
        law.none,
        failure_cost,
        law.why_not,
        law.at_least,
        law.causes,
        (),
        Trend(math.nan, math.nan, math.nan, wording),
        _BELIEF.sentence if law.fleet else "",
        tuple(assumed),
        tuple(left_out),
        invented,
        (),
        law.numbers,
        sums,
        kinds=law.kinds,
    )


def _within_sight(fleet: ManyGroups | None, longest: float, shown: Outlook) -> Array:
    """Age at which half of new joints have failed, by kind, (kinds,); nan where too far off."""
    if fleet is None:
        return np.empty(0)
    longest *= _BEYOND
    shown.half[shown.half > longest] = math.nan
    number = len(fleet.names)
    middle = fleet.age_left(np.arange(number), np.zeros(number), 0.5)
    return np.asarray(np.where(middle > longest, math.nan, middle))


def _kinds(
    kinds: Sequence[str],
    records: Sequence[Record],
    runs: Sequence[LifeCount],
    of_runs: NDArray[np.intp],
    fleet: ManyGroups | None,
    whole: Outlook,
) -> tuple[ConveyorOutlook, ...]:
    """Each kind of joint, most failures expected first; none where all are of one."""
    if len(kinds) < 2:
        return ()
    failed, running, expected = Counter[str](), Counter[str](), defaultdict[str, float](float)
    for r in records:
        failed[r.kind] += r.count if r.life.failed else 0
    for n, one in enumerate(runs):
        running[one.kind] += one.count
        expected[one.kind] += 0.0 if fleet is None else float(whole.chance[n]) * one.count
    counts: Sequence[Limits | None] = [None] * len(kinds)
    tenth = np.full(len(kinds), math.nan)
    tenths = list[Limits | None](counts)
    if fleet is not None and whole.laws is not None:
        every, new = np.arange(len(kinds)), np.zeros(len(kinds))
        alike = np.array([one.count for one in runs])
        means = np.stack(
            [whole.by_law[:, of_runs == n] @ alike[of_runs == n] for n in every], axis=1
        )
        counts = ranges_of_counts(means)
        tenth = fleet.age_left(every, new, 0.1)
        tenths = [
            Limits(float(low), float(high), CONFIDENCE)
            for low, high in zip(*ranges_of(whole.laws.age_left(every, new, 0.1)), strict=True)
        ]
    outlooks = [
        ConveyorOutlook(
            kind or UNKNOWN,
            "",
            running[kind],
            failed[kind],
            expected[kind] if fleet is not None else math.nan,
            float(tenth[n]),
            "",
            counts[n],
            tenths[n],
        )
        for n, kind in enumerate(kinds)
    ]
    return tuple(sorted(outlooks, key=lambda c: (-c.expected if fleet else 0.0, c.conveyor)))


def _whole(
    fleet: ManyGroups | None,
    runs: Sequence[LifeCount],
    of_runs: NDArray[np.intp],
    now: datetime,
    ahead: int,
) -> Outlook:
    """Failures of all running joints within some days, and the chance of one of each count."""
    outlook = Outlook(*np.full((6, len(runs)), math.nan))
    if fleet is None or not runs:
        return outlook
    ages = np.array([c.age(now) for c in runs])
    laws, alike = fleet.draws(laws_for(ages.size)), np.array([c.count for c in runs])
    further = np.full(ages.size, ahead * _DAY)
    chances = laws.chance_of_failing(of_runs, ages, further)
    law = count_law_over(chances, alike)
    outlook.laws, outlook.by_law, outlook.chance = laws, chances, chances.mean(axis=0)
    outlook.expected = float(outlook.chance @ alike)
    outlook.none, outlook.counts = float(law[0]), range_of_count(law)
    return outlook


def _chances(
    begun: Sequence[LifeCount], runs: Sequence[LifeCount], chance: Array, now: datetime
) -> Array:
    """Chance of those put to work on each day, from that of all of about their age and kind."""
    by_day = np.full(len(begun), math.nan)
    for kind in dict.fromkeys(one.kind for one in begun):
        of = [n for n, one in enumerate(begun) if one.kind == kind]
        alike = sorted((r.age(now), float(c)) for r, c in zip(runs, chance, strict=True)
                       if r.kind == kind)  # fmt: skip
        ages, chances = np.array(alike).T
        by_day[of] = np.interp([begun[n].age(now) for n in of], ages, chances)
    return by_day


def _likely_days(begun: Sequence[LifeCount], chance: Array) -> list[tuple[str, int, int]]:
    """Kinds, with days of putting to work from, and before, which joints are likely to fail."""
    by_kind: dict[str, list[tuple[LifeCount, bool]]] = {}
    for one, is_ in zip(begun, (chance >= LIKELY).tolist(), strict=True):
        by_kind.setdefault(one.kind, []).append((one, is_))
    return [(kind, *days) for kind, pairs in by_kind.items() for days in _likely_of(pairs)]


def _likely_of(begun: Sequence[tuple[LifeCount, bool]]) -> list[tuple[int, int]]:
    """The same of one kind."""
    spans: list[tuple[int, int]] = []
    for one, likely in sorted(begun, key=lambda pair: pair[0].bin):
        if likely and spans and spans[-1][1] == -1:
            continue
        if likely:
            spans.append((one.bin, -1))
        elif spans and spans[-1][1] == -1:
            spans[-1] = (spans[-1][0], one.bin)
    if spans and spans[-1][1] == -1:
        spans[-1] = (spans[-1][0], max(one.bin for one, _ in begun) + 1)
    return spans
