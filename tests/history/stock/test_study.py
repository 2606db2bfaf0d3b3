"""Stock from the table to what is ordered now."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from scipy.stats import poisson

from splicewright.errors import InputError
from splicewright.history.life.lives import failed, running
from splicewright.history.life.study import Record
from splicewright.history.stock.file import load_items
from splicewright.history.stock.study import Item, study_stock

WEEK = 7 * 86400.0
YEAR = 365.25 * 86400.0
HOUR = 3600.0


def test_demand_at_random_is_poisson() -> None:
    (one,) = study_stock([Item("kit", 12.0, YEAR / 12, on_shelf=2)], 0.95)
    stock = int(poisson.ppf(0.95, 1.0))
    assert one.advice.service.stock == stock
    assert one.advice.service.ready == pytest.approx(float(poisson.cdf(stock, 1.0)))
    assert one.order_now == stock - 2
    assert one.expected == pytest.approx(1.0)


def test_planned_renewals_are_added() -> None:
    (one,) = study_stock([Item("pin", 0.0, WEEK, each=2, planned=3)], 0.95)
    assert one.advice.service.stock == 6


def test_joints_of_known_age_are_counted_by_their_age() -> None:
    lives = [Record(failed(a * HOUR)) for a in (900.0, 1100.0, 1300.0, 1000.0)]
    old = [*lives, Record(running(1200 * HOUR), running=True)]
    young = [*lives, Record(running(50 * HOUR), running=True)]
    item = Item("kit", 0.0, 2 * WEEK, joints=True)
    first, second = (
        study_stock([item], 0.95, records=records, use_per_day=20 * HOUR)[0]
        for records in (old, young)
    )
    assert first.from_joints > 5 * second.from_joints
    assert first.expected == first.from_joints


def test_what_spoils_is_not_hoarded() -> None:
    (one,) = study_stock([Item("sealant", 1.0, 12 * WEEK, shelf_life=YEAR)], 0.99)
    assert one.advice.wanted > one.advice.service.stock == 1


def test_items_that_follow_joints_need_them() -> None:
    item = Item("kit", 0.0, WEEK, joints=True)
    with pytest.raises(InputError, match="item kit: follows the joints, but no running joint"):
        study_stock([item], 0.95)
    held = [Record(running(50 * HOUR), running=True)]
    with pytest.raises(InputError, match="use a day: is not given"):
        study_stock([item], 0.95, records=held)
    with pytest.raises(InputError, match="none has failed yet: not enough data to say"):
        study_stock([item], 0.95, records=held, use_per_day=HOUR)


def test_what_lies_too_long_with_no_lead_time_goes_by_use_a_year() -> None:
    # Two events a year of three pieces: six pieces a year, so half a year's shelf life wants three.
    item = Item("glue", 2.0, 0.0, each=3, planned=2, shelf_life=0.5 * 365.25 * 86400)
    (advice,) = study_stock([item], 0.95)
    assert (advice.advice.wanted, advice.advice.service.stock) == (6, 3)


def test_the_table(tmp_path: Path) -> None:
    path = tmp_path / "items.csv"
    path.write_text(
        "item,per year,lead time [weeks],shelf life [weeks],on shelf\nkit,2,6,,1\nglue,1,3,26,\n"
    )
    (kit, glue), invented = load_items(path)
    assert not invented
    assert kit == Item("kit", 2.0, 6 * WEEK, on_shelf=1)
    assert math.isinf(kit.shelf_life) and glue.shelf_life == 26 * WEEK


def test_a_table_that_cannot_be_used(tmp_path: Path) -> None:
    path = tmp_path / "items.csv"
    path.write_text("item,per year,lead time [weeks],each\nkit,-2,6,0\nkit,1,,1\n,1,2,\n")
    with pytest.raises(InputError) as caught:
        load_items(path)
    assert [line.split(";")[0] for line in str(caught.value).splitlines()] == [
        'items.csv:2: per year: "-2" cannot be',
        'items.csv:2: each: "0" cannot be used',
        'items.csv:3: item: "kit" stands twice',
        "items.csv:3: lead time: is empty",
        "items.csv:4: item: is empty",
    ]
