"""Share of joints still good, drawn from the lives alone, with no law assumed.

Kaplan-Meier where failures were seen as they happened [1]_, Turnbull where they fell between
looks [2]_.

References
----------
.. [1] Kaplan and Meier, 1958; limits on the log(-log) scale with Greenwood's variance, as in
   Kalbfleisch and Prentice (from memory; checked against two libraries).
.. [2] Turnbull, 1976 (from memory; checked against a library and closed forms).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.life.limits import check_confidence
from splicewright.history.life.lives import Lives
from splicewright.quantities import Kind, formula
from splicewright.quantities.going_on import go_on

if TYPE_CHECKING:
    from numpy.typing import NDArray


@formula(
    "S/S_before = 1 - d/n",
    gives=("S", Kind.SHARE),
    symbols={"failed": "d", "at_risk": "n"},
    source="kaplan-meier",
)
def kept(failed: Array, at_risk: Array) -> Array:
    """Share of the joints under watch that a step of the staircase leaves good.

    Parameters
    ----------
    failed : joints that failed at this age [-]
    at_risk : joints under watch just before [-]
    """
    return np.asarray(1 - failed / at_risk)


@dataclass(frozen=True)
class Staircase:
    """Share still good after each age at which something failed; flat in between.

    Attributes
    ----------
    age : ages of the steps, (steps,) [measure of the lives]
    good : share still good from that age on, (steps,) [0..1]
    low, high : pointwise limits of `good`, (steps,) [0..1]
    at_risk : joints under watch just before each step, (steps,)
    confidence : of the limits [0..1]
    """

    age: Array
    good: Array
    low: Array
    high: Array
    at_risk: Array
    confidence: float

    def at(self, age: float) -> float:
        """Share still good at `age`."""
        place = int(np.searchsorted(self.age, age, side="right"))
        return 1.0 if place == 0 else float(self.good[place - 1])


def kaplan_meier(lives: Lives, confidence: float = 0.9) -> Staircase:
    """Share still good, S(t) = Π (1 - failed/at risk), over the ages of failure up to t.

    A joint is at risk from the age at which it came under watch.

    Limits: where all that were at risk fail, the staircase falls to zero and stays there; with
    joints that came under watch late this can happen early, when few are at risk.

    Raises
    ------
    InputError
        Failures known only between looks (use `turnbull`), or no failure at all.
    """
    check_confidence(confidence)
    if lives.between.any():
        raise InputError(
            Fault(
                "lives",
                "hold failures known only between two inspections; the staircase for those is "
                "Turnbull's",
            )
        )
    if not lives.failures:
        raise InputError(
            Fault("lives", "hold no failure: all were still good when last seen, so no step shows")
        )
    ages, dead, risk = _counts(lives.good, lives.exact, lives.entered, lives.count)
    good = _cumprod(kept(dead, risk))
    with np.errstate(divide="ignore", invalid="ignore"):
        variance = np.cumsum(dead / (risk * (risk - dead)))
        low, high = _loglog_limits(good, np.sqrt(variance), confidence)
    return Staircase(ages, good, low, high, risk, confidence)


def staircase(
    ages: Array, failed: NDArray[np.bool_], entered: Array, count: Array | None = None
) -> tuple[Array, Array]:
    """Kaplan-Meier steps and shares of plain arrays, without limits.

    Returns
    -------
    ages of the steps and share still good from there on, both (steps,)
    """
    number = np.ones(ages.size) if count is None else count
    steps, dead, risk = _counts(ages, failed, entered, number)
    return steps, _cumprod(kept(dead, risk))


@dataclass(frozen=True)
class Bands:
    """Share failed within each band of age that the looks can tell apart (Turnbull).

    Attributes
    ----------
    low, high : the ends of each band, (bands,); high is inf for those not failed yet
    share : share of joints that fail within it, (bands,) [0..1]; where inside is not known
    """

    low: Array
    high: Array
    share: Array

    def good_range(self, age: float) -> tuple[float, float]:
        """Least and largest share still good at `age`: inside a band it is not known more."""
        surely = float(self.share[self.high <= age].sum())
        perhaps = float(self.share[self.low < age].sum())
        return 1 - max(perhaps, surely), 1 - surely


def turnbull(lives: Lives) -> Bands:
    """Most likely shares of failure by bands of age, for any mix of records.

    Each joint's failure is spread over the bands it may lie in, in proportion to their
    present shares, until nothing changes; joints watched from a later age are weighted up
    for those that failed unseen. The result is accepted when no band could gain more than
    one part in a million (the condition of Kuhn and Tucker).

    Limits: at most 2000 different records; no limits of confidence are given.

    Raises
    ------
    InputError
        No failure at all, too many different records, or shares that do not settle.
    """
    if not lives.failures:
        raise InputError(
            Fault("lives", "hold no failure: all were still good when last seen, so no band shows")
        )
    rows, place = np.unique(
        np.stack([lives.good, lives.bad, lives.entered]), axis=1, return_inverse=True
    )
    good, bad, entered = rows
    if good.size > 2000:
        raise InputError(
            Fault("lives", f"are {good.size} different records; Turnbull's bands take 2000")
        )
    count = np.bincount(np.asarray(place).ravel(), weights=lives.count)
    low, high = _innermost(good, bad, entered)
    exact = (good == bad)[:, None]
    inside = np.where(
        exact,
        (low == high) & (low == good[:, None]),
        (low >= good[:, None]) & (high <= bad[:, None]) & ((low != high) | (low > good[:, None])),
    ).astype(np.float64)
    seen = ((low >= entered[:, None]) & ((low > entered[:, None]) | (high > low))).astype(
        np.float64
    )
    share = np.full(low.size, 1 / low.size)
    for _ in range(50_000):
        go_on()
        weight = count @ (inside / (inside @ share)[:, None])
        late = seen @ share
        ghosts = count @ ((1 - seen) / late[:, None])
        watched = count @ (1 / late)
        gain = (weight + ghosts) / watched
        if float(gain.max()) <= 1 + 1e-6:
            break
        share = share * gain
        share = share / share.sum()
    else:
        raise InputError(
            Fault("lives", "do not settle shares by band; too few joints were watched early on")
        )
    keep = share > 1e-9
    return Bands(low[keep], high[keep], share[keep] / share[keep].sum())


def _counts(
    ages: Array, failed: NDArray[np.bool_], entered: Array, count: Array
) -> tuple[Array, Array, Array]:
    """Ages of failure, failures at each, and joints at risk just before."""
    steps, place = np.unique(ages[failed], return_inverse=True)
    dead = np.bincount(place, weights=count[failed], minlength=steps.size)
    order, late = np.argsort(ages), np.argsort(entered)
    ended = np.concatenate([[0.0], np.cumsum(count[order])])
    came = np.concatenate([[0.0], np.cumsum(count[late])])
    before = ended[np.searchsorted(ages[order], steps, side="left")]
    risk = came[np.searchsorted(entered[late], steps, side="left")] - before
    return steps, dead.astype(np.float64), risk


def _cumprod(factors: Array) -> Array:
    return np.asarray(np.cumprod(factors), dtype=np.float64)


def _loglog_limits(good: Array, error: Array, confidence: float) -> tuple[Array, Array]:
    from scipy.special import ndtri

    half = float(ndtri((1 + confidence) / 2)) * error / np.abs(np.log(good))
    low, high = good ** np.exp(half), good ** np.exp(-half)
    ended = good <= 0
    return np.where(ended, 0.0, low), np.where(ended, 0.0, high)


def _innermost(good: Array, bad: Array, entered: Array) -> tuple[Array, Array]:
    """Turnbull's bands: from a left end to the next right end with no left end between.

    Left ends are open, except those of failures seen as they happened; a log that begins at v
    is a right end at v.
    """
    exact = good == bad
    left = [(g, 0 if e else 1) for g, e in zip(good, exact, strict=True)]
    right = [(b, 0) for b in bad if b < math.inf]
    right += [(v, 0) for v in entered if v > 0]
    marks = sorted(
        {(age, side, 0) for age, side in left} | {(age, side, 1) for age, side in right},
        key=lambda m: (m[0], m[1] if m[2] else (0 if m[1] == 0 else 2), m[2]),
    )
    # at one age: a failure's own left end, then right ends, then the open left ends
    bands = []
    start: float | None = None
    for age, _, is_right in marks:
        if not is_right:
            start = float(age)
        elif start is not None:
            bands.append((start, float(age)))
            start = None
    if start is not None:
        bands.append((start, math.inf))
    low, high = np.array(bands).T
    return low, high
