"""Vertical curves against plane geometry integrated by SciPy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from proof import proves
from splicewright.errors import InputError
from splicewright.loop import rounded
from splicewright.loop.curves import (
    curve_length,
    curve_tangent,
    height_in_curve,
)

pytestmark = proves(
    "Transition, trough and curves",
    "Geometry of a vertical curve by quadrature",
    "B",
    "Height, tangent and saved length of an arc, integrated by SciPy.",
    doubt="Exact geometry.",
    tolerance="1e-8, quadrature",
    sketch="curve",
)


slopes = st.floats(-0.5, 0.5)


@given(st.floats(20, 800), slopes, slopes)
def test_height_is_the_integral_of_the_slope(radius: float, first: float, second: float) -> None:
    length = curve_length(radius, first, second)
    turn = math.copysign(1.0, second - first)
    rise, _ = quad(lambda s: math.sin(first + turn * s / radius), 0, float(length))
    assert height_in_curve(radius, first, second, length) == pytest.approx(rise, abs=1e-8)


@given(st.floats(20, 800), slopes, slopes)
def test_the_curve_ends_where_its_tangents_meet_the_slopes(
    radius: float, first: float, second: float
) -> None:
    # Corner to corner: tangent length along the first slope, then along the second.
    tangent = curve_tangent(radius, first, second)
    rise = tangent * (math.sin(first) + math.sin(second))
    length = curve_length(radius, first, second)
    assert height_in_curve(radius, first, second, length) == pytest.approx(rise, abs=1e-8)


def test_stretches_and_tangents_add_up_to_the_corners() -> None:
    """Plane geometry: a circle of radius R begins R tan(turn/2) before its corner."""
    first, corner, last = rounded((100.0, 80.0), (0.0, 0.2), (50.0,))
    tangent = 50.0 * math.tan(0.1)
    assert first.length == pytest.approx(100.0 - tangent)
    assert corner.length == pytest.approx(50.0 * 0.2)
    assert last.length == pytest.approx(80.0 - tangent)
    whole = rounded((30.0, 40.0), (0.0, 0.2), (0.0,))
    assert [s.length for s in whole] == [30.0, 40.0]


def test_curves_broadcast() -> None:
    radius = np.array([50.0, 100.0])
    assert curve_length(radius, 0.0, 0.2) == pytest.approx(np.array([10.0, 20.0]))


@pytest.mark.parametrize(
    ("radii", "sentence"),
    [
        (
            (400.0, 400.0),
            "slope 2: its curves need 101 m, the slope is 60 m long; take smaller radii or join "
            "the curves",
        ),
        ((-1.0, 0.0), "radius 1: -1 m is no radius; give 0 or more"),
        (
            (5.0,),
            "radii: 3 lengths, 3 slopes and 1 radii do not fit; each length needs its slope, "
            "each corner its radius",
        ),
    ],
)
def test_curves_that_do_not_fit_are_refused(radii: tuple[float, ...], sentence: str) -> None:
    with pytest.raises(InputError) as caught:
        rounded((100.0, 60.0, 100.0), (0.0, 0.25, 0.0), radii)
    assert str(caught.value) == sentence
