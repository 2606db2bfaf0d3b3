"""Stock from the table to what is ordered now."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest
from scipy.stats import nbinom, poisson

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
    # the next one finds a part unless all of them are under way: P(X <= s - 1)
    stock = int(poisson.ppf(0.95, 1.0)) + 1
    assert one.advice.service.stock == stock
    assert one.advice.service.fill == pytest.approx(float(poisson.cdf(stock - 1, 1.0)))
    assert one.advice.service.ready == pytest.approx(float(poisson.cdf(stock, 1.0)))
    assert one.order_now == stock - 2
    assert one.expected == pytest.approx(1.0)


def test_a_rate_from_few_events_takes_more_stock() -> None:
    # three in a quarter: the negative binomial of a gamma rate, from another library
    rate = Item("kit", 12.0, YEAR / 12)
    few = study_stock([Item("kit", 12.0, YEAR / 12, watched=YEAR / 4)], 0.95)[0]
    law = nbinom(3.5, 1 / (1 + 1 / 3))
    assert few.expected == pytest.approx(float(law.mean()))
    held = few.advice.service
    assert held.ready == pytest.approx(float(law.cdf(held.stock)))
    assert held.stock > study_stock([rate], 0.95)[0].advice.service.stock
    assert (few.used.low, few.used.high) == (law.ppf(0.05), law.ppf(0.95))


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
    assert first.expected == pytest.approx(first.from_joints)


def test_what_spoils_is_weighed_against_those_who_wait() -> None:
    sealant = Item("sealant", 1.0, 12 * WEEK, shelf_life=YEAR)
    (blind,) = study_stock([sealant], 0.99)
    assert blind.advice.service.stock == blind.advice.wanted == 3
    assert "will spoil: give price and cost of waiting to weigh that" in blind.advice.sentence
    (cheap,) = study_stock([replace(sealant, price=50.0, wait_cost=20e3)], 0.99)
    (dear,) = study_stock([replace(sealant, price=5e3, wait_cost=2e3)], 0.99)
    assert cheap.advice.service.stock >= 2 > dear.advice.service.stock == 0
    for one in (cheap, dear):
        assert one.advice.half <= one.advice.service.stock <= one.advice.double
        costs = [r.cost for r in one.advice.risks]
        assert one.advice.service.stock == one.advice.risks[costs.index(min(costs))].service.stock


def test_the_table_of_stock_against_risk_goes_past_what_is_advised() -> None:
    (one,) = study_stock([Item("kit", 12.0, YEAR / 12)], 0.95)
    held = [r.service.stock for r in one.advice.risks]
    assert held == list(range(held[0], one.advice.service.stock + 3))
    fills = [r.service.fill for r in one.advice.risks]
    assert fills == sorted(fills)


def test_items_that_follow_joints_need_them() -> None:
    item = Item("kit", 0.0, WEEK, joints=True)
    with pytest.raises(InputError, match="item kit: follows the joints, but no running joint"):
        study_stock([item], 0.95)
    held = [Record(running(50 * HOUR), running=True)]
    with pytest.raises(InputError, match="use a day: is not given"):
        study_stock([item], 0.95, records=held)
    with pytest.raises(InputError, match="none has failed yet: not enough data to say"):
        study_stock([item], 0.95, records=held, use_per_day=HOUR)


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
