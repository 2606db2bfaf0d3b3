"""Diesel generator fans: Nelson, Applied Life Data Analysis, 1982, p. 318. From memory.

70 fans, 12 failed. The printed results are those of a commercial statistics package, from memory;
the data agree with the R package survival, `genfan`.
"""

import math

import numpy as np
import pytest

from proof import proves
from splicewright.history.life.lives import lives_of
from splicewright.history.life.weibull import fit_weibull

pytestmark = proves(
    "Wear and life",
    "70 diesel fans, 12 failed",
    "A",
    "Fit with most lives suspended, normal-theory limits.",
    doubt="From memory; two libraries agree.",
    tolerance="half the last printed digit",
    sketch="weibull",
)


FAILED = [450, 1150, 1150, 1600, 2070, 2070, 2080, 3100, 3450, 4600, 6100, 8750]
RUNNING = {
    460: 1, 1560: 1, 1660: 1, 1850: 5, 2030: 3, 2200: 1, 3000: 4, 3200: 1, 3750: 2, 4150: 4,
    4300: 4, 4850: 4, 5000: 3, 6100: 3, 6300: 1, 6450: 2, 6700: 1, 7450: 1, 7800: 2, 8100: 2,
    8200: 1, 8500: 3, 8750: 2, 9400: 1, 9900: 1, 10100: 3, 11500: 1,
}  # fmt: skip


def test_fit_and_normal_theory_limits() -> None:
    lives = lives_of(
        [*FAILED, *RUNNING],
        [*FAILED, *[math.inf] * len(RUNNING)],
        count=[1] * 12 + list(RUNNING.values()),
    )
    assert lives.number == 70
    fit = fit_weibull(lives)
    assert fit.law.scale == pytest.approx(26296.8, abs=0.05)
    assert fit.law.shape == pytest.approx(1.0584, abs=5e-5)
    half_scale, half_shape = 1.959964 * np.sqrt(np.diag(fit.covariance))
    assert fit.law.scale * math.exp(-half_scale) == pytest.approx(10552.1, abs=0.5)
    assert fit.law.scale * math.exp(half_scale) == pytest.approx(65534.4, abs=3)
    assert fit.law.shape * math.exp(-half_shape) == pytest.approx(0.6441, abs=5e-5)
    assert fit.law.shape * math.exp(half_shape) == pytest.approx(1.7394, abs=5e-5)
