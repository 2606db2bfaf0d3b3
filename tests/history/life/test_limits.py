"""Likelihood-ratio limits: against a direct profile, and how often they hold the truth."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq, minimize_scalar

from splicewright.errors import InputError
from splicewright.history.life.limits import (
    age_limits,
    likelihood_region,
    limits_of,
    mean_limits,
    scale_at_least,
    scale_limits,
    shape_bias,
    shape_limits,
)
from splicewright.history.life.lives import Lives, lives_of
from splicewright.history.life.weibull import Weibull, fit_scale, fit_weibull, log_likelihood

INF = math.inf


def few(seed: int = 2, number: int = 10) -> Lives:
    rng = np.random.default_rng(seed)
    life = 1000 * rng.weibull(2.0, number)
    return lives_of(np.minimum(life, 900), np.where(life < 900, life, INF))


@pytest.mark.parametrize("seed", [2, 3, 4])
def test_shape_limits_are_those_of_the_profile(seed: int) -> None:
    lives = few(seed)
    fit = fit_weibull(lives)
    limits = shape_limits(likelihood_region(fit, 0.95))

    def height(shape: float) -> float:
        best = minimize_scalar(
            lambda mu: -float(log_likelihood(lives, shape, math.exp(mu))),
            bounds=(math.log(fit.law.scale) - 4, math.log(fit.law.scale) + 9),
            method="bounded",
            options={"xatol": 1e-10},
        )
        return float(2 * (fit.loglik + best.fun) - 3.841458820694124)

    low = brentq(height, fit.law.shape / 20, fit.law.shape)
    high = brentq(height, fit.law.shape, fit.law.shape * 20)
    assert limits.low == pytest.approx(low, rel=1e-4)
    assert limits.high == pytest.approx(high, rel=1e-4)


def test_age_limits_are_those_of_the_profile() -> None:
    lives = few()
    fit = fit_weibull(lives)
    limits = age_limits(likelihood_region(fit, 0.9), 0.1)
    drop = -math.log(0.9)

    def height(age: float) -> float:
        best = minimize_scalar(
            lambda s: -float(log_likelihood(lives, math.exp(s), age / drop ** (1 / math.exp(s)))),
            bounds=(-3.0, 4.0),
            method="bounded",
            options={"xatol": 1e-10},
        )
        return float(2 * (fit.loglik + best.fun) - 2.705543454095404)

    best = fit.law.age_at(0.1)
    assert limits.low == pytest.approx(brentq(height, best / 50, best), rel=1e-4)
    assert limits.high == pytest.approx(brentq(height, best, best * 50), rel=1e-4)


def test_a_shape_without_lower_bound_is_said_to_have_none() -> None:
    # two failures among three joints watched late: the profile levels off below the threshold
    # as the shape falls and the scale runs away with it
    lives = lives_of(
        [6380.668, 9247.634, 10328.698],
        [6380.668, INF, 10328.698],
        entered=[2959.321, 6937.658, 7103.102],
    )
    fit = fit_weibull(lives)
    log_scale = math.log(fit.law.scale) + np.linspace(-300, 60, 48_001)
    for shape in (0.3, 0.1, 0.05):
        best = float(log_likelihood(lives, shape, np.exp(log_scale)).max())
        assert 2 * (fit.loglik - best) < 2.705543454095404
    assert shape_limits(likelihood_region(fit, 0.9)).low == 0.0


def test_limits_where_the_region_bends() -> None:
    # looks far apart: shape and scale depend on each other along a bent ridge, whose end rays
    # from the most likely law do not see
    lives = lives_of(
        [5928.25, 0.0, 5109.21, 1659.42, 766.07, 5863.72, 6228.17],
        [11856.5, 5928.25, INF, INF, INF, INF, INF],
        count=[6, 1, 1, 1, 1, 1, 1],
    )
    fit = fit_weibull(lives)
    limits = shape_limits(likelihood_region(fit, 0.9))
    scale = fit.law.scale * np.exp(np.linspace(-0.8, 0.8, 200_001))
    for end in (limits.low, limits.high):
        best = float(log_likelihood(lives, end, scale).max())
        assert 2 * (fit.loglik - best) == pytest.approx(2.705543454095404, abs=1e-3)


def test_limits_hold_the_fit_and_widen_with_confidence() -> None:
    fit = fit_weibull(few())
    narrow, wide = (likelihood_region(fit, c) for c in (0.5, 0.95))
    for of, middle in ((shape_limits, fit.law.shape), (scale_limits, fit.law.scale)):
        assert of(wide).low < of(narrow).low < middle < of(narrow).high < of(wide).high
    assert mean_limits(wide).low < fit.law.mean < mean_limits(wide).high


def test_a_constant_has_no_spread() -> None:
    region = likelihood_region(fit_weibull(few()))
    limits = limits_of(region, lambda shape, _scale: np.full(shape.shape, 3.0))
    assert (limits.low, limits.high) == (3.0, 3.0)


@pytest.mark.parametrize(("number", "share"), [(10, 0.5), (20, 0.25), (20, 0.5)])
def test_ninety_per_cent_limits_hold_the_truth_nine_times_in_ten(number: int, share: float) -> None:
    """Coverage of the limits of shape and age at one in ten, by whether the truth lies within.

    Limits are those of the profile (tests above), so the truth lies within where the profile
    there has fallen by half of chi-square at most. 700 sets, standard error 0.011: the stated band
    of 0.87 to 0.93 is taken one standard error wider. Sets with fewer than three failures are
    drawn anew, as they are refused limits.
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
    bias = shape_bias(failures)
    assert 1 / bias.mean_factor == pytest.approx(1 / float(np.mean(fitted)), abs=0.03)
    assert 1 / bias.median_factor == pytest.approx(1 / float(np.median(fitted)), abs=0.03)


def test_shape_bias_in_words() -> None:
    assert shape_bias(5).sentence == (
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
        likelihood_region(fit_weibull(few()), 95.0)
    assert str(caught.value) == ("confidence: 95 is no share; accepted is above 0 and below 1")
    with pytest.raises(InputError, match="none of them has run yet"):
        scale_at_least(lives_of([0.0], [INF]), 2.0)
    with pytest.raises(InputError, match="none of them ran while the log watched"):
        scale_at_least(lives_of([5.0], [INF], entered=5.0), 2.0)
