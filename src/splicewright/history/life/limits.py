"""How far the truth may lie from a fitted life: likelihood-ratio limits, bias, lower bounds.

The limits of a quantity are its smallest and largest value over all laws whose
log-likelihood lies no more than χ²(1)/2 below the best one, which is the profile-likelihood
interval [1]_. Normal-theory (Wald) limits are not offered: at 10 to 20 lives those of an early
percentile miss more than twice as often as they should.

References
----------
.. [1] Meeker and Escobar, Statistical Methods for Reliability Data, 1998, ch. 8 (from memory).
.. [2] Ross, unbiasing factor (n - 2)/(n - 0.68) of the Weibull shape (from memory; checked by
   simulation for 3 to 30 failures).
.. [3] Abernethy, The New Weibull Handbook, median factor C4^3.5 (from memory; checked as [2]_).
.. [4] Nelson, Weibull analysis with few or no failures and a known shape, 1985 (from memory; the
   bound follows from the Poisson law).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.life.lives import Lives
from splicewright.history.life.weibull import Likelihood, Weibull, WeibullFit
from splicewright.quantities import Kind, formula
from splicewright.quantities.going_on import go_on

_RAYS = 48
_MIDDLE = (0.0, 0.0)
_FARTHEST = 20.0  # in standard errors; beyond it a side of the region counts as open


@dataclass(frozen=True, slots=True)
class Limits:
    """Two-sided limits; `high` is inf (or `low` is 0) where the lives set no bound.

    Attributes
    ----------
    low, high : the ends
    confidence : share of such intervals that hold the truth, in large samples [0..1]
    """

    low: float
    high: float
    confidence: float


@dataclass(frozen=True)
class Region:
    """All laws a fit does not rule out, as rays from the most likely one.

    Attributes
    ----------
    fit : the fit in its middle
    confidence : as in `Limits`
    angles, reach : direction and length of each ray, in standard errors, (rays,)
    axes : turns them into steps of (ln hazard at the pivot, ln shape), (2, 2)
    pivot : log of the age at which hazard and shape do not depend on each other
    likelihood : of the lives
    """

    fit: WeibullFit
    confidence: float
    angles: Array
    reach: Array
    axes: Array
    pivot: float
    likelihood: Likelihood

    def logs(self, across: Array, along: Array) -> tuple[Array, Array]:
        """Log shapes and log scales at points in standard errors from the most likely law."""
        shape, scale = math.log(self.fit.law.shape), math.log(self.fit.law.scale)
        step = self.axes @ np.stack([across, along])
        s = shape + step[1]
        level = shape - self.fit.law.shape * (scale - self.pivot) + step[0]
        with np.errstate(over="ignore"):
            return s, self.pivot + (s - level) * np.exp(-s)

    def laws(self, across: Array, along: Array) -> tuple[Array, Array]:
        """Shapes and scales at such points."""
        log_shape, log_scale = self.logs(across, along)
        with np.errstate(over="ignore"):
            return np.exp(log_shape), np.exp(log_scale)


def likelihood_region(fit: WeibullFit, confidence: float = 0.9) -> Region:
    """Trace the laws that a fit does not rule out.

    In scale and shape the region is bent; it is traced in ln hazard = s - shape (ln scale -
    pivot) and s = ln shape, with the pivot age chosen so that the two are uncorrelated.

    Parameters
    ----------
    fit : from `fit_weibull`
    confidence : of the limits drawn from it [0..1]

    Raises
    ------
    InputError
        A confidence that is no share between 0 and 1.
    """
    check_confidence(confidence)
    shape = fit.law.shape
    (_, both), (_, own) = fit.covariance
    bend = shape * both / own  # slope of ln hazard in s at the pivot, in units of the shape
    pivot = math.log(fit.law.scale) - (1 - bend) / shape
    turn = np.array([[-shape, bend], [0.0, 1.0]])
    covariance = turn @ fit.covariance @ turn.T
    axes = np.diag(np.sqrt(np.diag(covariance)))
    angles = np.linspace(0.0, 2 * math.pi, _RAYS, endpoint=False)
    likelihood = Likelihood(fit.lives)
    empty = Region(fit, confidence, angles, np.zeros(_RAYS), axes, pivot, likelihood)
    return replace(empty, reach=_reach(empty, _MIDDLE, angles))


def limits_of(region: Region, quantity: Callable[[Array, Array], Array]) -> Limits:
    """Limits of any quantity of the law.

    Parameters
    ----------
    region : from `likelihood_region`
    quantity : takes shapes and scales, (n,) each, and gives values, (n,)
    """
    high, high_open = _extreme(region, quantity, 1.0)
    low, low_open = _extreme(region, quantity, -1.0)
    return Limits(0.0 if low_open else low, math.inf if high_open else high, region.confidence)


def shape_limits(region: Region) -> Limits:
    """Limits of the shape."""
    return limits_of(region, lambda shape, _scale: shape)


def scale_limits(region: Region) -> Limits:
    """Limits of the scale."""
    return limits_of(region, lambda _shape, scale: scale)


def age_limits(region: Region, share: float) -> Limits:
    """Limits of the age by which `share` of the joints have failed."""
    drop = -math.log1p(-share)
    return limits_of(region, lambda shape, scale: scale * drop ** (1 / shape))


def mean_limits(region: Region) -> Limits:
    """Limits of the mean life."""
    from scipy.special import gamma

    return limits_of(region, lambda shape, scale: scale * gamma(1 + 1 / shape))


@formula(
    "m = (n - 0.68)/(n - 2)",
    gives=("m", Kind.RATIO),
    symbols={"failures": "n"},
    source="shape-bias-mean",
    limits="three failures or more; a fifth larger where most joints have not failed",
)
def mean_shape_factor(failures: int) -> float:
    """Average of the fitted over the true shape.

    Parameters
    ----------
    failures : that the fit rests on [-]
    """
    return (failures - 0.68) / (failures - 2)


@formula(
    "m = C_4^-3.5,  C_4 = √(2/(n - 1)) Γ(n/2)/Γ((n - 1)/2)",
    gives=("m", Kind.RATIO),
    symbols={"failures": "n"},
    source="shape-bias-median",
    limits="three failures or more; a fifth larger where most joints have not failed",
)
def median_shape_factor(failures: int) -> float:
    """Multiple of the true shape above which half of all fitted shapes lie.

    Parameters
    ----------
    failures : that the fit rests on [-]
    """
    n = failures
    c4 = math.sqrt(2 / (n - 1)) * math.exp(math.lgamma(n / 2) - math.lgamma((n - 1) / 2))
    return float(c4**-3.5)


@dataclass(frozen=True, slots=True)
class ShapeBias:
    """By how much a shape from few failures overstates the true one, on average.

    Attributes
    ----------
    failures : how many there were
    mean_factor : average of fitted over true shape [1]
    median_factor : half of all fits lie above this multiple of the true shape [1]
    sentence : the same in words
    """

    failures: int
    mean_factor: float
    median_factor: float
    sentence: str


def shape_bias(failures: int) -> ShapeBias:
    """Bias of the fitted shape at few failures; shown beside the fit, not taken out of it.

    1/mean factor = (n - 2)/(n - 0.68) [2]_; 1/median factor = C4^3.5,
    C4 = sqrt(2/(n - 1)) Γ(n/2)/Γ((n - 1)/2) [3]_.

    Limits: for lives that all failed. With most lives suspended it depends on the failures,
    hardly on the number of joints, and is up to a fifth larger than said here.

    Raises
    ------
    InputError
        Fewer than three failures: the average has no bound.
    """
    if failures < 3:
        raise InputError(
            Fault("failures", f"{failures} are too few to state a bias; accepted are 3 or more")
        )
    n = failures
    mean, median = mean_shape_factor(n), median_shape_factor(n)
    sentence = (
        f"with {n} failures a fitted shape is on average {mean:.2f} times the true one (half of "
        f"all fits lie above {median:.2f} times): wear-out seems sharper than it is"
    )
    return ShapeBias(n, mean, median, sentence)


@formula(
    "η ≥ (Σ(t^β - v^β)/q)^(1/β),  q = γ_C(r + 1)",
    gives=("η", Kind.RUN_TIME),
    symbols={"lives": "Σ(t^β - v^β)", "shape": "β", "confidence": "C"},
    source="few-failures",
    limits="γ_C is the C quantile of a gamma variable; with no failure q = -ln(1 - C)",
)
def scale_at_least(lives: Lives, shape: float, confidence: float = 0.9) -> Weibull:
    """Law whose scale is a lower bound, for an assumed shape; works with no failure at all.

    scale^shape >= Σ(t^shape - v^shape) / q, q the `confidence` quantile of a gamma variable
    with failures + 1 degrees [4]_; with no failure q = -ln(1 - confidence).

    Parameters
    ----------
    lives : run t, entered at v, with r failures among them
    shape : assumed [1]
    confidence : that the scale is no smaller [0..1]

    Assumption: the shape. A failure found between two looks counts as lived to the last good
    look only, which is the safe side.

    Raises
    ------
    InputError
        A shape or confidence out of range, or lives that ran for no time.
    """
    from scipy.special import gammaincinv

    check_confidence(confidence)
    law = Weibull(shape, 1.0)
    top = float(lives.good.max())
    if top <= 0:
        raise InputError(Fault("lives", "none of them has run yet, so they say nothing of life"))
    run = (lives.good / top) ** law.shape - (lives.entered / top) ** law.shape
    total = float(run @ lives.count)
    if total <= 0:
        raise InputError(Fault("lives", "none of them ran while the log watched"))
    quantile = float(gammaincinv(lives.failures + 1, confidence))
    return Weibull(shape, top * (total / quantile) ** (1 / shape))


def check_confidence(confidence: float) -> None:
    """Refuse a confidence outside 0 to 1."""
    if not 0 < confidence < 1:
        raise InputError(
            Fault("confidence", f"{confidence:g} is no share; accepted is above 0 and below 1")
        )


def drop_of(confidence: float) -> float:
    """χ² quantile with one degree: how far twice the log-likelihood may fall."""
    from scipy.special import ndtri

    return float(ndtri((1 + confidence) / 2)) ** 2


def _reach(region: Region, centre: tuple[float, float], angles: Array) -> Array:
    """Length of each ray from `centre` to where the log-likelihood has dropped far enough.

    From the most likely law the square root of the drop grows nearly in proportion to the
    length, so false position on it settles in a few steps.
    """
    target = math.sqrt(drop_of(region.confidence))

    def height(reach: Array) -> Array:
        s, mu = region.logs(*_points(centre, angles, reach))
        fallen = region.fit.loglik - region.likelihood.value(mu - region.likelihood.centre, s)
        return np.asarray(np.minimum(np.sqrt(2 * np.maximum(fallen, 0.0)), 1e6) - target)

    low, high = np.zeros(angles.size), np.full(angles.size, target)
    f_low, f_high = height(low), height(high)
    while (f_high < 0).any() and float(high.max()) < _FARTHEST:
        short = f_high < 0
        low, f_low = np.where(short, high, low), np.where(short, f_high, f_low)
        high = np.where(short, np.minimum(high * 1.5, _FARTHEST), high)
        f_high = np.where(short, height(high), f_high)
    is_open = f_high < 0
    middle = high
    for _ in range(60):
        go_on()
        middle = low - f_low * (high - low) / np.where(is_open, np.inf, f_high - f_low)
        f = height(middle)
        if bool(((np.abs(f) < 1e-7) | is_open).all()):
            break
        beyond = f >= 0
        # Illinois rule: an end that stays is halved, so that both ends close in
        f_low = np.where(beyond, f_low * 0.5, f)
        f_high = np.where(beyond, f, f_high * 0.5)
        low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
    return np.asarray(np.where(is_open, _FARTHEST, middle))


def _extreme(
    region: Region, quantity: Callable[[Array, Array], Array], sign: float
) -> tuple[float, bool]:
    """Largest (sign 1) or smallest (sign -1) value on the edge, and whether the edge is open.

    With few failures the region can bend, and rays from its middle do not see its tips. So the
    search is repeated from nearer the best point, until that finds nothing better.
    """
    centre, angles, reach = _MIDDLE, region.angles, region.reach
    best = -math.inf
    for _ in range(12):
        coarse = _signed(region, quantity, sign, _points(centre, angles, reach))
        if float(coarse.max()) <= best + 1e-6 * abs(best):
            break
        best, point, is_open = _narrowed(
            region, quantity, sign, centre, angles, reach, int(np.argmax(coarse))
        )
        if is_open:
            shorter = (
                centre[0] + 0.8 * (point[0] - centre[0]),
                centre[1] + 0.8 * (point[1] - centre[1]),
            )
            ends = np.array([point, shorter]).T
            far, near = _signed(region, quantity, sign, (ends[0], ends[1]))
            # a chance, or a sum of them, levels off where the laws run away
            levelled = math.isfinite(far) and abs(far - near) <= 0.01 * abs(far)
            return sign * float(far), not levelled
        centre = (
            centre[0] + 0.9 * (point[0] - centre[0]),
            centre[1] + 0.9 * (point[1] - centre[1]),
        )
        angles = region.angles
        reach = _reach(region, centre, angles)
    return sign * best, False


def _narrowed(
    region: Region,
    quantity: Callable[[Array, Array], Array],
    sign: float,
    centre: tuple[float, float],
    angles: Array,
    reach: Array,
    k: int,
) -> tuple[float, tuple[float, float], bool]:
    """Best value near the ray `k`, narrowed down between its neighbours, and its point."""
    middle, length = float(angles[k]), float(reach[k])
    width = float(angles[1] - angles[0])
    value = -math.inf
    for _ in range(5):
        if length >= _FARTHEST:
            break
        near = middle + np.linspace(-width, width, 9)
        lengths = _reach(region, centre, near)
        on_edge = _signed(region, quantity, sign, _points(centre, near, lengths))
        k = int(np.argmax(on_edge))
        value, middle, length = float(on_edge[k]), float(near[k]), float(lengths[k])
        width /= 4
    across, along = _points(centre, np.array([middle]), np.array([length]))
    is_open = length >= _FARTHEST or math.isinf(value)
    return value, (float(across[0]), float(along[0])), is_open


def _signed(
    region: Region,
    quantity: Callable[[Array, Array], Array],
    sign: float,
    points: tuple[Array, Array],
) -> Array:
    """Quantity at points, turned so that more is better; beyond all numbers it is inf."""
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        values = sign * quantity(*region.laws(*points))
    return np.where(np.isnan(values), -math.inf, values)


def _points(centre: tuple[float, float], angles: Array, reach: Array) -> tuple[Array, Array]:
    return centre[0] + reach * np.cos(angles), centre[1] + reach * np.sin(angles)
