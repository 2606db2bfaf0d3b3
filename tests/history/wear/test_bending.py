"""Line or curve: false alarms, what is seen, ends, and what must hold. Values from outside are in
tests/outside/test_nist_regression.py."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import f as f_law

from depth import examples
from splicewright.errors import InputError
from splicewright.history.arrays import Array
from splicewright.history.wear.bending import Course, aicc, gain_of_bend, judge_bend
from splicewright.history.wear.curve import bent_use, bent_use_slope, draw_ends, fit_curve
from splicewright.history.wear.limit_met import Reading, forecast_wear
from splicewright.history.wear.line import fit_line

USE = np.linspace(500.0, 8000.0, 10)


def noise(seed: int, spread: float = 0.05) -> Array:
    return np.random.default_rng(seed).normal(0.0, spread, USE.size)


@given(
    use=st.floats(0.0, 3.0),
    bend=st.floats(-0.8, 5.0),
    power=st.sampled_from([0.5, 1.0, 2.0, 3.0, math.inf]),
)
def test_bent_use_is_the_sum_of_its_rate(use: float, bend: float, power: float) -> None:
    if not math.isinf(power) and 1 + bend * use / power < 0.05:
        return

    def rate(u: float) -> float:
        x = bend * u
        return math.exp(-x) if math.isinf(power) else (1 + x / power) ** (-power - 1)

    expected, _ = quad(rate, 0.0, use, epsabs=1e-13)
    assert float(bent_use(use, bend, power)) == pytest.approx(expected, rel=1e-8, abs=1e-12)


@given(
    use=st.floats(0.01, 3.0),
    bend=st.floats(-0.3, 5.0),
    power=st.sampled_from([0.5, 1.0, 2.0, math.inf]),
)
def test_slope_by_the_bend_is_that_of_differences(use: float, bend: float, power: float) -> None:
    if not math.isinf(power) and 1 + bend * use / power < 0.2:
        return
    step = 1e-5
    ends = bent_use(use, np.array([bend - step, bend + step]), power)
    slope = float(bent_use_slope(use, bend, power))
    assert slope == pytest.approx(float(ends[1] - ends[0]) / (2 * step), rel=1e-4, abs=1e-9)


@pytest.mark.parametrize("power", [0.5, 1.0, math.inf])
@pytest.mark.parametrize("start", [None, 12.0])
def test_readings_on_a_curve_give_it_back(start: float | None, power: float) -> None:
    u = USE - USE[0] if start is None else USE
    y = 12.0 - 2e-3 * bent_use(u, 4e-4, power)
    curve = fit_curve(USE, y, start=start, power=power)
    assert curve.bend == pytest.approx(4e-4, rel=1e-7)
    assert curve.rate == pytest.approx(-2e-3, rel=1e-7)
    there = float(curve.at(20_000.0))
    assert curve.meets(there) == pytest.approx(20_000.0, rel=1e-6)
    assert math.isinf(curve.meets(12.5))


def test_a_straight_line_is_called_bent_one_time_in_twenty() -> None:
    # exact for a small bend: F says so by chance in 5 % of sets; 200 sets, standard error 1.5 %
    called = [judge_bend(USE, 12 - 6e-4 * USE + noise(s), 4.0).chance < 0.05 for s in range(200)]
    assert np.mean(called) == pytest.approx(0.05, abs=0.045)


def test_f_and_aicc_by_hand() -> None:
    assert gain_of_bend(10.0, 4.0, 8.0) == pytest.approx(12.0)
    # ten readings, 3 numbers: 10 ln(2/10) + 6 + 24/6
    assert aicc(10, 2.0, 3) == pytest.approx(10 * math.log(0.2) + 6 + 4)
    y = 12 - 0.3 * np.expm1(USE / 3500) + noise(1, 0.3)
    found, line = judge_bend(USE, y, 4.0), fit_line(USE, y)
    assert found.curve is not None
    gain = (line.spread**2 * 8 - found.curve.rest) / (found.curve.rest / 7)
    assert found.chance == pytest.approx(float(f_law.sf(gain, 1, 7)), rel=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_wear_that_speeds_up_ends_before_the_line_says(seed: int) -> None:
    worn = 0.3 * np.expm1(USE / 3500)
    found = judge_bend(USE, 12 - worn + noise(seed), 4.0)
    truth = 3500 * math.log1p(8 / 0.3)
    assert found.course is Course.SPEEDS
    assert found.earliest < found.likely < found.latest < fit_line(USE, 12 - worn).meets(4.0)
    assert found.likely == pytest.approx(truth, rel=0.1)


@pytest.mark.parametrize("seed", range(5))
def test_wear_that_levels_off_may_never_reach_the_limit(seed: int) -> None:
    found = judge_bend(USE, 12 - 3 * (1 - np.exp(-USE / 2500)) + noise(seed), 4.0)
    assert found.course is Course.LEVELS
    assert (found.likely, found.earliest, found.latest) == (math.inf,) * 3


def test_band_of_the_curve_holds_the_end_nine_times_in_ten() -> None:
    # 60 sets, standard error 3.9 %: the limit as one further reading would give it
    truth = 3500 * math.log1p(8 / 0.3)
    rng = np.random.default_rng(5)
    inside = bent = 0
    for _ in range(60):
        y = 12 - 0.3 * np.expm1(USE / 3500) + rng.normal(0, 0.08, USE.size)
        read = 4.0 + rng.normal(0, 0.08)  # what would be read on the day the true wear is 8
        found = judge_bend(USE, y, read)
        if not math.isnan(found.likely):
            bent += 1
            inside += found.earliest <= truth <= found.latest
    assert bent >= 59
    assert inside / bent == pytest.approx(0.9, abs=0.09)


def test_a_bend_that_hangs_on_one_reading_does_not_count() -> None:
    use = np.linspace(500.0, 8000.0, 16)
    y = 12 - 6e-4 * use + np.random.default_rng(3).normal(0.0, 0.02, 16)
    y[-1] -= 0.6
    found = judge_bend(use, y, 4.0)
    assert found.chance < 0.05
    assert (found.course, found.hangs_on) == (Course.LINE, 15)


def test_few_readings_say_nothing() -> None:
    found = judge_bend(USE[:5], 12 - 6e-4 * USE[:5], 4.0)
    assert (found.course, found.curve) == (Course.FEW, None)
    again = judge_bend(np.repeat([100.0, 200.0, 300.0], 3), np.arange(9.0), 20.0)
    assert again.course is Course.FEW
    with pytest.raises(InputError) as caught:
        fit_curve([1.0, 2.0, 2.0], [1.0, 2.0, 3.0])
    assert str(caught.value) == "readings: readings at 2 different uses do not fix a curve; 3 do"


def test_readings_that_agree_to_the_last_digit_are_no_bend() -> None:
    # exact to the rounding of the gauge: what is left over is rounding, not shape
    y = np.round(12 - 6e-4 * USE, 1)
    assert judge_bend(USE, y, 4.0, error=0.1 / math.sqrt(12)).course is Course.LINE


@settings(deadline=None, max_examples=examples(15))
@given(
    seed=st.integers(0, 10**6),
    scale=st.sampled_from([1e-3, 1.0, 1e4]),
    start=st.sampled_from([None, 12.0]),
)
def test_units_do_not_matter(seed: int, scale: float, start: float | None) -> None:
    y = 12 - 2 * (1 - np.exp(-USE / 2500)) + noise(seed)
    one = judge_bend(USE, y, 9.8, start=start)
    other = judge_bend(USE * scale, y * 1e-3, 9.8e-3, start=None if start is None else start * 1e-3)
    assert one.course is other.course
    assert other.chance == pytest.approx(one.chance, rel=1e-4, abs=1e-12)
    for a, b in ((one.likely, other.likely), (one.earliest, other.earliest)):
        assert b == pytest.approx(a * scale, rel=1e-4, nan_ok=True)


def test_the_order_of_places_counts_wear_that_speeds_up() -> None:
    y = 12 - 0.3 * np.expm1(USE / 3500)
    readings = [Reading(float(u), float(v) * 1e-3) for u, v in zip(USE, y, strict=True)]
    found = forecast_wear(readings, 4e-3)
    assert found.bend is not None
    assert found.line is not None
    assert found.by_curve
    assert found.likely == found.bend.likely < found.line.meets(4e-3)


def test_drawn_ends_lie_about_the_end_of_the_curve() -> None:
    y = 12 - 0.3 * np.expm1(USE / 3500) + noise(1, 0.02)
    curve = fit_curve(USE, y)
    ends = draw_ends(curve, 4.0, 4000, np.random.default_rng(1))
    assert float(np.median(ends)) == pytest.approx(curve.meets(4.0), rel=0.01)
    # spread by hand: the slope of the end by what was fitted, and Student's law of 7
    step = np.array([1e-4, 1e-8, 1e-9])
    turn = [
        (replace(curve, **{k: getattr(curve, k) + s}).meets(4.0) - curve.meets(4.0)) / s
        for k, s in zip(("start", "rate", "bend"), step.tolist(), strict=True)
    ]
    wide = curve.spread * math.sqrt(float(np.array(turn) @ curve.unit_covariance @ turn))
    assert float(np.std(ends)) == pytest.approx(wide * math.sqrt(7 / 5), rel=0.1)
