"""Stops by cause, and whether they come more often, against closed forms."""

from __future__ import annotations

import math
from datetime import date, timedelta

import pytest
from scipy.stats import binomtest

from splicewright.errors import InputError
from splicewright.history.fleet.stops import (
    Stop,
    chance_of_difference,
    stops_by_cause,
    trend_of_failures,
    trends_by_cause,
    years_of_stops,
)

TODAY = date(2026, 1, 1)
H = 3600.0


def stop(days_ago: int, cause: str = "pull-out", lasted: float = math.nan) -> Stop:
    failed = cause != "renewed before failing"
    return Stop("K1", f"J{days_ago}", cause, TODAY - timedelta(days=days_ago), failed, lasted)


def test_costs_take_the_mean_of_the_known_for_the_unknown() -> None:
    stops = [stop(10, lasted=4 * H), stop(20, lasted=8 * H), stop(500),
             stop(30, "pin worn", 2 * H), stop(40, "renewed before failing", 5 * H)]  # fmt: skip
    causes = stops_by_cause(stops, TODAY, stop_cost=1000 / H, failure_cost=500.0)
    first = causes[0]
    assert (first.cause, first.number, first.lately, first.known) == ("pull-out", 3, 2, 2)
    assert first.stood == 12 * H
    assert first.cost == pytest.approx(3 * (6 * 1000 + 500))
    assert causes[1].cost == pytest.approx(2 * 1000 + 500)
    assert causes[-1].cause == "renewed before failing"
    assert causes[-1].cost == pytest.approx(5000)  # a planned stop is no failure
    assert all(math.isnan(c.cost) for c in stops_by_cause(stops, TODAY))
    with pytest.raises(InputError, match="stop cost: -1 cannot be"):
        stops_by_cause(stops, TODAY, stop_cost=-1.0)


def test_years_count_joint_years() -> None:
    begun = [date(2024, 7, 1).toordinal()] * 2
    ended = [TODAY.toordinal()] * 2
    years = years_of_stops([stop(100)], begun, ended, TODAY)
    assert [y.year for y in years] == [2024, 2025, 2026]
    assert years[0].watched == pytest.approx(2 * 184 / 365.25)
    assert years[1].watched == pytest.approx(2 * 365 / 365.25)
    assert (years[1].failures, years[1].causes) == (1, (("pull-out", 1),))


@pytest.mark.parametrize(("late", "early"), [(0, 5), (3, 4), (9, 2), (1, 0)])
def test_the_chance_of_a_difference_is_the_binomial_one(late: int, early: int) -> None:
    share = 20 / 70
    both = [binomtest(late, late + early, share, alternative=a).pvalue for a in ("less", "greater")]
    assert chance_of_difference(late, early, 20.0, 50.0) == pytest.approx(min(1, 2 * min(both)))


def test_a_trend_is_told_only_when_it_is_seen() -> None:
    begun, ended = [TODAY.toordinal() - 1461] * 10, [TODAY.toordinal()] * 10
    often = trend_of_failures([stop(30 * n + 1) for n in range(12)], begun, ended, TODAY)
    assert "more often" in often.sentence
    even = trend_of_failures([stop(180 * n + 90) for n in range(8)], begun, ended, TODAY)
    assert "by chance in" in even.sentence
    assert "more often" not in even.sentence
    none = trend_of_failures([], begun, ended, TODAY)
    assert none.sentence.startswith("not enough data to say")


def test_half_a_joint_year_before_is_enough_to_compare_with() -> None:
    """One joint, put to work a year and a half ago: two failures lately, one before."""
    begun, ended = [TODAY.toordinal() - 548], [TODAY.toordinal()]
    told = trend_of_failures([stop(10), stop(100), stop(400)], begun, ended, TODAY)
    assert (told.lately, told.before) == pytest.approx((2.0, 2.0), rel=0.01)  # 1 in half a year
    assert "by chance in" in told.sentence
    # Half a joint-year lately as well: watched since it was put to work 700 days ago, till then.
    short = trend_of_failures(
        [stop(300), stop(400)], [TODAY.toordinal() - 700], [TODAY.toordinal() - 182], TODAY
    )
    assert short.lately == pytest.approx(365.25 / 183, rel=0.01)
    assert not math.isnan(short.chance)


def test_years_tell_what_failures_cost() -> None:
    begun, ended = [TODAY.toordinal() - 1461], [TODAY.toordinal()]
    stops = [stop(10, lasted=4 * H), stop(20), stop(500, lasted=8 * H),
             stop(30, "renewed before failing", 5 * H), stop(40, "pin worn")]  # fmt: skip
    years = years_of_stops(stops[:-1], begun, ended, TODAY, stop_cost=1000 / H, failure_cost=500.0)
    by_year = {y.year: y.cost for y in years}
    # the one not known of this year as the mean of the two known: 6 h
    assert by_year[2025] == pytest.approx(4500 + 6500)
    assert by_year[2024] == pytest.approx(8500)
    assert by_year[2023] == 0.0
    # nothing is known of how long belts stood for worn pins
    unknown = years_of_stops(stops, begun, ended, TODAY, stop_cost=1000 / H)
    assert math.isnan(next(y for y in unknown if y.year == 2025).cost)
    assert all(math.isnan(y.cost) for y in years_of_stops(stops, begun, ended, TODAY))


def test_each_cause_has_its_own_trend_and_many_are_not_taken_one_by_one() -> None:
    begun, ended = [TODAY.toordinal() - 1461] * 10, [TODAY.toordinal()] * 10
    pulled = [stop(30 * n + 1) for n in range(12)]
    worn = [stop(180 * n + 90, "pin worn") for n in range(8)]
    trends = trends_by_cause([*pulled, *worn], begun, ended, TODAY)
    assert [cause for cause, _ in trends] == ["pull-out", "pin worn"]
    assert "more often" in trends[0][1].sentence
    assert "more often" not in trends[1][1].sentence
    # 3 late and 1 early in a quarter and three quarters of the time: two-sided 0.1016
    edge = [stop(n, "edge torn") for n in (10, 20, 30, 400)]
    by_hand = 2 * (4 * 0.25**3 * 0.75 + 0.25**4)
    alone = trend_of_failures(edge, begun, ended, TODAY)
    assert alone.chance == pytest.approx(by_hand, rel=0.01)
    others = [stop(500, f"cause {i}") for i in range(9)]
    among = dict(trends_by_cause([*pulled[:3], *others, *edge], begun, ended, TODAY))
    assert "by chance in" in among["edge torn"].sentence
    assert trends_by_cause([], begun, ended, TODAY) == ()
