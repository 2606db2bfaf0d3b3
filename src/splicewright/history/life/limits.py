"""How far the truth may lie from a fitted life: limits, bias of the shape, lower bounds.

References
----------
.. [1] Ross, unbiasing factor (n - 2)/(n - 0.68) of the Weibull shape (from memory; checked by
   simulation for 3 to 30 failures).
.. [2] Abernethy, The New Weibull Handbook, median factor C4^3.5 (from memory; checked as [1]_).
.. [3] Nelson, Weibull analysis with few or no failures and a known shape, 1985 (from memory; the
   bound follows from the Poisson law).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from splicewright.errors import Fault, InputError
from splicewright.history.life.lives import Lives
from splicewright.history.life.weibull import Weibull
from splicewright.quantities import Kind, formula


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


def shape_bias(failures: int) -> str:
    """Bias of the fitted shape at few failures, as told beside the fit; it is not taken out of it.

    1/mean factor = (n - 2)/(n - 0.68) [1]_; 1/median factor = C4^3.5,
    C4 = sqrt(2/(n - 1)) Γ(n/2)/Γ((n - 1)/2) [2]_.

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
    return (
        f"with {n} failures a fitted shape is on average {mean:.2f} times the true one (half of "
        f"all fits lie above {median:.2f} times): wear-out seems sharper than it is"
    )


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
    with failures + 1 degrees [3]_; with no failure q = -ln(1 - confidence).

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
