"""Does the law fit, and do two kinds of joint differ? The evidence, not only a verdict.

References
----------
.. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3: Weibull and lognormal fits of
   one data set side by side by Akaike's number (seen).
.. [2] Lawless, Statistical Models and Methods for Lifetime Data, 2003, ch. 5 (from memory):
   likelihood-ratio comparison of Weibull laws with a common shape.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.life.limits import Limits, check_confidence, drop_of
from splicewright.history.life.lives import Lives, joined
from splicewright.history.life.survival import staircase
from splicewright.history.life.weibull import (
    Weibull,
    WeibullFit,
    fit_scale,
    fit_weibull,
    log_likelihood,
)
from splicewright.quantities import Kind, formula, percent
from splicewright.quantities.going_on import go_on

if TYPE_CHECKING:
    from numpy.typing import NDArray

_PLENTY = 20_000  # lives from which on those of nearly one age are put together


CLEARLY = 6.0
"""Difference of two of Akaike's numbers from which on one law is called the better one: the worse
is then about 20 times less likely (from memory, Burnham and Anderson)."""
FEWEST_TO_TELL_LAWS = 10
"""Failures below which laws are not told apart (assumption of this tool)."""


@dataclass(frozen=True, slots=True)
class OtherLaws:
    """Akaike's numbers of three laws on the same lives; the smallest describes them best.

    Attributes
    ----------
    weibull, lognormal, chance : 2 x parameters - 2 x log-likelihood; `chance` is the
        exponential law (no ageing)
    sentence : what follows
    median, spread : of the most likely lognormal law: its median [measure of the lives], and the
        standard deviation of ln age
    """

    weibull: float
    lognormal: float
    chance: float
    sentence: str
    median: float
    spread: float


def compare_laws(fit: WeibullFit) -> OtherLaws:
    """Set the Weibull law beside the lognormal and the exponential [1]_.

    Limits: a difference of 2 comes up by chance all the time, so `CLEARLY` is asked for; below
    `FEWEST_TO_TELL_LAWS` failures nothing is said at all.
    """
    most, mean, spread = _lognormal(fit.lives)
    lognormal = 4 - 2 * most
    scale = fit_scale(fit.lives, 1.0).scale
    chance = 2 - 2 * float(log_likelihood(fit.lives, 1.0, scale))
    best, failures = min(lognormal, chance), fit.lives.failures
    if failures < FEWEST_TO_TELL_LAWS:
        # Whether they show wear-out at all, the limits of the shape say.
        sentence = f"{failures} failures do not tell a Weibull law from a lognormal one"
    elif fit.aic < best - CLEARLY:
        sentence = "the Weibull law describes these lives better than a lognormal or pure chance"
    elif lognormal < fit.aic - CLEARLY:
        sentence = "a lognormal law describes these lives better: take the Weibull tail with care"
    elif chance < fit.aic + 2:
        sentence = "no ageing is shown: pure chance describes these lives as well"
    else:
        sentence = "the Weibull and the lognormal law describe these lives about equally well"
    return OtherLaws(fit.aic, lognormal, chance, sentence, math.exp(min(mean, 700.0)), spread)


@dataclass(frozen=True, slots=True)
class Gap:
    """Largest distance between the fitted law and the law-free staircase of the same lives.

    Attributes
    ----------
    size : of the gap in share failed [0..1]
    age : where it is [measure of the lives]
    chance : of a gap this large if the law were right, from `runs` simulated sets [0..1]
    runs : how many sets were simulated
    """

    size: float
    age: float
    chance: float
    runs: int


def largest_gap(fit: WeibullFit, runs: int = 0, seed: int = 1) -> Gap:
    """Test the fit by its largest gap to the staircase (Kaplan-Meier).

    Each simulated set draws lives from the fitted law and ends of watch from their own
    staircase, and is fitted again. Its chance has a simulation error of
    sqrt(p (1 - p)/runs), about 0.015 at 5 % and 200 runs. Without `runs` 200 are simulated, and of
    very many lives as few as 20.

    Raises
    ------
    InputError
        Lives with intervals, or watched from a later age: the test does not cover them.
    """
    lives = fit.lives
    if lives.between.any() or lives.entered.any():
        raise InputError(
            Fault(
                "lives",
                "hold failures between inspections or lives watched from a later age; the gap test "
                "takes failures seen as they happened and suspended lives",
            )
        )
    good = np.repeat(lives.good, lives.count.astype(int))
    held = np.repeat(lives.suspended, lives.count.astype(int))
    size, age = _gap(fit.law, good, ~held)
    runs = runs or min(200, max(20, 2_000_000 // good.size))
    rng = np.random.default_rng(seed)
    ends, shares = staircase(good, held, np.zeros(good.size))
    wider = done = 0
    for _ in range(runs):
        go_on()
        life = fit.law.scale * rng.weibull(fit.law.shape, good.size)
        place = np.searchsorted(1 - shares, rng.random(good.size), side="right")
        end = np.append(ends, np.inf)[place]
        seen, cut = np.minimum(life, end), life > end
        if good.size - int(cut.sum()) < 2:
            continue
        again = fit_weibull(
            Lives(seen, np.where(cut, np.inf, seen), np.zeros(good.size), np.ones(good.size))
        )
        done += 1
        wider += _gap(again.law, seen, ~cut)[0] >= size
    return Gap(size, age, (wider + 1) / (done + 1), done)


@dataclass(frozen=True, slots=True)
class KindComparison:
    """Two kinds of joint side by side, with one shape between them.

    Attributes
    ----------
    shape : common shape
    first, second : scale of each kind [measure]; inf for a kind that has not failed yet
    ratio : how many times longer the second kind lives (common shape: at every share failed)
    limits : of the ratio
    chance_same : chance of lives at least this unlike if the kinds lived alike [0..1]
    chance_same_shape : the same for the shapes; nan when a kind has too few failures
    sentence : the evidence in words
    """

    shape: float
    first: float
    second: float
    ratio: float
    limits: Limits
    chance_same: float
    chance_same_shape: float
    sentence: str


def compare_kinds(first: Lives, second: Lives, confidence: float = 0.9) -> KindComparison:
    """Compare the lives of two kinds of joint by likelihood ratio [2]_.

    Raises
    ------
    InputError
        Different measures, no failure in either kind, or failures that settle no shape.
    """
    check_confidence(confidence)
    if first.measure is not second.measure:
        raise InputError(
            Fault(
                "lives",
                f"are counted in {first.measure} for one kind and {second.measure} for the "
                "other; give both in one measure",
            )
        )
    together = fit_weibull(joined((first, second)))
    top, shape = _common(first, second, None)
    scales = [_scale(lives, shape) for lives in (first, second)]
    ratio = scales[1] / scales[0] if math.isfinite(scales[0]) else 0.0
    chance_same = chance_if_alike(2 * (top - together.loglik))
    same_shape = _same_shape(first, second, top)
    drop = drop_of(confidence) / 2
    high = math.inf if not second.failures else _ratio_end(first, second, top - drop, ratio, 1)
    low = 0.0 if not first.failures else _ratio_end(first, second, top - drop, ratio, -1)
    limits = Limits(low, high, confidence)
    return KindComparison(
        shape, scales[0], scales[1], ratio, limits, chance_same, same_shape, _in_words(limits)
    )


def _in_words(limits: Limits) -> str:
    high = "no upper bound" if math.isinf(limits.high) else f"{limits.high:.2f}"
    span = f"{percent(limits.confidence)} limits of the ratio of lives {limits.low:.2f} to {high}"
    if limits.low > 1:
        return f"the second kind lives longer ({span})"
    if limits.high < 1:
        return f"the second kind lives shorter ({span})"
    return f"not enough data to say which kind lives longer ({span})"


def _scale(lives: Lives, shape: float) -> float:
    return fit_scale(lives, shape).scale if lives.failures else math.inf


def _best(lives: Lives, shape: float) -> float:
    """Log-likelihood at the best scale; a kind without failures reaches 0."""
    if not lives.failures:
        return 0.0
    return float(log_likelihood(lives, shape, fit_scale(lives, shape).scale))


def _common(first: Lives, second: Lives, ratio: float | None) -> tuple[float, float]:
    """Largest log-likelihood with one shape, and that shape.

    With a `ratio` the second kind's ages are divided by it, and all share one scale.
    """
    if ratio is not None:
        fitted = fit_weibull(joined((first, _stretched(second, ratio))))
        shift = float(second.count[second.exact].sum()) * math.log(ratio)
        return fitted.loglik - shift, fitted.law.shape
    from scipy.optimize import minimize_scalar

    result = minimize_scalar(
        lambda s: -_best(first, math.exp(s)) - _best(second, math.exp(s)),
        bounds=(math.log(0.05), math.log(100.0)),
        method="bounded",
        options={"xatol": 1e-9},
    )
    return -float(result.fun), math.exp(float(result.x))


def _stretched(lives: Lives, ratio: float) -> Lives:
    return Lives(
        lives.good / ratio, lives.bad / ratio, lives.entered / ratio, lives.count, lives.measure
    )


def _ratio_end(first: Lives, second: Lives, level: float, ratio: float, side: int) -> float:
    """Ratio at which the profile log-likelihood crosses `level`, above or below the best."""
    from scipy.optimize import brentq

    def height(log_ratio: float) -> float:
        return _common(first, second, math.exp(log_ratio))[0] - level

    start = math.log(ratio) if 0 < ratio < math.inf else _log_ratio_guess(first, second)
    step, far = 0.2, start
    while height(far) > 0:
        far += side * step
        step *= 1.6
        if abs(far - start) > 40:
            return math.inf if side > 0 else 0.0
    near = start
    if height(near) <= 0:  # one kind has not failed: the best ratio lies at infinity
        while height(near) <= 0:
            near -= side * 0.5
            if abs(near - start) > 40:
                return 0.0 if side < 0 else math.inf
    return math.exp(float(brentq(height, near, far, xtol=1e-9)))


def _log_ratio_guess(first: Lives, second: Lives) -> float:
    return math.log(float(second.good.max()) / float(first.good.max()) + 1e-9)


def _same_shape(first: Lives, second: Lives, common: float) -> float:
    try:
        apart = fit_weibull(first).loglik + fit_weibull(second).loglik
    except InputError:
        return math.nan
    return chance_if_alike(2 * (apart - common))


@formula(
    "p = erfc(√(D/2)),  D = 2 (l_apart - l_alike)",
    gives=("p", Kind.SHARE),
    symbols={"statistic": "D"},
    source="likelihood-ratio",
    limits="many failures; with few it is a little too sure of a difference",
)
def chance_if_alike(statistic: float) -> float:
    """Chance of lives at least this unlike, if the two kinds lived alike.

    Parameters
    ----------
    statistic : twice the gain in log-likelihood when each kind has its own law [-]
    """
    return math.erfc(math.sqrt(max(statistic, 0.0) / 2))


def _gap(law: Weibull, ages: Array, failed: NDArray[np.bool_]) -> tuple[float, float]:
    steps, shares = staircase(ages, failed, np.zeros(ages.size))
    before = np.concatenate([[1.0], shares[:-1]])
    fitted = law.good(steps)
    gaps = np.maximum(np.abs(shares - fitted), np.abs(before - fitted))
    worst = int(np.argmax(gaps))
    return float(gaps[worst]), float(steps[worst])


def _lognormal(lives: Lives) -> tuple[float, float, float]:
    """Largest log-likelihood of a lognormal law, with mean and standard deviation of ln age.

    Of very many lives it is sought on alike ones.
    """
    from scipy.optimize import minimize

    few = _alike(lives)
    ages = np.where(few.suspended, few.good, few.bad)
    ends = np.log(ages[ages > 0])  # a joint made today has run nothing yet
    start = np.array([float(ends.mean()), math.log(max(float(ends.std()), 0.05))])

    def minus(theta: Array) -> float:
        return -_lognormal_at(few, theta)

    with np.errstate(invalid="ignore"):
        result = minimize(
            minus, start, method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-10}
        )
        most = _lognormal_at(lives, np.asarray(result.x))
    return most, float(result.x[0]), math.exp(min(float(result.x[1]), 20.0))


def _lognormal_at(lives: Lives, theta: Array) -> float:
    """Log-likelihood of a lognormal law of mean and log standard deviation of ln age."""
    from scipy.special import log_ndtr

    mean, sd = float(theta[0]), math.exp(min(float(theta[1]), 20.0))
    exact, held, between = lives.exact, lives.suspended, lives.between
    with np.errstate(divide="ignore"):
        good, bad, entered = (np.log(a) for a in (lives.good, lives.bad, lives.entered))
    z_good, z_bad, z_in = ((a - mean) / sd for a in (good, bad, entered))
    n = lives.count
    total = n[exact] @ (-0.5 * z_good[exact] ** 2 - good[exact])
    total -= n[exact].sum() * (math.log(sd) + 0.5 * math.log(2 * math.pi))
    total += n[held] @ log_ndtr(-z_good[held])
    above, below = log_ndtr(-z_good[between]), log_ndtr(-z_bad[between])
    with np.errstate(divide="ignore"):
        total += n[between] @ (above + np.log(-np.expm1(below - above)))
    return float(total - n @ log_ndtr(-z_in))


def _alike(lives: Lives) -> Lives:
    """Very many lives put together where their ages differ by less than 1 in 360."""
    if lives.good.size <= _PLENTY or lives.between.any() or lives.entered.any():
        return lives
    with np.errstate(divide="ignore"):
        place = np.where(lives.good > 0, np.round(256 * np.log2(lives.good)), -np.inf)
    keys, at = np.unique(np.stack([place, lives.exact]), axis=1, return_inverse=True)
    ages, count = 2.0 ** (keys[0] / 256), np.bincount(at.ravel(), lives.count).astype(np.float64)
    return Lives(
        ages, np.where(keys[1] > 0, ages, np.inf), np.zeros(ages.size), count, lives.measure
    )
