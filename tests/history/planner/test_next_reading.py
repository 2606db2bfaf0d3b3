"""What one more reading of a worn place is worth, against a simulation that fits anew each time.

Source of what is expected: a Monte Carlo simulation written here (lines drawn from what the
readings leave open, the next reading drawn from each, all readings fitted anew by the normal
equations, the decision made on that fit, its cost counted on the drawn line); an ordinary fit of
all readings.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from depth import sized
from splicewright.history.life.draws import shortest_range
from splicewright.history.planner.next_reading import (
    WornPlace,
    _lines,
    _true_leave,
    _with,
    chance_worn,
    worth_of_reading,
)
from splicewright.history.planner.next_stop import PlannerCosts
from splicewright.history.wear.line import fit_line, fit_line_from

COSTS = PlannerCosts(planned=3000.0, failure=24000.0, look=100.0)
USES = np.array([0.0, 1000, 2000, 3000, 4000])
SCATTER = np.array([1.0, -1, 0.5, -1, 0.6])
NOW, FIRST, SECOND = 4000.0, 4300.0, 5000.0


def place(limit: float, noise: float, start: float | None = None) -> WornPlace:
    """Ten at use 0, one less in each 1000."""
    values = 10 - USES / 1000 + noise * SCATTER
    line = fit_line(USES, values) if start is None else fit_line_from(start, USES, values)
    return WornPlace(line, limit, NOW, FIRST, SECOND, line.meets(limit), rises=False)


@pytest.mark.parametrize(("limit", "noise"), [(4.0, 0.2), (3.5, 0.4), (4.5, 0.2), (5.5, 0.4)])
def test_the_worth_of_a_reading_is_what_a_simulation_saves(limit: float, noise: float) -> None:
    worn = place(limit, noise)
    told = worth_of_reading(worn, COSTS)
    rng, number = np.random.default_rng(5), sized(60_000, deep=2_000_000)
    values = 10 - USES / 1000 + noise * SCATTER
    design = np.column_stack([np.ones(5), USES])
    inverse = np.linalg.inv(design.T @ design)
    best = inverse @ design.T @ values
    square = float(((values - design @ best) ** 2).sum())
    spread = np.sqrt(square / rng.chisquare(3, number))
    root = np.linalg.cholesky(inverse)
    true = best + spread[:, None] * (rng.standard_normal((number, 2)) @ root.T)
    read = true @ [1.0, NOW] + spread * rng.standard_normal(number)

    def left(fits: np.ndarray, squares: np.ndarray, rows: np.ndarray) -> np.ndarray:
        """Expected cost of leaving it by each fit, the integral by the trapezoidal rule."""
        turned, free = np.linalg.inv(rows.T @ rows), len(rows) - 2
        uses = np.linspace(FIRST, SECOND, 81)
        worn_by = np.empty((len(fits), uses.size))
        for k, use in enumerate(uses):
            at = np.array([1.0, use])
            error = np.sqrt(squares / free * (at @ turned @ at))
            worn_by[:, k] = stats.t.cdf((limit - fits @ at) / error, free)
        run = np.trapezoid(1 - worn_by, uses, axis=1)
        return COSTS.dearer * (worn_by[:, -1] - worn_by[:, 0]) - COSTS.planned / worn.life * run

    more = np.vstack([design, [1.0, NOW]])
    every = np.column_stack([np.broadcast_to(values, (number, 5)), read])
    some = slice(0, 6_000)  # the decision hangs on the reading alone: a part of them finds it
    fits = every[some] @ (np.linalg.inv(more.T @ more) @ more.T).T
    squares = ((every[some] - fits @ more.T) ** 2).sum(axis=1)
    after = left(fits, squares, more)
    order = np.argsort(read[some])
    goes = np.interp(read, read[some][order], after[order]) < 0
    before = float(left(best[None, :], np.array([square]), design)[0])
    end = (limit - true[:, 0]) / true[:, 1]
    end = np.where(true[:, 1] < 0, end, math.inf)
    costs = COSTS.dearer * ((end > FIRST) & (end <= SECOND)) - COSTS.planned / worn.life * (
        np.clip(end, FIRST, SECOND) - FIRST
    )
    saved = costs * (before < 0) - costs * goes - COSTS.look
    error = 4 * float(saved.std()) / math.sqrt(number)
    assert told.leave == pytest.approx(before, abs=1.0)
    assert told.worth == pytest.approx(float(saved.mean()), abs=error + 1.0)
    assert told.changes == pytest.approx(float((goes != (before < 0)).mean()), abs=0.004)


@pytest.mark.parametrize("start", [None, 10.0])
def test_the_line_after_a_reading_is_that_of_all_readings(start: float | None) -> None:
    worn = place(4.0, 0.2, start)
    values = np.append(10 - USES / 1000 + 0.2 * SCATTER, 5.7)
    uses = np.append(USES, NOW)
    anew = fit_line(uses, values) if start is None else fit_line_from(start, uses, values)
    moved = _with(worn, 5.7).line
    for name in ("intercept", "slope", "spread", "freedom"):
        assert getattr(moved, name) == pytest.approx(getattr(anew, name), rel=1e-9), name
    assert np.allclose(moved.unit_covariance, anew.unit_covariance, rtol=1e-9, atol=1e-18)


@pytest.mark.parametrize("limit", [3.0, 3.5, 4.0, 4.5, 5.0, 5.5])
@pytest.mark.parametrize("noise", [0.05, 0.2, 0.4])
def test_a_reading_saves_something_and_less_than_knowing_for_sure(
    limit: float, noise: float
) -> None:
    """Information cannot cost, and a reading tells no more than the line itself would."""
    worn = place(limit, noise)
    told = worth_of_reading(worn, COSTS)
    start, slope, _ = _lines(worn.line, seed=4, number=400_000)
    true = _true_leave(worn, start, slope, COSTS.dearer, COSTS.planned / worn.life)
    sure = min(0.0, float(true.mean())) - float(np.minimum(true, 0.0).mean())
    slack = 4 * float(true.std()) / math.sqrt(true.size)
    assert -1e-6 <= told.worth + COSTS.look <= sure + slack
    assert told.leave == pytest.approx(float(true.mean()), abs=slack)


def test_depths_that_rise_are_worth_what_thickness_that_falls_is() -> None:
    falls = place(4.0, 0.2)
    line = fit_line(USES, USES / 1000 - 0.2 * SCATTER)
    rises = WornPlace(line, 6.0, NOW, FIRST, SECOND, falls.life, rises=True)
    one, other = worth_of_reading(falls, COSTS), worth_of_reading(rises, COSTS)
    assert one.worth == pytest.approx(other.worth, rel=1e-9)
    assert one.leave == pytest.approx(other.leave, rel=1e-9)
    uses = np.array([FIRST, SECOND])
    assert np.allclose(chance_worn(falls, uses), chance_worn(rises, uses))


def test_the_range_of_a_saving_is_the_shortest_that_holds_nine_in_ten() -> None:
    """By trying every range between two of the values; equal tails would end at the one value."""
    rng = np.random.default_rng(6)
    values = np.concatenate([np.full(70, -20.0), -20 - 80 * rng.random(30)])
    found = shortest_range(values)
    ends = np.unique(values)
    each = [
        (b - a, a, b) for a in ends for b in ends if ((values >= a) & (values <= b)).sum() >= 90
    ]
    assert (found.low, found.high) == min(each)[1:]
    assert found.high == -20.0 and found.low > float(np.quantile(values, 0.05))
