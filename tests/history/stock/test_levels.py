"""Stock for a service level: exact laws, invariants, words."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from depth import sized
from splicewright.errors import InputError
from splicewright.history.stock.levels import (
    Shortage,
    advise_stock,
    counted_law,
    demand_law,
    poisson_law,
    service_of,
    spoilt,
    stock_for_fill,
    what_is_missing,
)


def test_exact_values_at_a_mean_of_one() -> None:
    # e^-1 and sums of it
    e = math.exp(-1)
    law = poisson_law(1.0)
    waiting = [service_of(s, law).waiting for s in range(5)]
    assert waiting[:3] == pytest.approx([1.0, e, 3 * e - 1], abs=1e-12)
    fill = [service_of(s, law).fill for s in range(1, 5)]
    assert fill == pytest.approx([e, 2 * e, 2.5 * e, (2.5 + 1 / 6) * e])
    # twelve a year, one month, 99 % met from the shelf
    assert stock_for_fill(law, 0.99).stock == 5


@given(mean=st.floats(0.0, 300.0), stock=st.integers(0, 400))
def test_loss_falls_by_the_chance_of_needing_one_more(mean: float, stock: int) -> None:
    law = poisson_law(mean)
    here, more = service_of(stock, law), service_of(stock + 1, law)
    assert here.waiting - more.waiting == pytest.approx(1 - here.ready, abs=1e-9)
    assert more.fill == pytest.approx(here.ready, abs=1e-12)
    assert here.reorder_at == stock - 1


@given(mean=st.floats(0.01, 100.0), service=st.floats(0.5, 0.999))
def test_stock_is_the_smallest_that_serves(mean: float, service: float) -> None:
    law = poisson_law(mean)
    enough = stock_for_fill(law, service)
    # the next one finds it where all before it left one: no more than s - 1 came
    assert service_of(enough.stock - 1, law).ready >= service - 1e-9
    if enough.stock > 1:
        assert service_of(enough.stock - 2, law).ready < service


def test_lead_times_of_any_law_give_the_same_orders_under_way() -> None:
    # one demand a month, lead time lognormal with mean one month: 200 000 months
    rng = np.random.default_rng(1)
    arrive = np.cumsum(rng.exponential(1.0, 200_000))
    done = arrive + rng.lognormal(-0.5 * 0.8**2, 0.8, arrive.size)
    look = np.arange(50.0, 190_000.0, 7.0)
    under_way = np.searchsorted(arrive, look, "right") - np.searchsorted(np.sort(done), look)
    law = poisson_law(1.0)
    for s in range(4):
        assert float((under_way <= s).mean()) == pytest.approx(float(law[: s + 1].sum()), abs=0.01)


def test_demand_adds_known_ages_random_failures_and_plans() -> None:
    law = demand_law([0.5, 0.2], at_random=0.3, planned=2)
    number = np.arange(law.size)
    assert float(law.sum()) == pytest.approx(1.0)
    assert float(law @ number) == pytest.approx(0.7 + 0.3 + 2)
    assert law[:2].tolist() == [0.0, 0.0]
    assert law[2] == pytest.approx(0.5 * 0.8 * math.exp(-0.3))
    variance = float(law @ number**2 - (law @ number) ** 2)
    assert variance == pytest.approx(0.25 + 0.16 + 0.3, rel=1e-9)


def test_two_items_to_each_event() -> None:
    law = demand_law([0.5], per_event=2)
    assert law.tolist() == [0.5, 0.0, 0.5]


def test_nothing_wanted_needs_no_stock() -> None:
    advice = advise_stock(demand_law(), 0.95)
    assert advice.service.stock == 0
    assert advice.sentence == "hold none: 100.0 % chance that nobody waits"


def test_known_ages_need_less_than_the_same_mean_at_random() -> None:
    # yes-or-no draws spread less than Poisson numbers
    known = stock_for_fill(demand_law(np.full(10, 0.5)), 0.95)
    random = stock_for_fill(poisson_law(5.0), 0.95)
    assert known.stock < random.stock


def test_the_next_one_needs_one_more_than_nobody_waiting() -> None:
    # reproduced: 98 % was printed as "no waiting" where the next one was served with 95 %
    law = poisson_law(4.0)
    advice = advise_stock(law, 0.95)
    assert advice.service.stock == 9  # P(X <= 8) = .979, P(X <= 7) = .949 (Poisson table)
    assert advice.sentence == (
        "hold 9, order as soon as one is used: the next one to need it finds it with a chance of "
        "97.9 %; 99.2 % chance that nobody waits"
    )


def test_fill_and_waiting_of_a_simulated_store() -> None:
    """An independent store: customers come at random, each order takes its time."""
    rng = np.random.default_rng(2)
    for each, mean, stock in ((1, 2.0, 4), (2, 0.8, 3), (2, 0.8, 4), (3, 1.5, 8)):
        arrive = np.cumsum(rng.exponential(1 / mean, sized(40_000, deep=400_000)))
        back = arrive + 1.0  # what each took is replaced a lead time later
        under_way = np.arange(arrive.size) - np.searchsorted(back, arrive, "left")
        found = float(((under_way + 1) * each <= stock).mean())
        look = rng.uniform(10, arrive[-1] - 10, arrive.size)
        wanted = np.searchsorted(arrive, look) - np.searchsorted(back, look)
        nobody = float((wanted * each <= stock).mean())
        held = service_of(stock, demand_law(at_random=mean, per_event=each))
        assert held.fill == pytest.approx(found, abs=0.01)
        assert held.ready == pytest.approx(nobody, abs=0.01)


def test_planned_and_known_joints_never_need_more_than_there_are() -> None:
    planned = stock_for_fill(demand_law(planned=3, per_event=2), 0.99)
    assert (planned.stock, planned.fill) == (6, 1.0)
    assert stock_for_fill(demand_law([0.9, 0.9]), 0.999).stock == 2


def test_spoilt_goods_of_a_simulated_shelf() -> None:
    """One piece: exact. More, with a lead time: no fewer than told spoil, by simulation."""
    rng = np.random.default_rng(3)
    cases = ((1, 1.0, 1.0, 0.0), (3, 2.0, 1.0, 0.0), (3, 2.0, 1.5, 0.3), (5, 3.0, 1.0, 0.0),
             (8, 6.0, 1.0, 0.0))  # fmt: skip
    for stock, rate, shelf, lead in cases:
        told = spoilt(stock, rate, shelf)
        years = sized(2000, deep=40_000)
        lost = shelf_life_simulated(rng, stock, rate, shelf, lead, years) / years
        assert lost <= told * 1.05
        if stock == 1:
            assert lost == pytest.approx(told, rel=0.08)
        assert told <= stock / shelf
    assert spoilt(0, 1.0, 1.0) == spoilt(4, 1.0, math.inf) == 0.0


def shelf_life_simulated(
    rng: np.random.Generator, stock: int, rate: float, shelf: float, lead: float, years: int
) -> int:
    arrivals = [0.0] * stock  # when each piece lies on the shelf, the oldest first
    now, lost, waiting = 0.0, 0, 0
    while now < years:
        now += float(rng.exponential(1 / rate))
        while arrivals and arrivals[0] + shelf <= now:
            lost += 1
            arrivals.append(arrivals.pop(0) + shelf + lead)
            arrivals.sort()
        there = [a for a in arrivals if a <= now]
        if there:
            arrivals.remove(there[0])
        else:
            waiting += 1
            arrivals.pop(0)  # the first to come is his
        arrivals.append(now + lead)
        arrivals.sort()
    return lost


def test_what_nobody_wants_is_always_there() -> None:
    for law in (np.ones(1), counted_law(4, 0.0), demand_law(), poisson_law(0.0)):
        none = service_of(0, law)
        assert (none.fill, none.ready, none.waiting) == (1.0, 1.0, 0.0)


def test_what_the_job_lacks() -> None:
    needs = {"kit": 2.0, "pin": 1.0, "belt, m": 3.0, "setting pin": 2.0}
    there = {"kit": 2.0, "belt, m": 2.4, "setting pin": 1.0}
    short = what_is_missing(needs, there)
    assert short == (
        Shortage("pin", 1.0, 0.0),
        Shortage("setting pin", 2.0, 1.0),
        Shortage("belt, m", 3.0, 2.4),
    )
    assert short[2].missing == pytest.approx(0.6)


def test_inputs_that_cannot_be_are_refused() -> None:
    law = poisson_law(1.0)
    with pytest.raises(InputError) as caught:
        stock_for_fill(law, 95.0)
    assert str(caught.value) == ("service level: 95 is no chance; accepted is above 0 and below 1")
    with pytest.raises(InputError, match="demand: -1 must be a finite number of zero or more"):
        poisson_law(-1.0)
    for wrong in (math.nan, math.inf, -0.5):
        with pytest.raises(InputError, match=r"events seen: .* must be a finite number of zero"):
            counted_law(wrong, 0.5)
        with pytest.raises(InputError, match=r"share of the time watched: .* must be a finite"):
            counted_law(4, wrong)
    with pytest.raises(InputError, match=r"chance of failing: 1\.2 is no chance"):
        demand_law([1.2])
    with pytest.raises(InputError, match="planned renewals: -1 must be a whole number of 0"):
        demand_law(planned=-1)
    with pytest.raises(InputError, match="items per event: 0 must be a whole number of 1"):
        demand_law(per_event=0)
    with pytest.raises(InputError, match="stock: -1 must be a whole number"):
        service_of(-1, law)
    with pytest.raises(InputError, match="shelf life: 0 must be above zero"):
        advise_stock(law, 0.9, shelf_life=0.0)
    with pytest.raises(InputError, match="needs, pin: nan must be a finite number"):
        what_is_missing({"pin": math.nan}, {})
