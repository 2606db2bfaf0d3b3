"""The Weibull law and its fit: closed forms, invariants, and refusals in words."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from depth import examples
from splicewright.errors import InputError
from splicewright.history.life.lives import Lives, lives_of
from splicewright.history.life.weibull import Weibull, fit_scale, fit_weibull, log_likelihood
from splicewright.quantities.measure import Measure

INF = math.inf


def mixed_lives(seed: int, number: int = 40) -> Lives:
    """Seen, suspended, between looks and watched late, from shape 2.2 and scale 1000."""
    rng = np.random.default_rng(seed)
    life = 1000 * rng.weibull(2.2, 4 * number)
    entered = np.where(rng.random(life.size) < 0.3, rng.uniform(0, 600, life.size), 0.0)
    kept = np.flatnonzero(life > entered)[:number]
    life, entered = life[kept], entered[kept]
    stop = rng.uniform(300, 1500, kept.size)
    look = 150.0
    low = np.maximum(np.floor(life / look) * look, entered)
    high = np.floor(life / look) * look + look
    looked = rng.random(kept.size) < 0.4
    held = life > stop
    good = np.where(held, np.maximum(stop, entered), np.where(looked, low, life))
    bad = np.where(held, INF, np.where(looked, high, life))
    return lives_of(good, bad, entered=entered)


def test_law_of_chance_is_the_exponential() -> None:
    law = Weibull(1.0, 50.0)
    assert law.mean == pytest.approx(50.0)
    assert law.spread == pytest.approx(50.0)
    assert law.age_at(0.5) == pytest.approx(50 * math.log(2))
    np.testing.assert_allclose(law.hazard([1.0, 10.0, 100.0]), 1 / 50)
    np.testing.assert_allclose(law.good(50.0), math.exp(-1))


@given(shape=st.floats(0.3, 8.0), scale=st.floats(1e-3, 1e9), share=st.floats(0.001, 0.999))
def test_age_at_undoes_failed(shape: float, scale: float, share: float) -> None:
    law = Weibull(shape, scale)
    assert float(law.failed(law.age_at(share))) == pytest.approx(share, rel=1e-9)


def test_impossible_law_is_refused() -> None:
    with pytest.raises(InputError) as caught:
        Weibull(0.0, 5.0)
    assert str(caught.value) == (
        "shape: 0 is no Weibull shape; accepted is a finite number above zero"
    )
    with pytest.raises(InputError, match="scale: inf is no Weibull scale"):
        Weibull(2.0, INF)


@settings(max_examples=examples(25), deadline=None)
@given(seed=st.integers(0, 10_000), factor=st.floats(1e-6, 1e9))
def test_fit_does_not_care_for_the_unit(seed: int, factor: float) -> None:
    lives = mixed_lives(seed)
    scaled = lives_of(lives.good * factor, lives.bad * factor, entered=lives.entered * factor)
    one, other = fit_weibull(lives).law, fit_weibull(scaled).law
    assert other.shape == pytest.approx(one.shape, rel=1e-6)
    assert other.scale == pytest.approx(one.scale * factor, rel=1e-6)


@settings(max_examples=examples(25), deadline=None)
@given(seed=st.integers(0, 10_000))
def test_counts_are_the_same_as_repeats(seed: int) -> None:
    lives = mixed_lives(seed, 20)
    twice = lives_of(lives.good, lives.bad, entered=lives.entered, count=2)
    long = lives_of(
        np.tile(lives.good, 2), np.tile(lives.bad, 2), entered=np.tile(lives.entered, 2)
    )
    one, other = fit_weibull(twice), fit_weibull(long)
    assert one.law.shape == pytest.approx(other.law.shape, rel=1e-9)
    assert one.loglik == pytest.approx(other.loglik, rel=1e-9)


@settings(max_examples=examples(25), deadline=None)
@given(seed=st.integers(0, 10_000))
def test_no_law_near_by_is_more_likely(seed: int) -> None:
    lives = mixed_lives(seed)
    fit = fit_weibull(lives)
    steps = np.linspace(-0.1, 0.1, 21)
    shape, scale = np.meshgrid(fit.law.shape * np.exp(steps), fit.law.scale * np.exp(steps))
    assert float(log_likelihood(lives, shape, scale).max()) <= fit.loglik + 1e-9


def test_covariance_is_the_inverse_of_the_curvature() -> None:
    lives = mixed_lives(7)
    fit = fit_weibull(lives)
    h = 1e-4

    def at(a: float, b: float) -> float:
        value = log_likelihood(lives, fit.law.shape * math.exp(b), fit.law.scale * math.exp(a))
        return float(value)

    middle = at(0, 0)
    second = np.array(
        [
            [
                at(h, 0) - 2 * middle + at(-h, 0),
                (at(h, h) - at(h, -h) - at(-h, h) + at(-h, -h)) / 4,
            ],
            [0.0, at(0, h) - 2 * middle + at(0, -h)],
        ]
    )
    second[1, 0] = second[0, 1]
    np.testing.assert_allclose(np.linalg.inv(-second / h**2), fit.covariance, rtol=1e-4)


def test_log_likelihood_in_closed_form() -> None:
    lives = lives_of([3.0, 5.0, 2.0, 0.0], [3.0, INF, 4.0, 6.0], entered=[1.0, 0.0, 0.0, 0.0])
    law = Weibull(1.7, 4.0)
    expected = (
        math.log(float(law.hazard(3.0) * law.good(3.0) / law.good(1.0)))
        + math.log(float(law.good(5.0)))
        + math.log(float(law.good(2.0) - law.good(4.0)))
        + math.log(float(law.failed(6.0)))
    )
    assert float(log_likelihood(lives, 1.7, 4.0)) == pytest.approx(expected, rel=1e-12)


def test_scale_given_shape_in_closed_form() -> None:
    lives = lives_of([3.0, 5.0, 8.0], [3.0, 5.0, INF], entered=[0.0, 1.0, 2.0])
    total = 3**2.5 + 5**2.5 - 1 + 8**2.5 - 2**2.5
    assert fit_scale(lives, 2.5).scale == pytest.approx((total / 2) ** (1 / 2.5), rel=1e-12)


def test_scale_given_shape_between_looks_in_closed_form() -> None:
    # all looked at once at age 10, 7 of 20 failed: S(10) = 13/20 whatever the shape
    lives = lives_of([0.0, 10.0], [10.0, INF], count=[7, 13])
    law = fit_scale(lives, 3.0)
    assert float(law.good(10.0)) == pytest.approx(13 / 20, rel=1e-9)


def test_leaving_out_the_late_watch_makes_lives_too_long() -> None:
    rng = np.random.default_rng(5)
    life, entered = 1000 * rng.weibull(2.2, 6000), rng.uniform(0, 800, 6000)
    seen = life > entered
    honest = fit_weibull(lives_of(life[seen], life[seen], entered=entered[seen])).law
    naive = fit_weibull(lives_of(life[seen], life[seen])).law
    assert honest.scale == pytest.approx(1000, rel=0.03)
    assert honest.shape == pytest.approx(2.2, rel=0.05)
    assert naive.scale > 1.05 * honest.scale


@pytest.mark.parametrize(
    ("good", "bad", "words"),
    [
        (
            [5.0, 8.0],
            [INF, INF],
            "lives: hold no failure, so there is no scale to fit; with an assumed shape a lower "
            "bound of life can still be given",
        ),
        (
            [5.0, 8.0],
            [5.0, INF],
            "lives: hold one failure only, which settles no shape; assume a shape, or pool with "
            "joints of other conveyors",
        ),
        (
            [5.0, 5.0, 4.0],
            [5.0, 5.0, INF],
            "lives: have all failures at or around one age (5 turns), which settles no shape; a "
            "common cause is more likely than wear, or the ages were rounded",
        ),
        (
            [10.0, 10.0, 20.0],
            [20.0, 20.0, INF],
            "lives: have all failures within one interval between inspections, which settles no "
            "shape; "
            "assume a shape, or pool with joints of other conveyors",
        ),
        (
            [0.0, 0.0, 20.0],
            [10.0, 10.0, INF],
            "lives: do not settle a shape: laws ever steeper, or ever flatter, fit them as well; "
            "assume a shape, or inspect the joints more often",
        ),
    ],
)
def test_lives_that_settle_no_law_are_refused(
    good: list[float], bad: list[float], words: str
) -> None:
    with pytest.raises(InputError) as caught:
        fit_weibull(lives_of(good, bad, measure=Measure.TURNS))
    assert str(caught.value) == words
