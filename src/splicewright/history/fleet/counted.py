"""A fleet too large to look at joint by joint: the law from counts, the first lines, how many more.

All joints are one group: sites and conveyors are not told apart, ages are calendar time, and a
failure counts as seen on the day it was removed or found unfit. What a conveyor's own page says
from its own meter and inspections goes first.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.fleet.joints import FleetJoint
from splicewright.history.fleet.outlook import Outlook, each_outlook
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
from splicewright.history.life.counts import Fate, LifeCount, records_of
from splicewright.history.life.draws import count_law_over, laws_for, range_of_count
from splicewright.history.life.limits import scale_at_least
from splicewright.history.life.lives import Lives, gather
from splicewright.history.life.pooling import Prior
from splicewright.history.life.pooling_fleet import ManyGroups, pool_many
from splicewright.quantities.measure import Measure

_DAY = 86_400.0
_BEYOND = 3.0  # times the longest life on file: further off, no life is told


def study_counted_fleet(
    counts: Sequence[LifeCount],
    joints: Sequence[FleetJoint],
    matters: Sequence[FleetMatter],
    numbers: Mapping[Urgency, int],
    not_due: Callable[[int, int], int],
    *,
    now: datetime,
    until: date,
    name: str,
    failure_cost: float = math.nan,
    assumed: Sequence[str] = (),
    left_out: Sequence[str] = (),
    invented: bool = False,
) -> FleetStudy:
    """Put a large fleet in order.

    Parameters
    ----------
    counts : the lives of all its joints
    joints : the ones to be listed, at a use of 86 400 s a day
    matters : damages and values left outside limits, to be listed
    numbers : of all joints and matters, how many are so urgent by what is due
    not_due : of the joints put to work from one day on and before another (days from 1970), how
        many run and have nothing due before the stop
    now, until : now, and the next planned stop
    name : of the register or site
    failure_cost : of a failure; nan if unknown
    assumed, left_out : to be told with the answer
    invented : the facts are

    Raises
    ------
    InputError
        The stop lies behind.
    """
    today, records = now.date(), records_of(counts, now, standing=True)
    if until <= today:
        said = f"{until} is not after today, {today}; accepted is a later day"
        raise InputError(Fault("until", said))
    ahead, belief = (until - today).days, Prior()
    lives = gather([r.life for r in records], [r.count for r in records]) if records else None
    fleet = pool_many({"all": lives}, belief) if lives is not None and lives.failures else None
    why_not, at_least = "", math.nan
    if lives is None:
        why_not = "no joint has run yet"
    elif fleet is None:
        why_not = "no failure is on file, so no chance of failing can be worked out"
        at_least = scale_at_least(lives, belief.shape, 0.9).age_at(0.1)
    lived = [j for j in joints if j.life is not None]
    shown = each_outlook(fleet, np.zeros(len(lived), dtype=np.intp), lived, ahead)
    middle = _within_sight(fleet, lives, shown)
    row = {id(j): n for n, j in enumerate(lived)}
    lines = [
        line_of(j, today, until, Measure.TIME, shown, row.get(id(j)), middle) for j in joints
    ] + [line_of_matter(m) for m in matters]
    lines.sort(key=lambda line: order_of(line, until))
    runs = [c for c in counts if c.fate in {Fate.RUNNING, Fate.STANDING}]
    whole = _whole(fleet, runs, now, ahead)
    likely = sum(not_due(*days) for days in _likely_days(runs, whole.chance))
    sums = {u: numbers.get(u, 0) for u in Urgency}
    sums[Urgency.STOP] += likely
    sums[Urgency.LATER] -= likely
    failed = Counter[str]()
    for r in records:
        if r.life.failed:
            failed[r.life.cause] += r.count
    causes = tuple(
        CauseOfStops(c, True, n, None, 0, 0.0, math.nan) for c, n in failed.most_common()
    )
    said = "the trend is worked out for one conveyor at a time in a register of this size"
    return FleetStudy(
        name, today, until, Measure.TIME, tuple(lines), (),
        sum(c.count for c in runs), sum(failed.values()), whole.expected,
        whole.none, failure_cost, why_not, at_least, causes, (),
        Trend(math.nan, math.nan, math.nan, said), belief.sentence if fleet else "",
        tuple(assumed), tuple(left_out), invented, (), whole.counts, sums,
    )  # fmt: skip


def _within_sight(fleet: ManyGroups | None, lives: Lives | None, shown: Outlook) -> float:
    """Age at which half of new joints have failed; what lies too far off is taken out."""
    if fleet is None or lives is None:
        return math.nan
    longest = _BEYOND * float(np.where(lives.suspended, lives.good, lives.bad).max())
    shown.half[shown.half > longest] = math.nan
    middle = float(fleet.age_left(np.zeros(1, dtype=np.intp), np.zeros(1), 0.5)[0])
    return math.nan if middle > longest else middle


def _whole(
    fleet: ManyGroups | None, runs: Sequence[LifeCount], now: datetime, ahead: int
) -> Outlook:
    """Failures of all running joints within some days, and the chance of one of each count."""
    found = Outlook(*np.full((6, len(runs)), math.nan))
    if fleet is None or not runs:
        return found
    ages = np.array([c.age(now) for c in runs])
    laws, alike = fleet.draws(laws_for(ages.size)), np.array([c.count for c in runs])
    further = np.full(ages.size, ahead * _DAY)
    chances = laws.chance_of_failing(np.zeros(ages.size, dtype=np.intp), ages, further)
    law = count_law_over(chances, alike)
    found.chance = chances.mean(axis=0)
    found.expected = float(found.chance @ alike)
    found.none, found.counts = float(law[0]), range_of_count(law)
    return found


def _likely_days(runs: Sequence[LifeCount], chance: Array) -> list[tuple[int, int]]:
    """Days of putting to work from, and before, which joints are likely to fail in time."""
    found: list[tuple[int, int]] = []
    begun = [
        (one, likely)
        for one, likely in zip(runs, (chance >= LIKELY).tolist(), strict=True)
        if one.fate is Fate.RUNNING
    ]
    for one, likely in sorted(begun, key=lambda pair: pair[0].bin):
        if likely and found and found[-1][1] == -1:
            continue
        if likely:
            found.append((one.bin, -1))
        elif found and found[-1][1] == -1:
            found[-1] = (found[-1][0], one.bin)
    if found and found[-1][1] == -1:
        found[-1] = (found[-1][0], max(one.bin for one, _ in begun) + 1)
    return found
