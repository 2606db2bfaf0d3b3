"""Belt on a roll against its own winding: closed form, no source.

A spiral of pitch t has the area of the belt's side view: both must agree, and so must the sum
of its turns taken as rings of mean diameter.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from proof import proves
from splicewright.loop import roll_diameter

pytestmark = proves(
    "Loop and take-up",
    "Belt on a roll",
    "C",
    "Length and diameter of a wound roll: area of the spiral against the sum of its turns.",
    doubt="Exact for a belt of even thickness wound without gaps.",
    tolerance="rounding of floats: both sides are the same relation written twice",
    sketch="roll",
)


@given(st.floats(0.1, 1.0), st.floats(0.004, 0.03), st.integers(1, 200))
def test_length_is_the_sum_of_the_turns(core: float, thickness: float, turns: int) -> None:
    rings = sum(math.pi * (core + (2 * n + 1) * thickness) for n in range(turns))
    outer = core + 2 * turns * thickness
    assert roll_diameter(core, thickness, rings) == pytest.approx(outer, rel=1e-12)


@given(st.floats(0.1, 1.0), st.floats(0.004, 0.03), st.floats(0.5, 3000.0))
def test_diameter_and_length_undo_each_other(core: float, thickness: float, length: float) -> None:
    outer = float(roll_diameter(core, thickness, length))
    assert outer > core
    spiral = math.pi * (outer**2 - core**2) / (4 * thickness)
    assert spiral == pytest.approx(length, rel=1e-9)
