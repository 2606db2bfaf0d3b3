"""Laws in doubt: their weights follow the likelihood."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from depth import sized
from splicewright.errors import InputError
from splicewright.history.life.lives import lives_of
from splicewright.history.life.mixture import Mixture, laws_around
from splicewright.history.life.weibull import Weibull, fit_weibull
from splicewright.history.renewal import renew_at_age


def test_many_lives_leave_laws_spread_as_the_curvature_says() -> None:
    rng = np.random.default_rng(1)
    life = 1000 * rng.weibull(2.0, 3000)
    fit = fit_weibull(lives_of(life, life))
    mixture = laws_around(fit)
    w = np.array(mixture.weights)
    log_shape = np.log([law.shape for law in mixture.laws])
    mean = float(w @ log_shape)
    spread = math.sqrt(float(w @ (log_shape - mean) ** 2))
    assert mean == pytest.approx(math.log(fit.law.shape), abs=2e-3)
    assert spread == pytest.approx(math.sqrt(fit.covariance[1, 1]), rel=0.03)


def test_few_lives_agree_with_a_fine_grid() -> None:
    # the same posterior mean of ln shape by brute force on a grid of 300 x 300
    from splicewright.history.life.weibull import log_likelihood

    life = np.array([300.0, 500.0, 650.0, 700.0, 1200.0])
    fit = fit_weibull(lives_of(life, life))
    mixture = laws_around(fit, 25)
    ours = float(np.dot(mixture.weights, np.log([law.shape for law in mixture.laws])))
    s, mu = np.meshgrid(np.linspace(-2, 3, 300), np.linspace(4, 10, 300))
    share = np.exp(log_likelihood(fit.lives, np.exp(s), np.exp(mu)) - fit.loglik)
    assert ours == pytest.approx(float((share * s).sum() / share.sum()), abs=0.01)


def test_weights_that_are_none_are_refused() -> None:
    law = Weibull(2.0, 1.0)
    with pytest.raises(InputError) as caught:
        Mixture((law,), (0.5,))
    assert str(caught.value) == (
        "weights: sum to 0.5; accepted are weights of zero or more that sum to 1"
    )
    with pytest.raises(InputError, match="weights: 2 for 1 laws; give one for each law"):
        Mixture((law,), (0.5, 0.5))


@settings(max_examples=sized(10, deep=300), deadline=None)
@given(seed=st.integers(0, 10_000), number=st.integers(3, 8))
def test_a_handful_of_lives_gives_weights_and_a_rule(seed: int, number: int) -> None:
    life = 1000 * np.random.default_rng(seed).weibull(2.0, number)
    mixture = laws_around(fit_weibull(lives_of(life, life)))
    assert math.fsum(mixture.weights) == pytest.approx(1.0)
    rule = renew_at_age(mixture, 1.0, 5.0)
    assert 0 < rule.cost <= rule.run_to_failure * (1 + 1e-9)
    assert rule.low <= rule.age
