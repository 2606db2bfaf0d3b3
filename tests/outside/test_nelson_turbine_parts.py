"""Cracked turbine parts found at inspections: Nelson, Applied Life Data Analysis, 1982, p. 415.

Data read (R package survival, `cracks`, the same in days). The printed results, those of a
commercial statistics package for the same data, are from memory.
"""

import math

import numpy as np
import pytest

from proof import proves
from splicewright.history.life.lives import lives_of
from splicewright.history.life.survival import turnbull
from splicewright.history.life.weibull import fit_weibull

pytestmark = proves(
    "Wear and life",
    "167 turbine parts found cracked at inspections",
    "A",
    "Fit of lives known only between looks, errors and limits.",
    doubt="Data read; results from memory, three libraries agree.",
    tolerance="half the last printed digit",
    sketch="weibull",
)


LOOKS = [0.0, 6.12, 19.92, 29.64, 35.40, 39.72, 45.24, 52.32, 63.48]
CRACKED = [5, 16, 12, 18, 18, 2, 6, 17]
LIVES = lives_of(LOOKS, [*LOOKS[1:], math.inf], count=[*CRACKED, 73])


def test_fit_and_its_standard_errors() -> None:
    fit = fit_weibull(LIVES)
    assert math.log(fit.law.scale) == pytest.approx(4.2724, abs=5e-5)
    assert 1 / fit.law.shape == pytest.approx(0.6732, abs=5e-5)
    assert fit.law.scale == pytest.approx(71.6904, abs=5e-5)
    assert fit.law.shape == pytest.approx(1.4854, abs=5e-5)
    error_log_scale, error_log_shape = np.sqrt(np.diag(fit.covariance))
    assert error_log_scale == pytest.approx(0.0744, abs=5e-5)
    assert error_log_shape / fit.law.shape == pytest.approx(0.0664, abs=5e-5)


def test_printed_limits_are_the_normal_theory_ones() -> None:
    fit = fit_weibull(LIVES)
    half_scale, half_shape = 1.959964 * np.sqrt(np.diag(fit.covariance))
    assert fit.law.scale * math.exp(-half_scale) == pytest.approx(61.9634, abs=5e-4)
    assert fit.law.scale * math.exp(half_scale) == pytest.approx(82.9444, abs=5e-4)
    assert fit.law.shape * math.exp(-half_shape) == pytest.approx(1.2242, abs=5e-5)
    assert fit.law.shape * math.exp(half_shape) == pytest.approx(1.8022, abs=5e-5)


def test_turnbull_is_the_plain_share_when_all_share_their_looks() -> None:
    # exact: every part was looked at on the same dates, so the shares are counts over 167
    bands = turnbull(LIVES)
    np.testing.assert_allclose(bands.share, np.array([*CRACKED, 73]) / 167, rtol=1e-6)
    assert bands.good_range(29.64) == pytest.approx((1 - 33 / 167, 1 - 33 / 167), rel=1e-6)
