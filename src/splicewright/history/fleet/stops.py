"""Stops behind us: what they were caused by, how long they lasted, and whether they come oftener.

The trend compares two spans by the conditional test of two Poisson counts: of n failures in all,
the number in the last span is binomial with the share of joint-years spent in it [1]_.

References
----------
.. [1] Przyborowski and Wilenski, Biometrika 31 (1940) 313 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.quantities import Kind, formula

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

YEAR = 365.25
"""Days."""
_NO_TREND = 0.1


@dataclass(frozen=True, slots=True)
class Stop:
    """A joint that was taken out.

    conveyor, joint : names
    cause : as recorded
    on : when it was taken out, or stopped before that
    failed : it had failed; False when it was renewed in time or went with the belt
    lasted : until a joint of that conveyor was first put to work [s]; nan when not known
    """

    conveyor: str
    joint: str
    cause: str
    on: date
    failed: bool
    lasted: float = math.nan


@dataclass(frozen=True, slots=True)
class CauseOfStops:
    """All stops of one cause.

    cause : as recorded
    failed : they were failures
    number, lately : in all, and in the last year; None where that was not counted
    known : of how many it is known how long they lasted
    stood : sum of what is known [s]
    cost : of all of them, those not known taken as the mean of those known; nan without costs
    """

    cause: str
    failed: bool
    number: int
    lately: int | None
    known: int
    stood: float
    cost: float


@dataclass(frozen=True, slots=True)
class YearOfStops:
    """Failures of one calendar year, joint-years watched in it, and failures by cause.

    cost : of those failures, stops not known taken as the mean of those known of the same cause;
    nan without costs, or where nothing is known of a cause
    """

    year: int
    failures: int
    watched: float
    causes: tuple[tuple[str, int], ...]
    cost: float = math.nan


@dataclass(frozen=True, slots=True)
class Trend:
    """Failures per joint and year, lately and before.

    lately, before : failures per joint and year in the last year, and before it; nan if unwatched
    chance : that a difference as large comes up by chance; nan where nothing can be compared
    sentence : the trend in words
    """

    lately: float
    before: float
    chance: float
    sentence: str


def stops_by_cause(
    stops: Sequence[Stop], today: date, *, stop_cost: float = math.nan, failure_cost: float = 0.0
) -> tuple[CauseOfStops, ...]:
    """Sum up stops, the dearest (or most frequent) cause first.

    stops : all of them
    today : end of the last year
    stop_cost : of standing still [per s]; nan when not known
    failure_cost : of each failure besides
    Raises InputError: a cost below zero.
    """
    for key, value in (("stop cost", stop_cost), ("failure cost", failure_cost)):
        if value < 0:
            raise InputError(Fault(key, f"{value:g} cannot be; accepted is zero or more"))
    causes = []
    for cause, failed in dict.fromkeys((s.cause, s.failed) for s in stops):
        these = [s for s in stops if (s.cause, s.failed) == (cause, failed)]
        lasted = [s.lasted for s in these if math.isfinite(s.lasted)]
        stood = math.fsum(lasted)
        cost = math.nan
        if lasted and math.isfinite(stop_cost):
            cost = len(these) * (stood / len(lasted) * stop_cost + failed * failure_cost)
        lately = sum(s.on > today - timedelta(days=YEAR) for s in these)
        causes.append(CauseOfStops(cause, failed, len(these), lately, len(lasted), stood, cost))
    return tuple(
        sorted(causes, key=lambda c: (not c.failed, -c.cost if c.cost > 0 else 0.0, -c.number))
    )


def years_of_stops(
    stops: Sequence[Stop],
    begun: ArrayLike,
    ended: ArrayLike,
    today: date,
    *,
    stop_cost: float = math.nan,
    failure_cost: float = 0.0,
) -> tuple[YearOfStops, ...]:
    """Failures, joint-years and costs of every calendar year.

    stops : all of them
    begun, ended : ordinals of the days between which each joint was watched, (joints,)
    today : no year after it
    stop_cost, failure_cost : as for `stops_by_cause`
    """
    start, end = np.asarray(begun, dtype=np.float64), np.asarray(ended, dtype=np.float64)
    if not start.size:
        return ()
    each = {
        c.cause: c.cost / c.number
        for c in stops_by_cause(stops, today, stop_cost=stop_cost, failure_cost=failure_cost)
        if c.failed
    }
    years = range(date.fromordinal(int(start.min())).year, today.year + 1)
    by_year = []
    for year in years:
        failed = [s for s in stops if s.failed and s.on.year == year]
        causes = {c: sum(s.cause == c for s in failed) for c in sorted({s.cause for s in failed})}
        watched = _watched(start, end, date(year, 1, 1), date(year + 1, 1, 1))
        cost = math.fsum(
            s.lasted * stop_cost + failure_cost if math.isfinite(s.lasted) else each[s.cause]
            for s in failed
        )
        cost = cost if math.isfinite(stop_cost) else math.nan
        by_year.append(YearOfStops(year, len(failed), watched, tuple(causes.items()), cost))
    return tuple(by_year)


def trends_by_cause(
    stops: Sequence[Stop], begun: ArrayLike, ended: ArrayLike, today: date
) -> tuple[tuple[str, Trend], ...]:
    """The last year beside the time before it, cause by cause; the surest difference first.

    Of many causes one differs by chance, so a cause is said to come oftener only where the chance
    of that is below 10 % over their number (Bonferroni).

    stops, begun, ended, today : as for `years_of_stops`
    """
    causes = sorted({s.cause for s in stops if s.failed})
    trends = [
        (c, trend_of_failures([s for s in stops if s.cause == c], begun, ended, today, len(causes)))
        for c in causes
    ]
    return tuple(sorted(trends, key=lambda f: (math.isnan(f[1].chance), f[1].chance)))


def trend_of_failures(
    stops: Sequence[Stop], begun: ArrayLike, ended: ArrayLike, today: date, among: int = 1
) -> Trend:
    """Compare the last year with the time before it, per joint and year.

    stops, begun, ended, today : as for `years_of_stops`
    among : how many such comparisons are made
    """
    start, end = np.asarray(begun, dtype=np.float64), np.asarray(ended, dtype=np.float64)
    cut = today - timedelta(days=YEAR)
    failed = [s.on for s in stops if s.failed]
    late = sum(on > cut for on in failed)
    early = len(failed) - late
    tomorrow = today + timedelta(days=1)
    watched_late = _watched(start, end, cut, tomorrow)
    watched_early = _watched(start, end, date(1900, 1, 1), cut)
    if watched_early <= 0 or watched_late <= 0 or not failed:
        return Trend(
            late / watched_late if watched_late > 0 else math.nan,
            early / watched_early if watched_early > 0 else math.nan,
            math.nan,
            "not enough data to say whether failures come more often",
        )
    lately, before = late / watched_late, early / watched_early
    chance = chance_of_difference(late, early, watched_late, watched_early)
    rates = f"{lately:.2g} failures per joint and year in the last year, {before:.2g} before"
    if chance > _NO_TREND / among:
        share = f"{100 * chance:.0f} % of comparisons" if chance < 0.995 else "every comparison"
        verdict = f"so large a difference comes up by chance in {share}"
    else:
        more = "more often" if lately > before else "less often"
        verdict = f"failures come {more} (only {100 * chance:.1f} % likely by chance)"
    return Trend(lately, before, chance, f"{rates}: {verdict}")


@formula(
    "P = 2 min(P(X ≤ k), P(X ≥ k)), X ~ B(k + m, T/(T + U))",
    gives=("P", Kind.SHARE),
    symbols={"late": "k", "early": "m", "watched_late": "T", "watched_early": "U"},
    source="two-counts",
)
def chance_of_difference(late: int, early: int, watched_late: float, watched_early: float) -> float:
    """Chance that two spans of one failure rate differ as much as these.

    Parameters
    ----------
    late, early : failures in each span [-]
    watched_late, watched_early : joint-years of each [-]
    """
    from scipy.special import bdtr, bdtrc

    number = late + early
    share = watched_late / (watched_late + watched_early)
    at_most = float(bdtr(late, number, share))
    at_least = 1.0 if late == 0 else float(bdtrc(late - 1, number, share))
    return min(1.0, 2 * min(at_most, at_least))


def _watched(start: np.ndarray, end: np.ndarray, first: date, last: date) -> float:
    """Joint-years between two days."""
    inside = np.minimum(end, last.toordinal()) - np.maximum(start, first.toordinal())
    return float(np.maximum(inside, 0.0).sum()) / YEAR
