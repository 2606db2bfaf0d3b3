"""Failures to expect of a whole fleet.

Each joint counts by its own age, so the number that fail in a fleet is a sum of unequal
yes-or-no draws (Poisson-binomial), not a Poisson number [1]_.

References
----------
.. [1] Meeker and Escobar, Statistical Methods for Reliability Data, 1998, ch. 12 (from memory).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from splicewright.history.arrays import Array

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


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
