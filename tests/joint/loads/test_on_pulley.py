"""Plates on a pulley: angle and sagitta against plain coordinates."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from proof import proves
from splicewright.errors import InputError
from splicewright.joint.loads.on_pulley import (
    hinge_angle,
    length_over_diameter,
    pin_circle,
    plate_sagitta,
    smallest_circle,
)

pytestmark = proves(
    "Plate loads",
    "Plates on a pulley",
    "C",
    "Angle and sagitta from three points on a circle.",
    doubt="Exact geometry.",
    tolerance="1e-9: rounding of floats",
    sketch="wrap",
)


@given(length=st.floats(0.02, 0.2), diameter=st.floats(0.25, 2.0))
def test_chords_on_the_pulley(length: float, diameter: float) -> None:
    """Three points on the circle, one plate length apart: angle and sagitta by coordinates."""
    step = 2 * math.asin(length / diameter)
    points = [diameter / 2 * np.array([math.sin(k * step), math.cos(k * step)]) for k in (-1, 0, 1)]
    one, other = points[1] - points[0], points[2] - points[1]
    turn = math.atan2(abs(one[0] * other[1] - one[1] * other[0]), float(one @ other))
    assert hinge_angle(length, diameter) == pytest.approx(turn, rel=1e-9)
    middle = (points[0] + points[1]) / 2
    assert plate_sagitta(length, diameter) == pytest.approx(
        diameter / 2 - float(np.hypot(*middle)), abs=1e-12
    )
    assert smallest_circle(length, turn) == pytest.approx(diameter, rel=1e-9)


def test_where_the_pin_runs() -> None:
    """Half the belt's thickness on each side of the pulley; 46 mm on 400 mm is 0.115."""
    assert pin_circle(0.40123, 0.0117) == pytest.approx(2 * (0.40123 / 2 + 0.0117 / 2))
    assert length_over_diameter(0.0461, 0.4) == pytest.approx(0.11525)


def test_sagitta_on_a_large_pulley_keeps_its_digits() -> None:
    """l^2/(4 D) to first order."""
    assert plate_sagitta(1e-3, 100.0) == pytest.approx(2.5e-9, rel=1e-9)


def test_refusals() -> None:
    with pytest.raises(InputError, match=r"^plate_length: 400 mm is not accepted: give more than"):
        hinge_angle(0.4, 0.3)
    with pytest.raises(InputError, match=r"^plate_length: 0 mm is not accepted: give more than 0"):
        plate_sagitta(0.0, 0.3)
