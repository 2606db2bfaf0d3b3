"""Lives of joints as the register knows them: last age seen good, first age seen failed.

One pair of ages holds every kind of record [1]_:

==================================  ======  =====
what happened                       good    bad
==================================  ======  =====
failed at t, seen as it happened    t       t
still running, or taken out good    t       inf
found failed at the first look      0       t
good at a look, failed at the next  a       b
==================================  ======  =====

`entered` is the age at which the log began to watch; a joint that was running before the
log began must have it, or the log looks only at survivors and lives come out too long.

References
----------
.. [1] Meeker and Escobar, Statistical Methods for Reliability Data, 1998, ch. 2 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.quantities.measure import Measure

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True, slots=True)
class Life:
    """One joint's life, or as much of it as is known.

    Attributes
    ----------
    good : last age at which it was known good [measure]
    bad : first age at which it was known failed, inf while it is not [measure]
    entered : age at which the log began to watch it [measure]
    measure : what the ages are counted in
    joint : its name
    cause : failure mode; empty while it has not failed
    """

    good: float
    bad: float
    entered: float = 0.0
    measure: Measure = Measure.TIME
    joint: str = ""
    cause: str = ""

    @property
    def failed(self) -> bool:
        """True when it is known to have failed."""
        return self.bad < math.inf


def failed(
    age: float,
    *,
    entered: float = 0.0,
    measure: Measure = Measure.TIME,
    joint: str = "",
    cause: str = "",
) -> Life:
    """A joint that failed at `age`, seen as it happened."""
    return Life(age, age, entered, measure, joint, cause)


def running(
    age: float, *, entered: float = 0.0, measure: Measure = Measure.TIME, joint: str = ""
) -> Life:
    """A joint still running at `age`, or taken out good at `age` for another reason."""
    return Life(age, math.inf, entered, measure, joint)


def for_cause(records: Iterable[Life], cause: str) -> tuple[Life, ...]:
    """The same lives with only `cause` as failure: other causes end the watch, no more.

    A joint that failed of something else was good, as far as `cause` goes, when it was last
    seen good; it counts as a suspended life to that age. Holds when the causes do not
    depend on each other.
    """
    return tuple(
        life if not life.failed or life.cause == cause else replace(life, bad=math.inf, cause="")
        for life in records
    )


@dataclass(frozen=True)
class Lives:
    """Checked lives as arrays, ready to fit; arrays of shape (records,) are read-only.

    Attributes
    ----------
    good, bad, entered : as in `Life`
    count : how many joints share the record
    measure : what the ages are counted in
    """

    good: Array
    bad: Array
    entered: Array
    count: Array
    measure: Measure = Measure.TIME

    @cached_property
    def exact(self) -> NDArray[np.bool_]:
        """Which records are failures seen as they happened."""
        result: NDArray[np.bool_] = self.good == self.bad
        return result

    @cached_property
    def suspended(self) -> NDArray[np.bool_]:
        """Which records have not failed."""
        result: NDArray[np.bool_] = np.isinf(self.bad)
        return result

    @cached_property
    def between(self) -> NDArray[np.bool_]:
        """Which records failed somewhere between two looks (or before the first)."""
        result: NDArray[np.bool_] = ~(self.exact | self.suspended)
        return result

    @cached_property
    def number(self) -> int:
        """How many joints."""
        return int(self.count.sum())

    @cached_property
    def failures(self) -> int:
        """How many of them failed."""
        return int(self.count[~self.suspended].sum())


def gather(records: Sequence[Life], count: Sequence[int] | None = None) -> Lives:
    """Check records and lay them out as arrays.

    Parameters
    ----------
    records : the lives
    count : how many joints share each; 1 where left out

    Raises
    ------
    InputError
        No records, ages that cannot be, or lives counted in different measures; every
        fault found is named with its joint.
    """
    if not records:
        raise InputError(Fault("lives", "there are none; give at least one joint's life"))
    measures = sorted({str(life.measure) for life in records})
    if len(measures) > 1:
        raise InputError(
            Fault(
                "lives", f"are counted in {' and '.join(measures)}; give all of them in one measure"
            )
        )
    return _checked(
        np.array([life.good for life in records], dtype=np.float64),
        np.array([life.bad for life in records], dtype=np.float64),
        np.array([life.entered for life in records], dtype=np.float64),
        np.ones(len(records)) if count is None else np.array(count, dtype=np.float64),
        records[0].measure,
        tuple(life.joint for life in records),
    )


def joined(groups: Sequence[Lives]) -> Lives:
    """The lives of several groups in one; all are counted in the measure of the first."""
    return Lives(
        np.concatenate([g.good for g in groups]),
        np.concatenate([g.bad for g in groups]),
        np.concatenate([g.entered for g in groups]),
        np.concatenate([g.count for g in groups]),
        groups[0].measure,
    )


def lives_of(
    good: ArrayLike,
    bad: ArrayLike,
    *,
    entered: ArrayLike = 0.0,
    count: ArrayLike = 1.0,
    measure: Measure = Measure.TIME,
) -> Lives:
    """Check arrays of ages and make them `Lives`; scalars serve all records.

    Raises
    ------
    InputError
        As `gather`; faults are named by record number, from 1.
    """
    arrays = [np.asarray(a, dtype=np.float64) for a in (good, bad, entered, count)]
    try:
        good_, bad_, entered_, count_ = (a.copy() for a in np.broadcast_arrays(*arrays))
    except ValueError:
        sizes = ", ".join(str(a.size) for a in arrays)
        raise InputError(
            Fault("lives", f"arrays differ in length ({sizes}); give one age per record")
        ) from None
    if good_.ndim != 1 or not good_.size:
        raise InputError(Fault("lives", "there are none; give at least one joint's life"))
    return _checked(good_, bad_, entered_, count_, measure, ())


def _checked(
    good: Array, bad: Array, entered: Array, count: Array, measure: Measure, names: tuple[str, ...]
) -> Lives:
    tests: tuple[tuple[NDArray[np.bool_], str], ...] = (
        (
            ~np.isfinite(good) | (good < 0),
            "the last good age {good:g} must be a number of zero or more",
        ),
        (
            ~np.isfinite(entered) | (entered < 0),
            "the age {entered:g} at which the log began must be a number of zero or more",
        ),
        (
            ~(bad > 0),
            "the failure age {bad:g} must be above zero; a joint that never ran is no life",
        ),
        (
            bad < good,
            "seen failed at {bad:g} but still good at {good:g}; a failure comes after the last "
            "good look",
        ),
        (
            good < entered,
            "last seen good at {good:g}, before the log began to watch at {entered:g}; leave it "
            "out or correct the ages",
        ),
        (
            (bad == entered) & (entered > 0),
            "failed at {bad:g}, the very age at which the log began; leave it out or correct the "
            "ages",
        ),
        (
            ~np.isfinite(count) | (count < 1) | (count != np.floor(count)),
            "the count {count:g} must be a whole number of joints",
        ),
    )
    faults = []
    spoilt = np.zeros(good.shape, dtype=np.bool_)
    for wrong, sentence in tests:
        for i in np.flatnonzero(wrong & ~spoilt)[:20]:
            name = names[i] if names and names[i] else f"record {i + 1}"
            faults.append(
                Fault(
                    f"lives, {name}",
                    sentence.format(good=good[i], bad=bad[i], entered=entered[i], count=count[i]),
                )
            )
        spoilt |= wrong
    if faults:
        raise InputError(*faults)
    for array in (good, bad, entered, count):
        array.flags.writeable = False
    return Lives(good, bad, entered, count, measure)
