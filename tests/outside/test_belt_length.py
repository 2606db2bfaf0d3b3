"""Length of a belt over two pulleys, closed forms of plane geometry.

Open belt, pulleys of diameters D and d at a distance C, belt of thickness t along its middle line
(radii R = (D + t)/2, r = (d + t)/2):
    sin(a) = (R - r)/C,  L = 2 C cos(a) + (pi + 2a) R + (pi - 2a) r.
Equal pulleys: L = 2 C + pi (D + t). Both forms are exact.
"""

from __future__ import annotations

import math

import pytest

from proof import proves
from splicewright.loop import lay_out
from splicewright.quantities import Worksheet
from strategies import conveyor_of, loop_file, pulley, run

pytestmark = proves(
    "Loop and take-up",
    "Length of a belt over two pulleys",
    "C",
    "Open belt over equal and unequal pulleys in closed form, and as the hull of two circles "
    "by Cauchy's formula.",
    doubt="Exact plane geometry.",
    tolerance=(
        "1e-9, rounding of lengths written to twelve digits; 1e-6 for a polygon of 4000 corners"
    ),
    sketch="two-pulleys",
)


def belt_length(centre: float, large: float, small: float, thickness: float) -> float:
    big, little = (large + thickness) / 2, (small + thickness) / 2
    tilt = math.asin((big - little) / centre)
    straight = 2 * centre * math.cos(tilt)
    return straight + (math.pi + 2 * tilt) * big + (math.pi - 2 * tilt) * little


def laid_out(centre: float, large: float, small: float, thickness: float) -> float:
    """The loop as a file would have it: tangents as runs, wraps as angles."""
    tilt = math.asin((large - small) / 2 / centre)
    tangent = f"{centre * math.cos(tilt):.12f} m"
    data = loop_file(
        pulley("tail", "tail", diameter=f"{small} m", wrap=f"{math.pi - 2 * tilt:.12f} rad"),
        run("top", "carry", tangent),
        pulley("head", "head", diameter=f"{large} m", wrap=f"{math.pi + 2 * tilt:.12f} rad"),
        run("bottom", "return", tangent),
        belt={"thickness": f"{thickness} m"},
    )
    return lay_out(conveyor_of(data), Worksheet()).belt_length.value


def test_equal_pulleys() -> None:
    expected = 2 * 30 + math.pi * (0.63 + 0.012)
    assert belt_length(30, 0.63, 0.63, 0.012) == pytest.approx(expected, rel=1e-12)
    assert laid_out(30, 0.63, 0.63, 0.012) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(
    ("centre", "large", "small"), [(30.0, 0.8, 0.5), (12.0, 1.25, 0.4), (4.0, 1.6, 0.2)]
)
def test_unequal_pulleys(centre: float, large: float, small: float) -> None:
    expected = belt_length(centre, large, small, 0.014)
    assert laid_out(centre, large, small, 0.014) == pytest.approx(expected, rel=1e-9)


def test_polygon_of_many_corners_tends_to_the_same_length() -> None:
    # Independent of any wrap formula: the convex hull of two circles, measured corner by corner.
    centre, radii = 5.0, (0.4, 0.25)
    angles = [2 * math.pi * n / 4000 for n in range(4000)]
    support = [
        max(radii[0], radii[1] + centre * math.cos(a)) for a in angles
    ]  # width of the hull seen from each side
    perimeter = sum(support) * 2 * math.pi / 4000  # Cauchy's formula
    assert laid_out(centre, 0.79, 0.49, 0.01) == pytest.approx(perimeter, rel=1e-6)
