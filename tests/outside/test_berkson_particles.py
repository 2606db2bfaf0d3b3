"""Times between alpha particles in classes: Berkson 1966, in Meeker and Escobar, 1998, ch. 7.

Printed: exponential mean 572.274, standard error 41.7195, normal-theory limits of its logarithm
496.08 and 660.17. Results read; the 200 counts are from memory and reproduce all their digits.
"""

import math

import pytest

from splicewright.history.life.lives import lives_of
from splicewright.history.life.weibull import fit_scale, log_likelihood

ENDS = [0.0, 100.0, 300.0, 500.0, 700.0, 1000.0, 2000.0, 4000.0]
COUNTS = [41, 44, 24, 32, 29, 21, 9]
TIMES = lives_of(ENDS[:-1], ENDS[1:], count=COUNTS)


def test_exponential_mean_and_its_error() -> None:
    assert TIMES.number == 200
    mean = fit_scale(TIMES, 1.0).scale
    assert mean == pytest.approx(572.274, abs=5e-4)
    step = 1.0
    low, middle, high = log_likelihood(TIMES, 1.0, [mean - step, mean, mean + step]).tolist()
    error = math.sqrt(-(step**2) / (low - 2 * middle + high))
    assert error == pytest.approx(41.7195, abs=2e-3)  # the second difference costs 1e-3
    half = 1.959964 * error / mean
    assert mean * math.exp(-half) == pytest.approx(496.08, abs=0.02)
    assert mean * math.exp(half) == pytest.approx(660.17, abs=0.02)
