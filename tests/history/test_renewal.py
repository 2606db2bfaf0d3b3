"""Renewal by age and in blocks: closed forms, simulation, invariants, refusals."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from depth import examples
from splicewright.errors import InputError
from splicewright.history.life.mixture import Mixture
from splicewright.history.life.weibull import Weibull
from splicewright.history.renewal import (
    age_cost,
    mean_run,
    renew_at_age,
    renew_at_age_if_costs_differ,
)


@given(shape=st.floats(0.5, 6.0), age=st.floats(0.01, 5.0))
def test_mean_run_is_the_integral_of_the_share_good(shape: float, age: float) -> None:
    law = Weibull(shape, 1.0)
    expected, _ = quad(lambda t: math.exp(-(t**shape)), 0, age, epsabs=1e-12)
    assert float(mean_run(law, age)) == pytest.approx(expected, rel=1e-8)


@given(ratio=st.floats(1.5, 50.0))
def test_for_shape_two_the_cost_is_two_ages(ratio: float) -> None:
    # h(T) = 2 T at scale 1, and the least cost is (unplanned - planned) h(T)
    rule = renew_at_age(Weibull(2.0, 1.0), 1.0, ratio)
    assert rule.cost == pytest.approx(2 * rule.age * (ratio - 1), rel=1e-9)


@settings(max_examples=examples(40), deadline=None)
@given(shape=st.floats(1.2, 6.0), ratio=st.floats(1.5, 50.0))
def test_no_other_age_costs_less(shape: float, ratio: float) -> None:
    law = Weibull(shape, 1000.0)
    rule = renew_at_age(law, 1.0, ratio)
    if math.isinf(rule.age):
        return
    ages = np.geomspace(rule.age / 5, rule.age * 5, 400)
    cost = age_cost(Mixture((law,), (1.0,)), 1.0, ratio, ages)
    assert float(cost.min()) >= rule.cost * (1 - 1e-12)
    assert rule.cost <= rule.run_to_failure * (1 + 1e-12)
    within = cost <= 1.05 * rule.cost
    inside = (ages >= rule.low) & (ages <= rule.high)
    assert (within == inside).mean() > 0.98


def test_dearer_failures_bring_the_renewal_forward() -> None:
    rules = renew_at_age_if_costs_differ(Weibull(2.5, 1000.0), 1.0, 5.0)
    assert rules.double.age < rules.stated.age < rules.half.age
    dear_renewal = renew_at_age(Weibull(2.5, 1000.0), 2.0, 5.0)
    assert rules.half.age == pytest.approx(dear_renewal.age)


@pytest.mark.parametrize(
    ("law", "unplanned", "words"),
    [
        (Weibull(1.0, 1.0), 5.0, "renewing in time saves nothing: run to failure, and inspect"),
        (Weibull(0.8, 1.0), 5.0, "renewing in time saves nothing: run to failure, and inspect"),
        (Weibull(3.0, 1.0), 1.0, "a failure costs no more than a planned renewal: run to failure"),
    ],
)
def test_where_nothing_is_gained_run_to_failure(law: Weibull, unplanned: float, words: str) -> None:
    rule = renew_at_age(law, 1.0, unplanned)
    assert math.isinf(rule.age)
    assert rule.cost == rule.run_to_failure == pytest.approx(unplanned / law.mean)
    assert rule.saving == 0.0
    assert rule.sentence == words


def test_a_saving_too_small_is_said() -> None:
    assert renew_at_age(Weibull(1.5, 1.0), 1.0, 2.0).sentence.endswith("too little to plan for")


def test_doubt_about_the_law_is_in_the_answer() -> None:
    one = renew_at_age(Weibull(3.0, 1000.0), 1.0, 10.0)
    same = Mixture((Weibull(3.0, 1000.0), Weibull(3.0, 1000.0)), (0.3, 0.7))
    assert renew_at_age(same, 1.0, 10.0).age == pytest.approx(one.age, rel=1e-6)
    wide = Mixture((Weibull(3.0, 500.0), Weibull(3.0, 2000.0)), (0.5, 0.5))
    rule = renew_at_age(wide, 1.0, 10.0)
    assert renew_at_age(Weibull(3.0, 500.0), 1.0, 10.0).age < rule.age
    assert rule.age < renew_at_age(Weibull(3.0, 2000.0), 1.0, 10.0).age


def test_age_cost_agrees_with_simulation() -> None:
    # 200 000 renewal cycles: standard error of the cost about 0.2 %
    rng = np.random.default_rng(3)
    life = 1000 * rng.weibull(2.5, 200_000)
    ran, failed = np.minimum(life, 600), life < 600
    simulated = float(np.where(failed, 5.0, 1.0).sum() / ran.sum())
    law = Mixture((Weibull(2.5, 1000.0),), (1.0,))
    assert float(age_cost(law, 1.0, 5.0, 600.0)) == pytest.approx(simulated, rel=0.01)


def test_costs_that_cannot_be_are_refused() -> None:
    with pytest.raises(InputError) as caught:
        renew_at_age(Weibull(2.0, 1.0), 0.0, math.nan)
    assert str(caught.value) == (
        "cost of a planned renewal: 0 must be a finite number above zero\n"
        "cost of a failure: nan must be a finite number above zero"
    )
