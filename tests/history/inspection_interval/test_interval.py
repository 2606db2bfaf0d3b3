"""Intervals between looks: closed forms, simulation, and when looking does not pay."""

import math
from functools import partial

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from splicewright.errors import InputError
from splicewright.history.arrays import Array
from splicewright.history.inspection_interval.interval import (
    InspectionCosts,
    best_interval,
    inspect_by_cost,
    missed_if_delay_is_fixed,
    missed_if_delay_is_random,
    missed_if_delay_is_weibull,
)
from splicewright.history.life.weibull import Weibull


def test_shares_missed_in_closed_form() -> None:
    # 1 - (1 - e^-x)/x
    shares = missed_if_delay_is_random(4.0, np.array([1.0, 2.0, 4.0, 8.0]))
    expected = [1 - (1 - math.exp(-x)) / x for x in (0.25, 0.5, 1.0, 2.0)]
    np.testing.assert_allclose(shares, expected, rtol=1e-12)


@given(interval=st.floats(0.05, 20.0))
def test_a_weibull_delay_of_shape_one_is_the_random_one(interval: float) -> None:
    ours = float(missed_if_delay_is_weibull(Weibull(1.0, 2.0), interval))
    assert ours == pytest.approx(float(missed_if_delay_is_random(2.0, interval)), abs=1e-9)


def test_a_very_sharp_weibull_delay_is_nearly_fixed() -> None:
    for interval in (0.5, 0.9, 2.0, 5.0):
        sharp = float(missed_if_delay_is_weibull(Weibull(400.0, 1.0), interval))
        assert sharp == pytest.approx(float(missed_if_delay_is_fixed(1.0, interval)), abs=5e-3)


@pytest.mark.parametrize(("x", "found"), [(1.0, 0.7), (0.5, 0.6), (2.0, 1.0)])
def test_looks_that_miss_agree_with_simulation(x: float, found: float) -> None:
    # 400 000 damages: standard error below 0.001
    rng = np.random.default_rng(2)
    delay = rng.exponential(1.0, 400_000)
    first = rng.uniform(0, x, delay.size)
    needed = rng.geometric(found, delay.size)
    missed = float((first + (needed - 1) * x > delay).mean())
    assert float(missed_if_delay_is_random(1.0, x, found)) == pytest.approx(missed, abs=0.004)


@given(interval=st.floats(0.1, 10.0), found=st.floats(0.1, 1.0))
def test_worse_looks_miss_more(interval: float, found: float) -> None:
    better = float(missed_if_delay_is_random(1.0, interval))
    assert better - 1e-12 <= float(missed_if_delay_is_random(1.0, interval, found)) <= 1


def test_half_the_delay_is_safe_only_when_it_is_fixed() -> None:
    assert float(missed_if_delay_is_fixed(2.0, 1.0)) == 0.0
    assert float(missed_if_delay_is_random(2.0, 1.0)) == pytest.approx(0.2131, abs=1e-4)


def test_where_no_interval_pays_it_is_said() -> None:
    missed = partial(missed_if_delay_is_random, 30.0)

    def lost(interval: Array) -> Array:  # share of time lost to failures of 0.5, looks of 0.083
        return (0.005 * interval * missed(interval) * 0.5 + 0.083) / (interval + 0.083)

    rule = best_interval(lost, missed, 0.1, 3000.0)
    assert math.isinf(rule.interval)
    assert rule.sentence.startswith("no interval pays: damage is too rare")


def test_where_the_shortest_is_best_it_is_said() -> None:
    missed = partial(missed_if_delay_is_random, 1.0)
    rules = inspect_by_cost(1.0, missed, InspectionCosts(0.0, 1.0, 10.0), 0.1, 10.0)
    assert rules.stated.interval == 0.1
    assert rules.stated.sentence.startswith("inspect as often as you can")


def test_cost_optimum_moves_with_the_cost_of_a_failure() -> None:
    missed = partial(missed_if_delay_is_random, 500.0)
    rules = inspect_by_cost(1e-3, missed, InspectionCosts(20.0, 400.0, 5000.0), 1.0, 5000.0)
    assert rules.double.interval < rules.stated.interval < rules.half.interval
    # small x: b = x/2, so T = sqrt(2 look mean/(rate (failure - repair))) nearly
    rough = math.sqrt(2 * 20 * 500 / (1e-3 * 4600))
    assert rules.stated.interval == pytest.approx(rough, rel=0.08)


def test_inputs_that_cannot_be_are_refused() -> None:
    missed = partial(missed_if_delay_is_random, 1.0)
    with pytest.raises(InputError) as caught:
        missed_if_delay_is_random(1.0, 1.0, 0.0)
    assert str(caught.value) == (
        "chance that an inspection finds damage: 0 is no chance; accepted is above 0 and up to 1"
    )
    with pytest.raises(InputError, match="cost of a look: -1 must be a finite number of zero"):
        InspectionCosts(-1.0, 1.0, 1.0)
    with pytest.raises(InputError, match="rate of damage: 0 must be a finite number above zero"):
        inspect_by_cost(0.0, missed, InspectionCosts(1.0, 1.0, 2.0), 1.0, 2.0)
    with pytest.raises(InputError, match="interval: 2 to 1 is no range"):
        best_interval(missed, missed, 2.0, 1.0)
