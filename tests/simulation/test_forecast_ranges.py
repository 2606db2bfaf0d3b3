"""Nine-in-ten ranges of forecasts hold nine times in ten, over simulated fleets of six failures.

The truth is drawn as the tool believes beforehand (shape about 2, scale unknown), so that ranges
must hold 90 % of it; joints then fail by the true law.
"""

from __future__ import annotations

import math

import numpy as np

from depth import sized
from proof import noted, proves
from simulation.fleets import drawn_fleet
from splicewright.history.life.draws import count_law_over, range_of_count, ranges_of
from splicewright.history.life.lives import lives_of
from splicewright.history.life.pooling_fleet import pool_many

pytestmark = proves(
    "Wear and life",
    "Ranges of forecasts hold nine times in ten",
    "B",
    "Fleets of six failures drawn as the tool believes beforehand.",
    doubt="Only as good as that belief: a fleet that ages otherwise is not covered.",
    tolerance="87 to 93 % and 2.6 standard errors",
    sketch="weibull",
)


def test_ranges_hold_nine_times_in_ten() -> None:
    rng = np.random.default_rng(5)
    runs = sized(25, deep=1000)
    held: dict[str, list[float]] = {
        n: [] for n in ("chance", "tenth", "half left", "shape", "count")
    }
    for _ in range(runs):
        fleet = drawn_fleet(rng)
        lives = lives_of(
            [*fleet.failed, fleet.now], [*fleet.failed, math.inf], count=[1] * 6 + [fleet.running]
        )
        laws = pool_many({"K1": lives}).draws()
        one, new, now = np.zeros(1, dtype=np.intp), np.zeros(1), np.array([fleet.now])
        further = 0.25 * fleet.now
        chance = laws.chance_of_failing(one, now, np.array([further]))
        true = fleet.chance(further)
        tenth = fleet.scale * (-math.log(0.9)) ** (1 / fleet.shape)
        spent = (fleet.now / fleet.scale) ** fleet.shape + math.log(2)
        left = fleet.scale * spent ** (1 / fleet.shape) - fleet.now
        for name, drawn, truth in (
            ("chance", chance[:, 0], true),
            ("tenth", laws.age_left(one, new, 0.1)[:, 0], tenth),
            ("half left", laws.age_left(one, now, 0.5)[:, 0], left),
            ("shape", laws.shape, fleet.shape),
        ):
            low, high = ranges_of(drawn)  # what the forecasts take
            held[name].append(bool(low <= truth <= high))
        counts = range_of_count(count_law_over(np.repeat(chance, fleet.running, axis=1)))
        fails = int(rng.binomial(fleet.running, true))
        held["count"].append(counts.low <= fails <= counts.high)
    error = 2.6 * math.sqrt(0.09 / runs)
    for name, inside in held.items():
        share = float(np.mean(inside))
        noted(
            f"{name}: share of {runs} fleets held",
            share,
            0.9,
            0.1 if name == "count" else 0.03 + error,
        )
        # whole numbers: the range of a count holds more than 90 %, never less
        assert 0.87 - error <= share <= (1.0 if name == "count" else 0.93 + error), (name, share)
