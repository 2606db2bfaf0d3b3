"""The running meter: rates, dates, and readings that cannot be."""

import math
from datetime import date, timedelta

import pytest

from splicewright.errors import InputError
from splicewright.history.meter import Meter, calendar_meter, join_meters, read_meter
from splicewright.history.pace import day_when, pace_of
from splicewright.quantities.measure import Measure

TODAY = date(2026, 7, 1)
READINGS = [
    (date(2026, 1, 1), 1000.0),
    (date(2026, 2, 1), 1620.0),  # 20 a day over 31 days
    (date(2026, 3, 1), 1900.0),  # 10 a day over 28 days
]


def meter() -> Meter:
    return read_meter(READINGS, Measure.TIME, TODAY)


def test_rates() -> None:
    assert meter().rate == pytest.approx(900 / 59)
    assert meter().rate_range == pytest.approx((10.0, 20.0))
    assert meter().now == 1900.0


def test_total_between_readings() -> None:
    assert meter().at(date(2026, 1, 11)) == pytest.approx(1200.0)
    with pytest.raises(InputError) as caught:
        meter().at(date(2026, 5, 1))
    assert str(caught.value) == (
        "date: 2026-05-01 lies outside the meter readings, 2026-01-01 to 2026-03-01"
    )


def test_dates_hold_the_doubt_of_the_rate() -> None:
    dates = meter().when(2000.0, 2100.0, 2200.0)
    assert dates.earliest == date(2026, 3, 6)  # 100 more at 20 a day
    assert dates.likely == date(2026, 3, 14)  # 200 more at 15.25 a day
    assert dates.latest == date(2026, 3, 31)  # 300 more at 10 a day


def test_no_end_gives_no_date_and_a_past_total_gives_the_last_reading() -> None:
    dates = meter().when(1500.0, float("inf"), 1e12)
    assert dates.earliest == date(2026, 3, 1)
    assert dates.likely is None
    assert dates.latest is None


def test_a_changed_meter_is_joined() -> None:
    new = read_meter([(date(2026, 3, 2), 0.0), (date(2026, 3, 12), 150.0)], Measure.TIME, TODAY)
    joined = join_meters(meter(), new)
    assert joined.totals == (1000.0, 1620.0, 1900.0, 1900.0, 2050.0)


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        (READINGS[:1], "meter: has 1 readings; a rate of use needs two or more"),
        (
            [*READINGS, (date(2026, 8, 1), 2500.0)],
            "meter, 2026-08-01: lies in the future; today is 2026-07-01",
        ),
        (
            [*READINGS, (date(2026, 4, 1), -5.0)],
            "meter, 2026-04-01: the total -5 turns must be a number of zero or more",
        ),
        (
            [*READINGS, (date(2026, 4, 1), 1800.0)],
            "meter, 2026-04-01: the total 1800 turns is below 1900 turns of 2026-03-01; a meter "
            "does not run backwards: join a changed or reset meter first",
        ),
        (
            [*READINGS, (date(2026, 2, 15), 2800.0)],
            "meter, 2026-02-15: comes after 2026-03-01 in the list; dates must rise",
        ),
        (
            [*READINGS, (date(2026, 4, 1), 2300000.0)],
            "meter, 2026-04-01: the total jumps from 1900 turns to 2300000 turns in 31 days, as "
            "if the unit had changed; give all totals in one unit, or mark this one as checked if "
            "it is right",
        ),
        (
            [(date(2026, 1, 1), 500.0), (date(2026, 2, 1), 500.0)],
            "meter: stands at 500 turns in every reading; the conveyor has not run, so no date can "
            "be given",
        ),
    ],
)
def test_readings_that_cannot_be(readings: list[tuple[date, float]], words: str) -> None:
    with pytest.raises(InputError) as caught:
        read_meter(readings, Measure.TURNS, TODAY)
    assert str(caught.value) == words


def test_a_total_that_was_checked_may_jump() -> None:
    jump = [(date(2026, 1, 1), 2.0), (date(2026, 6, 1), 3000.0)]
    with pytest.raises(InputError, match="as if the unit had changed"):
        read_meter(jump, Measure.TIME, TODAY)
    assert read_meter(jump, Measure.TIME, TODAY, checked={date(2026, 6, 1)}).now == 3000.0


def test_meters_that_do_not_join() -> None:
    other = read_meter(READINGS, Measure.MASS, TODAY)
    with pytest.raises(InputError, match="counts running time, the new one mass carried"):
        join_meters(meter(), other)
    with pytest.raises(InputError, match="but the old one was still read 2026-03-01"):
        join_meters(meter(), meter())


def test_a_belt_without_a_meter_never_stands_still_and_has_a_day_from_its_first() -> None:
    for begin, days in ((TODAY - timedelta(days=9), 9), (TODAY, 1), (TODAY + timedelta(days=3), 1)):
        meter = calendar_meter(begin, TODAY)
        assert meter.totals == (0.0, days * 86400.0)
        assert meter.days == (begin, begin + timedelta(days=days))


def test_the_pace_of_several_conveyors_gives_the_first_day_and_the_last() -> None:
    pace = pace_of(TODAY, [10.0, 20.0, 12.0])
    assert pace is not None
    # 200 of use take 10 days at 20 a day and 20 days at 10 a day
    assert pace.dates(200.0) == (date(2026, 7, 11), date(2026, 7, 21))
    assert pace.dates(1e9) == (None, None)  # beyond the calendar
    assert day_when(TODAY, 199.0, 10.0) == date(2026, 7, 20)


def test_without_a_calendar_or_a_rate_there_is_no_pace() -> None:
    assert pace_of(None, [10.0]) is None and pace_of(TODAY, []) is None
    assert pace_of(TODAY, [10.0, math.nan]) is None and pace_of(TODAY, [0.0]) is None
    assert day_when(TODAY, math.inf, 10.0) is None and day_when(TODAY, -1.0, 10.0) is None
