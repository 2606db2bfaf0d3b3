"""Failures to expect of a fleet: closed forms and invariants."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from depth import examples
from splicewright.history.life.remaining import count_law


@settings(max_examples=examples(50), deadline=None)
@given(chance=st.lists(st.floats(0.0, 1.0), min_size=1, max_size=40))
def test_count_law_has_the_mean_and_spread_of_its_draws(chance: list[float]) -> None:
    law = count_law(chance)
    p, number = np.array(chance), np.arange(len(chance) + 1)
    assert law.shape == (len(chance) + 1,)
    assert float(law.sum()) == pytest.approx(1.0, abs=1e-12)
    assert float(law @ number) == pytest.approx(float(p.sum()), abs=1e-9)
    variance = float(law @ number**2 - (law @ number) ** 2)
    assert variance == pytest.approx(float((p * (1 - p)).sum()), abs=1e-7)


def test_count_law_of_equal_draws_is_binomial() -> None:
    expected = [math.comb(30, k) * 0.2**k * 0.8 ** (30 - k) for k in range(31)]
    np.testing.assert_allclose(count_law(np.full(30, 0.2)), expected, atol=1e-14)
