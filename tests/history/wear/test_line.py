"""Lines through readings: agreement with least squares, bands, wild readings."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from depth import examples
from splicewright.history.wear.line import fit_line, fit_line_from, fit_robust_line, student


def cloud(seed: int, number: int = 12) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    use = np.sort(rng.uniform(0, 100, number))
    return use, 20 - 0.1 * use + 0.5 * rng.standard_normal(number)


@settings(max_examples=examples(40), deadline=None)
@given(seed=st.integers(0, 10_000))
def test_line_agrees_with_numpy(seed: int) -> None:
    use, value = cloud(seed)
    line = fit_line(use, value)
    coefficients, covariance = np.polyfit(use, value, 1, cov=True)
    assert [line.slope, line.intercept] == pytest.approx(coefficients.tolist(), rel=1e-9)
    # numpy.polyfit divides by n - 2 since 1.16, as we do
    assert line.slope_error == pytest.approx(math.sqrt(covariance[0, 0]), rel=1e-9)
    assert line.intercept_error == pytest.approx(math.sqrt(covariance[1, 1]), rel=1e-9)


def test_without_wild_readings_the_robust_line_is_least_squares() -> None:
    use = np.arange(10.0)
    value = 5 - 0.3 * use + 0.1 * np.tile([1.0, -1.0], 5)
    robust, plain = fit_robust_line(use, value), fit_line(use, value)
    assert robust.wild == ()
    assert robust.line == plain


@settings(max_examples=examples(40), deadline=None)
@given(seed=st.integers(0, 10_000), at=st.integers(0, 11), by=st.floats(8.0, 1e3))
def test_one_wild_reading_is_named_and_does_not_drag_the_line(
    seed: int, at: int, by: float
) -> None:
    use, value = cloud(seed)
    spoilt = value.copy()
    spoilt[at] += by
    clean, robust = fit_robust_line(use, value), fit_robust_line(use, spoilt)
    assert at in robust.wild
    assert abs(robust.line.at(50.0) - clean.line.at(50.0)) < 0.7


def test_few_readings_name_none() -> None:
    assert fit_robust_line([0, 1, 2, 3, 4.0], [5, 4, 3, 90, 1.0]).wild == ()


@settings(max_examples=examples(60), deadline=None)
@given(seed=st.integers(0, 10_000), limit=st.floats(0.0, 15.0), reading=st.booleans())
def test_limit_lies_on_the_band_at_both_ends(seed: int, limit: float, reading: bool) -> None:
    line = fit_line(*cloud(seed))
    early, late = line.meets_between(limit, 0.9, reading=reading)
    assert early <= line.meets(limit) <= late
    for end in (early, late):
        if math.isfinite(end):
            half = line.half_width(end, 0.9, reading=reading)
            assert abs(line.at(end) - limit) == pytest.approx(half, rel=1e-6, abs=1e-9)


def test_an_unsure_slope_gives_no_latest_end() -> None:
    use, value = [0.0, 1.0, 2.0, 3.0], [10.0, 9.0, 10.5, 9.4]
    line = fit_line(use, value)
    early, late = line.meets_between(5.0, 0.9, reading=True)
    assert math.isinf(late)
    half = line.half_width(early, 0.9, reading=True)
    assert early > 3
    assert line.at(early) - 5.0 == pytest.approx(half, rel=1e-9)


def test_a_level_line_never_meets() -> None:
    assert math.isinf(fit_line([0.0, 1.0, 2.0], [5.0, 5.0, 5.0]).meets(3.0))


def test_bands_hold_nine_further_readings_in_ten() -> None:
    # 2000 sets of 8 readings with normal errors: standard error 0.007; naming wild readings
    # costs up to two points at so few
    rng = np.random.default_rng(4)
    held = 0
    for _ in range(2000):
        use = np.sort(rng.uniform(0, 1, 8))
        line = fit_robust_line(use, 20 - 10 * use + rng.standard_normal(8)).line
        new = 20 - 10 * 1.2 + rng.standard_normal()
        held += abs(new - line.at(1.2)) < line.half_width(1.2, 0.9, reading=True)
    assert 0.865 < held / 2000 < 0.915


def test_line_from_a_known_start() -> None:
    line = fit_line_from(12.0, [2.0, 4.0], [11.0, 10.0])
    assert (line.intercept, line.slope) == (12.0, -0.5)
    assert line.spread == pytest.approx(0.0)
    assert line.half_width(0.0, 0.9, reading=False) == 0.0


def test_no_freedom_has_no_bound() -> None:
    assert math.isinf(student(0.9, 0.0))
    # t(0.95; 10) = 1.812 by any table
    assert student(0.9, 10.0) == pytest.approx(1.8125, abs=1e-4)
