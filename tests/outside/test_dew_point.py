"""Dew point against an independent equation of state of water, and a published worked value."""

from __future__ import annotations

import math

import pytest

from splicewright.joint.curing import dew_point

# IAPWS-IF97, region 4 (saturation), coefficients n1 to n10; from memory, held by the standard's
# own verification values below: a wrong digit would miss them.
_N = (
    0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5,
    -0.32325550322333e7, 0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6,
    -0.23855557567849, 0.65017534844798e3,
)  # fmt: skip


def saturation(kelvin: float) -> float:
    """Vapour pressure over water by IAPWS-IF97 [Pa]."""
    theta = kelvin + _N[8] / (kelvin - _N[9])
    a = theta**2 + _N[0] * theta + _N[1]
    b = _N[2] * theta**2 + _N[3] * theta + _N[4]
    c = _N[5] * theta**2 + _N[6] * theta + _N[7]
    return float(1e6 * (2 * c / (-b + math.sqrt(b * b - 4 * a * c))) ** 4)


def test_the_equation_of_state_is_typed_rightly() -> None:
    """IAPWS-IF97, table 35: 300, 500 and 600 K."""
    for kelvin, megapascal in ((300, 0.353658941e-2), (500, 0.263889776e1), (600, 0.123443146e2)):
        assert saturation(kelvin) == pytest.approx(1e6 * megapascal, rel=1e-8)


def test_dew_forms_where_the_vapour_is_saturated() -> None:
    """Air of 1 to 45 °C with 30 % to all it can hold, wherever the dew point lies above freezing:
    found by halving on the equation of state."""
    tried = 0
    for celsius in range(1, 46, 4):
        for percent in range(30, 101, 10):
            air = 273.15 + celsius
            wanted = percent / 100 * saturation(air)
            low, high = 273.16, air + 1e-9
            if saturation(low) > wanted:
                continue
            for _ in range(60):
                middle = (low + high) / 2
                low, high = (middle, high) if saturation(middle) < wanted else (low, middle)
            assert dew_point(air, percent / 100) == pytest.approx(low, abs=0.06)
            tried += 1
    assert tried > 60


def test_a_published_value() -> None:
    """A meteorological library's documentation: 22 hPa of vapour, dew at 19.029 °C (Bolton 1980,
    whose constants differ a little). Air of 25 °C that holds as much: 22 hPa over 31.69 hPa."""
    held = 22 / (6.112 * math.exp(17.67 * 25 / (25 + 243.5)))
    assert dew_point(298.15, held) - 273.15 == pytest.approx(19.029, abs=0.05)


def test_saturated_air_has_its_own_dew_point() -> None:
    assert dew_point(287.15, 1.0) == pytest.approx(287.15, abs=1e-9)
