"""What is left: the rest of a joint's life, and failures to expect of a whole fleet.

A joint that has reached age a is good for a further t with S(a + t)/S(a); each joint counts by
its own age, so the number that fail in a fleet is a sum of unequal yes-or-no draws
(Poisson-binomial), not a Poisson number [1]_.

References
----------
.. [1] Meeker and Escobar, Statistical Methods for Reliability Data, 1998, ch. 12 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.life.weibull import Weibull
from splicewright.quantities import Kind, formula

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


@formula(
    "F = 1 - exp(H(a) - H(a + t))",
    gives=("F", Kind.SHARE),
    symbols={"law": "H", "age": "a", "further": "t"},
    source="meeker-escobar",
)
def chance_of_failing(law: Weibull, age: ArrayLike, further: ArrayLike) -> Array:
    """Chance that a joint now at `age` fails within `further` more: 1 - exp(H(a) - H(a + t)).

    Parameters
    ----------
    law : law of life
    age : age now, in the law's measure; zero or more
    further : how much more it is to run

    Returns
    -------
    array of the broadcast shape [0..1]
    """
    now, more = np.asarray(age, dtype=np.float64), np.asarray(further, dtype=np.float64)
    for key, value in (("age", now), ("further run", more)):
        bad = ~np.isfinite(value) | (value < 0)
        if bad.any():
            worst = float(value[bad].flat[0])
            sentence = f"{worst:g} cannot be; accepted is a finite number of zero or more"
            raise InputError(Fault(key, sentence))
    return -np.expm1(law.hazard_sum(now) - law.hazard_sum(now + more))


@formula(
    "t = η (H(a) - ln(1 - F))^(1/β) - a",
    gives=("t", Kind.RUN_TIME),
    symbols={"law": "H", "age": "a", "share": "F"},
    source="meeker-escobar",
    limits="in hours, tonnes or turns alike, as the law",
)
def age_left(law: Weibull, age: float, share: float) -> float:
    """Further run by which a share of the joints that are good at an age will have failed.

    Parameters
    ----------
    law : law of life
    age : age now [measure of the law]
    share : that will have failed [0..1]
    """
    spent = float(law.hazard_sum(age)) - math.log1p(-share)
    return max(0.0, law.scale * math.pow(spent, 1 / law.shape) - age)


@dataclass(frozen=True, slots=True)
class Left:
    """What is left of one joint.

    Attributes
    ----------
    age : its age now [measure of the law]
    tenth, half, most : further run by which 10, 50 and 90 % of such joints have failed
    mean : mean further life
    """

    age: float
    tenth: float
    half: float
    most: float
    mean: float


def count_law(chance: ArrayLike) -> Array:
    """Probability of each number of successes among unequal yes-or-no draws.

    Pairs of draws are multiplied as polynomials, then pairs of pairs, by FFT.

    Parameters
    ----------
    chance : of each draw, (draws,) [0..1]

    Returns
    -------
    array (draws + 1,), sums to 1
    """
    p = np.asarray(chance, dtype=np.float64)
    size = 1 << (p.size - 1).bit_length()
    laws = np.zeros((size, 2))
    laws[:, 0] = 1.0
    laws[: p.size, 0], laws[: p.size, 1] = 1 - p, p
    while laws.shape[0] > 1:
        width = 2 * laws.shape[1] - 1
        if width < 16:
            left, right = laws[0::2], laws[1::2]
            joined = np.zeros((left.shape[0], width))
            for k in range(left.shape[1]):
                joined[:, k : k + right.shape[1]] += left[:, k : k + 1] * right
        else:
            turned = np.fft.rfft(laws, n=width, axis=1)
            joined = np.fft.irfft(turned[0::2] * turned[1::2], n=width, axis=1)
        laws = np.clip(joined, 0.0, None)
    result: Array = laws[0, : p.size + 1]
    return np.asarray(result / result.sum())
