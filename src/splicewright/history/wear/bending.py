"""Whether wear goes on as a line, levels off after running in, or speeds up; and what that moves.

A line is a curve that does not bend, so the two are weighed by what the bend takes off the sum of
squares (F) and by Akaike's criterion for few readings (AICc). Where the curve meets the limit is
told beside the line's answer, never in its place.

References
----------
.. [1] Bates and Watts, Nonlinear Regression Analysis and Its Applications, 1988, ch. 3: extra sum
   of squares for nested curves (from memory).
.. [2] Hurvich and Tsai, Biometrika 76 (1989) 297: AIC corrected for few readings (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from splicewright.history.arrays import Array
from splicewright.history.wear.curve import Curve, bends_to_try, bent_use, fit_curve, rest_by_bend
from splicewright.history.wear.line import fit_line, fit_line_from, student
from splicewright.quantities import Kind, formula

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

FEWEST = 6
"""Readings below which nothing is said of a bend: AICc of a curve needs one more than its five
numbers (intercept, rate, bend, spread and the one it divides by)."""
CLEAR = 0.05
"""Chance of the bend on a straight line below which it counts (assumption of this tool)."""
_NO_ENDS = (math.nan, math.nan, math.nan)
_FARTHEST = 50.0  # times the use so far, beyond which an end counts as none


class Course(StrEnum):
    """How wear goes on."""

    LINE = "as a line"
    LEVELS = "levels off"
    SPEEDS = "speeds up"
    FEW = "too few readings to say"


@formula(
    "F = (R_l - R_c)/(R_c/f)",
    gives=("F", Kind.RATIO),
    symbols={"line": "R_l", "curve": "R_c", "freedom": "f"},
    source="nested-curves",
    limits="one number more in the curve; nearly exact where the bend is not sharp",
)
def gain_of_bend(line: float, curve: float, freedom: float) -> float:
    """What a bend takes off the sum of squares, per spread² about the curve.

    Parameters
    ----------
    line, curve : sums of squares of the readings about each
    freedom : readings beyond those that fix the curve
    """
    return max(line - curve, 0.0) / (curve / freedom)


@formula(
    "A = n ln(R/n) + 2 p + 2 p (p + 1)/(n - p - 1)",
    gives=("A", Kind.RATIO),
    symbols={"number": "n", "rest": "R", "numbers": "p"},
    source="aicc",
    limits="n above p + 1",
)
def aicc(number: int, rest: float, numbers: int) -> float:
    """Akaike's criterion for few readings; the smaller one describes them better.

    Parameters
    ----------
    number : readings
    rest : their sum of squares about the curve
    numbers : fitted, the spread among them
    """
    extra = 2 * numbers * (numbers + 1) / (number - numbers - 1)
    return number * math.log(rest / number) + 2 * numbers + extra


@dataclass(frozen=True, slots=True)
class Bend:
    """Line and curve beside each other.

    Attributes
    ----------
    course : what the readings say
    curve : the fitted curve; None with too few readings, and where it is plain that none bends
    chance : that readings of a straight line bend as much or more, by F [0..1]; nan if too few
    better_by : AICc of the line less that of the curve; above zero the curve describes them
        better; nan if too few
    hangs_on : position of the one reading without which the bend is not clear; None if there is
        none
    likely, earliest, latest : uses at which the curve meets the limit, and where the band of one
        further reading about it does; inf where it never does, nan where no bend is seen [measure]
    """

    course: Course
    curve: Curve | None
    chance: float
    better_by: float
    hangs_on: int | None
    likely: float
    earliest: float
    latest: float


def judge_bend(
    use: ArrayLike,
    value: ArrayLike,
    limit: float,
    *,
    start: float | None = None,
    error: float = 0.0,
    confidence: float = 0.9,
) -> Bend:
    """Say whether readings bend, and where the curve meets the limit.

    The course is a bend only where F finds it clear, AICc agrees, and no single reading carries it
    alone. The end lies wherever one further reading of the limit would fit the curve: the sum of
    squares with it rises by t² spread² at most over all bends (for a line that is its prediction
    band).

    Parameters
    ----------
    use, value : (readings,), in the order they were taken
    limit : value at which the place is worn out
    start : value at use 0 if it is known for sure
    error : standard deviation of gauge and rounding; no spread is taken below it
    confidence : of the band [0..1]
    """
    u, y = np.asarray(use, dtype=np.float64), np.asarray(value, dtype=np.float64)
    fixed = 0 if start is None else 1
    needed = 3 - fixed
    if u.size < FEWEST - fixed or np.unique(u[u > 0] if fixed else u).size <= needed:
        return Bend(Course.FEW, None, math.nan, math.nan, None, *_NO_ENDS)
    rough, better = _weigh(u, y, _least_rest(u, y, start), start, error)
    if rough > 2 * CLEAR:  # the plain case, without the work of an exact fit
        return Bend(Course.LINE, None, rough, better, None, *_NO_ENDS)
    curve = fit_curve(u, y, start=start)
    chance, better = _weigh(u, y, curve.rest, start, error)
    clear = chance < CLEAR and better > 0 and curve.settled
    if not clear:
        return Bend(Course.LINE, curve, chance, better, None, *_NO_ENDS)
    hangs_on = _hangs_on(u, y, start, error)
    course = Course.LINE
    if hangs_on is None:
        course = Course.LEVELS if curve.bend > 0 else Course.SPEEDS
    ends = _ends(u, y, curve, limit, start, error, confidence)
    return Bend(course, curve, chance, better, hangs_on, *ends)


def _weigh(
    u: Array, y: Array, about_curve: float, start: float | None, error: float
) -> tuple[float, float]:
    """Chance of such a bend on a straight line, and by how much AICc prefers the curve."""
    from scipy.special import fdtrc

    number, numbers = int(u.size), 3 - (start is not None)
    freedom = float(number - numbers)
    line = fit_line(u, y) if start is None else fit_line_from(start, u, y)
    least = max(error, 1e-9 * float(np.abs(y).max())) ** 2
    straight = max(line.spread**2, least) * line.freedom
    bent = max(about_curve, least * freedom)
    gain = gain_of_bend(line.spread**2 * line.freedom, bent, freedom)
    chance = float(fdtrc(1.0, freedom, gain))
    return chance, aicc(number, straight, numbers) - aicc(number, bent, numbers + 1)


def _hangs_on(u: Array, y: Array, start: float | None, error: float) -> int | None:
    """The reading without which the bend is least clear, if it is not clear then.

    Without one reading there is less to go by, so the bend need be half as clear only.
    """
    fewest = (3 if start is None else 2) + 2
    worst, index = 2 * CLEAR, None
    for i in range(u.size):
        left = np.delete(u, i), np.delete(y, i)
        if np.unique(left[0]).size < fewest:
            continue
        chance, _ = _weigh(*left, _least_rest(*left, start), start, error)
        if chance > worst:
            worst, index = chance, i
    return index


def _least_rest(u: Array, y: Array, start: float | None) -> float:
    """Sum of squares about the best curve, near enough to weigh it by."""
    moved = u - (float(u.min()) if start is None else 0.0)
    tried = bends_to_try(float(moved.max()), 31)
    best = int(np.argmin(rest_by_bend(moved, y, tried, start)[0]))
    close = np.linspace(tried[max(best - 1, 0)], tried[min(best + 1, tried.size - 1)], 21)
    return float(rest_by_bend(moved, y, close, start)[0].min())


def _ends(
    u: Array,
    y: Array,
    curve: Curve,
    limit: float,
    start: float | None,
    error: float,
    confidence: float,
) -> tuple[float, float, float]:
    """Likely, earliest and latest use at which the limit is met."""
    now = float(u.max())
    likely = curve.meets(limit)
    spread = max(curve.spread, error)
    most = (student(confidence, curve.freedom) * spread) ** 2
    moved = u - curve.origin
    tried = bends_to_try(float(moved.max()), 61)
    rest = rest_by_bend(moved, y, tried, start)[0]
    held = np.flatnonzero(rest - curve.rest <= most)
    if not held.size:
        return likely, likely, likely
    low, high = tried[max(held[0] - 1, 0)], tried[min(held[-1] + 1, tried.size - 1)]
    bend = np.unique(np.concatenate([np.linspace(low, high, 101), [curve.bend, 0.0]]))
    bend = bend[(bend >= low) & (bend <= high)]
    rest, first, rate, mean, square = rest_by_bend(moved, y, bend, start)
    share = 0.0 if start is not None else 1 / u.size

    def over(at: Array) -> Array:
        """By how much the sum of squares rises too far, with the limit read at each use."""
        with np.errstate(over="ignore", invalid="ignore"):
            bent = bent_use(at[:, None] - curve.origin, bend[None, :])
            turn = 1 + share + (bent - mean) ** 2 / square
            rise = rest - curve.rest + (limit - first - rate * bent) ** 2 / turn
        return np.asarray(np.nanmin(rise, axis=1) - most)

    seen = np.geomspace(1.0, _FARTHEST, 121) * max(now, 1e-12)
    held = np.flatnonzero(over(seen) <= 0)
    if not held.size:
        return likely, likely, likely
    first_in, last_in = int(held[0]), int(held[-1])
    early = float(seen[0]) if first_in == 0 else _edge(over, seen[first_in - 1], seen[first_in])
    late = math.inf if last_in == seen.size - 1 else _edge(over, seen[last_in + 1], seen[last_in])
    return likely, early, late


def _edge(over: Callable[[Array], Array], outside: float, inside: float) -> float:
    """The use between one at which the limit cannot be met yet and one at which it can."""
    for _ in range(4):
        seen = np.linspace(outside, inside, 33)
        first = max(int(np.argmax(over(seen) <= 0)), 1)
        outside, inside = float(seen[first - 1]), float(seen[first])
    return inside
