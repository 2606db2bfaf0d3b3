"""Renew now or at the stop after, and the worth of an inspection, against simulated single joints.

Source of what is expected: a Monte Carlo simulation written here, joint by joint, in which damage
shows H before the failure, the inspection sees it or not, and every decision is the one stated;
for chance failures the closed forms of the exponential law.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from depth import sized
from splicewright.errors import InputError
from splicewright.history.arrays import Array
from splicewright.history.life.draws import Draws
from splicewright.history.planner.next_stop import (
    PlannerCosts,
    WarningTime,
    between_stops,
    choose_at_stop,
    long_run_rates,
    renewal_age,
    worth_of_look,
)

COSTS = PlannerCosts(planned=3000.0, failure=24000.0, look=120.0)
ONE = np.zeros(1, dtype=np.intp)


def laws(*pairs: tuple[float, float], unit: float = 1000.0) -> Draws:
    """Laws of one group: (shape, scale)."""
    shape = np.array([b for b, _ in pairs])
    return Draws(shape, np.array([[(s / unit) ** -b] for b, s in pairs]), unit)


def _rates(drawn: Draws, costs: PlannerCosts = COSTS) -> Array:
    return long_run_rates(drawn, costs)


@pytest.mark.parametrize(
    ("age", "first", "second", "mean", "found"),
    [(6800.0, 300.0, 1500.0, 700.0, 0.8), (2000.0, 600.0, 1100.0, 300.0, 1.0),
     (5200.0, 1.0, 2500.0, 2000.0, 0.6), (6100.0, 900.0, 1300.0, 150.0, 0.9)],
)  # fmt: skip
def test_the_worth_of_an_inspection_is_what_a_simulation_saves(
    age: float, first: float, second: float, mean: float, found: float
) -> None:
    drawn = laws((2.6, 8000.0))
    rate = _rates(drawn)
    told = worth_of_look(
        drawn, ONE, np.array([age]), np.array([first]), np.array([second]), rate, COSTS,
        WarningTime(mean, mean, mean, found),
    )  # fmt: skip
    between = between_stops(drawn, ONE, np.array([age]), np.array([first]), np.array([second]))
    choice = choose_at_stop(between, rate, COSTS.dearer)
    rng = np.random.default_rng(11)
    number = sized(400_000, deep=4_000_000)
    spent = (age / 8000.0) ** 2.6 + rng.exponential(size=number)
    fails = 8000.0 * spent ** (1 / 2.6) - age
    seen = (rng.exponential(mean, number) > fails) & (rng.random(number) < found)
    g, dear = float(rate[0, 0]), COSTS.dearer

    def cost(runs: Array, renew_at_first: bool) -> Array:
        """Failures until the second stop, less what running is worth between the stops."""
        early = np.where(fails <= first, dear, 0.0)
        if renew_at_first:
            return np.asarray(early * runs)
        late = np.where((fails > first) & (fails <= second), dear, 0.0)
        run = np.clip(fails, first, second) - first
        return np.asarray((early + late - g * run) * runs)

    left, renewed = (cost(np.ones(number), way).mean() for way in (False, True))
    error = 4 * dear / math.sqrt(number)
    assert float(choice.leave[0]) == pytest.approx(left - renewed, abs=error)
    without = min(left, renewed)
    lost = g * np.minimum(fails, first) * seen  # renewed at once, they run no further
    goes_on = (~seen).astype(float)
    with_look = COSTS.look + lost.mean() + min(
        cost(goes_on, way).mean() for way in (False, True)
    )  # fmt: skip
    assert float(told.worth[0]) == pytest.approx(without - with_look, abs=error)
    assert float(told.seen[0]) == pytest.approx(seen.mean(), abs=4 / math.sqrt(number))
    saves = (seen & (fails <= second)).mean()
    assert float(told.saved[0]) == pytest.approx(saves, abs=4 / math.sqrt(number))


def test_chance_failures_are_left_and_an_inspection_is_worth_what_it_sees() -> None:
    """Exponential life, mean m: run to failure, g = c_f/m, and leaving gains c_p R/m."""
    drawn = laws((1.0, 5000.0))
    rule, rates = renewal_age(drawn, 0, COSTS), long_run_rates(drawn, COSTS)
    assert rule.age == math.inf and rates[0, 0] == pytest.approx(COSTS.failure / 5000.0)
    first, second = np.array([500.0]), np.array([1200.0])
    between = between_stops(drawn, ONE, np.array([3333.0]), first, second)
    choice = choose_at_stop(between, rates, COSTS.dearer)
    run = 5000.0 * (math.exp(-0.1) - math.exp(-0.24))
    assert float(choice.leave[0]) == pytest.approx(-COSTS.planned * run / 5000.0, rel=1e-6)
    look = worth_of_look(
        drawn, ONE, np.array([3333.0]), first, second, rates, COSTS,
        WarningTime(400.0, 400.0, 400.0),
    )  # fmt: skip
    share = 400 / (400 + 5000.0)  # h/(h + m)
    assert float(look.seen[0]) == pytest.approx(share, rel=2e-3)
    # Seen and still running at t: share exp(-k t), k = 1/h + 1/m, and its integral is h m/(h + m)
    # of what it falls by. A failure spared gains c_f - c_p and costs what it had yet run, by g.
    falls = 1 - math.exp(-1200 * (1 / 400 + 1 / 5000))
    assert float(look.saved[0]) == pytest.approx(share * falls, rel=2e-3)
    worth = share * falls * (COSTS.dearer - COSTS.failure * share) - COSTS.look
    assert float(look.worth[0]) == pytest.approx(worth, rel=2e-3)


def test_the_age_is_that_of_the_long_run_and_leaving_turns_there() -> None:
    """At the cheapest age the next short stretch costs just as much as the long run."""
    drawn = laws((3.0, 8000.0))
    rule = renewal_age(drawn, 0, COSTS)
    short = np.array([1e-6]), np.array([1.0])
    rates = long_run_rates(drawn, COSTS)
    before, after = (
        float(
            choose_at_stop(
                between_stops(drawn, ONE, np.array([rule.age * f]), *short), rates, 21000.0
            ).leave[0]
        )
        for f in (0.97, 1.03)
    )
    assert before < 0 < after


def test_doubt_about_the_law_is_in_the_range_and_the_mean_decides() -> None:
    drawn = laws((2.0, 6000.0), (3.0, 9000.0), (2.5, 7000.0), (2.2, 12000.0))
    rates = _rates(drawn)
    ages, first, second = np.array([5000.0]), np.array([300.0]), np.array([1500.0])
    choice = choose_at_stop(between_stops(drawn, ONE, ages, first, second), rates, COSTS.dearer)
    alone = [
        float(choose_at_stop(between_stops(laws(pair), ONE, ages, first, second),
                             _rates(laws(pair)), COSTS.dearer).leave[0])
        for pair in ((2.0, 6000.0), (3.0, 9000.0), (2.5, 7000.0), (2.2, 12000.0))
    ]  # fmt: skip
    assert choice.by_law[:, 0] == pytest.approx(alone, rel=2e-2)
    assert float(choice.leave[0]) == pytest.approx(np.mean(alone), rel=2e-2)
    span = choice.span(0)
    assert span.low < float(choice.leave[0]) < span.high


def test_a_warning_time_is_drawn_between_its_limits() -> None:
    drawn = WarningTime(400.0, 150.0, 1600.0).draws(20_000)
    low, middle, high = np.quantile(drawn, [0.05, 0.5, 0.95])
    assert (low, middle, high) == pytest.approx((150.0, 400.0, 1600.0), rel=0.02)
    assert set(WarningTime(400.0, 400.0, 400.0).draws(5)) == {400.0}


def test_costs_that_cannot_be() -> None:
    with pytest.raises(InputError, match="above zero"):
        PlannerCosts(0.0, 1.0)
    assert COSTS.if_failure(2.0).failure == 48000.0
