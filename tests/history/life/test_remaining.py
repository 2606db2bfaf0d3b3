"""What is left of a joint and of a fleet: closed forms, invariants, refusals."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from depth import examples
from splicewright.errors import InputError
from splicewright.history.life.limits import likelihood_region
from splicewright.history.life.lives import lives_of
from splicewright.history.life.remaining import (
    age_left,
    chance_limits,
    chance_of_failing,
    count_law,
    fleet_limits,
    forecast_fleet,
    mean_left,
    what_is_left,
)
from splicewright.history.life.weibull import Weibull, fit_weibull

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


@settings(deadline=None)
@given(shape=shapes, age=st.floats(0.0, 3000.0))
def test_mean_left_is_the_integral_of_the_share_still_good(shape: float, age: float) -> None:
    law = Weibull(shape, 1000.0)
    # in units of the spent hazard u: t = (H + u)^(1/shape) - a, weighted by exp(-u)
    spent = float(law.hazard_sum(age))
    expected, _ = quad(
        lambda u: (1000 * (spent + u) ** (1 / shape) - age) * math.exp(-u), 0, 60, limit=500
    )
    assert mean_left(law, age) == pytest.approx(expected, rel=2e-6)


def test_mean_left_of_a_new_joint_is_the_mean_life() -> None:
    law = Weibull(2.3, 700.0)
    assert mean_left(law, 0.0) == pytest.approx(law.mean, rel=1e-12)


def test_both_ways_to_the_mean_meet() -> None:
    law = Weibull(2.0, 1.0)
    # for shape 2 the mean left at a is sqrt(pi)/2 erfcx(a); near 1/(2 a) far out
    from scipy.special import erfcx

    for age in (9.9, 10.1, 50.0):
        expected = math.sqrt(math.pi) / 2 * float(erfcx(age))
        assert mean_left(law, age) == pytest.approx(expected, rel=1e-9)


def test_what_is_left_in_order() -> None:
    left = what_is_left(Weibull(2.5, 1000.0), 600.0)
    assert 0 < left.tenth < left.half < left.most
    assert left.tenth < left.mean < left.most


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


def test_fleet_counts_each_joint_by_its_own_age() -> None:
    law = Weibull(3.0, 1000.0)
    fleet = forecast_fleet(law, [100.0, 900.0, 500.0], [200.0, 100.0, 200.0])
    each = [float(chance_of_failing(law, a, t)) for a, t in ((100, 200), (900, 100), (500, 200))]
    assert fleet.chance.tolist() == pytest.approx(each)
    assert fleet.expected == pytest.approx(sum(each))
    assert fleet.probability[0] == pytest.approx(math.prod(1 - c for c in each))
    assert fleet.at_least(1) == pytest.approx(1 - math.prod(1 - c for c in each))
    assert fleet.worst_first() == (1, 2, 0)


def test_kits_that_are_enough_leave_less_than_the_allowed_chance() -> None:
    fleet = forecast_fleet(Weibull(2.0, 1000.0), np.linspace(0, 900, 60), 200.0)
    kits = fleet.enough_for(0.95)
    assert fleet.at_least(kits + 1) <= 0.05 < fleet.at_least(kits)


def test_limits_hold_the_forecast() -> None:
    rng = np.random.default_rng(8)
    life = 1000 * rng.weibull(2.0, 15)
    fit = fit_weibull(lives_of(life, life))
    region = likelihood_region(fit)
    one = chance_limits(region, 500.0, 200.0)
    assert one.low < float(chance_of_failing(fit.law, 500.0, 200.0)) < one.high
    many = fleet_limits(region, np.full(10, 500.0), 200.0)
    assert many.low == pytest.approx(10 * one.low, rel=1e-6)
    assert many.high == pytest.approx(10 * one.high, rel=1e-6)


def test_limits_of_a_chance_stay_between_zero_and_one_where_laws_run_away() -> None:
    # two failures among three joints watched late rule out next to nothing
    lives = lives_of(
        [6380.668, 9247.634, 10328.698],
        [6380.668, math.inf, 10328.698],
        entered=[2959.321, 6937.658, 7103.102],
    )
    region = likelihood_region(fit_weibull(lives))
    for age, further in ((0.0, 100.0), (0.0, 1e5), (9000.0, 500.0), (2e4, 1e4)):
        limits = chance_limits(region, age, further)
        middle = float(chance_of_failing(region.fit.law, age, further))
        assert 0 <= limits.low <= middle <= limits.high <= 1
    assert fleet_limits(region, np.full(4, 9000.0), 500.0).high <= 4


def test_ages_that_cannot_be_are_refused() -> None:
    law = Weibull(2.0, 1000.0)
    with pytest.raises(InputError) as caught:
        chance_of_failing(law, [10.0, -4.0], 5.0)
    assert str(caught.value) == ("age: -4 cannot be; accepted is a finite number of zero or more")
    with pytest.raises(InputError, match="further run: inf cannot be"):
        chance_of_failing(law, 10.0, math.inf)
    with pytest.raises(InputError, match="fleet: holds no joint"):
        forecast_fleet(law, [], 5.0)
