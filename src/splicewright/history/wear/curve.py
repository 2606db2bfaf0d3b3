"""A curve through readings of wear that levels off, or speeds up.

value = a + s g(u), g(u) = (1 - (1 + k u/n)^-n)/k: s is the rate at the start, k how it bends. The
rate falls as (1 + k u/n)^-(n + 1); with k below zero it grows, with k = 0 this is the line. n picks
one of a family of levelling laws; n = inf, g = (1 - exp(-k u))/k, is the one used for forecasts.

References
----------
.. [1] NIST Statistical Reference Datasets, nonlinear regression, Misra1a (n = inf), 1b (n = 2),
   1c (n = 1/2), 1d (n = 1), seen: tests/outside/test_nist_regression.py.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.quantities import Kind, formula

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

_SMALL = 1e-3  # k u below which the power series is the more exact
# How far a curve may bend over the readings: its rate falls by e^-30 at most (a step right after
# the first reading) and grows by e^6, 400 times, at most.
_MOST_FALL, _MOST_GROWTH = 30.0, 6.0


@formula(
    "g = (1 - (1 + k u/n)^(-n))/k",
    gives=("g", Kind.RUN_TIME),
    symbols={"use": "u", "bend": "k", "power": "n"},
    source="nist-curve",
    limits="in hours, tonnes or turns alike; u itself where k = 0; (1 - exp(-k u))/k where n = inf",
)
def bent_use(use: ArrayLike, bend: ArrayLike, power: float = math.inf) -> Array:
    """Use as it wears: less than it was where wear levels off, more where it speeds up.

    Parameters
    ----------
    use : since the curve began, zero or more [measure]
    bend : k, above zero where wear levels off [1 per measure]; broadcasts with `use`
    power : n of the law of levelling, above zero [1]
    """
    u, k = np.asarray(use, dtype=np.float64), np.asarray(bend, dtype=np.float64)
    x = k * u
    c2, c3, c4 = _series(power)
    near = u * (1 - x * (c2 - x * (c3 - x * c4)))
    small = np.abs(x) < _SMALL
    far = _fallen(x, power) / np.where(small, 1.0, k)
    return np.asarray(np.where(small, near, far))


def bent_use_slope(use: ArrayLike, bend: float, power: float = math.inf) -> Array:
    """How `bent_use` moves with the bend, dg/dk: a column of the Jacobian of the fit."""
    u = np.asarray(use, dtype=np.float64)
    x = bend * u
    c2, c3, c4 = _series(power)
    near = -(u**2) * (c2 - x * (2 * c3 - 3 * x * c4))
    if float(np.abs(x).max(initial=0.0)) < _SMALL:
        return np.asarray(near)
    rate = np.exp(-x) if math.isinf(power) else (1 + x / power) ** (-power - 1)
    far = (u * rate - _fallen(x, power) / bend) / bend
    return np.asarray(np.where(np.abs(x) < _SMALL, near, far))


@dataclass(frozen=True, slots=True)
class Curve:
    """A fitted curve value = start + rate bent_use(use - origin).

    Attributes
    ----------
    origin : use at which it begins: 0 with a known start, else the first reading [measure]
    start : value there
    rate : of wear there [value per measure]
    bend : above zero it levels off, below zero it speeds up [1 per measure]
    power : of the law of levelling [1]
    rest : sum of squares of the readings about it
    freedom : readings beyond those that fix the curve
    unit_covariance : of what was fitted, (start, rate, bend) or (rate, bend) with a known start,
        per spread², (2 or 3, the same)
    settled : the readings fix the bend; False where ever sharper ones fit better
    """

    origin: float
    start: float
    rate: float
    bend: float
    power: float
    rest: float
    freedom: float
    unit_covariance: tuple[tuple[float, ...], ...]
    settled: bool

    @property
    def spread(self) -> float:
        """Standard deviation of readings about the curve; nan with no freedom."""
        return math.sqrt(self.rest / self.freedom) if self.freedom > 0 else math.nan

    def at(self, use: ArrayLike) -> Array:
        """Height of the curve."""
        moved = np.asarray(use, dtype=np.float64) - self.origin
        return np.asarray(self.start + self.rate * bent_use(moved, self.bend, self.power))

    def meets(self, limit: float) -> float:
        """Use at which the curve meets `limit`; inf when it levels off before, or goes away."""
        if self.rate == 0:
            return math.inf
        needed = (limit - self.start) / self.rate
        left = 1 - self.bend * needed
        if needed < 0 or left <= 0:
            return math.inf
        if self.bend == 0:
            return self.origin + needed
        if math.isinf(self.power):
            return self.origin - math.log1p(-self.bend * needed) / self.bend
        return self.origin + self.power * (math.pow(left, -1 / self.power) - 1) / self.bend


def draw_ends(curve: Curve, limit: float, draws: int, rng: np.random.Generator) -> Array:
    """Uses at which curves drawn from the doubt of the fit meet `limit`, (draws,); inf if never.

    What was fitted is drawn from Student's law about it, as for a line.
    """
    square = np.array(curve.unit_covariance) * curve.spread**2
    shift = rng.multivariate_normal(np.zeros(len(square)), square, draws, method="svd")
    shift *= np.sqrt(curve.freedom / rng.chisquare(curve.freedom, draws))[:, None]
    start = curve.start + (shift[:, 0] if len(square) > 2 else 0.0)
    rate, bend = curve.rate + shift[:, -2], curve.bend + shift[:, -1]
    needed = (limit - start) / np.where(rate == 0, 1e-300, rate)
    left = 1 - bend * needed
    reached = (needed >= 0) & (left > 0)
    safe, even = np.where(reached, left, 1.0), np.abs(bend * needed) < _SMALL**2
    if math.isinf(curve.power):
        moved = -np.log(safe) / np.where(even, 1.0, bend)
    else:
        moved = curve.power * (safe ** (-1 / curve.power) - 1) / np.where(even, 1.0, bend)
    return np.asarray(np.where(reached, curve.origin + np.where(even, needed, moved), np.inf))


def fit_curve(
    use: ArrayLike, value: ArrayLike, *, start: float | None = None, power: float = math.inf
) -> Curve:
    """Least-squares curve [1]_.

    For each of many bends the best line in the bent use has a closed form; the best of them is
    polished by Gauss and Newton's steps with the exact Jacobian.

    Parameters
    ----------
    use, value : (readings,), three different uses or more (two above 0 with a known start)
    start : value at use 0, taken as exact
    power : n of the law of levelling

    Raises
    ------
    InputError
        Too few different uses.
    """
    u, y = np.asarray(use, dtype=np.float64), np.asarray(value, dtype=np.float64)
    needed = 3 if start is None else 2
    different = np.unique(u if start is None else u[u > 0]).size
    if different < needed:
        sentence = f"readings at {different} different uses do not fix a curve; {needed} do"
        raise InputError(Fault("readings", sentence))
    origin = float(u.min()) if start is None else 0.0
    moved = u - origin
    span = float(moved.max())
    # readings count from zero and one, so that no step is lost in the size of the numbers
    scale = span, float(np.ptp(y)) or float(np.abs(y).max()) or 1.0
    scaled_start = None if start is None else start / scale[1]
    x, z = moved / scale[0], y / scale[1]
    fan = _fan(power)
    rest = rest_by_bend(x, z, fan, scaled_start, power)[0]
    best = int(np.argmin(rest))
    settled = 0 < best < fan.size - 1
    theta = (
        _polish(x, z, fan[best], scaled_start, power)
        if settled
        else _at(x, z, fan[best], scaled_start, power)
    )
    jacobian = _jacobian(x, theta, scaled_start is None, power)
    left = z - _height(x, theta, power)
    turn = np.array([scale[1], scale[1] / scale[0], 1 / scale[0]])[
        0 if scaled_start is None else 1 :
    ]
    square = np.linalg.pinv(jacobian.T @ jacobian) * np.outer(turn, turn) / scale[1] ** 2
    return Curve(
        origin,
        float(theta[0]) * scale[1] if start is None else start,
        float(theta[1]) * scale[1] / scale[0],
        float(theta[2]) / scale[0],
        power,
        float(left @ left) * scale[1] ** 2,
        float(u.size - needed),
        tuple(tuple(row) for row in square.tolist()),
        settled,
    )


def rest_by_bend(
    use: Array, value: Array, bend: Array, start: float | None, power: float = math.inf
) -> tuple[Array, Array, Array, Array, Array]:
    """The best line in the bent use, for each of many bends.

    Parameters
    ----------
    use, value : (readings,), use counted from the origin
    bend : (bends,)
    start : value at the origin if it is known

    Returns
    -------
    sum of squares about it, start, rate, and mean and sum of squares of the bent use, (bends,)
    each; the mean is zero with a known start
    """
    bent = bent_use(use[None, :], bend[:, None], power)
    if start is None:
        mean, level = bent.mean(axis=1), float(value.mean())
    else:
        mean, level = np.zeros(bend.size), start
    away = bent - mean[:, None]
    square = (away**2).sum(axis=1)
    rate = away @ (value - level) / square
    rest = ((value - level - rate[:, None] * away) ** 2).sum(axis=1)
    return rest, level - rate * mean, rate, mean, square


def bends_to_try(span: float, points: int = 81, power: float = math.inf) -> Array:
    """Bends to look at for readings over `span` of use, close together about none."""
    return _fan(power, points) / span


def _fan(power: float, points: int = 81) -> Array:
    fall = _MOST_FALL
    growth = _MOST_GROWTH if math.isinf(power) else min(_MOST_GROWTH, 0.9 * power)
    reach = np.linspace(-math.asinh(2 * growth), math.asinh(2 * fall), points)
    return np.asarray(np.sinh(reach) / 2)


def _height(x: Array, theta: Array, power: float) -> Array:
    return np.asarray(theta[0] + theta[1] * bent_use(x, theta[2], power))


def _jacobian(x: Array, theta: Array, free: bool, power: float) -> Array:
    columns = [bent_use(x, theta[2], power), theta[1] * bent_use_slope(x, float(theta[2]), power)]
    return np.stack([np.ones(x.size), *columns] if free else columns, axis=1)


def _at(x: Array, z: Array, bend: float, start: float | None, power: float) -> Array:
    """Start, rate and bend of the best line in the bent use."""
    _, first, rate, _, _ = rest_by_bend(x, z, np.array([bend]), start, power)
    return np.array([first[0], rate[0], bend])


def _polish(x: Array, z: Array, bend: float, start: float | None, power: float) -> Array:
    """Gauss and Newton's steps, each halved until it does not make the fit worse."""
    theta = _at(x, z, bend, start, power)
    free = start is None
    rest = z - _height(x, theta, power)
    for _ in range(60):
        columns = _jacobian(x, theta, free, power)
        step = np.linalg.pinv(columns.T @ columns) @ (columns.T @ rest)
        whole = step if free else np.concatenate([[0.0], step])
        share = 1.0
        while share > 1e-6:
            tried = theta + share * whole
            left = z - _height(x, tried, power)
            if left @ left <= rest @ rest:
                break
            share /= 2
        else:
            return theta
        theta, rest = tried, left
        if float(np.abs(whole).max()) < 1e-13 * max(1.0, float(np.abs(theta).max())):
            break
    return theta


def _fallen(x: Array, power: float) -> Array:
    """1 - (1 + x/n)^-n without loss of digits."""
    if math.isinf(power):
        return np.asarray(-np.expm1(-x))
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(-np.expm1(-power * np.log1p(x / power)))


def _series(power: float) -> tuple[float, float, float]:
    """Factors of x, x² and x³ in g/u = 1 - c2 x + c3 x² - c4 x³."""
    if math.isinf(power):
        return 1 / 2, 1 / 6, 1 / 24
    n = power
    two, three = (n + 1) / (2 * n), (n + 1) * (n + 2) / (6 * n**2)
    return two, three, three * (n + 3) / (4 * n)
