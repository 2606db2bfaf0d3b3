"""Wear of several belts (or places) of one kind: each has its own line, and the lines are alike.

value = (a + a_i) + (b + b_i) use + noise, (a_i, b_i) normal about zero [1]_. A belt with two
readings leans on the others, one with twenty stands on its own; a belt not yet read gets the
line of its kind with all its doubt. The spread of the lines is found by restricted maximum
likelihood.

References
----------
.. [1] Laird and Ware, Biometrics 38 (1982) 963; profiled criterion as in Bates et al., Journal
   of Statistical Software 67 (2015) 1, eq. 40 to 42 (from memory; two published fits are
   reproduced in tests/outside/test_mixed_lines.py).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.wear.limit_met import Reading
from splicewright.history.wear.line import Line

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True)
class AlikeLines:
    """Lines of belts of one kind.

    Attributes
    ----------
    typical : line of the kind; its errors are those of the typical belt
    spread_start, spread_rate : standard deviations of intercept and slope from belt to belt
    correlation : of the two [-1..1]; nan where one of them is zero
    noise : standard deviation of a reading about its belt's line
    criterion : -2 restricted log-likelihood
    belts : name -> its line, with the others
    new : line of a belt without readings, with the spread from belt to belt
    """

    typical: Line
    spread_start: float
    spread_rate: float
    correlation: float
    noise: float
    criterion: float
    belts: Mapping[str, Line]
    new: Line


def fit_alike(belts: Mapping[str, Sequence[Reading]]) -> AlikeLines:
    """Fit the lines of several belts at once.

    Parameters
    ----------
    belts : name -> its readings; three belts or more, with more readings than belts need lines

    Limits: the spread of the lines is taken as known when a belt's line is given its doubt,
    which makes it a little too sure where there are few belts.

    Raises
    ------
    InputError
        Too few belts or readings, or use that is the same in all of them.
    """
    data = _checked(belts)
    # use is scaled so that start and rate weigh alike in the search
    scale = float(max(u.max() for u, _ in data))
    sums = _sums(data, scale)
    theta = _search(sums)
    fitted = _solve(sums, theta)
    turn = np.diag([1.0, 1.0 / scale])
    noise = math.sqrt(fitted.noise)
    spread = turn @ fitted.relative @ fitted.relative.T @ turn * fitted.noise
    start, rate = math.sqrt(spread[0, 0]), math.sqrt(spread[1, 1])
    freedom = float(sums.number - 2)
    between = fitted.relative @ fitted.relative.T

    def line(centre: Array, unit: Array) -> Line:
        c, u = turn @ centre, turn @ unit @ turn
        return Line(
            float(c[0]),
            float(c[1]),
            noise,
            freedom,
            ((float(u[0, 0]), float(u[0, 1])), (float(u[0, 1]), float(u[1, 1]))),
        )

    lines = {}
    for i, name in enumerate(belts):
        gain = fitted.gain[i]
        kept = np.eye(2) - gain @ sums.square[i]
        centre = kept @ fitted.centre + gain @ sums.product[i]
        lines[name] = line(centre, gain + kept @ fitted.covariance @ kept.T)
    return AlikeLines(
        line(fitted.centre, fitted.covariance),
        start,
        rate,
        float(spread[0, 1]) / (start * rate) if start * rate > 0 else math.nan,
        noise,
        fitted.criterion + _scale_term(scale),
        lines,
        line(fitted.centre, fitted.covariance + between),
    )


@dataclass(frozen=True)
class _Sums:
    """X'X, X'y and y'y of each belt, and the number of readings."""

    square: Array
    product: Array
    own: float
    number: int


@dataclass(frozen=True)
class _Fitted:
    relative: Array
    centre: Array
    covariance: Array
    gain: Array
    noise: float
    criterion: float


def _sums(data: Sequence[tuple[Array, Array]], scale: float) -> _Sums:
    square, product, own = [], [], 0.0
    for use, value in data:
        design = np.stack([np.ones(use.size), use / scale], axis=1)
        square.append(design.T @ design)
        product.append(design.T @ value)
        own += float(value @ value)
    return _Sums(np.array(square), np.array(product), own, sum(u.size for u, _ in data))


def _solve(sums: _Sums, theta: NDArray[np.float64]) -> _Fitted:
    """Typical line and noise at one relative spread, and the restricted criterion."""
    relative = np.array([[theta[0], 0.0], [theta[1], theta[2]]])
    inner = np.eye(2) + relative.T @ sums.square @ relative
    gain = relative @ np.linalg.inv(inner) @ relative.T
    left = (sums.square - sums.square @ gain @ sums.square).sum(axis=0)
    weighed = sums.product - np.einsum("ijk,ikl,il->ij", sums.square, gain, sums.product)
    right = weighed.sum(axis=0)
    covariance = np.linalg.inv(left)
    centre = covariance @ right
    rest = sums.own - float(np.einsum("ij,ijk,ik->", sums.product, gain, sums.product))
    rest -= float(right @ centre)
    freedom = sums.number - 2
    noise = max(rest, 1e-300) / freedom
    criterion = float(np.log(np.linalg.det(inner)).sum()) + math.log(float(np.linalg.det(left)))
    criterion += freedom * (1 + math.log(2 * math.pi * noise))
    return _Fitted(relative, centre, covariance, gain, noise, criterion)


def _search(sums: _Sums) -> NDArray[np.float64]:
    from scipy.optimize import minimize

    def criterion(theta: Any) -> float:
        return _solve(sums, np.asarray(theta, dtype=np.float64)).criterion

    best = None
    for start in ([1.0, 0.0, 1.0], [0.3, 0.0, 3.0]):
        tried = minimize(
            criterion,
            start,
            method="Nelder-Mead",
            options={"xatol": 1e-6, "fatol": 1e-9, "maxiter": 2000, "maxfev": 2000},
        )
        if best is None or tried.fun < best.fun:
            best = tried
    assert best is not None  # two starts were tried
    return np.asarray(best.x, dtype=np.float64)


def _scale_term(scale: float) -> float:
    """The restricted likelihood counts the unit of use once; put it back."""
    return 2 * math.log(scale)


def _checked(belts: Mapping[str, Sequence[Reading]]) -> list[tuple[Array, Array]]:
    if len(belts) < 3:
        raise InputError(
            Fault("belts", f"{len(belts)} are too few to say how alike they are; give three")
        )
    faults = []
    data = []
    for name, readings in belts.items():
        use = np.array([r.use for r in readings], dtype=np.float64)
        value = np.array([r.value for r in readings], dtype=np.float64)
        if not use.size:
            faults.append(Fault(f"belt {name}", "has no reading; leave it out"))
        elif not (np.isfinite(use).all() and (use >= 0).all() and np.isfinite(value).all()):
            sentence = "has a use or value that is no finite number, or a use below zero"
            faults.append(Fault(f"belt {name}", sentence))
        data.append((use, value))
    if faults:
        raise InputError(*faults)
    if sum(u.size for u, _ in data) < 2 * len(belts) + 2 or max(u.size for u, _ in data) < 2:
        raise InputError(
            Fault("belts", "have too few readings; give more than two to a belt on average")
        )
    if np.unique(np.concatenate([u for u, _ in data])).size < 2:
        raise InputError(Fault("belts", "were all read at one use; wear shows from the second on"))
    return data
