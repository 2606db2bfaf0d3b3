"""The Weibull law of life, and its fit to lives that are known only in part.

Likelihood of one record, H(t) = (t/scale)^shape, S = exp(-H) [1]_, [2]_:
failure at t: h(t) S(t); good at t: S(t); between a and b: S(a) - S(b); watched only from
age v: the same divided by S(v). The fit climbs it by Newton's method on
(ln scale, ln shape), where it is close to a parabola.

References
----------
.. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3 (seen).
.. [2] Meeker and Escobar, Statistical Methods for Reliability Data, 1998, ch. 7, 8, 11 (from
   memory).
"""

from __future__ import annotations

import math
from copy import copy
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.life.lives import Lives
from splicewright.quantities import Kind, formula, show
from splicewright.quantities.going_on import go_on

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

_PLENTY, _ENOUGH = 5_000, 500  # lives to start from, and the failures among them


@formula(
    "S = exp(-(t/η)^β)",
    gives=("S", Kind.SHARE),
    symbols={"age": "t", "shape": "β", "scale": "η"},
    source="nist-weibull",
)
def share_good(age: ArrayLike, shape: float, scale: float) -> Array:
    """Share of joints still good at an age.

    Parameters
    ----------
    age : running time, mass carried or turns [measure of the scale]
    shape : below 1 early failures, 1 pure chance, above 1 wear-out [1]
    scale : age by which 63.2 % have failed [measure]
    """
    return np.asarray(np.exp(-hazard_sum(age, shape, scale)))


@formula(
    "H = (t/η)^β",
    gives=("H", Kind.RATIO),
    symbols={"age": "t", "shape": "β", "scale": "η"},
    source="nist-weibull",
)
def hazard_sum(age: ArrayLike, shape: float, scale: float) -> Array:
    """Failures a joint has been exposed to by an age, were it renewed at each (cumulative hazard).

    Parameters
    ----------
    age, shape, scale : as in share good
    """
    with np.errstate(over="ignore"):  # beyond all numbers it is inf, and none is good
        return np.asarray((np.asarray(age, dtype=np.float64) / scale) ** shape)


@formula(
    "t = η (-ln(1 - F))^(1/β)",
    gives=("t", Kind.RUN_TIME),
    symbols={"share": "F", "shape": "β", "scale": "η"},
    source="nist-weibull",
    limits="in hours, tonnes or turns alike, as η",
)
def age_of_share(share: float, shape: float, scale: float) -> float:
    """Age by which a share of the joints has failed.

    Parameters
    ----------
    share : that has failed [0..1]
    shape, scale : as in share good
    """
    return scale * float((-math.log1p(-share)) ** (1 / shape))


@formula(
    "t_m = η Γ(1 + 1/β)",
    gives=("t_m", Kind.RUN_TIME),
    symbols={"shape": "β", "scale": "η"},
    source="nist-weibull",
    limits="in hours, tonnes or turns alike, as η",
)
def mean_life(shape: float, scale: float) -> float:
    """Mean life of a Weibull law.

    Parameters
    ----------
    shape, scale : as in share good
    """
    return scale * math.gamma(1 + 1 / shape)


@dataclass(frozen=True, slots=True)
class Weibull:
    """A Weibull law: the share still good at age t is exp(-(t/scale)^shape).

    Attributes
    ----------
    shape : below 1 early failures, 1 pure chance, above 1 wear-out [1]
    scale : age by which 63.2 % have failed [measure of the lives]
    """

    shape: float
    scale: float

    def __post_init__(self) -> None:
        """Refuse laws that are none."""
        for name, value in (("shape", self.shape), ("scale", self.scale)):
            if not (math.isfinite(value) and value > 0):
                sentence = f"{value:g} is no Weibull {name}; accepted is a finite number above zero"
                raise InputError(Fault(name, sentence))

    def hazard_sum(self, age: ArrayLike) -> Array:
        """H(t) = (t/scale)^shape, the cumulative hazard."""
        return hazard_sum(age, self.shape, self.scale)

    def good(self, age: ArrayLike) -> Array:
        """Share still good at `age` [0..1]."""
        return share_good(age, self.shape, self.scale)

    def failed(self, age: ArrayLike) -> Array:
        """Share failed by `age` [0..1]."""
        return -np.expm1(-self.hazard_sum(age))

    def hazard(self, age: ArrayLike) -> Array:
        """h(t) = shape/scale (t/scale)^(shape - 1), failures per unit of age of those good."""
        ratio = np.asarray(age, dtype=np.float64) / self.scale
        return np.asarray(self.shape / self.scale * ratio ** (self.shape - 1))

    def age_at(self, share: float) -> float:
        """Age by which `share` have failed: scale (-ln(1 - share))^(1/shape)."""
        return age_of_share(share, self.shape, self.scale)

    @property
    def mean(self) -> float:
        """Mean life, scale Γ(1 + 1/shape)."""
        return mean_life(self.shape, self.scale)

    @property
    def spread(self) -> float:
        """Standard deviation of life, scale sqrt(Γ(1 + 2/shape) - Γ(1 + 1/shape)²)."""
        first, second = math.gamma(1 + 1 / self.shape), math.gamma(1 + 2 / self.shape)
        return self.scale * math.sqrt(max(second - first**2, 0.0))


@dataclass(frozen=True)
class WeibullFit:
    """The most likely Weibull law of some lives.

    Attributes
    ----------
    law : shape and scale
    loglik : log-likelihood at the maximum (densities per unit of the lives' measure)
    covariance : of (ln scale, ln shape), from the curvature at the maximum, (2, 2)
    lives : what it was fitted to
    """

    law: Weibull
    loglik: float
    covariance: Array
    lives: Lives

    @property
    def aic(self) -> float:
        """Akaike's number, 2 x 2 - 2 loglik: the smaller of two is the better description."""
        return 4 - 2 * self.loglik


def fit_weibull(lives: Lives) -> WeibullFit:
    """Fit shape and scale by maximum likelihood.

    Parameters
    ----------
    lives : at least two failures at different ages (or in different intervals)

    Raises
    ------
    InputError
        No failure at all (see `limits.scale_without_failures` for what can still be said), one
        failure, all failures at one age or in one interval, or no maximum found.
    """
    _refuse_hopeless(lives)
    logs = Likelihood(lives)
    few = logs.thinned()  # a part leads near the top; all of them decide the last steps
    theta = _start(few)
    for part in (few, logs) if few is not logs else (logs,):
        if logs.simple:
            theta = _climb_profile(part, theta)
    value, gradient, curvature = _derivatives(logs, theta)
    for _ in range(100):
        step = _newton_step(gradient, curvature)
        if float(np.max(np.abs(step))) < 1e-11:
            break
        factor = 1.0
        while factor > 1e-10:
            tried = theta + factor * step
            result = _derivatives(logs, tried)
            if result[0] >= value - 1e-12 * abs(value):
                break
            factor /= 2
        else:
            break
        theta = tried
        value, gradient, curvature = result
    bends = np.linalg.eigvalsh(curvature) if np.isfinite(curvature).all() else np.zeros(2)
    size = float(np.abs(bends).max())
    unsettled = float(np.abs(gradient).max()) > 1e-6 * max(size, 1.0)
    if unsettled or bends[-1] > -1e-9 * size or not size or abs(theta[1]) > math.log(1e3):
        raise InputError(
            Fault(
                "lives",
                "do not settle a shape: laws ever steeper, or ever flatter, fit them as well; "
                "assume a shape, or inspect the joints more often",
            )
        )
    covariance = np.asarray(np.linalg.inv(-curvature), dtype=np.float64)
    law = Weibull(math.exp(theta[1]), math.exp(theta[0] + logs.centre))
    return WeibullFit(law, value, covariance, lives)


def fit_scale(lives: Lives, shape: float) -> Weibull:
    """Most likely scale when the shape is taken as known.

    Closed form for failures seen as they happened and suspended lives,
    scale^shape = Σ(t^shape - v^shape) / failures, otherwise Newton's method.

    Raises
    ------
    InputError
        No failure at all.
    """
    if not lives.failures:
        raise InputError(_no_failure())
    logs = Likelihood(lives)
    return Weibull(shape, math.exp(scale_given(logs, math.log(shape)) + logs.centre))


def log_likelihood(lives: Lives, shape: ArrayLike, scale: ArrayLike) -> Array:
    """Log-likelihood of `lives` at one or many laws.

    Parameters
    ----------
    shape, scale : arrays that broadcast to the shape of the result
    """
    logs = Likelihood(lives)
    mu, s = np.broadcast_arrays(np.log(np.asarray(scale, dtype=np.float64)), np.log(shape))
    flat = logs.value(mu.ravel() - logs.centre, s.ravel())
    return flat.reshape(mu.shape)


class Likelihood:
    """Log-likelihood of some lives, laid out for many evaluations.

    Attributes
    ----------
    centre : mean log age of the failures, taken off all log ages so that powers stay tame
    """

    def __init__(self, lives: Lives) -> None:
        exact, held, between = lives.exact, lives.suspended, lives.between
        used = held & (lives.good > 0)
        late = np.flatnonzero(lives.entered)
        with np.errstate(divide="ignore"):
            good, bad = np.log(lives.good), np.log(lives.bad[between])
            entered = np.log(lives.entered[late])
        self.raw_sum = float(lives.count[exact] @ good[exact])
        self.failures = float(lives.count[exact].sum())
        reach = np.concatenate([good[exact], bad])
        if not reach.size:
            reach = good[used]
        self.centre = float(reach.mean()) if reach.size else 0.0
        self.simple = not bool(between.any())
        ended = exact | used
        self.ends, self.ends_n = good[ended] - self.centre, lives.count[ended]
        self.failed = exact[ended]
        self.ends_w = _weights(self.ends, self.ends_n)
        self.entered, self.entered_n = entered - self.centre, lives.count[late]
        self.entered_w = _weights(self.entered, self.entered_n)
        self.low, self.high = good[between] - self.centre, bad - self.centre
        self.between_n = lives.count[between]
        self.fail_sum = self.raw_sum - self.failures * self.centre

    def thinned(self) -> Likelihood:
        """Every so many of the lives, to start from; itself where they are not very many."""
        step = self.ends.size // _PLENTY
        if step < 2 or not self.simple:
            return self
        few = copy(self)
        for name in ("ends", "ends_n", "failed", "entered", "entered_n", "ends_w", "entered_w"):
            setattr(few, name, getattr(self, name)[..., ::step])
        few.failures = float(few.ends_n[few.failed].sum())
        few.fail_sum = float(few.ends_n[few.failed] @ few.ends[few.failed])
        return few if few.failures >= _ENOUGH else self

    def moments(self, beta: float) -> tuple[float, float, float]:
        """Σ t^β (ln t)^k for k = 0, 1, 2, those of the ages of entry taken off."""
        sums = np.zeros(3)
        for ages, weight, sign in ((self.ends, self.ends_w, 1), (self.entered, self.entered_w, -1)):
            if ages.size:
                sums += sign * (weight @ np.exp(beta * ages))
        return float(sums[0]), float(sums[1]), float(sums[2])

    def value(self, mu: Array, s: Array) -> Array:
        """Log-likelihood at many (ln scale - centre, ln shape), (points,) each."""
        size = self.ends.size + self.entered.size + 2 * self.low.size
        chunk = max(1, 2_000_000 // max(size, 1))
        out = np.empty(mu.shape)
        for i in range(0, mu.size, chunk):
            go_on()
            out[i : i + chunk] = self._value(mu[i : i + chunk, None], s[i : i + chunk, None])
        return out

    def _value(self, mu: Array, s: Array) -> Array:
        beta = np.exp(s)
        total: Array = self.failures * s + beta * (self.fail_sum - self.failures * mu)
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            hold = np.exp(beta * (self.ends - mu)) @ self.ends_n
            if self.entered.size:
                hold = hold - np.exp(beta * (self.entered - mu)) @ self.entered_n
            result: Array = total[:, 0] - self.raw_sum - hold
            if self.low.size:
                low = np.exp(beta * (self.low - mu))
                gap = np.exp(beta * (self.high - mu)) - low
                result = result + (np.log(-np.expm1(-gap)) - low) @ self.between_n
        return np.where(np.isnan(result), -np.inf, result)


def _weights(ages: Array, count: Array) -> Array:
    """Count times age to the powers 0, 1 and 2, (3, ages)."""
    once = count * ages
    return np.stack([count.astype(np.float64), once, once * ages])


def _derivatives(logs: Likelihood, theta: Array) -> tuple[float, Array, Array]:
    """Log-likelihood, gradient and curvature in (ln scale, ln shape)."""
    mu, s = float(theta[0]), float(theta[1])
    beta = math.exp(s)
    reach, cross = beta * (logs.fail_sum - logs.failures * mu), -beta * logs.failures
    value = logs.failures * s + reach - logs.raw_sum
    gradient = np.array([cross, logs.failures + reach])
    curvature = np.array([[0.0, cross], [cross, reach]])
    with np.errstate(over="ignore", invalid="ignore"):
        power = float(np.exp(-beta * mu))  # far out it may be infinite; such a step is cut
        none, once, twice = (m * power for m in logs.moments(beta))
        twice = beta**2 * (twice - 2 * mu * once + mu**2 * none)
        once = beta * (once - mu * none)
        value -= none
        gradient += [beta * none, -once]
        cross = beta * (none + once)
        curvature += [[-(beta**2) * none, cross], [cross, -(once + twice)]]
        if logs.low.size:
            value = float(logs.value(theta[:1], theta[1:])[0])
            low, first_low, second_low = _powers(logs.low, mu, beta)
            high, first_high, second_high = _powers(logs.high, mu, beta)
            step, bend = first_high - first_low, second_high - second_low
            pull = 1 / np.expm1(high - low)
            gradient += (pull * step - first_low) @ logs.between_n
            square = step[:, None, :] * step[None, :, :]
            curvature += (pull * bend - (pull + pull**2) * square - second_low) @ logs.between_n
    return value, gradient, curvature


def _powers(logs: Array, mu: float, beta: float) -> tuple[Array, Array, Array]:
    """H and its first and second derivatives in (mu, ln beta): (n,), (2, n), (2, 2, n)."""
    z = beta * (logs - mu)
    power = np.exp(z)
    z = np.where(np.isneginf(z), 0.0, z)
    first = np.stack([-beta * power, z * power])
    cross = -beta * power * (1 + z)
    second = np.stack([np.stack([beta**2 * power, cross]), np.stack([cross, z * power * (1 + z)])])
    return power, first, second


def _newton_step(gradient: Array, curvature: Array) -> Array:
    """Uphill step; where the surface does not bend down, a short step along the slope."""
    if not (np.isfinite(gradient).all() and np.isfinite(curvature).all()):
        return np.zeros(2)
    values, vectors = np.linalg.eigh(curvature)
    bent = np.minimum(values, -1e-9 * max(1.0, float(np.abs(values).max())))
    bent = -np.maximum(np.abs(bent), np.abs(values) * (values > 0))
    step: Array = -(vectors @ ((vectors.T @ gradient) / bent))
    return np.asarray(step * min(1.0, 1.0 / max(float(np.abs(step).max()), 1e-300)))


def _start(logs: Likelihood) -> Array:
    """Shape from the spread of the log ages (0.78 / sd for a full sample), scale to match."""
    ages = np.concatenate([logs.ends, logs.high])
    spread = float(ages.std()) if ages.size > 1 else 0.0
    s = math.log(min(max(0.78 / max(spread, 1e-3), 0.3), 10.0))
    return np.array([scale_given(logs, s), s])


def scale_given(logs: Likelihood, s: float) -> float:
    """Most likely ln scale (centred) at a given ln shape."""
    beta = math.exp(s)
    mass = float(np.exp(beta * logs.ends) @ logs.ends_n)
    mass -= float(np.exp(beta * logs.entered) @ logs.entered_n)
    if logs.simple:
        return math.log(mass / logs.failures) / beta
    # u = -shape x ln scale: the log-likelihood is concave in it, so Newton settles
    base = np.exp(beta * logs.low)
    gap = np.exp(beta * logs.high) - base
    mass += float(base @ logs.between_n)
    failures = logs.failures + float(logs.between_n.sum())
    u = math.log(failures / (mass + float(gap @ logs.between_n)))
    for _ in range(200):
        rate = math.exp(u)
        width = rate * gap
        pull = width / np.expm1(np.minimum(width, 700.0))
        slope = logs.failures - rate * mass + float(pull @ logs.between_n)
        bend = -rate * mass + float((pull - pull * (width + pull)) @ logs.between_n)
        move = min(max(-slope / bend, -1.0), 1.0)
        u += move
        if abs(move) < 1e-13:
            break
    return -u / beta


def _climb_profile(logs: Likelihood, theta: Array) -> Array:
    """Shape by Newton on the one-variable score, for lives without intervals (fast)."""
    s = float(theta[1])
    for _ in range(30):
        beta = math.exp(s)
        mass, first, second = logs.moments(beta)
        if not (mass > 0 and math.isfinite(second)):
            return theta
        mean, square = first / mass, second / mass
        score = 1 + beta * (logs.fail_sum / logs.failures - mean)
        bend = beta * (logs.fail_sum / logs.failures - mean) - beta**2 * (square - mean**2)
        if bend >= 0:
            return theta
        move = min(max(-score / bend, -0.7), 0.7)
        s += move
        if abs(move) < 1e-6:  # the next one would be its square
            break
    # ln of the mass at the new shape, by its slope: exact to the square of the last move
    log_mass = math.log(mass / logs.failures) + beta * mean * move
    return np.array([log_mass / math.exp(s), s])


def _no_failure() -> Fault:
    return Fault(
        "lives",
        "hold no failure, so there is no scale to fit; with an assumed shape a lower bound of "
        "life can still be given",
    )


def _refuse_hopeless(lives: Lives) -> None:
    """Name the cases in which the likelihood has no maximum, before climbing it."""
    if not lives.failures:
        raise InputError(_no_failure())
    failed, held = ~lives.suspended, lives.suspended
    low, high = float(lives.good[failed].max()), float(lives.bad[failed].min())
    longest = float(lives.good[held].max()) if held.any() else 0.0
    pool = "settles no shape; assume a shape, or pool with joints of other conveyors"
    why = ""
    if lives.failures == 1:
        why = f"hold one failure only, which {pool}"
    elif low < high and max(low, longest) <= high:
        why = f"have all failures within one interval between inspections, which {pool}"
    elif low == high and longest <= low:
        why = (
            f"have all failures at or around one age ({show(low, lives.measure.kind)}), which "
            "settles no shape; a common cause is more likely than wear, or the ages were rounded"
        )
    if why:
        raise InputError(Fault("lives", why))
