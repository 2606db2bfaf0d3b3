"""Delay times from looks: closed forms, simulation, coverage, and what is refused."""

import math

import numpy as np
import pytest
from scipy.integrate import quad

from splicewright.errors import InputError
from splicewright.history.arrays import Array
from splicewright.history.inspection_interval import delay_time
from splicewright.history.inspection_interval.delay_time import (
    Watch,
    _Terms,
    learn_delay,
    learn_delay_from_finding,
)
from splicewright.history.inspection_interval.interval import (
    missed_if_delay_is_random,
    missed_if_delay_is_weibull,
)
from splicewright.history.life.lives import lives_of
from splicewright.history.life.weibull import Weibull

INF = math.inf


@pytest.mark.parametrize(("x", "missed"), [(0.5, 213061), (1.0, 367879), (2.0, 567668)])
def test_one_look_each_is_the_share_missed(x: float, missed: int) -> None:
    # exact: of damage begun before one sure look, 1 - (1 - e^-x)/x has failed; printed to 6 digits
    watches = [
        Watch((x,), x, None, 0.0, x, missed),
        Watch((x,), x, x, x, count=1_000_000 - missed),
        Watch((x,), x, None, x, count=3_000_000),
    ]
    learnt = learn_delay(watches)
    assert learnt.mean == pytest.approx(1.0, rel=1e-5)
    # each damage is seen by the end: so many per use watched
    assert learnt.rate == pytest.approx(1e6 / (4e6 * x), rel=1e-9)
    assert learnt.low < 1.0 < learnt.high < 1.02


def test_terms_are_the_integrals() -> None:
    law, missed = Weibull(1.7, 3.0), 0.3
    looks = (1.0, 2.5, 4.0)
    cases = [
        Watch(looks, 4.0, 4.0, 6.0),
        Watch(looks, 4.0, 4.0, 5.0, 7.0),
        Watch(looks, 4.0, 4.0, 5.5, 5.5),
        Watch(looks, 5.0, None, 5.0, 5.0),
        Watch((*looks, 5.0), 5.0, None, 4.0, 5.0),
        Watch(looks, 6.0, None, 6.0),
    ]

    def good(t: float) -> float:
        return float(law.good(max(t, 0.0)))

    def fails(t: float) -> float:
        return float(law.hazard(t) * law.good(t)) if t > 0 else 0.0

    for w in cases:
        terms = _Terms([w], missed)
        asked = [x for x in w.looks if x <= w.end]
        cuts = [*asked, w.good]

        def unseen(u: float, w: Watch = w, asked: list[float] = asked) -> float:
            return 1 - missed ** sum(x > u for x in asked) * good(w.end - u)

        expected, _ = quad(unseen, 0, w.end, points=asked, limit=200)
        assert terms.exposure(law) == pytest.approx(expected, rel=1e-7)
        if not w.damaged:
            continue
        before = [x for x in w.looks if x < w.end]

        def seen(u: float, w: Watch = w, before: list[float] = before) -> float:
            q = missed ** sum(x > u for x in before)
            if w.good == w.failed:
                return q * fails(w.good - u)
            rest = good(w.failed - u) if w.failed < math.inf else 0.0
            return q * (good(w.good - u) - rest)

        inside = [c for c in cuts if 0 < c < w.end]
        value, _ = quad(seen, 0, w.end, points=inside, limit=200)
        assert terms.height(law) == pytest.approx(math.log(value / expected), abs=1e-6)


def test_means_weighed_together_are_those_weighed_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """To the last bit, however many go together: one by one, terms are held against integrals."""
    rng = np.random.default_rng(7)
    watches = simulated(rng, 300, 0.2, rng.exponential(2.0, 300), 1.0, 0.8)
    watches.append(Watch((1.0,), 1.5, None, 1.5, 1.5))  # seen as it failed
    terms, means = _Terms(watches, 0.2), np.geomspace(0.01, 100.0, 23)
    heights, exposures = terms.random(means)
    alone = [Weibull(1.0, mean) for mean in means.tolist()]
    assert heights.tolist() == [terms.height(law) for law in alone]
    assert exposures.tolist() == [terms.exposure(law) for law in alone]
    monkeypatch.setattr(delay_time, "_AT_ONCE", 5 * terms._ages.size)
    few = terms.random(means)
    assert (few[0].tolist(), few[1].tolist()) == (heights.tolist(), exposures.tolist())


def simulated(
    rng: np.random.Generator, number: int, rate: float, delay: Array, every: float, found: float
) -> list[Watch]:
    """Joints looked at every so often for twelve looks; the first damage ends each watch."""
    looks = tuple(every * k for k in range(1, 13))
    end = looks[-1]
    watches = []
    for i in range(number):
        begin = rng.exponential(1 / rate)
        if begin >= end:
            watches.append(Watch(looks, end, None, end))
            continue
        fails = begin + delay[i]
        seen = next((x for x in looks if x > begin and rng.random() < found), math.inf)
        if min(seen, fails) > end:
            watches.append(Watch(looks, end, None, end))
        elif fails < seen:
            watches.append(Watch(looks, fails, None, fails, fails))
        else:
            mended = seen + rng.uniform(0.0, 2 * every)
            good, bad = (fails, fails) if fails < mended else (mended, math.inf)
            watches.append(Watch(looks, seen, seen, good, bad))
    return watches


def test_limits_hold_the_truth_nine_times_in_ten() -> None:
    # 40 fleets of 40 joints, every second look misses: binomial standard error 0.047; a run of 1000
    # is told in docs/checks-life.md
    rng = np.random.default_rng(4)
    inside = told = 0
    for _ in range(40):
        learnt = learn_delay(simulated(rng, 40, 0.05, rng.exponential(2.5, 40), 1.0, 0.5), 0.5)
        if learnt.enough:
            told += 1
            inside += learnt.low <= 2.5 <= learnt.high
    assert told > 35
    assert inside / told == pytest.approx(0.9, abs=0.1)


def test_looks_taken_as_sure_make_delays_look_longer_than_they_are() -> None:
    rng = np.random.default_rng(8)
    watches = simulated(rng, 1000, 0.05, rng.exponential(2.5, 1000), 1.0, 0.5)
    right = learn_delay(watches, 0.5)
    assert right.low < 2.5 < right.high
    assert right.rate == pytest.approx(0.05, rel=0.15)
    assert right.unfound < right.failures < right.damages


def test_delays_that_are_alike_are_told_from_random_ones() -> None:
    rng = np.random.default_rng(3)
    alike = learn_delay(simulated(rng, 400, 0.05, 3 * rng.weibull(5.0, 400), 1.0, 0.6), 0.6)
    assert alike.law is not None
    assert alike.chance_random < 0.01
    assert alike.law.shape > 2
    assert alike.law.mean == pytest.approx(3 * math.gamma(1.2), rel=0.15)
    chance = learn_delay(simulated(rng, 400, 0.05, rng.exponential(2.5, 400), 1.0, 0.6), 0.6)
    assert chance.law is not None
    assert chance.law.shape == 1.0


def test_the_unit_of_use_does_not_matter() -> None:
    rng = np.random.default_rng(6)
    watches = simulated(rng, 60, 0.05, rng.exponential(2.5, 60), 1.0, 0.7)
    big = [
        Watch(
            tuple(3600 * x for x in w.looks), 3600 * w.end,
            None if w.found is None else 3600 * w.found, 3600 * w.good, 3600 * w.failed,
        )
        for w in watches
    ]  # fmt: skip
    one, other = learn_delay(watches, 0.7), learn_delay(big, 0.7)
    assert other.mean == pytest.approx(3600 * one.mean, rel=1e-5)
    assert other.high == pytest.approx(3600 * one.high, rel=1e-5)
    assert other.rate == pytest.approx(one.rate / 3600, rel=1e-5)


def test_too_few_failures_give_a_lower_limit_only() -> None:
    found = [Watch((1.0, 2.0), 2.0, 2.0, 2.0 + k / 4) for k in range(8)]
    none = learn_delay([*found, Watch((1.0, 2.0), 2.0, None, 2.0, count=30)])
    assert not none.enough
    assert (none.damages, none.failures) == (8, 0)
    assert math.isnan(none.mean)
    assert 0 < none.low < none.high == math.inf
    nothing = learn_delay([Watch((1.0,), 5.0, None, 5.0)])
    assert (nothing.damages, nothing.rate, nothing.low) == (0, 0.0, 0.0)


def test_looks_that_miss_with_delays_of_any_shape() -> None:
    for interval in (0.4, 1.0, 3.0):
        ours = float(missed_if_delay_is_weibull(Weibull(1.0, 2.0), interval, 0.6))
        assert ours == pytest.approx(float(missed_if_delay_is_random(2.0, interval, 0.6)), rel=1e-8)
    # 300 000 damages: standard error below 0.001
    rng = np.random.default_rng(2)
    delay = 2 * rng.weibull(3.0, 300_000)
    first, needed = rng.uniform(0, 1.5, delay.size), rng.geometric(0.6, delay.size)
    counted = float((first + (needed - 1) * 1.5 > delay).mean())
    ours = float(missed_if_delay_is_weibull(Weibull(3.0, 2.0), 1.5, 0.6))
    assert ours == pytest.approx(counted, abs=0.004)


@pytest.mark.parametrize(
    ("watch", "message"),
    [
        (Watch((), 0.0, None, 0.0), "watch 1: runs from 0 to 0; it must have run"),
        (Watch((2.0, 1.0), 3.0, None, 3.0), "watch 1: has inspections out of order"),
        (Watch((1.0,), 1.0, 1.0, 0.5), "watch 1: was found damaged after it had failed"),
        (
            Watch((1.0,), 2.0, 1.0, 2.0),
            "watch 1: found damage, but not at the inspection that ends",
        ),
        (Watch((), 3.0, None, 2.0, 2.0), "watch 1: failed, but its watch did not end there"),
        (Watch((), 3.0, None, 3.0, 3.0, 0, name="J1"), "J1: stands for 0 joints"),
        (Watch((), 3.0, None, 3.0, 2.0), "watch 1: failed at 2, before 3 seen good"),
    ],
)
def test_watches_that_cannot_be_are_refused(watch: Watch, message: str) -> None:
    with pytest.raises(InputError) as caught:
        learn_delay([watch])
    assert str(caught.value).startswith(message)


def test_no_watches_and_no_chance_are_refused() -> None:
    with pytest.raises(InputError, match="there are none"):
        learn_delay([])
    with pytest.raises(InputError, match="0 is no chance"):
        learn_delay([Watch((), 1.0, None, 1.0)], 0.0)


def test_delays_from_the_finding_on_are_total_time_over_failures() -> None:
    # exact, exponential: (2 + 3 + 5 + 6 + 4)/(3 failures + 1 that had failed when first seen)
    delays = lives_of([2.0, 3.0, 5.0, 6.0, 4.0], [2.0, 3.0, 5.0, INF, INF])
    learnt = learn_delay_from_finding(delays, 1, 200.0)
    assert learnt.mean == pytest.approx(20.0 / 4, rel=1e-6)
    assert learnt.rate == pytest.approx(6 / 200)
    assert (learnt.damages, learnt.failures, learnt.unfound) == (6, 4, 1)
    # limits: 2 (4 ln(5/m) + ... ) by hand, l(m) = -4 ln m - 20/m
    for end in (learnt.low, learnt.high):
        fallen = (-4 * math.log(5) - 4) - (-4 * math.log(end) - 20 / end)
        assert 2 * fallen == pytest.approx(2.705543454095404, rel=1e-4)
    few = learn_delay_from_finding(None, 1, 200.0)
    assert not few.enough
    with pytest.raises(InputError, match="use watched: 0 must be a finite number above zero"):
        learn_delay_from_finding(delays, 0, 0.0)


def test_failures_that_nobody_looked_for_tell_no_delay() -> None:
    """Damage may have stood for a minute or for years: no look says which."""
    watches = [Watch((), end, None, end, end) for end in (270.0, 285.0, 300.0, 310.0)]
    learnt = learn_delay(watches, 0.8)
    assert learnt.law is None and not learnt.enough
    assert (learnt.low, learnt.high) == (0.0, math.inf)
    assert learnt.rate == pytest.approx(4 / 1165.0)
