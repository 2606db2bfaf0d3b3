"""Staircases without a law: small cases by hand, agreement of the two, refusals."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from depth import examples
from splicewright.errors import InputError
from splicewright.history.life.lives import lives_of
from splicewright.history.life.survival import kaplan_meier, turnbull

INF = math.inf


def test_staircase_by_hand() -> None:
    # 5 joints: fail 10, suspended 15, fail 20, fail 20, running 30
    steps = kaplan_meier(lives_of([10, 15, 20, 20, 30], [10, INF, 20, 20, INF]))
    assert steps.age.tolist() == [10.0, 20.0]
    assert steps.good.tolist() == pytest.approx([4 / 5, 4 / 5 * 1 / 3])
    assert steps.at_risk.tolist() == [5.0, 3.0]
    assert [steps.at(a) for a in (5.0, 10.0, 19.0, 25.0)] == pytest.approx([1, 0.8, 0.8, 4 / 15])


def test_joints_watched_late_are_at_risk_late() -> None:
    # the joint that came under watch at 12 was not at risk at 10
    steps = kaplan_meier(lives_of([10, 20, 30], [10, 20, INF], entered=[0, 0, 12]))
    assert steps.at_risk.tolist() == [2.0, 2.0]
    assert steps.good.tolist() == pytest.approx([0.5, 0.25])


def test_limits_stay_within_zero_and_one() -> None:
    steps = kaplan_meier(lives_of([1, 2, 3, 4.0], [1, 2, 3, 4.0]), 0.95)
    assert (steps.low >= 0).all()
    assert (steps.high <= 1).all()
    assert (steps.low <= steps.good).all()
    assert (steps.good <= steps.high).all()


@settings(max_examples=examples(40), deadline=None)
@given(seed=st.integers(0, 10_000), late=st.booleans())
def test_turnbull_of_seen_failures_is_kaplan_meier(seed: int, late: bool) -> None:
    rng = np.random.default_rng(seed)
    life, stop = 100 * rng.weibull(2, 30), rng.uniform(20, 200, 30)
    entered = rng.uniform(0, 30, 30) if late else np.zeros(30)
    # enough joints are watched from the start that the staircase does not end early
    entered[:15] = 0.0
    good, seen = np.minimum(life, stop), life < stop
    kept = (good > entered) & (seen | (good > 0))
    if not seen[kept].any():
        return
    lives = lives_of(good[kept], np.where(seen, life, INF)[kept], entered=entered[kept])
    steps, bands = kaplan_meier(lives), turnbull(lives)
    for age, share in zip(steps.age, steps.good, strict=True):
        low, high = bands.good_range(float(age))
        assert low == pytest.approx(high)
        assert high == pytest.approx(share, abs=2e-5)


def test_inside_a_band_only_a_range_is_known() -> None:
    bands = turnbull(lives_of([0.0, 10.0, 20.0], [10.0, 20.0, INF], count=[2, 3, 5]))
    assert bands.good_range(10.0) == pytest.approx((0.8, 0.8))
    assert bands.good_range(15.0) == pytest.approx((0.5, 0.8))
    assert bands.good_range(0.0) == pytest.approx((1.0, 1.0))


def test_overlapping_looks_by_hand() -> None:
    # (0, 2] and (1, 3]: both can lie in (1, 2], so all the share does
    bands = turnbull(lives_of([0.0, 1.0], [2.0, 3.0]))
    assert (bands.low.tolist(), bands.high.tolist()) == ([1.0], [2.0])
    assert bands.share.tolist() == pytest.approx([1.0])


def test_what_shows_no_step_is_refused() -> None:
    unfailed = lives_of([5.0], [INF])
    with pytest.raises(InputError, match="hold no failure: all were still good when last seen"):
        kaplan_meier(unfailed)
    with pytest.raises(InputError, match="so no band shows"):
        turnbull(unfailed)
    with pytest.raises(InputError, match="the staircase for those is Turnbull's"):
        kaplan_meier(lives_of([1.0], [2.0]))
    ages = np.arange(1.0, 2002.0)
    with pytest.raises(InputError, match="are 2001 different records"):
        turnbull(lives_of(ages, ages))
