"""Goodness of fit and the comparison of two kinds: size of the tests, words, refusals."""

import math

import numpy as np
import pytest

from splicewright.errors import InputError
from splicewright.history.life.comparison import compare_kinds, compare_laws, largest_gap
from splicewright.history.life.lives import Lives, lives_of
from splicewright.history.life.weibull import fit_weibull
from splicewright.quantities.measure import Measure

INF = math.inf


def wearing(seed: int, number: int, scale: float = 1000.0, shape: float = 2.5) -> Lives:
    rng = np.random.default_rng(seed)
    life = scale * rng.weibull(shape, number)
    stop = rng.uniform(0.5 * scale, 2 * scale, number)
    return lives_of(np.minimum(life, stop), np.where(life < stop, life, INF))


def test_a_kind_that_lives_twice_as_long_is_found() -> None:
    result = compare_kinds(wearing(1, 40), wearing(2, 40, 2000.0))
    assert result.limits.low < 2 < result.limits.high
    assert result.limits.low > 1
    assert result.chance_same < 0.01
    assert result.sentence.startswith("the second kind lives longer (90 % limits of the ratio")


def test_swapping_the_kinds_turns_the_ratio_over() -> None:
    one, other = wearing(1, 25), wearing(2, 25, 1500.0)
    there, back = compare_kinds(one, other), compare_kinds(other, one)
    assert there.ratio == pytest.approx(1 / back.ratio, rel=1e-6)
    assert there.limits.low == pytest.approx(1 / back.limits.high, rel=1e-6)
    assert there.chance_same == pytest.approx(back.chance_same, rel=1e-6)


def test_a_few_lives_are_not_enough_to_say() -> None:
    result = compare_kinds(wearing(4, 4), wearing(5, 4, 1200.0))
    assert result.sentence.startswith("not enough data to say which kind lives longer")


def test_a_kind_that_has_not_failed_has_a_lower_bound_only() -> None:
    unfailed = lives_of(np.full(10, 900.0), np.full(10, INF))
    result = compare_kinds(wearing(1, 25), unfailed)
    assert math.isinf(result.second)
    assert math.isinf(result.limits.high)
    assert 1 < result.limits.low < INF
    assert math.isnan(result.chance_same_shape)
    assert "no upper bound" in result.sentence
    turned = compare_kinds(unfailed, wearing(1, 25))
    assert turned.limits.low == 0.0
    assert turned.limits.high == pytest.approx(1 / result.limits.low, rel=1e-6)


def test_lives_in_different_measures_are_not_compared() -> None:
    tonnes = lives_of([5.0, 6.0], [5.0, 6.0], measure=Measure.MASS)
    with pytest.raises(InputError) as caught:
        compare_kinds(wearing(1, 5), tonnes)
    assert str(caught.value) == (
        "lives: are counted in running time for one kind and mass carried for the other; give "
        "both in one measure"
    )


def test_lognormal_lives_show_as_lognormal() -> None:
    rng = np.random.default_rng(3)
    life = np.exp(6 + 0.9 * rng.standard_normal(300))
    laws = compare_laws(fit_weibull(lives_of(life, life)))
    assert laws.lognormal < laws.weibull
    assert laws.sentence.startswith("a lognormal law describes these lives better")


def test_very_many_lives_are_fitted_as_each_by_itself() -> None:
    """Closed form: the most likely lognormal law of complete lives has their mean and standard
    deviation of ln age (maximum likelihood of a normal sample, from memory). Put together, ages
    differ by 1 in 740 at most: half a step of 1/256 of a doubling."""
    logs = 6 + 0.9 * np.random.default_rng(3).standard_normal(21_000)
    laws = compare_laws(fit_weibull(lives_of(np.exp(logs), np.exp(logs))))
    assert laws.median == pytest.approx(math.exp(logs.mean()), rel=1 / 740)
    assert laws.spread == pytest.approx(logs.std(), rel=1 / 740)


@pytest.mark.parametrize("number", [40, 21_000])
def test_joints_made_today_change_no_law(number: int) -> None:
    """They have run nothing, so they say nothing of how long joints run."""
    life = 1000 * np.random.default_rng(3).weibull(2.5, number)
    one = lives_of(life, life)
    more = lives_of(np.append(life, [0.0, 0.0]), np.append(life, [INF, INF]))
    before, after = (compare_laws(fit_weibull(lives)) for lives in (one, more))
    assert after.sentence == before.sentence
    for name in ("weibull", "lognormal", "chance", "median", "spread"):
        assert getattr(after, name) == pytest.approx(getattr(before, name), rel=1e-6), name
    kinds = compare_kinds(wearing(1, 20), more) if number == 40 else None
    if kinds is not None:
        assert kinds.ratio == pytest.approx(compare_kinds(wearing(1, 20), one).ratio, rel=1e-6)


def test_lives_by_chance_show_no_ageing() -> None:
    rng = np.random.default_rng(3)
    life = 1000 * rng.weibull(1.0, 40)
    laws = compare_laws(fit_weibull(lives_of(life, life)))
    assert laws.sentence.startswith("no ageing is shown")


def test_wearing_lives_show_the_weibull_law() -> None:
    life = wearing(9, 400, shape=3.0)
    assert "Weibull law describes these lives better" in compare_laws(fit_weibull(life)).sentence


def test_gap_chance_is_small_for_a_wrong_law_and_not_for_the_right_one() -> None:
    rng = np.random.default_rng(6)
    two = np.concatenate([100 * rng.weibull(3, 40), 3000 * rng.weibull(6, 40)])
    assert largest_gap(fit_weibull(lives_of(two, two))).chance < 0.02
    chances = [largest_gap(fit_weibull(wearing(s, 30)), runs=40).chance for s in range(30)]
    assert 0.3 < float(np.mean(chances)) < 0.7


def test_gap_is_the_same_on_every_run() -> None:
    fit = fit_weibull(wearing(1, 20))
    assert largest_gap(fit, runs=20) == largest_gap(fit, runs=20)


def test_gap_test_refuses_what_it_does_not_cover() -> None:
    fit = fit_weibull(lives_of([5.0, 7.0, 2.0], [5.0, 7.0, 9.0]))
    with pytest.raises(InputError, match="the gap test takes failures seen as they happened"):
        largest_gap(fit)
