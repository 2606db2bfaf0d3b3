"""Small numbers: what the joints of other conveyors say about those of this one.

Joints of one conveyor (or kind) form a group. All groups share the shape; each has its own
rate lambda = scale^-shape, and the rates of the groups scatter by a gamma law. Groups with few
failures lean on the others, groups with many stand on their own [1]_.

With failures seen as they happened the groups' rates integrate out in closed form; with
failures known only between looks they are summed over a grid. The three numbers left (shape,
likeness of the groups, typical rate) are summed over a grid too: the same answer on every run.

References
----------
.. [1] Gelman et al., Bayesian Data Analysis, ch. 5 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.life.limits import Limits, check_confidence
from splicewright.history.life.lives import Lives, joined
from splicewright.history.life.weibull import Weibull, fit_weibull
from splicewright.quantities.going_on import go_on

_FIRST = 17  # points to each axis of the first, wide grid
_FINE = 21
_NODES = 161  # points over the rate of a group that has looks
_SURE = 1e7  # a gamma law of this shape is a point


@dataclass(frozen=True, slots=True)
class Prior:
    """What is believed before any record; assumptions of this tool, to be replaced by your own.

    Attributes
    ----------
    shape : median of the shape [1]
    shape_spread : standard deviation of ln shape; 2.0 and 0.4 hold 0.9 to 4.4 in 95 % [1]
    likeness : median of the gamma shape by which groups scatter; 2 lets the scale of a group
        differ by a factor of about 1.4 from the typical one at shape 2 [1]
    likeness_spread : standard deviation of its logarithm [1]
    """

    shape: float = 2.0
    shape_spread: float = 0.4
    likeness: float = 2.0
    likeness_spread: float = 1.0

    def __post_init__(self) -> None:
        """Refuse beliefs that are none."""
        for name in ("shape", "shape_spread", "likeness", "likeness_spread"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0):
                sentence = f"{value:g} must be a finite number above zero"
                raise InputError(Fault(f"prior, {name.replace('_', ' ')}", sentence))

    @property
    def shape_ends(self) -> tuple[float, float]:
        """What 95 % of the belief about the shape lies between [1]."""
        wide = math.exp(1.96 * self.shape_spread)
        return self.shape / wide, self.shape * wide

    @property
    def sentence(self) -> str:
        """The belief in words, to stand beside what leans on it."""
        low, high = self.shape_ends
        return (
            f"believed beforehand: shape about {self.shape:g}, {low:.1f} to {high:.1f}; scale "
            "wholly unknown; groups somewhat alike. Assumption of this tool"
        )


@dataclass(frozen=True)
class PooledLife:
    """Life of a joint of one group, all doubt about its law included.

    A weighted sum of Weibull laws whose rates are gamma variables.

    Attributes
    ----------
    weight, shape : of each part, (parts,)
    gamma, exposure : shape and inverse scale of the rate's gamma law, (parts,)
    unit : age that counts as 1 in `exposure` [measure]
    """

    weight: Array
    shape: Array
    gamma: Array
    exposure: Array
    unit: float

    def good(self, age: float) -> float:
        """Share still good at `age` [0..1]."""
        return self._kept((age / self.unit) ** self.shape)

    def chance_of_failing(self, age: float, further: float) -> float:
        """Chance that a joint now at `age`, and counted as such, fails within `further` more."""
        before, after = (age / self.unit) ** self.shape, ((age + further) / self.unit) ** self.shape
        return 1 - self._kept(after - before)

    def age_at(self, share: float) -> float:
        """Age by which `share` are expected to have failed."""
        return self._solve(lambda age: 1 - self.good(age) - share)

    def age_left(self, age: float, share: float) -> float:
        """Further run by which `share` of the joints now at `age` are expected to have failed."""
        return self._solve(lambda further: self.chance_of_failing(age, further) - share)

    def age_limits(self, share: float, confidence: float = 0.9) -> Limits:
        """Range that holds the group's own age at `share` failed, with chance `confidence`."""
        from scipy.special import gammaincc

        check_confidence(confidence)
        drop = -math.log1p(-share)

        def chance(age: float) -> float:
            need = drop / (age / self.unit) ** self.shape
            return float(self.weight @ gammaincc(self.gamma, self.exposure * need))

        tail = (1 - confidence) / 2
        low = self._solve(lambda age: chance(age) - tail)
        high = self._solve(lambda age: chance(age) - 1 + tail)
        return Limits(low, high, confidence)

    def _kept(self, run: Array) -> float:
        return float(self.weight @ np.exp(-self.gamma * np.log1p(run / self.exposure)))

    def _solve(self, rising: Callable[[float], float]) -> float:
        from scipy.optimize import brentq

        low = high = math.log(self.unit)
        while rising(math.exp(low)) > 0:
            low -= 1.0
        while rising(math.exp(high)) < 0:
            high += 1.0
        return math.exp(float(brentq(lambda s: rising(math.exp(s)), low - 1e-9, high + 1e-9)))


@dataclass(frozen=True)
class PooledGroup:
    """One group seen three ways, to be shown side by side.

    Attributes
    ----------
    name : of the group
    failures, number : in it
    life : leaning on the other groups as far as it must
    alone : fit of its own records; None when they settle no law
    together : fit of all groups as one; None when they settle no law
    """

    name: str
    failures: int
    number: int
    life: PooledLife
    alone: Weibull | None
    together: Weibull | None


@dataclass(frozen=True)
class Pooling:
    """Groups that lean on each other.

    Attributes
    ----------
    groups : in the order given
    new : a joint of a further group without records
    shape : mean of the shape [1]
    shape_limits : range that holds it with chance 0.9
    likeness : mean of ln of the gamma shape; large when the groups are alike
    prior : what was believed before
    """

    groups: tuple[PooledGroup, ...]
    new: PooledLife
    shape: float
    shape_limits: Limits
    likeness: float
    prior: Prior


def pool_groups(groups: Mapping[str, Lives], prior: Prior | None = None) -> Pooling:
    """Fit all groups at once.

    Parameters
    ----------
    groups : name -> lives, all in one measure
    prior : what is believed beforehand; the tool's own assumptions where left out. The typical
        rate is taken as wholly unknown.

    Raises
    ------
    InputError
        No group, different measures, or no failure in any.
    """
    belief = prior or Prior()
    check_groups(groups)
    every = list(groups.values())
    ages = np.concatenate([np.where(g.suspended, g.good, g.bad) for g in every])
    unit = float(np.exp(np.mean(np.log(ages[ages > 0]))))
    parts = [_Group(g, unit) for g in every]

    middle = np.array([math.log(belief.shape), math.log(belief.likeness), 0.0])
    reach = np.array([4 * belief.shape_spread, 4 * belief.likeness_spread, 6.0])
    low, high = middle - reach, middle + reach
    axes = [np.linspace(low[k], high[k], _FIRST) for k in range(3)]
    log_weight = _log_posterior(parts, belief, axes)[0]
    for _ in range(2):
        axes = closer_axes(axes, log_weight, _FINE)
        log_weight, shares = _log_posterior(parts, belief, axes)
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()

    log_shape, log_like, _ = axes
    shape = np.exp(log_shape)
    by_shape = weight.sum(axis=(1, 2))
    gamma, exposure = _hyper(parts, axes)
    flat_shape = np.broadcast_to(shape[:, None, None], weight.shape)
    kept = weight > 1e-9 * weight.max()

    def life(index: int) -> PooledLife:
        part = parts[index]
        if part.looked:
            return part.tabled(weight, shares[index], shape, unit)
        run = part.run(shape)[:, None, None]
        return _life(weight, flat_shape, gamma + part.failures, exposure + run, kept, unit)

    together = _fit_or_none(joined(every))
    pooled = tuple(
        PooledGroup(name, g.failures, g.number, life(i), _fit_or_none(g), together)
        for i, (name, g) in enumerate(groups.items())
    )
    edges = np.interp([0.05, 0.95], np.cumsum(by_shape) - by_shape / 2, log_shape)
    return Pooling(
        pooled,
        _life(weight, flat_shape, gamma, exposure, kept, unit),
        float(by_shape @ shape),
        Limits(math.exp(edges[0]), math.exp(edges[1]), 0.9),
        float(weight.sum(axis=(0, 2)) @ log_like),
        belief,
    )


class _Group:
    """Likelihood of one group's records given the shape and its rate."""

    def __init__(self, lives: Lives, unit: float) -> None:
        self.lives = lives
        exact, between = lives.exact, lives.between
        self.failures = float(lives.count[exact].sum())
        self.all_failures = float(lives.failures)
        with np.errstate(divide="ignore"):
            self.good, self.bad = np.log(lives.good / unit), np.log(lives.bad / unit)
            self.entered = np.log(lives.entered / unit)
        self.log_sum = float(lives.count[exact] @ self.good[exact])
        self.looked = bool(between.any())

    def run(self, shape: Array) -> Array:
        """Σ (t^shape - v^shape), to the last good look where the failure was not seen."""
        powers = np.exp(np.outer(shape, self.good)) - np.exp(np.outer(shape, self.entered))
        return np.asarray(powers @ self.lives.count)

    def log_factor(self, shape: Array) -> Array:
        """Part of the log-likelihood without the rate."""
        return self.failures * np.log(shape) + (shape - 1) * self.log_sum

    def log_rates(self, shape: Array) -> Array:
        """Grid over ln rate for each shape, (shapes, nodes)."""
        run = self.run(shape) + 0.5 * self.gaps(shape) @ self.lives.count[self.lives.between]
        step = min(0.13, 0.8 / math.sqrt(self.all_failures + 1))
        middle = np.log((self.all_failures + 0.5) / np.maximum(run, 1e-300))
        return np.asarray(middle[:, None] + step * (np.arange(_NODES) - 0.65 * _NODES))

    def log_given_rate(self, shape: Array, log_rate: Array) -> Array:
        """Log-likelihood at each node, (shapes, nodes)."""
        rate = np.exp(log_rate)
        total = self.failures * log_rate - self.run(shape)[:, None] * rate
        total = total + self.log_factor(shape)[:, None]
        gaps, count = self.gaps(shape), self.lives.count[self.lives.between]
        for k in range(count.size):
            with np.errstate(divide="ignore"):
                total = total + count[k] * np.log(-np.expm1(-gaps[:, k, None] * rate))
        return np.asarray(total)

    def tabled(self, weight: Array, share: Array, shape: Array, unit: float) -> PooledLife:
        """The group's life from its table of (shape, rate), summed over the rest."""
        log_rate = self.log_rates(shape)
        table = np.einsum("sam,samn->sn", weight, share)
        kept = table > 1e-9 * table.max()
        flat = np.broadcast_to(shape[:, None], table.shape)
        point = np.full(table.shape, _SURE)
        return _life(table, flat, point, _SURE / np.exp(log_rate), kept, unit)

    def gaps(self, shape: Array) -> Array:
        """b^shape - a^shape of the failures between looks, (shapes, looks)."""
        between = self.lives.between
        low, high = np.outer(shape, self.good[between]), np.outer(shape, self.bad[between])
        return np.asarray(np.exp(high) - np.exp(low))


def _hyper(parts: list[_Group], axes: list[Array]) -> tuple[Array, Array]:
    """Gamma shape and inverse scale of the scatter between groups, on the whole grid."""
    log_shape, log_like, log_rate = axes
    shape, like = np.exp(log_shape), np.exp(log_like)
    run = sum((p.run(shape) for p in parts), np.zeros(shape.size))
    for p in parts:
        if p.looked:
            run = run + 0.5 * p.gaps(shape) @ p.lives.count[p.lives.between]
    failures = sum(p.all_failures for p in parts)
    typical = (failures / run)[:, None, None] * np.exp(log_rate)[None, None, :]
    gamma = np.broadcast_to(like[None, :, None], (shape.size, like.size, log_rate.size))
    return gamma, gamma / typical


def _log_posterior(
    parts: list[_Group], prior: Prior, axes: list[Array]
) -> tuple[Array, list[Array]]:
    """Log-posterior on the grid, and each looked-at group's shares over its rate nodes."""
    from scipy.special import gammaln

    log_shape, log_like, _ = axes
    shape = np.exp(log_shape)
    gamma, exposure = _hyper(parts, axes)
    total = log_belief(log_shape, prior)[:, None, None]
    total = (
        total
        - 0.5 * ((log_like - math.log(prior.likeness)) / prior.likeness_spread)[None, :, None] ** 2
    )
    total = total + np.zeros(gamma.shape)
    shares: list[Array] = []
    for part in parts:
        go_on()
        if not part.looked:
            held = part.run(shape)[:, None, None]
            total = total + part.log_factor(shape)[:, None, None] + gammaln(gamma + part.failures)
            total = total - gammaln(gamma) + gamma * np.log(exposure)
            total = total - (gamma + part.failures) * np.log(exposure + held)
            shares.append(np.empty(0))
            continue
        log_rate = part.log_rates(shape)
        inner = part.log_given_rate(shape, log_rate)[:, None, None, :] + (
            gamma[..., None] * log_rate[:, None, None, :]
            - exposure[..., None] * np.exp(log_rate)[:, None, None, :]
        )
        peak = inner.max(axis=-1, keepdims=True)
        inner = np.exp(inner - peak)
        sums = inner.sum(axis=-1)
        total = total + peak[..., 0] + np.log(sums) + gamma * np.log(exposure) - gammaln(gamma)
        shares.append(inner / sums[..., None])
    return total, shares


def log_belief(log_shape: Array, prior: Prior) -> Array:
    """Log of the belief about the shape, on the grid over ln rate.

    "Scale wholly unknown" is flat in ln scale, and a step of ln rate is shape times as large:
    without that, large shapes would count for more than is believed of them.
    """
    return np.asarray(
        -0.5 * ((log_shape - math.log(prior.shape)) / prior.shape_spread) ** 2 - log_shape
    )


def closer_axes(axes: list[Array], log_weight: Array, points: int) -> list[Array]:
    """A grid over the part that matters: within e^-12 of the peak, a step to spare."""
    inside = log_weight > log_weight.max() - 12
    closer = []
    for k, axis in enumerate(axes):
        others = tuple(j for j in range(3) if j != k)
        held = np.flatnonzero(inside.any(axis=others))
        low, high = max(held[0] - 1, 0), min(held[-1] + 1, axis.size - 1)
        closer.append(np.linspace(axis[low], axis[high], points))
    return closer


def _life(
    weight: Array, shape: Array, gamma: Array, exposure: Array, kept: Array, unit: float
) -> PooledLife:
    share = weight[kept]
    parts = [np.ascontiguousarray(np.broadcast_to(a, weight.shape)[kept]) for a in (shape, gamma)]
    spread = np.ascontiguousarray(np.broadcast_to(exposure, weight.shape)[kept])
    return PooledLife(share / share.sum(), parts[0], parts[1], spread, unit)


def _fit_or_none(lives: Lives) -> Weibull | None:
    try:
        return fit_weibull(lives).law
    except InputError:
        return None


def check_groups(groups: Mapping[str, Lives]) -> None:
    """Refuse groups that share nothing: none, several measures, or no failure in any."""
    if not groups:
        raise InputError(Fault("groups", "there are none; give at least one group of lives"))
    if len({g.measure for g in groups.values()}) > 1:
        raise InputError(
            Fault("groups", "are counted in different measures; give all of them in one")
        )
    if not any(g.failures for g in groups.values()):
        raise InputError(
            Fault(
                "groups",
                "hold no failure, so there is nothing to share; with an assumed shape a lower "
                "bound of life can still be given",
            )
        )
