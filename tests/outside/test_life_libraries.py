"""Our fits against lifelines (MIT) and surpyval (MIT) on random lives, to 1e-4 or better."""

import math
from typing import Any

import numpy as np
import pandas as pd
import pytest

from proof import proves
from splicewright.history.life.comparison import compare_kinds, compare_laws
from splicewright.history.life.lives import Lives, lives_of
from splicewright.history.life.survival import kaplan_meier, turnbull
from splicewright.history.life.weibull import fit_weibull

pytestmark = proves(
    "Wear and life",
    "Fits against two libraries on random lives",
    "B",
    "Suspended, interval and mixed lives against lifelines and surpyval.",
    doubt="The libraries' own optimisers stop at about 1e-5.",
    tolerance="1e-4: ten times where the libraries stop",
    sketch="weibull",
)


INF = math.inf


def sample(seed: int, *, late: bool = False, looks: bool = False, number: int = 60) -> Lives:
    """Random lives: shape 0.8 to 3.5, about a third suspended."""
    rng = np.random.default_rng(seed)
    shape = rng.uniform(0.8, 3.5)
    life = 1000 * rng.weibull(shape, 6 * number)
    entered = rng.uniform(0, 500, life.size) if late else np.zeros(life.size)
    kept = np.flatnonzero(life > entered)[:number]
    life, entered = life[kept], entered[kept]
    stop = entered + rng.uniform(200, 1800, kept.size)
    good = np.minimum(life, stop)
    bad = np.where(life <= stop, life, INF)
    if looks:
        step = rng.uniform(80, 250, kept.size)
        between = (bad < INF) & (rng.random(kept.size) < 0.6)
        low = np.maximum(np.floor(life / step) * step, entered)
        good = np.where(between, low, good)
        bad = np.where(between, np.floor(life / step) * step + step, bad)
    return lives_of(good, bad, entered=entered)


@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize("seed", range(5))
def test_fit_of_suspended_lives_agrees_with_lifelines(seed: int, late: bool) -> None:
    import lifelines

    lives = sample(seed, late=late)
    other = lifelines.WeibullFitter().fit(
        lives.good, ~lives.suspended, entry=lives.entered if late else None
    )
    fit = fit_weibull(lives)
    assert fit.law.shape == pytest.approx(other.rho_, rel=1e-4)
    assert fit.law.scale == pytest.approx(other.lambda_, rel=1e-4)
    assert fit.loglik == pytest.approx(other.log_likelihood_, rel=1e-6)


@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize("seed", range(3))
def test_lognormal_law_agrees_with_lifelines(seed: int, late: bool) -> None:
    import lifelines

    lives = sample(seed, late=late)
    other = lifelines.LogNormalFitter().fit(
        lives.good, ~lives.suspended, entry=lives.entered if late else None
    )
    laws = compare_laws(fit_weibull(lives))
    assert laws.median == pytest.approx(math.exp(other.mu_), rel=1e-4)
    assert laws.spread == pytest.approx(other.sigma_, rel=1e-4)


@pytest.mark.parametrize("seed", range(5))
def test_fit_between_looks_agrees_with_lifelines(seed: int) -> None:
    import lifelines

    lives = sample(seed, looks=True)
    other = lifelines.WeibullFitter().fit_interval_censoring(lives.good, lives.bad)
    fit = fit_weibull(lives)
    assert fit.law.shape == pytest.approx(other.rho_, rel=1e-4)
    assert fit.law.scale == pytest.approx(other.lambda_, rel=1e-4)


@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize("seed", range(5))
def test_fit_of_every_kind_agrees_with_surpyval(seed: int, late: bool) -> None:
    import surpyval

    lives = sample(seed, looks=True, late=late)
    right = np.where(lives.suspended, lives.good, lives.bad)
    start = lives.between & (lives.good == 0)
    left = np.where(start | lives.suspended, right, lives.good)
    kind = np.select([lives.exact, lives.suspended, start], [0, 1, -1], 2)
    extra: dict[str, Any] = {"tl": lives.entered} if late else {}
    other = surpyval.Weibull.fit(x=np.stack([left, right], axis=1).tolist(), c=kind, **extra)
    law = fit_weibull(lives).law
    assert law.shape == pytest.approx(other.params[1], rel=1e-4)
    assert law.scale == pytest.approx(other.params[0], rel=1e-4)


@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize("seed", range(3))
def test_staircase_agrees_with_lifelines(seed: int, late: bool) -> None:
    import lifelines

    lives = sample(seed, late=late, number=80)
    fitter = lifelines.KaplanMeierFitter(alpha=0.1)
    other = fitter.fit(lives.good, ~lives.suspended, entry=lives.entered if late else None)
    ours = kaplan_meier(lives, 0.9)
    inside = ours.good > 0
    np.testing.assert_allclose(ours.good, other.predict(ours.age), rtol=1e-9, atol=1e-12)
    band = other.confidence_interval_.reindex(ours.age)
    np.testing.assert_allclose(ours.low[inside], band.iloc[:, 0][inside], rtol=1e-6)
    np.testing.assert_allclose(ours.high[inside], band.iloc[:, 1][inside], rtol=1e-6)


@pytest.mark.parametrize("seed", range(3))
def test_turnbull_is_as_likely_as_that_of_lifelines(seed: int) -> None:
    import lifelines

    lives = sample(seed, looks=True, number=30)
    bands = turnbull(lives)
    fitter = lifelines.KaplanMeierFitter()
    fitter.fit_interval_censoring(lives.good, lives.bad, tol=1e-9)
    # the two differ in where inside a band the curve drops, so the levels it passes are compared
    ours = np.array([bands.good_range(age)[1] for age in bands.high])
    theirs = fitter.survival_function_.iloc[:, -1].to_numpy()
    for level in ours[ours > 1e-6]:
        assert np.abs(theirs - level).min() < 1e-3
    for level in theirs[(theirs > 1e-6) & (theirs < 1)]:
        assert np.abs(ours - level).min() < 1e-3


@pytest.mark.parametrize("seed", range(3))
def test_two_kinds_agree_with_the_accelerated_life_model_of_lifelines(seed: int) -> None:
    import lifelines

    first, second = sample(seed, number=40), sample(seed + 50, number=40)
    both = pd.DataFrame(
        {
            "age": np.concatenate([first.good, second.good]),
            "failed": np.concatenate([~first.suspended, ~second.suspended]),
            "second": np.repeat([0.0, 1.0], [40, 40]),
        }
    )
    other = lifelines.WeibullAFTFitter().fit(both, "age", "failed")
    ours = compare_kinds(first, second)
    assert ours.ratio == pytest.approx(math.exp(other.params_["lambda_", "second"]), rel=1e-4)
    assert ours.shape == pytest.approx(math.exp(other.params_["rho_", "Intercept"]), rel=1e-4)
    test = other.log_likelihood_ratio_test()
    assert ours.chance_same == pytest.approx(float(test.p_value), rel=1e-3)
