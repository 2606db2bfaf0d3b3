"""What is left of a joint and of a fleet: closed forms, invariants, refusals."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from depth import examples
from splicewright.errors import InputError
from splicewright.history.life.remaining import (
    age_left,
    chance_of_failing,
    count_law,
)
from splicewright.history.life.weibull import Weibull

shapes = st.floats(0.4, 6.0)
ages = st.floats(0.0, 5000.0)


@given(age=ages, further=st.floats(0.0, 3000.0))
def test_chance_alone_has_no_memory(age: float, further: float) -> None:
    law = Weibull(1.0, 1000.0)
    expected = 1 - math.exp(-further / 1000)
    assert float(chance_of_failing(law, age, further)) == pytest.approx(expected, abs=1e-9)


@given(shape=shapes, age=ages, first=st.floats(0.0, 900.0), second=st.floats(0.0, 900.0))
def test_two_windows_in_a_row_make_one(
    shape: float, age: float, first: float, second: float
) -> None:
    law = Weibull(shape, 1000.0)
    good = (1 - chance_of_failing(law, age, first)) * (
        1 - chance_of_failing(law, age + first, second)
    )
    whole = 1 - chance_of_failing(law, age, first + second)
    assert float(good) == pytest.approx(float(whole), abs=1e-9)


@given(shape=shapes, age=ages, share=st.floats(0.01, 0.99))
def test_age_left_undoes_the_chance(shape: float, age: float, share: float) -> None:
    law = Weibull(shape, 1000.0)
    left = age_left(law, age, share)
    assert float(chance_of_failing(law, age, left)) == pytest.approx(share, abs=1e-6)


@pytest.mark.parametrize(
    ("age", "further", "said"),
    [(-1.0, 5.0, "age: -1"), (5.0, math.nan, "further run: nan"), ([3.0, -2.0], 5.0, "age: -2"),
     (math.inf, 5.0, "age: inf")],
)  # fmt: skip
def test_ages_that_cannot_be_are_refused(age: float, further: float, said: str) -> None:
    with pytest.raises(InputError) as caught:
        chance_of_failing(Weibull(2.0, 1000.0), age, further)
    assert str(caught.value) == f"{said} cannot be; accepted is a finite number of zero or more"


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
