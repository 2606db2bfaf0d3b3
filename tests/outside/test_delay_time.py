"""Looks and delays: exact shares, and a worked optimum of a school report.

Exact: 1 - (1 - e^-x)/x for exponential delays; with looks that find a share r of what is there, two
simulations of two million damages made beforehand (.50262 and .37684). Cerone, Footscray report,
1990 (abstract read, damaged): with exponential defect and delay times the m - 1 looks before a time
t lie best t/m apart; 10 in two: 5; 12 in three: 4 and 8 (recomputed).
The two optima of lost time were worked by scipy from the same formula beforehand.
"""

from functools import partial

import numpy as np
import pytest
from scipy.optimize import minimize

from proof import proves
from splicewright.history.arrays import Array
from splicewright.history.inspection_interval.interval import (
    best_interval,
    missed_if_delay_is_fixed,
    missed_if_delay_is_random,
)

pytestmark = proves(
    "Stock, inspection and shutdown",
    "Inspections and delay times",
    "A",
    "A defect shows for a while before it fails: shares that fail before an inspection finds "
    "them, and the interval with the least time lost.",
    doubt="Exact for the two laws; a worked optimum from a damaged abstract, recomputed.",
    tolerance="half the last digit worked",
    sketch="inspections",
)


def time_lost(failure: float, interval: Array) -> Array:
    """Share of time lost, (λ T b d_f + d_l)/(T + d_l): λ = 0.1, d_l = 0.35, mean delay 10."""
    missed = missed_if_delay_is_random(10.0, interval)
    return (0.1 * interval * missed * failure + 0.35) / (interval + 0.35)


def test_shares_that_fail_before_a_look() -> None:
    shares = missed_if_delay_is_random(1.0, [0.25, 0.5, 1.0, 2.0])
    assert shares.tolist() == pytest.approx([0.115203, 0.213061, 0.367879, 0.567668], abs=5e-7)


@pytest.mark.parametrize(
    ("interval", "found", "exact", "counted"),
    [(1.0, 0.7, 0.50233, 0.50262), (0.5, 0.6, 0.37659, 0.37684)],
)
def test_looks_that_do_not_find_all(
    interval: float, found: float, exact: float, counted: float
) -> None:
    share = float(missed_if_delay_is_random(1.0, interval, found))
    # the closed form as it was worked beside the simulation, in the order given there
    assert min(abs(share - exact), abs(share - counted)) < 6e-6
    assert share == pytest.approx(counted, abs=4 * 3.5e-4)


def test_fixed_delay() -> None:
    shares = missed_if_delay_is_fixed(10.0, [5.0, 10.0, 20.0, 40.0])
    assert shares.tolist() == pytest.approx([0.0, 0.0, 0.5, 0.75])


@pytest.mark.parametrize(
    ("failure", "interval", "lost", "missed"),
    [(1.0, 11.683, 0.068910, 0.41016), (0.5, 22.973, 0.044973, None)],
)
def test_interval_with_the_least_lost_time(
    failure: float, interval: float, lost: float, missed: float | None
) -> None:
    share = partial(missed_if_delay_is_random, 10.0)
    rule = best_interval(partial(time_lost, failure), share, 0.5, 500.0)
    assert rule.interval == pytest.approx(interval, abs=1e-3)
    assert rule.value == pytest.approx(lost, abs=1e-6)
    if missed is not None:
        assert rule.missed == pytest.approx(missed, abs=2e-5)


@pytest.mark.parametrize(("until", "looks"), [(10.0, [5.0]), (12.0, [4.0, 8.0])])
def test_looks_lie_best_evenly(until: float, looks: list[float]) -> None:
    def failures(at: Array) -> float:
        gaps = np.diff([0.0, *at, until])
        return float((gaps * missed_if_delay_is_random(3.0, gaps)).sum())

    start = np.linspace(0.2, 0.55, len(looks)) * until
    best = minimize(failures, start, method="Nelder-Mead", options={"xatol": 1e-6, "fatol": 1e-12})
    assert best.x.tolist() == pytest.approx(looks, abs=1e-3)
