"""Sparse inspection data of Meeker and Escobar, Statistical Methods for Reliability Data, 1998.

Heat-exchanger tubes of three plants (ch. 1; data read) and rocket motors with three failures
among 1940 (data read). No published fit was read: the check is another library's fit of the
same data, here surpyval. Limits of the shape were worked by scipy from the profile when the data
were read: 2.96 to 15.54 (motors), .636 to 2.367 (tubes), at 95 %.
"""

import math

import numpy as np
import pytest

from splicewright.history.life.lives import Lives, lives_of
from splicewright.history.life.weibull import fit_scale, fit_weibull, log_likelihood

INF = math.inf
TUBES = lives_of(
    [0, 1, 2, 3, 0, 1, 2, 0, 1],
    [1, 2, 3, INF, 1, 2, INF, 1, INF],
    count=[1, 2, 2, 95, 2, 3, 95, 1, 99],
)
RUNNING = [105, 164, 153, 236, 250, 197, 230, 211, 124, 90, 72, 53, 30, 14, 5, 3]
MOTORS = lives_of(
    [0, 0, 0, *range(1, 17)], [8.5, 14.2, 16.5, *[INF] * 16], count=[1, 1, 1, *RUNNING]
)


def fitted_elsewhere(lives: Lives) -> tuple[float, float]:
    import surpyval

    ends = np.where(np.isinf(lives.bad), lives.good, lives.bad)
    left = np.where(lives.between & (lives.good > 0), lives.good, ends)
    kind = np.where(lives.exact, 0, np.where(lives.suspended, 1, np.where(lives.good > 0, 2, -1)))
    model = surpyval.Weibull.fit(
        x=np.stack([left, ends], axis=1).tolist(), c=kind, n=lives.count.astype(int)
    )
    return float(model.params[1]), float(model.params[0])


@pytest.mark.parametrize("lives", [TUBES, MOTORS], ids=["tubes", "motors"])
def test_fit_agrees_with_another_library(lives: Lives) -> None:
    shape, scale = fitted_elsewhere(lives)
    law = fit_weibull(lives).law
    assert law.shape == pytest.approx(shape, rel=1e-4)
    assert law.scale == pytest.approx(scale, rel=1e-4)


def fallen(lives: Lives, shape: float) -> float:
    """Twice the drop of the log-likelihood from the best, at the best scale of a shape."""
    there = log_likelihood(lives, shape, fit_scale(lives, shape).scale)
    return 2 * (fit_weibull(lives).loglik - float(there))


def ends_at(lives: Lives, low: float, high: float, within: float) -> None:
    # chi-square with one degree, 0.95: 3.8415; the limits were printed to three or four digits
    assert fallen(lives, low * (1 + within)) < 3.841458820694124 < fallen(lives, low * (1 - within))
    assert fallen(lives, high * (1 - within)) < 3.841458820694124
    assert fallen(lives, high * (1 + within)) > 3.841458820694124


def test_three_failures_among_1940_give_an_honestly_wide_answer() -> None:
    ends_at(MOTORS, 2.96, 15.54, 2e-3)


def test_eleven_failed_tubes_do_not_show_wear_out() -> None:
    ends_at(TUBES, 0.636, 2.367, 1e-3)
