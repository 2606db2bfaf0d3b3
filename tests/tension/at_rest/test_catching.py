"""A belt end that is let go and caught, against the equation of motion solved step by step."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from proof import proves
from splicewright.tension.at_rest.catching import (
    catching_peak,
    speed_across,
    tackle_stiffness,
    wave_resistance,
)

pytestmark = proves(
    "The stopped belt",
    "A belt end let go and caught",
    "B",
    "Peak in the tackle against the equation of motion integrated by SciPy, and limits by hand.",
    doubt="Integrator tolerance; damping by the wave resistance of a long bar.",
    tolerance="0.2 %, steps of the integration",
    sketch="catch",
)


@pytest.mark.parametrize("seed", range(25))
def test_peak_is_that_of_the_equation_of_motion(seed: int) -> None:
    """m x'' = F - Z x' - k max(0, x - gap), Newton; integrated by SciPy's solve_ivp."""
    rng = np.random.default_rng(seed)
    force, gap = 10 ** rng.uniform(3, 5), float(rng.choice([0.0, 0.005, 0.05]))
    damper, mass = 10 ** rng.uniform(3, 4.5), rng.uniform(10, 120)
    spring = 10 ** rng.uniform(5, 7.3)

    def motion(_: float, y: np.ndarray) -> list[float]:
        return [y[1], (force - damper * y[1] - spring * max(0.0, y[0] - gap)) / mass]

    end = 2 * gap * damper / force + 8 * mass / damper + 20 * math.sqrt(mass / spring)
    end += 8 * damper / spring
    solved = solve_ivp(motion, [0, end], [0.0, 0.0], max_step=end / 3000, rtol=1e-8, atol=1e-12)
    most = spring * max(0.0, float(np.max(solved.y[0])) - gap)
    speed = speed_across(force, gap, damper, mass)
    found = catching_peak(force, speed, damper, mass, spring)
    assert found == pytest.approx(max(most, force), rel=2e-3)


@pytest.mark.parametrize("damping", [0.05, 0.5, 0.95, 1.05, 2.0, 6.0])
@pytest.mark.parametrize("times", [0.5, 3.0, 20.0])
def test_peak_from_light_to_heavy_damping(damping: float, times: float) -> None:
    """m y'' + Z y' + k y = 0 by the roots of its equation (textbook mechanics), both real or both
    complex, looked through in small steps; struck slower and faster than F/Z, as a short strand
    that falls may be."""
    force, mass, spring = 10e3, 50.0, 1e6
    damper = damping * 2 * math.sqrt(spring * mass)
    speed, first = times * force / damper, -force / spring
    one, other = np.roots([mass, damper, spring])
    a = (speed - other * first) / (one - other)
    at = np.linspace(0, 40 / min(abs(one), abs(other)), 400_001)
    way = (a * np.exp(one * at) + (first - a) * np.exp(other * at)).real
    found = catching_peak(force, speed, damper, mass, spring)
    assert found == pytest.approx(force + spring * max(0.0, way.max()), rel=1e-5)


def test_limits_by_hand() -> None:
    """Suddenly applied to a spring without damping: twice the force; struck at speed v:
    F + √(F² + k m v²); textbook mechanics. A heavily damped end only creeps up to F."""
    assert catching_peak(10e3, 0.0, 1e-6, 50.0, 1e6) == pytest.approx(20e3, rel=1e-6)
    struck = 10e3 + math.sqrt(10e3**2 + 1e6 * 50 * 2.0**2)
    assert catching_peak(10e3, 2.0, 1e-6, 50.0, 1e6) == pytest.approx(struck, rel=1e-6)
    assert catching_peak(10e3, 0.0, 1e6, 50.0, 1e6) == pytest.approx(10e3)


def test_speed_of_an_end_let_go() -> None:
    """A long elastic rod under F, let go: its end moves at F/Z, Z = √(m' EA); wave equation.
    From rest with a mass at its end over a short gap it is slower, never faster."""
    resistance = wave_resistance(12.0, 5e6)
    assert resistance == pytest.approx(math.sqrt(12.0 * 5e6))
    top = 30e3 / resistance
    assert speed_across(30e3, 5.0, resistance, 40.0) == pytest.approx(top, rel=1e-6)
    short = speed_across(30e3, 0.01, resistance, 40.0)
    assert 0 < short < top
    assert short < math.sqrt(2 * 30e3 * 0.01 / 40.0)  # no damping at all


def test_more_slack_strikes_harder() -> None:
    gaps = np.array([0.0, 0.01, 0.05, 0.2])
    speeds = speed_across(30e3, gaps, 8e3, 40.0)
    peaks = catching_peak(30e3, speeds, 8e3, 40.0, tackle_stiffness(30e3, 0.01))
    assert np.all(np.diff(np.asarray(peaks)) > 0)
