"""Doubt carried on: laws of life drawn from what the records leave open, and what follows of them.

A forecast made with one law forgets that six failures hardly settle it. So whatever is predicted
is worked with every drawn law alike: the mean is the forecast, the spread its range. Joints of one
drawn law fail independently; over all laws they do not, and so a count scatters far more than a
sum of yes-or-no draws with the mean chances.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.life.limits import Limits
from splicewright.history.life.remaining import count_law
from splicewright.quantities.going_on import go_on

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

LAWS = 400
"""Laws that are drawn: a chance of 5 % is then known to about 1 %."""
CONFIDENCE = 0.9
_FEWEST, _MOST_CHANCES = 60, 20_000_000  # laws drawn for very many joints, and chances worked
_MANY = 300  # joints from which on alike chances are counted together
_BINS = 64
_STRAIGHT = 5000
_SMALL, _TERMS = 0.15, 30  # (2 x 0.15)^30 / 30 is 1e-17
_NORMAL = 50.0  # failures by every law from which on a count is taken as normal


@dataclass(frozen=True)
class Draws:
    """Laws of every group, drawn together.

    Attributes
    ----------
    shape : of each draw, the same for all groups, (draws,)
    rate : scale^-shape of each group, ages counted in `unit`, (draws, groups)
    unit : age that counts as 1 [measure]
    """

    shape: Array
    rate: Array
    unit: float

    @property
    def number(self) -> int:
        """How many laws."""
        return int(self.shape.size)

    def scale(self, group: int) -> Array:
        """Scale of one group's laws, (draws,) [measure]."""
        return np.asarray(self.unit * self.rate[:, group] ** (-1 / self.shape))

    def chance_of_failing(self, group: NDArray[np.intp], age: Array, further: Array) -> Array:
        """Chance of each joint to fail within `further` more, by each law.

        Parameters
        ----------
        group : position of its group, (joints,)
        age, further : use now, and how much more, (joints,) [measure]

        Returns
        -------
        array (draws, joints) [0..1]
        """
        shape = self.shape[:, None]
        now, end = np.asarray(age) / self.unit, (np.asarray(age) + further) / self.unit
        return np.asarray(-np.expm1((now**shape - end**shape) * self.rate[:, group]))

    def age_left(self, group: NDArray[np.intp], age: Array, share: float) -> Array:
        """Further use within which `share` of such joints fail, (draws, joints) [measure]."""
        shape, now = self.shape[:, None], np.asarray(age) / self.unit
        spent = now**shape - np.log1p(-share) / self.rate[:, group]
        return np.asarray((spent ** (1 / shape) - now) * self.unit)


def laws_for(joints: int) -> int:
    """How many laws to draw for so many joints."""
    return max(_FEWEST, min(LAWS, _MOST_CHANCES // max(joints, 1)))


def range_of(values: Array, confidence: float = CONFIDENCE) -> Limits:
    """The middle part of drawn values.

    Parameters
    ----------
    values : one for each law, (draws,)
    confidence : share of the laws inside [0..1]
    """
    low, high = np.quantile(values, [(1 - confidence) / 2, (1 + confidence) / 2])
    return Limits(float(low), float(high), confidence)


def shortest_range(values: Array, confidence: float = CONFIDENCE) -> Limits:
    """The shortest range that holds so many of the drawn values.

    For values that are one and the same by most laws and lie far off, to one side, by the others:
    with equal tails the one value would end the range, and it would hold 95 of 100, not 90.

    Parameters
    ----------
    values, confidence : as for `range_of`
    """
    inside = math.ceil(confidence * values.size)
    each = np.sort(values)
    first = int(np.argmin(each[inside - 1 :] - each[: values.size - inside + 1]))
    return Limits(float(each[first]), float(each[first + inside - 1]), confidence)


def ranges_of(values: Array, confidence: float = CONFIDENCE) -> tuple[Array, Array]:
    """Ends of the middle part of drawn values, (draws, ...): of each column, (columns,) each."""
    low, high = np.quantile(values, [(1 - confidence) / 2, (1 + confidence) / 2], axis=0)
    return np.asarray(low), np.asarray(high)


def range_of_count(law: Array, confidence: float = CONFIDENCE) -> Limits:
    """Numbers that a count lies between, with at least the confidence.

    Parameters
    ----------
    law : probability of 0, 1, 2 ...
    confidence : of it [0..1]
    """
    tail = (1 - confidence) / 2
    below = np.cumsum(law)
    low = int(np.searchsorted(below, tail, side="right"))
    high = int(np.searchsorted(below, 1 - tail - 1e-12))
    return Limits(low, max(low, high), confidence)


def ranges_of_counts(means: Array, confidence: float = CONFIDENCE) -> tuple[Limits, ...]:
    """Numbers that the failures of each of many groups lie between.

    Failures by one law are taken as Poisson, which is somewhat wide for a few old joints.

    Parameters
    ----------
    means : mean number of each group by each law, (draws, groups)
    confidence : of each range [0..1]
    """
    from scipy.special import pdtr

    tail = (1 - confidence) / 2

    def least(reached: Callable[[Array], NDArray[np.bool_]]) -> Array:
        """The least count of each group whose cumulative chance is enough, by halving."""
        low = np.full(means.shape[1], -1.0)
        high = np.ceil(means.max(axis=0, initial=0.0) * 2 + 60)  # twice the mean, and far beyond
        while (high - low > 1).any():
            go_on()
            middle = np.floor((low + high) / 2)
            enough = reached(pdtr(middle, means).mean(axis=0)) & (middle >= 0)
            low, high = np.where(enough, low, middle), np.where(enough, middle, high)
        return np.asarray(high)

    low, high = least(lambda below: below > tail), least(lambda below: below >= 1 - tail - 1e-12)
    return tuple(Limits(int(a), int(b), confidence) for a, b in zip(low, high, strict=True))


def count_law_over(chances: ArrayLike, alike: ArrayLike = 1) -> Array:
    """Probability of each number of failures, over all laws.

    Parameters
    ----------
    chances : of each joint by each law, (draws, joints) [0..1]
    alike : how many joints share each column, (joints,)

    Returns
    -------
    array, sums to 1; it ends where less than 1e-12 is left

    Raises
    ------
    InputError
        A chance outside 0 to 1.
    """
    chance = np.atleast_2d(np.asarray(chances, dtype=np.float64))
    bad = ~((chance >= 0) & (chance <= 1))
    if bad.any():
        sentence = f"{float(chance[bad].flat[0]):g} is no chance; accepted is 0 to 1"
        raise InputError(Fault("chance of failing", sentence))
    number = np.broadcast_to(np.asarray(alike, dtype=np.intp), chance.shape[1:])
    joints = int(number.sum())
    if not joints:
        return np.ones(1)
    if joints <= _MANY:
        each = np.repeat(chance, number, axis=1)
        return np.asarray(np.mean([count_law(row) for row in each], axis=0))
    mean = chance @ number
    spread = np.sqrt((chance * (1 - chance)) @ number)
    if float(mean.min()) > _NORMAL:
        return _by_normal(mean, spread, joints)
    return _by_waves(chance, number)


def _by_normal(mean: Array, spread: Array, joints: int) -> Array:
    """The same where many fail by every law: each law's count is close to normal."""
    from scipy.special import ndtr

    last = min(joints, int(np.max(mean + 9 * spread)) + 1)
    every = np.arange(last + 1) + 0.5
    # Of very many, the chances between are as good as straight lines.
    ends = every if last < _STRAIGHT else np.linspace(every[0], every[-1], _STRAIGHT)
    below = np.zeros(ends.size)
    with np.errstate(divide="ignore"):  # where all fail for sure there is no spread
        for m, s in zip(mean, spread, strict=True):
            below += ndtr((ends - m) / s)
    law = np.diff(np.interp(every, ends, below), prepend=0.0)
    return np.asarray(law / law.sum())


def _by_waves(chance: Array, count: NDArray[np.intp]) -> Array:
    """The same for many joints, from the characteristic function: alike chances as one."""
    order = np.argsort(chance.mean(axis=0))
    cuts = np.unique(np.linspace(0, chance.shape[1], _BINS + 1).astype(np.intp))
    number = np.add.reduceat(count[order], cuts[:-1])
    alike = np.add.reduceat((chance * count)[:, order], cuts[:-1], axis=1) / number
    mean = alike @ number
    spread = np.sqrt((alike * (1 - alike)) @ number)
    size = min(int(count.sum()) + 1, int(np.max(mean + 9 * spread)) + 40)
    turn = np.exp(2j * np.pi * np.arange(size) / size) - 1
    # Σ n ln(1 + p z) by its series where p is small, |z| being 2 at most: sums of powers of p serve
    # all z at once.
    small = alike.max(axis=0) <= _SMALL
    power = np.ones_like(alike[:, small])
    logs = np.zeros((chance.shape[0], size), dtype=np.complex128)
    z = np.ones(size, dtype=np.complex128)
    for k in range(1, _TERMS + 1):
        power, z = power * alike[:, small], -z * turn
        logs -= np.outer(power @ number[small], z / k)
    for column in np.flatnonzero(~small):
        logs += number[column] * np.log1p(np.outer(alike[:, column], turn))
    waves = np.exp(logs).mean(axis=0)
    law = np.clip(np.fft.fft(waves).real / size, 0.0, None)
    return np.asarray(law / law.sum())
