"""Ranges of what leaving a joint costs and of what an inspection is worth hold nine times in ten.

The truth is drawn as the tool believes beforehand (`simulation.fleets`); what the same question
costs by the true law is worked with that one law alone, which `tests/history/planner` checks joint
by joint against a simulation.
"""

from __future__ import annotations

import math

import numpy as np

from depth import sized
from simulation.fleets import drawn_fleet
from splicewright.history.life.draws import Draws, range_of
from splicewright.history.life.lives import lives_of
from splicewright.history.life.pooling_fleet import pool_many
from splicewright.history.planner.next_stop import (
    PlannerCosts,
    WarningTime,
    choose_at_stop,
    long_run_rates,
    renewal_age,
    worth_of_look,
)

COSTS = PlannerCosts(3000.0, 24000.0, 0.0)


def test_what_leaving_costs_and_an_inspection_is_worth_lie_in_their_ranges() -> None:
    rng = np.random.default_rng(8)
    runs = sized(25, deep=600)
    held: dict[str, list[float]] = {name: [] for name in ("leave", "worth", "age")}
    one = np.zeros(1, dtype=np.intp)
    for _ in range(runs):
        fleet = drawn_fleet(rng)
        lives = lives_of(
            [*fleet.failed, fleet.now], [*fleet.failed, math.inf], count=[1] * 6 + [fleet.running]
        )
        known = pool_many({"K1": lives}).draws()
        true = Draws(
            np.array([fleet.shape]), np.array([[(fleet.scale / known.unit) ** -fleet.shape]]),
            known.unit,
        )  # fmt: skip
        ahead = np.array([fleet.now]), np.array([300.0]), np.array([1200.0])
        seen = WarningTime(500.0, 500.0, 500.0, 0.8)
        leaves, worths = [], []
        for laws in (known, true):
            rates = long_run_rates(laws, COSTS)
            leaves.append(choose_at_stop(laws, one, *ahead, rates, COSTS.dearer).by_law[:, 0])
            worths.append(worth_of_look(laws, one, *ahead, rates, COSTS, seen).by_law[:, 0])
        span = range_of(leaves[0])
        held["leave"].append(span.low <= leaves[1][0] <= span.high)
        # By the true law alone the decision may be the other one; where it is the same, it counts.
        if (leaves[0].mean() < 0) == (leaves[1][0] < 0):
            span = range_of(worths[0])
            held["worth"].append(span.low <= worths[1][0] <= span.high)
        age = renewal_age(known, 0, COSTS).span
        held["age"].append(age.low <= renewal_age(true, 0, COSTS).age <= age.high)
    for name, inside in held.items():
        share, error = float(np.mean(inside)), 2.6 * math.sqrt(0.09 / len(inside))
        # An age is at its bound where running to failure is as cheap: then the range holds more.
        assert 0.87 - error <= share <= (1.0 if name == "age" else 0.95 + error), (name, share)
