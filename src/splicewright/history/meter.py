"""The running meter of a conveyor: hours, tonnes or turns against the calendar.

Lives and wear are counted in use, plans in dates; the meter turns one into the other.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.quantities import show
from splicewright.quantities.measure import Measure

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

_LAST_DATE = date(2999, 12, 31)


@dataclass(frozen=True, slots=True)
class Dates:
    """When something falls due; `latest` is None when no end can be given."""

    earliest: date | None
    likely: date | None
    latest: date | None


@dataclass(frozen=True, slots=True)
class Meter:
    """Checked meter readings in the order of their dates.

    days : date of each reading
    totals : use since the meter began, never falling [measure]
    measure : what it counts
    """

    days: tuple[date, ...]
    totals: tuple[float, ...]
    measure: Measure

    @property
    def now(self) -> float:
        """The last total read."""
        return self.totals[-1]

    @property
    def rate(self) -> float:
        """Mean use per day over all readings [measure per day]."""
        span = (self.days[-1] - self.days[0]).days
        return (self.totals[-1] - self.totals[0]) / span

    @property
    def rate_range(self) -> tuple[float, float]:
        """Slowest and fastest tenth of the rates between readings, by days spent at each.

        Assumption: the coming months lie within what was seen.
        """
        spans = np.diff([d.toordinal() for d in self.days]).astype(np.float64)
        rates = np.diff(self.totals) / spans
        order = np.argsort(rates)
        share = np.cumsum(spans[order]) / spans.sum()
        low, high = np.searchsorted(share, [0.1, 0.9])
        return float(rates[order][low]), float(rates[order][min(high, rates.size - 1)])

    def at(self, day: date) -> float:
        """Total on a day between the readings, by straight line.

        Raises InputError: a day outside the readings.
        """
        if not self.days[0] <= day <= self.days[-1]:
            raise InputError(
                Fault(
                    "date",
                    f"{day} lies outside the meter readings, {self.days[0]} to {self.days[-1]}",
                )
            )
        known = [d.toordinal() for d in self.days]
        return float(np.interp(day.toordinal(), known, self.totals))

    def totals_on(self, days: ArrayLike) -> Array:
        """Totals on any days: by straight line, beyond the readings at the mean rate.

        Before the first reading they may fall below zero: only differences have a meaning there.

        days : ordinals with the fraction of the day, any shape
        Returns array of that shape [measure].
        """
        day = np.asarray(days, dtype=np.float64)
        known = np.array([d.toordinal() for d in self.days], dtype=np.float64)
        before, after = np.minimum(day - known[0], 0.0), np.maximum(day - known[-1], 0.0)
        return np.asarray(np.interp(day, known, self.totals) + self.rate * (before + after))

    def when(self, earliest: float, likely: float, latest: float) -> Dates:
        """Dates at which the meter will show three totals; inf gives no date.

        The earliest total is reached at the fast rate, the latest at the slow one, so that the
        span holds both doubts.
        """
        slow, fast = self.rate_range
        return Dates(
            self._reached(earliest, fast),
            self._reached(likely, self.rate),
            self._reached(latest, slow),
        )

    def _reached(self, total: float, rate: float) -> date | None:
        if total <= self.now:
            return self.days[-1]
        if not math.isfinite(total) or rate <= 0:
            return None
        days = (total - self.now) / rate
        if days > (_LAST_DATE - self.days[-1]).days:
            return None
        return self.days[-1] + timedelta(days=math.floor(days))


def read_meter(
    readings: Sequence[tuple[date, float]],
    measure: Measure,
    today: date,
    checked: Collection[date] = (),
) -> Meter:
    """Check meter readings and make them a `Meter`.

    readings : date and total, in the order of their dates
    measure : what the totals count
    today : later dates are refused
    checked : dates whose total was looked at again and is right, whatever it jumps by
    Raises InputError: fewer than two readings, dates out of order or in the future, totals that are
    no number or run backwards, or a total that jumps some thousandfold, as with a changed unit, and
    is not marked as checked.
    """
    if len(readings) < 2:
        raise InputError(
            Fault("meter", f"has {len(readings)} readings; a rate of use needs two or more")
        )
    faults = []
    for day, total in readings:
        if day > today:
            faults.append(Fault(f"meter, {day}", f"lies in the future; today is {today}"))
        if not math.isfinite(total) or total < 0:
            sentence = f"the total {show(total, measure.kind)} must be a number of zero or more"
            faults.append(Fault(f"meter, {day}", sentence))
    if not faults:
        faults = _order_faults(readings, measure) or _unit_faults(readings, measure, checked)
    if faults:
        raise InputError(*faults)
    if readings[-1][1] == readings[0][1]:
        raise InputError(
            Fault(
                "meter",
                f"stands at {show(readings[0][1], measure.kind)} in every reading; the conveyor "
                "has not run, so no date can be given",
            )
        )
    return Meter(tuple(d for d, _ in readings), tuple(float(t) for _, t in readings), measure)


def calendar_meter(begin: date, today: date) -> Meter:
    """A meter of running time for a belt without one: taken never to stand still.

    That counts more use than there was, which brings due work forward, never back.
    """
    end = max(today, begin + timedelta(days=1))
    return Meter((begin, end), (0.0, 86400.0 * (end - begin).days), Measure.TIME)


def join_meters(old: Meter, new: Meter) -> Meter:
    """One meter from two, where a meter was changed or set back to zero in between.

    The new one is taken to begin where the old one stood last; use between the two readings
    is not known and counts as none.

    Raises InputError: different measures, or a new meter that begins before the old one ends.
    """
    if old.measure is not new.measure:
        raise InputError(
            Fault("meter", f"counts {old.measure}, the new one {new.measure}; give both in one")
        )
    if new.days[0] <= old.days[-1]:
        raise InputError(
            Fault(
                "meter",
                f"begins {new.days[0]}, but the old one was still read {old.days[-1]}; accepted "
                "is a later date",
            )
        )
    shift = old.now - new.totals[0]
    return Meter(
        old.days + new.days, old.totals + tuple(t + shift for t in new.totals), old.measure
    )


def _order_faults(readings: Sequence[tuple[date, float]], measure: Measure) -> list[Fault]:
    faults = []
    for (day, total), (then, more) in itertools.pairwise(readings):
        if then <= day:
            faults.append(
                Fault(f"meter, {then}", f"comes after {day} in the list; dates must rise")
            )
        elif more < total:
            faults.append(
                Fault(
                    f"meter, {then}",
                    f"the total {show(more, measure.kind)} is below {show(total, measure.kind)} of "
                    f"{day}; a meter does not run backwards: join a changed or reset meter first",
                )
            )
    return faults


def _unit_faults(
    readings: Sequence[tuple[date, float]], measure: Measure, checked: Collection[date]
) -> list[Fault]:
    """A total that jumps some thousandfold was most likely typed in another unit."""
    faults = []
    for (day, total), (then, more) in itertools.pairwise(readings):
        if then not in checked and 0 < 500 * total < more and (then - day).days < 400:
            faults.append(
                Fault(
                    f"meter, {then}",
                    f"the total jumps from {show(total, measure.kind)} to "
                    f"{show(more, measure.kind)} in {(then - day).days} days, as if the unit had "
                    "changed; give all totals in one unit, or mark this one as checked if it is "
                    "right",
                )
            )
    return faults
