"""The planner's nine-in-ten ranges hold nine times in ten: dates, renewal age, savings, readings.

Fleets are drawn as the tool believes beforehand (shape about 2, scale unknown) and seen until six
joints failed, as in `test_forecast_ranges`. The truth is written out here from the true law; what
an inspection really saves is worked by the tool with the true law and checked by itself against
single simulated joints (`history/planner/test_next_stop.py`). Lines of wear end anywhere from
before today to long after the second stop, as flat beliefs have it; what a reading really saves is
counted on the true line, over all that the gauge may show.

The whole table is printed by `cd tests && python -m simulation.test_planner_ranges 1000`.
"""

from __future__ import annotations

import math
import sys
from collections import defaultdict
from datetime import date, timedelta

import numpy as np
from scipy.special import ndtr

from depth import sized
from proof import noted, proves
from simulation.fleets import Fleet, drawn_fleet
from splicewright.history.fleet.joints import FleetJoint
from splicewright.history.fleet.study import study_fleet
from splicewright.history.life.draws import Draws
from splicewright.history.life.limits import Limits
from splicewright.history.life.lives import failed, lives_of, running
from splicewright.history.life.pooling_fleet import pool_many
from splicewright.history.life.weibull import Weibull
from splicewright.history.planner.next_reading import WornPlace, _leave, _with, worth_of_reading
from splicewright.history.planner.next_stop import (
    PlannerCosts,
    WarningTime,
    between_stops,
    choose_at_stop,
    long_run_rates,
    renewal_age,
    worth_of_look,
)
from splicewright.history.renewal import renew_at_age
from splicewright.history.wear.line import fit_line

pytestmark = proves(
    "Wear and life",
    "Ranges of the planner's page hold nine times in ten",
    "B",
    "Fleets of six failures drawn as the tool believes beforehand; lines of wear known for sure.",
    doubt="Only as good as that belief: a fleet that ages otherwise is not covered.",
    tolerance="87 to 93 % and 2.6 standard errors",
    sketch="weibull",
)

COSTS = PlannerCosts(3000.0, 24000.0, 100.0)
TODAY = date(2026, 11, 28)
ONE = np.zeros(1, dtype=np.intp)


def _inside(span: Limits, truth: float) -> bool:
    return span.low <= truth <= span.high or (math.isinf(truth) and math.isinf(span.high))


def _true_leave(fleet: Fleet, first: float, second: float, rate: float) -> float:
    """What leaving a joint at the coming stop costs by the true law: a plain sum of strips."""
    times = np.linspace(first, second, 2001)
    good = np.array([1 - fleet.chance(t) for t in times])
    run = float(((good[1:] + good[:-1]) / 2).sum() * (times[1] - times[0]))
    return float(COSTS.dearer * (good[0] - good[-1]) - rate * run)


def _of_laws(fleet: Fleet) -> dict[str, bool]:
    """Renewal age, what leaving and what an inspection saves, of one fleet."""
    lives = lives_of(
        [*fleet.failed, fleet.now], [*fleet.failed, math.inf], count=[1] * 6 + [fleet.running]
    )
    laws = pool_many({"K1": lives}).draws()
    truth = renew_at_age(
        Weibull(fleet.shape, fleet.scale), COSTS.planned, COSTS.failure, near=False
    )
    first, second = 0.1 * fleet.now, 0.3 * fleet.now
    ahead = ONE, np.array([fleet.now]), np.array([first]), np.array([second])
    rates = long_run_rates(laws, COSTS)
    choice = choose_at_stop(between_stops(laws, *ahead), rates, COSTS.dearer)
    # The true law as one more beside four hundred: what is decided stays, and it says the cost.
    true_rate = (fleet.scale / laws.unit) ** -fleet.shape
    more = Draws(np.append(laws.shape, fleet.shape), np.vstack([laws.rate, [[true_rate]]]),
                 laws.unit)  # fmt: skip
    warning = WarningTime(600.0, 600.0, 600.0, 0.8)
    look = worth_of_look(laws, *ahead, long_run_rates(laws, COSTS), COSTS, warning)
    true_look = worth_of_look(more, *ahead, long_run_rates(more, COSTS), COSTS, warning)
    return {
        "renewal age": _inside(renewal_age(laws, 0, COSTS).span, truth.age),
        "cost of leaving a joint": _inside(
            choice.span(0), _true_leave(fleet, first, second, truth.cost)
        ),
        "saved by an inspection": _inside(look.span(0), float(true_look.by_law[-1, 0])),
    }


def _of_dates(fleet: Fleet) -> dict[str, bool]:
    """The day by which half of joints so old have failed, as the fleet's list prints it, and the
    failures that come."""
    a_day, hour = 12 * 3600.0, 3600.0
    joints = [
        FleetJoint(f"F{n}", "K1", "", failed(t * hour), a_day, running=False)
        for n, t in enumerate(fleet.failed)
    ]
    joints += [FleetJoint("R", "K1", "", running(fleet.now * hour), a_day)] * fleet.running
    study = study_fleet(joints, today=TODAY, until=TODAY + timedelta(days=90))
    line = study.lines[0]
    spent = (fleet.now / fleet.scale) ** fleet.shape + math.log(2)
    left = fleet.scale * spent ** (1 / fleet.shape) - fleet.now
    low, high = line.half_range
    day = TODAY + timedelta(days=left / 12)
    assert line.chance_range is not None
    found = {"chance before the stop": _inside(line.chance_range, fleet.chance(90 * 12.0))}
    if line.half_by is not None and low is not None:  # no date is told far beyond the records
        found["date when half have failed"] = low <= day <= (high or date.max)
    return found


def _of_a_place(rng: np.random.Generator) -> dict[str, bool]:
    """What one more reading of a worn place really saves: counted on the true line."""
    uses, now, first, second = np.arange(0.0, 4001.0, 1000.0), 4000.0, 4300.0, 5000.0
    slope, scatter, end = -rng.uniform(0.6e-3, 1.4e-3), 0.3, rng.uniform(3000.0, 7500.0)
    limit = 10 + slope * end
    line = fit_line(uses, 10 + slope * uses + scatter * rng.standard_normal(uses.size))
    if not now < line.meets(limit) < 20_000 or line.at(now) <= limit:
        return {}
    costs = PlannerCosts(3000.0, 6000.0, 20.0)
    place = WornPlace(line, limit, now, first, second, line.meets(limit), rises=False)
    told = worth_of_reading(place, costs)
    if told.worth <= 0:
        return {}  # it is told that it does not pay, and no range
    fails = float(first < end <= second)
    run = min(max(end, first), second) - first
    true = costs.dearer * fails - costs.planned / place.life * run
    # How often the reading leads to leaving: between the readings at which the choice turns.
    spreads = np.linspace(-6, 6, 121)
    values = 10 + slope * now + scatter * spreads
    leave = np.array([_leave(_with(place, y), costs.dearer, costs.planned / place.life)
                      for y in values])  # fmt: skip
    turns = np.flatnonzero((leave[1:] < 0) != (leave[:-1] < 0))
    share = leave[turns] / (leave[turns] - leave[turns + 1])
    ends = np.concatenate([[-np.inf], spreads[turns] + 0.1 * share, [np.inf]])
    leads = (np.arange(ends.size - 1) % 2 == 0) == (leave[0] < 0)
    left = float(np.diff(ndtr(ends)) @ leads)
    saved = true * (float(told.leave < 0) - left) - costs.look
    # money is printed whole
    return {"saved by a reading": told.span.low - 0.5 <= saved <= told.span.high + 0.5}


def held(runs: int) -> dict[str, list[bool]]:
    """Whether each range held the truth, fleet by fleet."""
    rng = np.random.default_rng(23)
    found: dict[str, list[bool]] = defaultdict(list)
    for _ in range(runs):
        fleet = drawn_fleet(rng)
        places = [_of_a_place(rng) for _ in range(4)]
        for told in (_of_laws(fleet), _of_dates(fleet), *places):
            for name, inside in told.items():
                found[name].append(inside)
    return found


def test_the_planners_ranges_hold_nine_times_in_ten() -> None:
    for name, inside in held(sized(30, deep=1000)).items():
        share, error = float(np.mean(inside)), 2.6 * math.sqrt(0.09 / len(inside))
        noted(f"{name}: share of {len(inside)} held", share, 0.9, 0.03 + error)
        assert 0.87 - error <= share <= 0.93 + error, (name, share)


if __name__ == "__main__":
    for said, inside in held(int(sys.argv[1])).items():
        print(f"{said}: {np.mean(inside):.1%} of {len(inside)}")
