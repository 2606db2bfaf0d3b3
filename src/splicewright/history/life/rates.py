"""Rates of events that come again (damage, stops), for several conveyors that lean on each other.

Counts are Poisson with a rate of each conveyor; the rates scatter by a gamma law [1]_.

References
----------
.. [1] Gaver and O'Muircheartaigh, Technometrics 29 (1987), pump failures (results seen and from
   memory, see tests/outside/test_pump_failures.py).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


@dataclass(frozen=True, slots=True)
class Scatter:
    """Gamma law by which the rates of conveyors scatter.

    Attributes
    ----------
    alpha : gamma shape [1]
    beta : inverse scale; alpha/beta is the mean rate [exposure]
    loglik : log-likelihood of the counts
    """

    alpha: float
    beta: float
    loglik: float


@dataclass(frozen=True)
class PooledRates:
    """Rate of each conveyor, with the others.

    Attributes
    ----------
    mean, spread : of each rate, (conveyors,) [per exposure]
    alpha, beta : mean of the scatter's two numbers
    alpha_spread, beta_spread : their standard deviations
    """

    mean: Array
    spread: Array
    alpha: float
    beta: float
    alpha_spread: float
    beta_spread: float


def weak_belief(alpha: Array, beta: Array) -> Array:
    """Log-density believed beforehand: alpha exponential with mean 1, beta Gamma(0.1, 1)."""
    return -alpha - 0.9 * np.log(beta) - beta


def most_likely_scatter(counts: ArrayLike, exposure: ArrayLike) -> Scatter:
    """Gamma scatter that makes the counts most likely (empirical Bayes).

    Raises
    ------
    InputError
        Counts or exposures that cannot be, or rates too alike to show any scatter.
    """
    from scipy.optimize import minimize

    x, t = _checked(counts, exposure)
    rate = float(x.sum() / t.sum())

    def minus(theta: Array) -> float:
        a = math.exp(theta[0])
        return -float(_log_counts(x, t, np.array([a]), np.array([a / math.exp(theta[1])]))[0])

    result = minimize(
        minus,
        np.array([0.0, math.log(rate)]),
        method="Nelder-Mead",
        options={"xatol": 1e-10, "fatol": 1e-12, "maxiter": 4000},
    )
    a = math.exp(float(result.x[0]))
    if a > 1e6:
        raise InputError(
            Fault("counts", "are as alike as chance makes them: they show no scatter of rates")
        )
    return Scatter(a, a / math.exp(float(result.x[1])), -float(result.fun))


def pool_rates(
    counts: ArrayLike,
    exposure: ArrayLike,
    belief: Callable[[Array, Array], Array] = weak_belief,
    points: int = 300,
) -> PooledRates:
    """Rate of each conveyor with all doubt about the scatter included.

    Given the scatter, rate ~ Gamma(alpha + count, beta + exposure); alpha and beta are summed
    over a grid of their logarithms.

    Parameters
    ----------
    counts, exposure : events and time (or tonnes) under watch, (conveyors,)
    belief : log-density of (alpha, beta) beforehand; `weak_belief` expects the exposure in a
        unit that makes rates of the order of 1
    points : of the grid, to each axis
    """
    x, t = _checked(counts, exposure)
    span = np.linspace(-10.0, 6.0, points)
    log_alpha, log_beta = (g.ravel() for g in np.meshgrid(span, span - math.log(x.sum() / t.sum())))
    alpha, beta = np.exp(log_alpha), np.exp(log_beta)
    # a density in (ln alpha, ln beta) is one in (alpha, beta) times both
    log_weight = _log_counts(x, t, alpha, beta) + belief(alpha, beta) + log_alpha + log_beta
    weight = np.exp(log_weight - log_weight.max())
    kept = weight > 1e-14
    alpha, beta, weight = alpha[kept], beta[kept], weight[kept]
    weight = weight / weight.sum()
    shape, inverse = alpha[:, None] + x, beta[:, None] + t
    mean = weight @ (shape / inverse)
    square = weight @ (shape * (shape + 1) / inverse**2)
    middle_a, middle_b = float(weight @ alpha), float(weight @ beta)
    return PooledRates(
        mean,
        np.sqrt(square - mean**2),
        middle_a,
        middle_b,
        math.sqrt(float(weight @ (alpha - middle_a) ** 2)),
        math.sqrt(float(weight @ (beta - middle_b) ** 2)),
    )


def _log_counts(x: Array, t: Array, alpha: Array, beta: Array) -> Array:
    """Log-probability of the counts, rates integrated out (negative binomial), (points,)."""
    from scipy.special import gammaln

    a, b = alpha[:, None], beta[:, None]
    each = gammaln(a + x) - gammaln(a) - gammaln(x + 1)
    # log1p keeps its digits where beta is huge beside t, or t beside beta
    each = each - a * np.log1p(t / b) - x * np.log1p(b / t)
    return np.asarray(each.sum(axis=1))


def _checked(counts: ArrayLike, exposure: ArrayLike) -> tuple[Array, Array]:
    x, t = np.asarray(counts, dtype=np.float64), np.asarray(exposure, dtype=np.float64)
    if x.shape != t.shape or x.ndim != 1 or not x.size:
        sentence = f"{x.size} counts for {t.size} exposures; give one of each per conveyor"
        raise InputError(Fault("counts", sentence))
    bad = ~np.isfinite(x) | (x < 0) | (x != np.floor(x))
    if bad.any():
        sentence = f"{float(x[bad][0]):g} must be a whole number of zero or more"
        raise InputError(Fault("counts", sentence))
    bad = ~np.isfinite(t) | (t <= 0)
    if bad.any():
        sentence = f"{float(t[bad][0]):g} must be a finite number above zero"
        raise InputError(Fault("exposure", sentence))
    if not x.sum():
        raise InputError(
            Fault("counts", "are all zero, so there is no rate to share between conveyors")
        )
    return x, t
