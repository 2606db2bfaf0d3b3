"""Laws in doubt, as many as stand for all."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from depth import sized
from splicewright.errors import InputError
from splicewright.history.life.few_failures import drawn_laws
from splicewright.history.life.lives import lives_of
from splicewright.history.life.mixture import Mixture
from splicewright.history.life.pooling import Prior
from splicewright.history.life.weibull import Weibull
from splicewright.history.renewal import renew_at_age


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
    mixture = drawn_laws(lives_of(life, life), Prior()).mixture()
    assert math.fsum(mixture.weights) == pytest.approx(1.0)
    rule = renew_at_age(mixture, 1.0, 5.0)
    assert 0 < rule.cost <= rule.run_to_failure * (1 + 1e-9)
    assert rule.low <= rule.age
