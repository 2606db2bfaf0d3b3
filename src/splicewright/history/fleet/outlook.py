"""What lies ahead of a fleet: each joint, each conveyor, all of them, with the range of each."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from splicewright.history.arrays import Array
from splicewright.history.fleet.joints import FleetJoint, group_of, life_of
from splicewright.history.life.draws import (
    CONFIDENCE,
    Draws,
    count_law_over,
    laws_for,
    range_of_count,
    ranges_of,
    ranges_of_counts,
)
from splicewright.history.life.limits import Limits
from splicewright.history.life.pooling_fleet import ManyGroups
from splicewright.history.pace import Pace, pace_of

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class ConveyorOutlook:
    """One conveyor: running joints, failures to expect before the stop, its own life.

    tenth : age by which one joint in ten has failed [measure]; nan where not known
    id : identity of the conveyor
    counts : failures before the stop lie between these nine times in ten; None where not known
    tenth_range : holds `tenth` with 90 %; None where not known
    pace : turns ages of joints put to work today into dates; None where not known
    """

    conveyor: str
    site: str
    running: int
    failures: int
    expected: float
    tenth: float
    id: str = ""
    counts: Limits | None = None
    tenth_range: Limits | None = None
    pace: Pace | None = None


@dataclass
class Outlook:
    """What lies ahead of each joint that has run, (joints,); nan where not known or not running.

    low, high : of the chance; half_low, half_high : of the further use of half
    laws : that all of it was worked with; None without a failure
    by_law : chance of each running joint by each law, and their positions among those that ran
    """

    chance: Array
    low: Array
    high: Array
    half: Array
    half_low: Array
    half_high: Array
    laws: Draws | None = None
    by_law: Array = field(default_factory=lambda: np.empty((1, 0)))
    rows: NDArray[np.intp] = field(default_factory=lambda: np.empty(0, dtype=np.intp))
    expected: float = math.nan
    none: float = math.nan
    counts: Limits | None = None


def outlook_of(
    fleet: ManyGroups | None, index: NDArray[np.intp], lived: Sequence[FleetJoint], ahead: int
) -> Outlook:
    """Work out what lies ahead of each and of all, with laws drawn alike for all.

    Parameters
    ----------
    fleet : the lives of all groups; None where no failure is on file
    index : position of the group of each joint
    lived : the joints that have run
    ahead : days to the next stop
    """
    outlook = each_outlook(fleet, index, lived, ahead)
    if outlook.rows.size:
        outlook.expected = float(outlook.by_law.mean(axis=0).sum())
        law = count_law_over(outlook.by_law)
        outlook.none, outlook.counts = float(law[0]), range_of_count(law)
    elif fleet is not None:
        outlook.expected = 0.0
    return outlook


def each_outlook(
    fleet: ManyGroups | None, index: NDArray[np.intp], lived: Sequence[FleetJoint], ahead: int
) -> Outlook:
    """The same of each joint, without a word on all of them."""
    outlook = Outlook(*np.full((6, len(lived)), math.nan))
    if fleet is None:
        return outlook
    rows = np.array([n for n, j in enumerate(lived) if j.running], dtype=np.intp)
    laws = fleet.draws(laws_for(rows.size))
    ages = np.array([life_of(lived[n]).good for n in rows])
    further = np.array([lived[n].per_day * ahead for n in rows])
    chances = laws.chance_of_failing(index[rows], ages, further)
    outlook.laws, outlook.by_law, outlook.rows = laws, chances, rows
    outlook.chance[rows] = chances.mean(axis=0)
    outlook.low[rows], outlook.high[rows] = ranges_of(chances)
    outlook.half[rows] = fleet.age_left(index[rows], ages, 0.5)
    outlook.half_low[rows], outlook.half_high[rows] = ranges_of(
        laws.age_left(index[rows], ages, 0.5)
    )
    return outlook


def conveyors_of(
    groups: Sequence[str],
    lived: Sequence[FleetJoint],
    index: NDArray[np.intp],
    outlook: Outlook,
    fleet: ManyGroups | None,
    today: date,
) -> tuple[ConveyorOutlook, ...]:
    """Sum up every conveyor, most failures expected first."""
    from scipy.sparse import csr_array

    running = np.array([j.running for j in lived], dtype=np.float64)
    failed = np.array([life_of(j).failed for j in lived], dtype=np.float64)
    size = len(groups)
    count, broke = (np.bincount(index, w, size) for w in (running, failed))
    expected, tenth = np.full(size, math.nan), np.full(size, math.nan)
    counts: list[Limits | None] = [None] * size
    tenths: list[Limits | None] = [None] * size
    if fleet is not None and outlook.laws is not None:
        every, new = np.arange(size), np.zeros(size)
        tenth = fleet.age_left(every, new, 0.1)
        tenths = [
            Limits(float(low), float(high), CONFIDENCE)
            for low, high in zip(*ranges_of(outlook.laws.age_left(every, new, 0.1)), strict=True)
        ]
        here = np.arange(outlook.rows.size), index[outlook.rows]
        whose = csr_array((np.ones(outlook.rows.size), here), shape=(outlook.rows.size, size))
        means = np.asarray(outlook.by_law @ whose)
        expected = means.mean(axis=0)
        counts = list(ranges_of_counts(means))
    first: dict[str, FleetJoint] = {}
    for joint in lived:
        first.setdefault(group_of(joint), joint)
    conveyors = [
        ConveyorOutlook(
            first[g].conveyor,
            first[g].site,
            int(count[n]),
            int(broke[n]),
            float(expected[n]),
            float(tenth[n]),
            first[g].conveyor_id,
            counts[n],
            tenths[n],
            pace_of(today, [first[g].per_day]),
        )
        for n, g in enumerate(groups)
    ]
    return tuple(sorted(conveyors, key=lambda c: (-c.expected if fleet else 0.0, c.conveyor)))
