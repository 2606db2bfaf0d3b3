"""Limits by likelihood hold the truth as often as they say; bias of the shape; lower bounds."""

import math

import numpy as np
import pytest

from splicewright.errors import InputError
from splicewright.history.life.limits import (
    mean_shape_factor,
    median_shape_factor,
    scale_at_least,
    shape_bias,
)
from splicewright.history.life.lives import lives_of
from splicewright.history.life.weibull import Weibull, fit_scale, fit_weibull, log_likelihood

INF = math.inf


@pytest.mark.parametrize(("number", "share"), [(10, 0.5), (20, 0.25), (20, 0.5)])
def test_ninety_per_cent_limits_hold_the_truth_nine_times_in_ten(number: int, share: float) -> None:
    """Coverage of the limits of shape and age at one in ten, by whether the truth lies within.

    The truth lies within where the profile there has fallen by half of chi-square at most.
    700 sets, standard error 0.011: the stated band of 0.87 to 0.93 is taken one standard error
    wider. Sets with fewer than three failures are drawn anew, as they are refused limits.
    """
    rng = np.random.default_rng(7)
    truth = Weibull(2.0, 1000.0)
    stop, tenth = truth.age_at(share), truth.age_at(0.1)
    shapes = np.geomspace(0.3, 25.0, 300)
    scales = tenth / (-math.log(0.9)) ** (1 / shapes)
    hits = np.zeros(2)
    runs = 0
    while runs < 700:
        life = truth.scale * rng.weibull(truth.shape, number)
        if (life < stop).sum() < 3:
            continue
        runs += 1
        lives = lives_of(np.minimum(life, stop), np.where(life < stop, life, INF))
        fit = fit_weibull(lives)
        best = fit_scale(lives, truth.shape).scale
        of_shape = float(log_likelihood(lives, truth.shape, best))
        of_tenth = float(log_likelihood(lives, shapes, scales).max())
        for i, there in enumerate((of_shape, of_tenth)):
            hits[i] += 2 * (fit.loglik - there) <= 2.705543454095404
    assert (np.abs(hits / runs - 0.9) < 0.03 + 0.011).all(), hits / runs


@pytest.mark.parametrize("failures", [3, 5, 10, 20])
def test_shape_bias_agrees_with_simulation(failures: int) -> None:
    # the factors are remembered; the simulation is the check (1500 full samples each)
    rng = np.random.default_rng(failures)
    fitted = []
    for _ in range(1500):
        life = rng.weibull(1.0, failures)
        fitted.append(fit_weibull(lives_of(life, life)).law.shape)
    mean, median = mean_shape_factor(failures), median_shape_factor(failures)
    assert 1 / mean == pytest.approx(1 / float(np.mean(fitted)), abs=0.03)
    assert 1 / median == pytest.approx(1 / float(np.median(fitted)), abs=0.03)


def test_shape_bias_in_words() -> None:
    assert shape_bias(5) == (
        "with 5 failures a fitted shape is on average 1.44 times the true one (half of all fits "
        "lie above 1.24 times): wear-out seems sharper than it is"
    )
    with pytest.raises(InputError) as caught:
        shape_bias(2)
    assert str(caught.value) == ("failures: 2 are too few to state a bias; accepted are 3 or more")


def test_no_failure_still_gives_a_lower_bound() -> None:
    # closed form: with the true scale at the bound, no failure at all has a chance of 10 %
    lives = lives_of([400.0, 700.0, 900.0], [INF] * 3, entered=[0.0, 300.0, 0.0])
    law = scale_at_least(lives, 2.0, 0.9)
    none_fails = law.good(400.0) * law.good(700.0) / law.good(300.0) * law.good(900.0)
    assert float(none_fails) == pytest.approx(0.1, rel=1e-12)


def test_lower_bound_with_failures_is_the_chi_square_one() -> None:
    # shape 1: total time 1000 with 2 failures; the exponential bound (from memory) is
    # T/(χ²(0.90; 6)/2), with χ²(0.90; 6) = 10.6446 from the table
    lives = lives_of([200.0, 300.0, 500.0], [200.0, 300.0, INF])
    assert scale_at_least(lives, 1.0, 0.9).scale == pytest.approx(2000 / 10.6446, rel=1e-5)


def test_bad_questions_are_refused() -> None:
    with pytest.raises(InputError) as caught:
        scale_at_least(lives_of([5.0], [INF]), 2.0, 95.0)
    assert str(caught.value) == ("confidence: 95 is no share; accepted is above 0 and below 1")
    with pytest.raises(InputError, match="none of them has run yet"):
        scale_at_least(lives_of([0.0], [INF]), 2.0)
    with pytest.raises(InputError, match="none of them ran while the log watched"):
        scale_at_least(lives_of([5.0], [INF], entered=5.0), 2.0)
