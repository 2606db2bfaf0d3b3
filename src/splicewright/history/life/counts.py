"""Lives that are alike, counted together: a register of millions is a few thousand numbers.

Ended lives are counted by age in bins of 1/128 of an octave (half a per cent wide), joints that run
by the day they were put to work, because their age grows. Beside the count stands the sum of the
ages in whole seconds: a bin stands for its own mean age and not for its middle, so that what is
lost is of the second order, and a fact that is taken back leaves no trace of rounding. Counts of
several sites are added; kinds of joint and causes of failure are kept apart.

What this cannot hold is worked with all lives instead: ages in running time, tonnage or turns (a
meter read anew changes all of them), joints that ran before their log began, failures known only
between two looks. The ratio to the fit of all lives is in docs/benchmarks.md.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from splicewright.history.life.study import Record

BINS = 128
"""Bins of age in an octave."""
DAY = 86_400


class Fate(StrEnum):
    """How far a life is known: standing is good so far and still in the belt."""

    RUNNING = "running"
    STANDING = "standing"
    GOOD = "good"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class LifeCount:
    """Joints whose lives are alike.

    Attributes
    ----------
    fate : of all of them
    cause : failure mode; empty while they have not failed
    bin : of their age, 1/128 octave from 1 s; of running joints the day, from 1970, they were put
        to work
    count : how many
    seconds : sum of their ages [s]; of running joints of the moments they were put to work, from
        1970 [s]
    kind : of joint; empty where it is not known
    """

    fate: Fate
    cause: str
    bin: int
    count: int
    seconds: int
    kind: str = ""

    def age(self, now: datetime) -> float:
        """Mean age of these joints [s], at least a second; `now` counts for those that run."""
        mean = self.seconds / self.count
        return max(1.0, now.timestamp() - mean if self.fate is Fate.RUNNING else mean)


def count_of(
    start: datetime, end: datetime | None, fate: Fate = Fate.GOOD, cause: str = "", kind: str = ""
) -> LifeCount:
    """One life as a count of one.

    Parameters
    ----------
    start : put to work
    end : taken out, stopped or failed; None while it runs
    fate : at its end
    cause : failure mode; empty for other ends
    kind : of joint; empty where it is not known
    """
    if end is None:
        begun = int(start.timestamp())
        return LifeCount(Fate.RUNNING, "", begun // DAY, 1, begun, kind)
    age = max(1, round((end - start).total_seconds()))
    return LifeCount(fate, cause, _bin(age), 1, age, kind)


def _bin(age: float) -> int:
    return math.floor(BINS * math.log2(age))


def merged(counts: Iterable[LifeCount]) -> tuple[LifeCount, ...]:
    """Counts of several sites, or of single joints, added up."""
    totals: dict[tuple[str, Fate, str, int], list[int]] = {}
    for one in counts:
        sums = totals.setdefault((one.kind, one.fate, one.cause, one.bin), [0, 0])
        sums[0] += one.count
        sums[1] += one.seconds
    return tuple(
        LifeCount(fate, cause, bin_, count, seconds, kind)
        for (kind, fate, cause, bin_), (count, seconds) in sorted(totals.items())
        if count
    )


def by_age(counts: Iterable[LifeCount], now: datetime) -> tuple[LifeCount, ...]:
    """The same lives in far fewer counts, enough for a law of life.

    Running joints are counted by the bin of their age `now`, not by the day they were put to work,
    and all causes of failure together: however long the register and however many its causes, what
    is left are the bins of some ten octaves for each kind.
    """
    totals: dict[tuple[str, Fate, int], list[int]] = {}
    for one in counts:
        place = _bin(one.age(now)) if one.fate is Fate.RUNNING else one.bin
        sums = totals.setdefault((one.kind, one.fate, place), [0, 0])
        sums[0] += one.count
        sums[1] += one.seconds
    return tuple(
        LifeCount(fate, "", place, count, seconds, kind)
        for (kind, fate, place), (count, seconds) in sorted(totals.items())
    )


def records_of(
    counts: Sequence[LifeCount], now: datetime, *, standing: bool = False
) -> tuple[Record, ...]:
    """Counts as lives that `study_life` takes, running ones at their age `now`.

    standing : whether joints that stand count among those that may fail in the time ahead
    """
    from splicewright.history.life.lives import failed, running
    from splicewright.history.life.study import Record

    records = []
    for one in counts:
        age, named = one.age(now), ""
        if one.fate is Fate.RUNNING:
            begun = datetime.fromtimestamp(one.seconds / one.count, now.tzinfo)
            named = f"put to work {begun.date()}"
        if one.fate is Fate.FAILED:
            life = failed(age, cause=one.cause)
        else:
            life = running(age, joint=named)
        runs = one.fate is Fate.RUNNING or (standing and one.fate is Fate.STANDING)
        records.append(Record(life, one.kind, running=runs, count=one.count))
    return tuple(records)
