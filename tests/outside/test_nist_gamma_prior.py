"""NIST/SEMATECH e-Handbook 8.4.6, gamma prior of a constant failure rate.

Formula seen; the worked numbers are from memory: a = 2, b = 1400 h, then 2 failures in 1909 h
give a = 4, b = 3309 and a mean time between failures of 901.1 h (median), 600.0 h (80 % lower)
and 495.3 h (90 % lower).
"""

import numpy as np
import pytest

from splicewright.history.life.pooling import PooledLife


def test_mean_time_between_failures() -> None:
    # shape 1: the age at share 1 - 1/e is the mean time between failures
    one = np.array([1.0])
    life = PooledLife(one, one, (2 + 2) * one, (1400 + 1909.0) * one, 1.0)
    share = 1 - np.exp(-1.0)
    assert life.age_limits(share, 1e-9).low == pytest.approx(901.1, abs=0.05)
    assert life.age_limits(share, 0.6).low == pytest.approx(600.0, abs=0.05)
    assert life.age_limits(share, 0.8).low == pytest.approx(495.3, abs=0.05)
