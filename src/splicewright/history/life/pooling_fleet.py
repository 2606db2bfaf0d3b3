"""The lives of a whole fleet, hundreds of conveyors at once: the model of `pooling`, quick.

The same belief, the same three numbers over the same kind of grid. Two things differ, and the
tests hold both against `pool_groups`: a failure known only between two looks counts as one at the
middle of H between them (its likelihood e^-λa - e^-λb is λ(b - a) e^-λ(a+b)/2 but for a share of
(λ(b - a))²/24), so that every group's rate keeps its gamma law; and for each shape the mixed gamma
laws of a group's rate become one with the same mean and variance.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.life.draws import LAWS, Draws
from splicewright.history.life.lives import Lives
from splicewright.history.life.pooling import (
    PooledLife,
    Prior,
    check_groups,
    closer_axes,
    log_belief,
)
from splicewright.quantities.going_on import go_on

if TYPE_CHECKING:
    from numpy.typing import NDArray

_FIRST = 17
_FINE = 21
_HALVINGS = 27  # of a span of e^32: to 3e-7 of the answer


@dataclass(frozen=True)
class Grid:
    """The three numbers that all groups share, as weights on a grid, to draw laws from.

    Attributes
    ----------
    weight : (shapes, likes, rates)
    shape, gamma : (shapes,) and (likes,)
    typical : typical rate, (shapes, rates)
    failures : of each group, (groups,)
    runs : Σ (t^shape - v^shape) of each group, (shapes, groups)
    """

    weight: Array
    shape: Array
    gamma: Array
    typical: Array
    failures: Array
    runs: Array


@dataclass(frozen=True)
class ManyGroups:
    """The lives of all groups, doubt about each law included.

    Attributes
    ----------
    names : of the groups
    weight, shape : of each part of the mixture, (parts,)
    gamma, exposure : shape and inverse scale of each group's rate, (groups, parts)
    unit : age that counts as 1 in `exposure` [measure]
    prior : what was believed beforehand
    grid : what laws are drawn from
    """

    names: tuple[str, ...]
    weight: Array
    shape: Array
    gamma: Array
    exposure: Array
    unit: float
    prior: Prior
    grid: Grid

    def draws(self, number: int = LAWS, seed: int = 1) -> Draws:
        """Laws of all groups drawn together, each as likely as the others.

        Parameters
        ----------
        number : of laws
        seed : of the draws; the same one gives the same laws
        """
        grid, rng = self.grid, np.random.default_rng(seed)
        reached = np.cumsum(grid.weight.ravel())
        middle = (rng.permutation(number) + 0.5) / number
        place = np.searchsorted(reached, middle * reached[-1])
        s, a, m = np.unravel_index(place, grid.weight.shape)
        point = grid.gamma[a][:, None] + grid.failures
        spent = (grid.gamma[a] / grid.typical[s, m])[:, None] + grid.runs[s]
        return Draws(grid.shape[s], rng.standard_gamma(point) / spent, self.unit)

    def life(self, name: str) -> PooledLife:
        """Life of one group."""
        row = self.names.index(name)
        return PooledLife(self.weight, self.shape, self.gamma[row], self.exposure[row], self.unit)

    def chance_of_failing(self, group: NDArray[np.intp], age: Array, further: Array) -> Array:
        """Chance of each joint to fail within `further` more.

        Parameters
        ----------
        group : position of its group in `names`, (joints,)
        age, further : use now, and how much more, (joints,) [measure]

        Returns
        -------
        array (joints,) [0..1]
        """
        log_age = np.log(np.maximum(age / self.unit, 1e-300))[:, None]
        log_end = np.log(np.maximum((age + further) / self.unit, 1e-300))[:, None]
        run = np.exp(self.shape * log_end) - np.exp(self.shape * log_age)
        good = -self.gamma[group] * np.log1p(run / self.exposure[group])
        return np.asarray(1 - np.exp(good) @ self.weight)

    def age_left(self, group: NDArray[np.intp], age: Array, share: float) -> Array:
        """Further use within which `share` of such joints will have failed, (joints,)."""
        low = np.full(age.size, math.log(1e-7 * self.unit))
        high = np.full(age.size, math.log(1e7 * self.unit))
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            late = self.chance_of_failing(group, age, np.exp(middle)) > share
            low, high = np.where(late, low, middle), np.where(late, middle, high)
        return np.asarray(np.exp(0.5 * (low + high)))


class _Records:
    """All lives in one row, group after group."""

    def __init__(self, groups: Mapping[str, Lives]) -> None:
        every = list(groups.values())
        good, bad, entered, self.count = (
            np.concatenate([getattr(g, name) for g in every])
            for name in ("good", "bad", "entered", "count")
        )
        suspended = np.isinf(bad)
        ages = np.where(suspended, good, bad)
        self.unit = float(np.exp(np.mean(np.log(ages[ages > 0]))))
        self.starts = np.cumsum([0, *(g.good.size for g in every[:-1])])
        self.exact = ~suspended & (bad == good)
        self.between = ~suspended & (bad > good)
        with np.errstate(divide="ignore"):
            self.good, self.entered = np.log(good / self.unit), np.log(entered / self.unit)
            self.bad = np.where(suspended, self.good, np.log(bad / self.unit))
        self.failures = np.add.reduceat(
            np.where(suspended, 0.0, self.count).astype(np.float64), self.starts
        )

    def run(self, shape: Array) -> Array:
        """Σ (t^shape - v^shape) of each group, (shapes, groups)."""
        good, bad, entered = (
            np.exp(np.outer(shape, a)) for a in (self.good, self.bad, self.entered)
        )
        return np.asarray(
            np.add.reduceat((0.5 * (good + bad) - entered) * self.count, self.starts, axis=1)
        )

    def log_factor(self, shape: Array) -> Array:
        """Part of the log-likelihood without the rates, all groups together, (shapes,)."""
        exact, between = self.exact, self.between
        held = self.count[exact].sum() * np.log(shape)
        held = held + (shape - 1) * float(self.count[exact] @ self.good[exact])
        gaps = np.exp(np.outer(shape, self.bad[between])) - np.exp(
            np.outer(shape, self.good[between])
        )
        return np.asarray(held + np.log(gaps) @ self.count[between])


def pool_many(groups: Mapping[str, Lives], prior: Prior | None = None) -> ManyGroups:
    """Fit all groups at once, however many they are.

    Parameters
    ----------
    groups : name -> lives, all in one measure
    prior : as for `pool_groups`

    Raises
    ------
    InputError
        As `pool_groups`.
    """
    belief = prior or Prior()
    check_groups(groups)
    if any(not g.good.size for g in groups.values()):
        raise InputError(Fault("groups", "one holds no life; leave it out"))
    records = _Records(groups)
    middle = np.array([math.log(belief.shape), math.log(belief.likeness), 0.0])
    reach = np.array([4 * belief.shape_spread, 4 * belief.likeness_spread, 6.0])
    low, high = middle - reach, middle + reach
    axes = [np.linspace(low[k], high[k], _FIRST) for k in range(3)]
    log_weight = _log_posterior(records, belief, axes)
    for _ in range(2):
        axes = closer_axes(axes, log_weight, _FINE)
        log_weight = _log_posterior(records, belief, axes)
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    return _condensed(tuple(groups), records, belief, axes, weight)


def _rates(records: _Records, axes: list[Array]) -> tuple[Array, Array, Array]:
    """Gamma shape (likes,), typical rates (shapes, rates), and runs (shapes, groups)."""
    log_shape, log_like, log_rate = axes
    runs = records.run(np.exp(log_shape))
    typical = records.failures.sum() / runs.sum(axis=1)
    return np.exp(log_like), typical[:, None] * np.exp(log_rate), runs


def _log_posterior(records: _Records, prior: Prior, axes: list[Array]) -> Array:
    from scipy.special import gammaln

    log_shape, log_like, log_rate = axes
    gamma, typical, runs = _rates(records, axes)
    failures = records.failures
    alike = (gammaln(gamma[:, None] + failures) - gammaln(gamma)[:, None]).sum(axis=1)
    alike -= 0.5 * ((log_like - math.log(prior.likeness)) / prior.likeness_spread) ** 2
    shaped = records.log_factor(np.exp(log_shape))
    shaped += log_belief(log_shape, prior)
    total = np.empty((log_shape.size, log_like.size, log_rate.size))
    for s in range(log_shape.size):
        go_on()
        exposure = gamma[:, None] / typical[s]
        spent = np.log(exposure[..., None] + runs[s])
        spent *= gamma[:, None, None] + failures
        rated = failures.size * gamma[:, None] * np.log(exposure) - spent.sum(axis=-1)
        total[s] = shaped[s] + alike[:, None] + rated
    return total


def _condensed(
    names: tuple[str, ...], records: _Records, prior: Prior, axes: list[Array], weight: Array
) -> ManyGroups:
    gamma, typical, runs = _rates(records, axes)
    by_shape = weight.sum(axis=(1, 2))
    kept = np.flatnonzero(by_shape > 1e-5 * by_shape.max())
    shapes, spreads = [], []
    for s in kept:
        share = (weight[s] / by_shape[s])[..., None]
        point = gamma[:, None, None] + records.failures
        rate = point / ((gamma[:, None] / typical[s])[..., None] + runs[s])
        mean = (share * rate).sum(axis=(0, 1))
        square = (share * rate**2 * (1 + 1 / point)).sum(axis=(0, 1))
        shapes.append(mean**2 / (square - mean**2))
        spreads.append(mean / (square - mean**2))
    part = by_shape[kept] / by_shape[kept].sum()
    return ManyGroups(
        names,
        part,
        np.exp(axes[0][kept]),
        np.array(shapes).T,
        np.array(spreads).T,
        records.unit,
        prior,
        Grid(weight, np.exp(axes[0]), gamma, typical, records.failures, runs),
    )
