"""A straight line through readings, with its errors, bands and crossing of a limit.

References
----------
.. [1] NIST Statistical Reference Datasets, linear regression (seen: Norris; from memory: NoInt1,
   NoInt2).
.. [2] Fieller's theorem for the ratio of two normal variables (derived here for a line).
.. [3] Theil 1950, Sen 1968: median of pairwise slopes; Huber 1964: weights (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from splicewright.history.arrays import Array
from splicewright.quantities import Kind, formula

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

_CORNER = 2.5  # readings within this many robust spreads keep full weight
_NAMED = 3.5  # and beyond this many they are named


@formula(
    "u = (L - a) U/W",
    gives=("u", Kind.RUN_TIME),
    symbols={"limit": "L", "intercept": "a", "wear": "W", "use": "U"},
    source="geometry",
    limits="in hours, tonnes or turns alike; never where the line is level",
)
def use_at_limit(limit: float, intercept: float, wear: float, use: float) -> float:
    """Use at which a line of wear meets its limit.

    Parameters
    ----------
    limit : value at which the place is worn out [m]
    intercept : value of the line at use 0 [m]
    wear : change of the line [m] over `use` of the measure
    """
    return (limit - intercept) * use / wear if wear else math.inf


@formula(
    "w = q s √(c_aa + 2 c_ab u + c_bb u² + e)",
    gives=("w", Kind.LENGTH),
    symbols={
        "quantile": "q",
        "spread": "s",
        "own": "c_aa",
        "cross": "c_ab",
        "turn": "c_bb",
        "use": "u",
        "extra": "e",
    },
    source="nist-line",
    limits="readings scatter alike along the line; the limit is met where the band holds it",
)
def band_half_width(
    quantile: float, spread: float, own: float, cross: float, turn: float, use: float, extra: float
) -> float:
    """Half width of the band about a line of wear.

    Parameters
    ----------
    quantile : of Student's t, two-sided [1]
    spread : of readings about the line [m]
    own, cross, turn : covariance of intercept and slope per spread²
    use : where [measure]
    extra : 1 for one further reading, 0 for the line itself [1]
    """
    share = own + 2 * cross * use + turn * use**2 + extra
    return quantile * spread * math.sqrt(max(share, 0.0))


@dataclass(frozen=True, slots=True)
class Line:
    """A fitted line y = intercept + slope u.

    Attributes
    ----------
    intercept, slope : the line
    spread : standard deviation of readings about it; nan with no freedom
    freedom : readings (by weight) beyond those that fix the line
    unit_covariance : of (intercept, slope) per spread², ((ii, is), (is, ss))
    """

    intercept: float
    slope: float
    spread: float
    freedom: float
    unit_covariance: tuple[tuple[float, float], tuple[float, float]]

    @property
    def intercept_error(self) -> float:
        """Standard error of the intercept."""
        return self.spread * math.sqrt(self.unit_covariance[0][0])

    @property
    def slope_error(self) -> float:
        """Standard error of the slope."""
        return self.spread * math.sqrt(self.unit_covariance[1][1])

    def at(self, use: float) -> float:
        """Height of the line at `use`."""
        return self.intercept + self.slope * use

    def half_width(self, use: float, confidence: float, *, reading: bool) -> float:
        """Half width of the band at `use`: of the line itself, or of one further reading."""
        (a, b), (_, c) = self.unit_covariance
        quantile = student(confidence, self.freedom)
        return band_half_width(quantile, self.spread, a, b, c, use, 1.0 if reading else 0.0)

    def meets(self, limit: float) -> float:
        """Use at which the line itself meets `limit`; inf when it is level."""
        return use_at_limit(limit, self.intercept, self.slope, 1.0)

    def meets_between(
        self, limit: float, confidence: float, *, reading: bool
    ) -> tuple[float, float]:
        """Uses between which `limit` may be met: where the band about the line holds it [2]_.

        From (intercept + slope u - limit)² = t² spread² (share at u), a square in u. When
        the slope is not sure to differ from zero no end can be given and inf is returned.
        """
        t = student(confidence, self.freedom) * self.spread
        (a, b), (_, c) = self.unit_covariance
        gap = self.intercept - limit
        square = self.slope**2 - t**2 * c
        half = gap * self.slope - t**2 * b
        rest = gap**2 - t**2 * (a + (1.0 if reading else 0.0))
        inner = half**2 - square * rest
        if inner < 0:  # the band holds the limit everywhere
            return -math.inf, math.inf
        root = math.sqrt(inner)
        if square > 0:
            return (-half - root) / square, (-half + root) / square
        # slope not sure: beyond some use the widening band holds the limit for good
        ends = [rest / (-half + s * root) for s in (1, -1) if -half + s * root]
        return (max(ends) if ends else -math.inf), math.inf


def fit_line(use: ArrayLike, value: ArrayLike, weight: ArrayLike | None = None) -> Line:
    """Least-squares line [1]_.

    Parameters
    ----------
    use, value : (readings,), two or more different uses
    weight : (readings,), 1 where left out
    """
    u, y = np.asarray(use, dtype=np.float64), np.asarray(value, dtype=np.float64)
    w = np.ones(u.size) if weight is None else np.asarray(weight, dtype=np.float64)
    total = float(w.sum())
    middle, mean = float(w @ u) / total, float(w @ y) / total
    square = float(w @ (u - middle) ** 2)
    slope = float(w @ ((u - middle) * (y - mean))) / square
    rest = y - mean - slope * (u - middle)
    freedom = total - 2
    spread = math.sqrt(float(w @ rest**2) / freedom) if freedom > 1e-9 else math.nan
    cross = -middle / square
    return Line(
        mean - slope * middle,
        slope,
        spread,
        freedom,
        ((1 / total + middle**2 / square, cross), (cross, 1 / square)),
    )


def fit_line_from(start: float, use: ArrayLike, value: ArrayLike) -> Line:
    """Least-squares line that begins at `start` for sure: a known new thickness [1]_.

    Parameters
    ----------
    start : value at use 0, taken as exact
    use, value : (readings,), at least one use above 0
    """
    u, y = np.asarray(use, dtype=np.float64), np.asarray(value, dtype=np.float64) - start
    square = float(u @ u)
    slope = float(u @ y) / square
    freedom = float(u.size - 1)
    spread = math.sqrt(float(((y - slope * u) ** 2).sum()) / freedom) if freedom else math.nan
    return Line(start, slope, spread, freedom, ((0.0, 0.0), (0.0, 1 / square)))


@dataclass(frozen=True)
class RobustLine:
    """A line that a few wild readings do not drag away.

    Attributes
    ----------
    line : the weighted line
    weight : of each reading, 1 for those near the line, (readings,) [0..1]
    far : how many spreads each reading lies from the line, (readings,)
    wild : positions of the readings to name
    """

    line: Line
    weight: Array
    far: Array
    wild: tuple[int, ...]


def fit_robust_line(use: ArrayLike, value: ArrayLike, gauge_error: float = 0.0) -> RobustLine:
    """Line by Huber's weights, begun from the median of pairwise slopes [3]_.

    Readings within 2.5 robust spreads of the line count in full, so that without wild
    readings this is the least-squares line; those farther out count less, and beyond 3.5
    spreads they are named. The spread is 1.4826 times the median distance, widened for few
    readings and never below `gauge_error`.

    Limits: below six readings all count in full, for so few cannot tell which one is wild.
    """
    u, y = np.asarray(use, dtype=np.float64), np.asarray(value, dtype=np.float64)
    weight = np.ones(u.size)
    if u.size < 6:
        line = fit_line(u, y)
        return RobustLine(line, weight, np.zeros(u.size), ())
    i, j = np.triu_indices(u.size, 1)
    apart = u[j] != u[i]
    slope = float(np.median((y[j] - y[i])[apart] / (u[j] - u[i])[apart]))
    rest = y - slope * u
    rest = rest - float(np.median(rest))
    floor = max(gauge_error, 1e-12 * float(np.abs(y).max()))
    spread = max(_robust_spread(rest), floor)
    line = fit_line(u, y)
    for _ in range(50):
        far = np.abs(rest) / spread
        weight = np.minimum(1.0, _CORNER / np.maximum(far, _CORNER)) ** 2
        line = fit_line(u, y, weight)
        moved = y - line.intercept - line.slope * u
        settled = float(np.abs(moved - rest).max()) < 1e-10 * spread
        rest = moved
        if settled:
            break
    far = np.abs(rest) / spread
    return RobustLine(line, weight, far, tuple(int(k) for k in np.flatnonzero(far > _NAMED)))


def student(confidence: float, freedom: float) -> float:
    """Two-sided quantile of Student's t; inf with no freedom."""
    from scipy.special import stdtrit

    return float(stdtrit(freedom, (1 + confidence) / 2)) if freedom > 1e-9 else math.inf


def _robust_spread(rest: Array) -> float:
    """1.4826 x median distance, times n/(n - 3): few readings hug any line drawn through them."""
    return 1.4826 * float(np.median(np.abs(rest))) * rest.size / (rest.size - 3)
