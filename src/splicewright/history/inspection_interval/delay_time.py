"""How long damage takes from the day it can be seen to the failure, learnt from looks.

No look tells when damage began: it lies between the last look that could have seen it and the one
that did, and most damage is mended before it fails. So every joint under watch counts by what its
looks allow. Damage begins at random, λ times per use; it can be seen from then on; a look finds it
with the chance r; it fails after a delay h. Of one joint watched from 0 to T, looked at at times,

    found at a look s, not failed by c      λ r ∫ q(u, s) S(c - u) du
    found at s, failed between a and b      λ r ∫ q(u, s) (S(a - u) - S(b - u)) du
    failed at e and never found             λ ∫ q(u, e) f(e - u) du
    nothing seen up to T                    1
    and each times                          exp(-λ ∫ (1 - q(u, T) S(T - u)) du)

u being when it began and q(u, t) the chance that the looks between u and t all missed it,
(1 - r)^number. λ follows in closed form from the delay law, which is searched.

References
----------
.. [1] Baker and Wang, IMA Journal of Mathematics Applied in Business and Industry 3 (1991) 259:
   delay times from maintenance records by likelihood (from memory; the terms are derived here and
   checked by closed forms and simulation).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.life.limits import check_confidence, drop_of
from splicewright.history.life.lives import Lives
from splicewright.history.life.weibull import Weibull, log_likelihood
from splicewright.history.renewal import mean_run
from splicewright.quantities.going_on import go_on

FEWEST = 3
"""Failures below which no mean delay is told (assumption of this tool, as for lives)."""
_FOR_SHAPE, _CLEAR = 5, 0.05
LAWS, _MEANS = 60, 61
"""Laws that are drawn, and means that are weighed for it."""
_AT_ONCE = 1_000_000
"""Ages times laws that are worked together: 8 MB each array."""


@dataclass(frozen=True, slots=True)
class Watch:
    """One joint from new, or mended, to its first damage, or to the end of the watch.

    Attributes
    ----------
    looks : uses at which it was looked at, rising; the one that found damage among them
    end : use at which the watch for new damage ends: the look that found it, the failure, or the
        last that is known [measure]
    found : use of the look that found damage; None where none did
    good : last use at which it had not failed [measure]
    failed : first use at which it was known to have failed; the same as `good` where it was seen
        as it happened, inf where it did not fail [measure]
    count : how many such joints there are
    start : use at which the watch began: sound then [measure]
    name : to name it by
    """

    looks: tuple[float, ...]
    end: float
    found: float | None
    good: float
    failed: float = math.inf
    count: int = 1
    start: float = 0.0
    name: str = ""

    @property
    def damaged(self) -> bool:
        """Whether damage was seen, or the joint failed."""
        return self.found is not None or self.failed < math.inf


@dataclass(frozen=True, slots=True)
class LearntDelay:
    """What looks say of damage.

    Attributes
    ----------
    law : of the delay; shape 1 (random delays) unless the looks clearly say otherwise
    mean, low, high : mean delay with limits by likelihood ratio, delays taken as random; nan with
        too few failures, where only `low` is told; high is inf where there is no limit [measure]
    rate : damages that begin at one joint, per unit of use
    damages, failures, unfound : damages seen, those that failed, those of them no look had found
    found : chance that an inspection finds what is there, as stated [0..1]
    chance_random : that random delays look so far from random by chance; nan if too few failures
    confidence : of the limits [0..1]
    watched : use in which all joints or belts together were watched [measure]
    laws : mean delay and rate, drawn together from what the inspections leave open, each as likely
        as the others; empty with too few failures
    """

    law: Weibull | None
    mean: float
    low: float
    high: float
    rate: float
    damages: int
    failures: int
    unfound: int
    found: float
    chance_random: float
    confidence: float
    watched: float = math.nan
    laws: tuple[tuple[float, float], ...] = ()

    @property
    def exposure(self) -> float:
        """Use in which damage, had it begun, would have been seen; nan with none [measure]."""
        return self.damages / self.rate if self.rate > 0 else math.nan

    @property
    def enough(self) -> bool:
        """Whether there are failures enough to tell a mean delay."""
        return self.law is not None


def learn_delay(
    watches: Sequence[Watch], found: float = 1.0, confidence: float = 0.9
) -> LearntDelay:
    """Delay law and rate of damage that make the looks most likely.

    Parameters
    ----------
    watches : one for each joint, and one more for each time it was mended
    found : chance that an inspection finds damage that is there [0..1]
    confidence : of the limits [0..1]

    Limits: damage begins as often in old joints as in new ones, one at a time; a look finds what is
    there with the same chance each time, however far it has grown.

    Raises
    ------
    InputError
        Watches that cannot be, or none that ran.
    """
    check_confidence(confidence)
    if not 0 < found <= 1:
        wording = f"{found:g} is no chance; accepted is above 0 and up to 1"
        raise InputError(Fault("chance that an inspection finds damage", wording))
    _check(watches)
    terms = _Terms(watches, 1 - found)
    damages = sum(w.count for w in watches if w.damaged)
    failures = sum(w.count for w in watches if w.failed < math.inf)
    unfound = sum(w.count for w in watches if w.failed < math.inf and w.found is None)
    counts = damages, failures, unfound, found
    if not damages:
        return LearntDelay(
            None, math.nan, 0.0, math.inf, 0.0, *counts, math.nan, confidence, terms.watched
        )

    if not any(w.looks for w in watches):
        # Nobody looked before a failure: damage may have stood for a minute or for years.
        return LearntDelay(
            None,
            math.nan,
            0.0,
            math.inf,
            damages / terms.watched,
            *counts,
            math.nan,
            confidence,
            terms.watched,
        )
    span = max(max(w.failed if w.failed < math.inf else w.good, w.end) - w.start for w in watches)
    top, most, low, high = _mean(lambda m: terms.random(m)[0], span, failures, confidence)
    if failures < FEWEST:
        rate = terms.rate(Weibull(1.0, top))
        return LearntDelay(
            None, math.nan, low, math.inf, rate, *counts, math.nan, confidence, terms.watched
        )
    law, chance = Weibull(1.0, top), math.nan
    if failures >= _FOR_SHAPE:
        law, chance = _shaped(terms, law, most)
    return LearntDelay(
        law,
        top,
        low,
        high,
        terms.rate(law),
        *counts,
        chance,
        confidence,
        terms.watched,
        _drawn(terms, span, damages),
    )


def _drawn(terms: _Terms, span: float, damages: int) -> tuple[tuple[float, float], ...]:
    """Mean delays and rates that the inspections leave open.

    Beforehand every ln mean from a thousandth of the longest watch to three times it was as likely
    as any other, and every ln rate: then the rate is a gamma of the damages, given the mean, and
    what is left of the mean is `_Terms.height`. Delays are taken as random.
    """
    logs = np.linspace(math.log(span) - math.log(1000), math.log(3 * span), _MEANS)
    heights, _ = terms.random(_exp(logs))
    weight = np.exp(heights - heights.max())
    reached = np.concatenate([[0.0], np.cumsum(0.5 * (weight[1:] + weight[:-1]))])
    rng = np.random.default_rng(3)
    middle = (rng.permutation(LAWS) + 0.5) / LAWS
    means = np.exp(np.interp(middle * reached[-1], reached, logs))
    seen = np.maximum(terms.random(means)[1], 1e-300)
    rates = rng.standard_gamma(damages, LAWS) / seen
    return tuple((float(m), float(r)) for m, r in zip(means, rates, strict=True))


def learn_delay_from_finding(
    delays: Lives | None, at_once: int, watched: float, confidence: float = 0.9
) -> LearntDelay:
    """Mean delay where looks that found nothing were not written down, as along a belt.

    The delay is counted from the day damage was found, the safe side; for random delays, which
    have no memory, that is their law. Damage that had failed when it was first seen counts as a
    failure with no delay at all, the safe side, too.

    Parameters
    ----------
    delays : from found to failed, mended (suspended) or now (suspended); None if there is none
    at_once : damages that had failed when they were first seen
    watched : use watched in all, for the rate
    confidence : of the limits [0..1]
    """
    check_confidence(confidence)
    if not (math.isfinite(watched) and watched > 0):
        raise InputError(Fault("use watched", f"{watched:g} must be a finite number above zero"))
    number = (delays.number if delays is not None else 0) + at_once
    failures = (delays.failures if delays is not None else 0) + at_once
    counts = number, failures, at_once, 1.0
    rate = number / watched
    if delays is None:
        return LearntDelay(
            None, math.nan, 0.0, math.inf, rate, *counts, math.nan, confidence, watched
        )
    ages = np.concatenate([delays.good, delays.bad[np.isfinite(delays.bad)]])

    def heights(means: Array) -> Array:
        found = [
            float(log_likelihood(delays, 1.0, mean)) - at_once * math.log(mean)
            for mean in means.tolist()
        ]
        return np.array(found)

    top, _, low, high = _mean(heights, float(ages.max()), failures, confidence)
    if failures < FEWEST:
        return LearntDelay(
            None, math.nan, low, math.inf, rate, *counts, math.nan, confidence, watched
        )
    law = Weibull(1.0, top)
    return LearntDelay(law, top, low, high, rate, *counts, math.nan, confidence, watched)


def _mean(
    of: Callable[[Array], Array], span: float, failures: int, confidence: float
) -> tuple[float, float, float, float]:
    """Most likely mean delay, how likely it is, and its limits by likelihood ratio.

    With too few failures the lower limit is one-sided, of the same confidence.

    of : how likely some mean delays are (log-likelihood)
    """

    def of_log(log_mean: float) -> float:
        return float(of(np.array([math.exp(log_mean)]))[0])

    tried = np.linspace(math.log(span) - 9.0, math.log(span) + 9.0, 37)
    heights = of(_exp(tried))
    top, most = _climb(of_log, tried, heights)
    sides = confidence if failures >= FEWEST else abs(2 * confidence - 1)
    level = most - drop_of(sides) / 2
    low = _fall(of_log, tried, heights, top, level, -1)
    return math.exp(top), most, low, _fall(of_log, tried, heights, top, level, 1)


class _Terms:
    """The pieces of the watches between looks, as arrays."""

    def __init__(self, watches: Sequence[Watch], missed: float) -> None:
        over: dict[tuple[float, float], float] = {}
        seen: list[tuple[float, float, float, float, float, int]] = []
        counts: list[int] = []
        self.watched = 0.0
        for w in watches:
            go_on()
            self.watched += w.count * (w.end - w.start)
            for begin, end, share in _pieces(w, missed, counting_last=True):
                stretch = (begin - w.end, end - w.end)  # joints looked at alike share theirs
                over[stretch] = over.get(stretch, 0.0) + w.count * share
            if not w.damaged:
                continue
            event = len(counts)
            counts.append(w.count)
            seen += [
                (begin, end, share, w.good, w.failed, event)
                for begin, end, share in _pieces(w, missed, counting_last=False)
            ]
        self.ends = np.array(list(over), dtype=np.float64).reshape(-1, 2).T
        self.share = np.array(list(over.values()), dtype=np.float64)
        self.seen = np.array(seen, dtype=np.float64).reshape(-1, 6)
        self.event = self.seen[:, 5].astype(np.int64)
        self.counts = np.array(counts, dtype=np.float64)
        lo, hi, _, good, failed, _ = self.seen.T
        self._open, self._exact = np.isinf(failed), good == failed
        ends = np.where(self._open, 0.0, failed)
        before = -self.ends[0], -self.ends[1], good - lo, good - hi, ends - lo, ends - hi
        # Every age of which a law is asked, together: what calls cost is more than what they work.
        self._ages, self._cuts = np.concatenate(before), np.cumsum([x.size for x in before])[:-1]
        self._last = np.maximum(good - hi, 0.0), np.maximum(good - lo, 0.0)

    def random(self, means: Array) -> tuple[Array, Array]:
        """Heights and exposures, delays being random, at some mean delays."""
        at_once = max(_AT_ONCE // max(self._ages.size, 1), 1)
        found = []
        for start in range(0, means.size, at_once):
            some = means[start : start + at_once]
            laws = [Weibull(1.0, mean) for mean in some.tolist()]
            found.append(self._weighed(laws, _random_run(some[:, np.newaxis], self._ages)))
        return np.concatenate([f[0] for f in found]), np.concatenate([f[1] for f in found])

    def exposure(self, law: Weibull) -> float:
        """Use in which damage, had it begun, would have been seen or would have failed."""
        return float(self._of(law)[1][0])

    def rate(self, law: Weibull) -> float:
        """Most likely rate of damage, given the delay law."""
        return float(self.counts.sum()) / self.exposure(law)

    def height(self, law: Weibull) -> float:
        """Log-likelihood with the best rate, less what no law changes."""
        return float(self._of(law)[0][0])

    def _of(self, law: Weibull) -> tuple[Array, Array]:
        if law.shape == 1.0:
            return self.random(np.array([law.scale]))
        after = np.maximum(self._ages, 0.0)
        run = np.where(after > 0, mean_run(law, after), 0.0) + np.minimum(self._ages, 0.0)
        return self._weighed([law], run[np.newaxis])

    def _weighed(self, laws: Sequence[Weibull], runs: Array) -> tuple[Array, Array]:
        """Heights and exposures of laws, from ∫ S up to every age (laws, ages)."""
        first, last, *seen = np.split(runs, self._cuts, axis=1)
        exposures = np.array([self.watched - float(self.share @ row) for row in first - last])
        chances = seen[0] - seen[1]
        chances = np.where(self._open, chances, chances - (seen[2] - seen[3]))
        if self._exact.any():
            begun, ended = self._last
            chances = np.where(
                self._exact, [law.good(begun) - law.good(ended) for law in laws], chances
            )
        heights, damages = np.empty(len(laws)), float(self.counts.sum())
        for n, row in enumerate(chances):
            each = np.bincount(self.event, self.seen[:, 2] * row, self.counts.size)
            with np.errstate(divide="ignore"):
                logs = float(self.counts @ np.log(np.maximum(each, 0.0)))
            heights[n] = logs - damages * math.log(max(exposures[n], 1e-300))
        return heights, exposures


def _pieces(w: Watch, missed: float, *, counting_last: bool) -> list[tuple[float, float, float]]:
    """Stretches in which damage may have begun, and the chance that the looks since missed it.

    A look at the end of the watch counts where it is asked whether nothing was seen by then; for
    damage that it found it does not.
    """
    looks = [x for x in w.looks if w.start < x < w.end or (counting_last and x == w.end)]
    edges = [w.start, *(x for x in looks if x < w.end), w.end]
    pieces = []
    for lo, hi in itertools.pairwise(edges):
        share = missed ** sum(x >= hi for x in looks)
        if share > 1e-12 and hi > lo:
            pieces.append((lo, hi, share))
    return pieces


def _random_run(mean: Array, age: Array) -> Array:
    """∫ S from 0 to the age; below 0 nothing has failed yet, so the age itself."""
    after = np.maximum(age, 0.0)
    return np.asarray(-mean * np.expm1(-after / mean) + np.minimum(age, 0.0))


def _exp(logs: Array) -> Array:
    return np.array([math.exp(x) for x in logs])


def _climb(height: Callable[[float], float], tried: Array, heights: Array) -> tuple[float, float]:
    """Where the likelihood is highest, and how high."""
    from scipy.optimize import minimize_scalar

    k = int(np.argmax(heights))
    if k in {0, tried.size - 1}:
        return float(tried[k]), float(heights[k])
    best = minimize_scalar(
        lambda t: -height(t),
        bounds=(float(tried[k - 1]), float(tried[k + 1])),
        method="bounded",
        options={"xatol": 1e-9},
    )
    return float(best.x), -float(best.fun)


def _fall(
    height: Callable[[float], float],
    tried: Array,
    heights: Array,
    top: float,
    level: float,
    way: int,
) -> float:
    """Mean delay, below (-1) or above (1) the best, at which the likelihood has fallen so far."""
    from scipy.optimize import brentq

    beyond = (
        tried[(tried < top) & (heights < level)]
        if way < 0
        else (tried[(tried > top) & (heights < level)])
    )
    if not beyond.size:
        return 0.0 if way < 0 else math.inf
    edge = float(beyond.max() if way < 0 else beyond.min())
    return math.exp(float(brentq(lambda t: height(t) - level, edge, top)))


def _shaped(terms: _Terms, random: Weibull, most: float) -> tuple[Weibull, float]:
    """A Weibull delay law if it is clearly better than the random one, and the chance of that."""
    from scipy.optimize import minimize
    from scipy.special import chdtrc

    def minus(theta: Array) -> float:
        shape, scale = np.exp(np.clip(theta, -2.0, 4.0))
        return -terms.height(Weibull(float(shape), random.scale * float(scale)))

    fit = minimize(
        minus,
        np.array([0.3, 0.0]),
        method="Nelder-Mead",
        options={"xatol": 1e-3, "fatol": 1e-4, "maxfev": 150},
    )
    chance = float(chdtrc(1.0, max(2 * (-float(fit.fun) - most), 0.0)))
    if chance >= _CLEAR:
        return random, chance
    shape, scale = np.exp(np.clip(fit.x, -2.0, 4.0))
    return Weibull(float(shape), random.scale * float(scale)), chance


def _check(watches: Sequence[Watch]) -> None:
    if not watches:
        raise InputError(Fault("watches", "there are none; give at least one joint's"))
    faults = []
    for i, w in enumerate(watches, 1):
        key = w.name or f"watch {i}"
        if not (0 <= w.start < w.end < math.inf):
            faults.append(Fault(key, f"runs from {w.start:g} to {w.end:g}; it must have run"))
        elif list(w.looks) != sorted(w.looks):
            faults.append(Fault(key, "has inspections out of order; use does not run backwards"))
        elif not w.good <= w.failed:
            faults.append(Fault(key, f"failed at {w.failed:g}, before {w.good:g} seen good"))
        elif w.found is not None and (w.found != w.end or w.found not in w.looks):
            faults.append(Fault(key, "found damage, but not at the inspection that ends its watch"))
        elif w.found is not None and w.good < w.found:
            faults.append(Fault(key, "was found damaged after it had failed"))
        elif w.found is None and w.failed < math.inf and w.failed != w.end:
            faults.append(Fault(key, "failed, but its watch did not end there"))
        elif w.count < 1:
            faults.append(Fault(key, f"stands for {w.count} joints; accepted is one or more"))
    if faults:
        raise InputError(*faults)
