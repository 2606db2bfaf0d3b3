"""Vertical curves: force polygons and integration over the troughed section."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from proof import proves
from splicewright.tension.across.curves import (
    concave_radius,
    convex_radius,
    edge_reach,
    inner_tension,
    middle_reach,
    outer_tension,
    radius_for_inner,
    radius_for_outer,
)
from splicewright.tension.resistance.main import GRAVITY

pytestmark = proves(
    "Transition, trough and curves",
    "Vertical curves by force polygons",
    "C",
    "Idler load as the resultant of two strands, lift-off, and edge and middle of the "
    "troughed section in a curve.",
    doubt="Statics, plane sections.",
    tolerance="rounding of floats; 1e-5 where a curve is cut into straight pieces",
    sketch="curve",
)


DEG = math.pi / 180
M = 5e6

sections = st.tuples(st.floats(0.5, 2.4), st.floats(0.0, 0.9), st.floats(1, 60))


@given(sections)
def test_reaches_are_taken_from_the_centroid(section: tuple[float, float, float]) -> None:
    width, share, degrees = section
    middle, trough = share * width, degrees * DEG
    wing = (width - middle) / 2

    def height(y: float) -> float:
        return max(0.0, abs(y) - middle / 2) * math.sin(trough)

    half, _ = quad(height, 0, width / 2, points=[middle / 2])
    centroid = 2 * half / width
    assert middle_reach(width, middle, trough) == pytest.approx(centroid)
    assert edge_reach(width, middle, trough) == pytest.approx(wing * math.sin(trough) - centroid)


def test_fibres_of_a_curve_are_stretched_by_their_own_radius() -> None:
    # A fibre at e over the centroid runs on R + e: its arc is longer by exactly e/R.
    radius, reach, angle = 80.0, 0.15, 0.2
    strain = (radius + reach) * angle / (radius * angle) - 1
    assert outer_tension(20e3, M, reach, radius) == pytest.approx(20e3 + M * strain)
    assert inner_tension(20e3, M, reach, radius) == pytest.approx(20e3 - M * strain)


@given(st.floats(10e3, 40e3), st.floats(45e3, 90e3), st.floats(0.02, 0.3))
def test_least_radii_give_back_the_limits(mean: float, permitted: float, reach: float) -> None:
    radius = radius_for_outer(permitted, mean, M, reach)
    assert outer_tension(mean, M, reach, radius) == pytest.approx(permitted)
    radius = radius_for_inner(5e3, mean, M, reach)
    assert inner_tension(mean, M, reach, radius) == pytest.approx(5e3)


def test_the_conditions_stand_side_by_side() -> None:
    shape = {"modulus": M, "width": 1.2, "middle": 0.465, "trough": 35 * DEG}
    convex = convex_radius(smallest=20e3, largest=40e3, permitted=65e3, least=0.0, **shape)
    concave = concave_radius(
        smallest=20e3, largest=40e3, permitted=65e3, least=0.0, belt=14.0, slope=0.2,
        empty=25e3, **shape,
    )  # fmt: skip
    edge, middle = (float(r(1.2, 0.465, 35 * DEG)) for r in (edge_reach, middle_reach))
    lift = 25e3 * 1.2 / (14.0 * GRAVITY * math.cos(0.2))
    # Edges lie farther from the centroid than the middle: they want the larger radius.
    assert convex == pytest.approx(max(M * edge / (65e3 - 40e3), M * middle / 20e3))
    assert concave == pytest.approx(max(M * middle / (65e3 - 40e3), M * edge / 20e3, lift))


def test_no_radius_helps_a_belt_too_tight() -> None:
    found = radius_for_outer(np.array([50e3, 40e3]), 40e3, M, 0.1)
    assert np.asarray(found)[0] == pytest.approx(50.0)
    assert np.isinf(np.asarray(found)[1])
