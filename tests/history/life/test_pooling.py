"""Groups that lean on each other: closed forms, quadrature, gain by simulation, refusals."""

import math

import numpy as np
import pytest

from splicewright.errors import InputError
from splicewright.history.life.lives import Lives, lives_of
from splicewright.history.life.pooling import PooledLife, Prior, pool_groups
from splicewright.history.life.weibull import Weibull, fit_scale, fit_weibull, log_likelihood
from splicewright.quantities.measure import Measure

INF = math.inf


def fleet(seed: int, groups: int = 6, joints: int = 6) -> tuple[dict[str, Lives], list[Weibull]]:
    """Conveyors with shape 2.2 in common and ln scale scattered by 0.3, half suspended."""
    rng = np.random.default_rng(seed)
    lives, laws = {}, []
    for i in range(groups):
        law = Weibull(2.2, 1000 * math.exp(0.3 * rng.standard_normal()))
        life = law.scale * rng.weibull(2.2, joints)
        stop = law.scale * rng.uniform(0.5, 1.3, joints)
        lives[f"conveyor {i + 1}"] = lives_of(
            np.minimum(life, stop), np.where(life < stop, life, INF)
        )
        laws.append(law)
    return lives, laws


def test_a_part_with_a_sure_rate_is_its_weibull_law() -> None:
    law = Weibull(2.0, 500.0)
    one = np.array([1.0])
    life = PooledLife(one, 2 * one, 1e7 * one, 1e7 * one, 500.0)
    assert life.good(300.0) == pytest.approx(float(law.good(300.0)), rel=1e-6)
    assert life.age_at(0.1) == pytest.approx(law.age_at(0.1), rel=1e-6)
    assert life.chance_of_failing(300.0, 100.0) == pytest.approx(
        float(1 - law.good(400.0) / law.good(300.0)), rel=1e-6
    )


def test_a_gamma_rate_gives_the_pareto_share() -> None:
    # shape 1: E[exp(-rate t)] = (b/(b + t))^a, and its median in closed form
    one = np.array([1.0])
    life = PooledLife(one, one, 3 * one, 5 * one, 1.0)
    assert life.good(2.0) == pytest.approx((5 / 7) ** 3)
    assert life.age_at(0.5) == pytest.approx(5 * (2 ** (1 / 3) - 1))


def test_one_group_with_many_lives_stands_on_its_own() -> None:
    rng = np.random.default_rng(2)
    life = 1000 * rng.weibull(2.5, 2000)
    lives = lives_of(life, life)
    pooled = pool_groups({"only": lives})
    fit = fit_weibull(lives)
    assert pooled.shape == pytest.approx(fit.law.shape, rel=0.01)
    assert pooled.groups[0].life.age_at(0.1) == pytest.approx(fit.law.age_at(0.1), rel=0.01)
    for end in (pooled.shape_limits.low, pooled.shape_limits.high):
        # its profile has fallen by chi-square with one degree, 2.7055 at 90 %, 1 % on either side
        drops = [
            2 * (fit.loglik - float(log_likelihood(lives, s, fit_scale(lives, s).scale)))
            for s in (0.99 * end, 1.01 * end)
        ]
        assert min(drops) < 2.705543454095404 < max(drops)


def test_groups_are_drawn_together_and_the_poorest_most() -> None:
    rng = np.random.default_rng(3)
    rich, poor = 2000 * rng.weibull(2.2, 60), 500 * rng.weibull(2.2, 4)
    middle = 1000 * rng.weibull(2.2, 60)
    pooled = pool_groups(
        {n: lives_of(v, v) for n, v in (("rich", rich), ("poor", poor), ("middle", middle))}
    )
    by_name = {g.name: g for g in pooled.groups}
    own = {n: fit_weibull(lives_of(v, v)).law for n, v in (("rich", rich), ("poor", poor))}
    pull = {n: abs(math.log(by_name[n].life.age_at(0.5) / own[n].age_at(0.5))) for n in own}
    assert pull["poor"] > pull["rich"]
    assert by_name["poor"].life.age_at(0.5) < by_name["middle"].life.age_at(0.5)
    limits = {n: by_name[n].life.age_limits(0.5) for n in ("rich", "poor")}
    width = {n: math.log(x.high / x.low) for n, x in limits.items()}
    assert width["poor"] > width["rich"]


def test_a_group_without_failures_still_gets_an_answer() -> None:
    lives, _ = fleet(4)
    lives["young"] = lives_of([300.0, 350.0], [INF, INF])
    young = pool_groups(lives).groups[-1]
    assert young.alone is None
    assert young.failures == 0
    limits = young.life.age_limits(0.1)
    assert limits.low < young.life.age_at(0.1) < limits.high


def test_joints_made_today_change_nothing() -> None:
    """They have run nothing, so they say nothing of how long joints run: neither in a group nor
    alone."""
    lives, _ = fleet(6)
    one = lives["conveyor 1"]
    more = lives_of(np.append(one.good, [0.0, 0.0]), np.append(one.bad, [INF, INF]))
    before, after = pool_groups(lives), pool_groups({**lives, "conveyor 1": more})
    assert after.shape == pytest.approx(before.shape, rel=1e-9)
    for was, now in zip(before.groups, after.groups, strict=True):
        assert now.life.age_at(0.1) == pytest.approx(was.life.age_at(0.1), rel=1e-9)
    alone, with_new = fit_weibull(one).law, fit_weibull(more).law
    assert (with_new.shape, with_new.scale) == pytest.approx((alone.shape, alone.scale), rel=1e-9)


def test_a_new_conveyor_is_less_sure_than_those_with_records() -> None:
    pooled = pool_groups(fleet(5)[0])
    new = pooled.new.age_limits(0.1)
    for group in pooled.groups:
        known = group.life.age_limits(0.1)
        assert math.log(known.high / known.low) < math.log(new.high / new.low)


def test_sum_over_rates_agrees_with_the_closed_form() -> None:
    # looks so close that they are failures seen: two ways to one posterior
    lives, _ = fleet(6)
    looked = {
        n: lives_of(
            np.where(g.exact, g.good - 0.01, g.good), np.where(g.exact, g.good + 0.01, g.bad)
        )
        for n, g in lives.items()
    }
    seen, between = pool_groups(lives), pool_groups(looked)
    assert between.shape == pytest.approx(seen.shape, rel=1e-6)
    for one, other in zip(seen.groups, between.groups, strict=True):
        assert other.life.age_at(0.1) == pytest.approx(one.life.age_at(0.1), rel=1e-5)
        # the ends of a range step from node to node of ln rate, 0.13 apart: half of it by the shape
        assert other.life.age_limits(0.1).low == pytest.approx(
            one.life.age_limits(0.1).low, rel=0.065 / seen.shape
        )


def test_wide_looks_are_less_sure_than_seen_failures() -> None:
    lives, _ = fleet(7)
    looked = {
        n: lives_of(
            np.where(g.exact, np.floor(g.good / 400) * 400, g.good),
            np.where(g.exact, np.floor(g.good / 400) * 400 + 400, g.bad),
        )
        for n, g in lives.items()
    }
    seen, between = pool_groups(lives), pool_groups(looked)
    assert math.log(between.shape_limits.high / between.shape_limits.low) > math.log(
        seen.shape_limits.high / seen.shape_limits.low
    )


def test_the_unit_of_age_does_not_matter() -> None:
    lives, _ = fleet(8)
    hours = pool_groups(lives)
    seconds = pool_groups({n: lives_of(g.good * 3600, g.bad * 3600) for n, g in lives.items()})
    assert seconds.shape == pytest.approx(hours.shape, rel=1e-9)
    for one, other in zip(hours.groups, seconds.groups, strict=True):
        assert other.life.age_at(0.1) == pytest.approx(3600 * one.life.age_at(0.1), rel=1e-7)


def test_leaning_is_nearer_the_truth_than_standing_alone_or_as_one() -> None:
    # 60 fleets of 6 x 6 joints; error of ln age at 10 % failed, conveyors with 2 failures or more
    squares: dict[str, list[float]] = {"alone": [], "together": [], "leaning": []}
    for seed in range(60):
        lives, laws = fleet(1000 + seed)
        for group, law in zip(pool_groups(lives).groups, laws, strict=True):
            if group.alone is None or group.together is None:
                continue
            truth = math.log(law.age_at(0.1))
            squares["alone"].append((math.log(group.alone.age_at(0.1)) - truth) ** 2)
            squares["together"].append((math.log(group.together.age_at(0.1)) - truth) ** 2)
            squares["leaning"].append((math.log(group.life.age_at(0.1)) - truth) ** 2)
    error = {name: math.sqrt(float(np.mean(s))) for name, s in squares.items()}
    assert error["leaning"] < error["together"] < error["alone"]


def test_ranges_hold_the_truth_nine_times_in_ten() -> None:
    # 240 conveyors: standard error 0.02
    held = []
    for seed in range(40):
        lives, laws = fleet(seed)
        for group, law in zip(pool_groups(lives).groups, laws, strict=True):
            limits = group.life.age_limits(0.1)
            held.append(limits.low <= law.age_at(0.1) <= limits.high)
    assert 0.86 < float(np.mean(held)) <= 0.97


def test_a_firm_belief_about_the_shape_holds() -> None:
    pooled = pool_groups(fleet(9)[0], Prior(shape=1.0, shape_spread=0.01))
    assert pooled.shape == pytest.approx(1.0, abs=0.03)


def test_what_cannot_be_pooled_is_refused() -> None:
    with pytest.raises(InputError, match="groups: there are none"):
        pool_groups({})
    unfailed = lives_of([5.0], [INF])
    with pytest.raises(InputError) as caught:
        pool_groups({"a": unfailed, "b": unfailed})
    assert str(caught.value) == (
        "groups: hold no failure, so there is nothing to share; with an assumed shape a lower "
        "bound of life can still be given"
    )
    tonnes = lives_of([5.0], [5.0], measure=Measure.MASS)
    with pytest.raises(InputError, match="counted in different measures"):
        pool_groups({"a": unfailed, "b": tonnes})
    with pytest.raises(InputError, match="prior, shape spread: 0 must be a finite number above"):
        Prior(shape_spread=0.0)
