"""A fleet at once against `pool_groups`, which the published pump failures check."""

from __future__ import annotations

import numpy as np
import pytest

from splicewright.errors import InputError
from splicewright.history.life.lives import Lives, lives_of
from splicewright.history.life.pooling import pool_groups
from splicewright.history.life.pooling_fleet import pool_many

INF = np.inf


def sites(seed: int, *, looks: bool) -> dict[str, Lives]:
    """Six conveyors of eight joints, shape 2.2, about half failed, some before the log."""
    rng = np.random.default_rng(seed)
    found = {}
    for n in range(6):
        scale = 1000 * np.exp(0.3 * rng.standard_normal())
        life = scale * rng.weibull(2.2, 40)
        entered = np.where(rng.random(40) < 0.3, 150.0, 0.0)
        life, entered = life[life > entered][:8], entered[life > entered][:8]
        stop = entered + rng.uniform(100, 1400, 8)
        good, bad = np.minimum(life, stop), np.where(life < stop, life, INF)
        if looks:
            low = np.maximum(np.floor(life / 120) * 120, entered)
            good = np.where(life < stop, low, good)
            bad = np.where(life < stop, np.floor(life / 120) * 120 + 120, bad)
        found[f"K{n}"] = lives_of(good, bad, entered=entered)
    return found


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("looks", [False, True])
def test_chances_and_lives_left_agree(seed: int, looks: bool) -> None:
    groups = sites(seed, looks=looks)
    slow, quick = pool_groups(groups), pool_many(groups)
    # seen failures: only the condensed rates differ; between looks: the middle of H, too
    near = 0.03 if looks else 0.012
    for n, group in enumerate(slow.groups):
        ages = np.array([0.0, 200.0, 700.0])
        ours = quick.chance_of_failing(np.full(3, n), ages, np.full(3, 150.0))
        theirs = [group.life.chance_of_failing(float(a), 150.0) for a in ages]
        np.testing.assert_allclose(ours, theirs, rtol=near, atol=2e-4)
        left = quick.age_left(np.full(3, n), ages, 0.5)
        np.testing.assert_allclose(
            left, [group.life.age_left(float(a), 0.5) for a in ages], rtol=near
        )
        assert quick.life(group.name).chance_of_failing(200.0, 150.0) == pytest.approx(ours[1])


def test_one_group_alone_is_pooled_with_nobody() -> None:
    lives = lives_of([300.0, 500.0, 900.0, 600.0], [300.0, 500.0, 900.0, INF])
    slow, quick = pool_groups({"K1": lives}).groups[0].life, pool_many({"K1": lives})
    one = np.zeros(1, dtype=np.intp)
    assert quick.age_left(one, np.zeros(1), 0.1)[0] == pytest.approx(slow.age_at(0.1), rel=0.01)


def test_no_failure_is_refused_in_words() -> None:
    with pytest.raises(InputError, match="hold no failure"):
        pool_many({"K1": lives_of([100.0], [INF])})
    with pytest.raises(InputError, match="there are none"):
        pool_many({})


def test_a_thousand_groups_stay_near_their_truth() -> None:
    # scales scatter by 0.3 in the logarithm; with the others halves the scatter left
    rng = np.random.default_rng(5)
    scale = 1000 * np.exp(0.3 * rng.standard_normal(300))
    groups = {}
    for n, s in enumerate(scale):
        life, stop = s * rng.weibull(2.2, 12), rng.uniform(200, 1400, 12)
        groups[f"K{n}"] = lives_of(np.minimum(life, stop), np.where(life < stop, life, INF))
    fleet = pool_many(groups)
    half = fleet.age_left(np.arange(300), np.zeros(300), 0.5)
    truth = scale * np.log(2) ** (1 / 2.2)
    error = np.log(half / truth)
    assert abs(error.mean()) < 0.03
    assert error.std() < 0.2
    assert float(fleet.weight @ fleet.shape) == pytest.approx(2.2, rel=0.08)
