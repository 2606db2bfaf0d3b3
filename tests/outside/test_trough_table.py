"""Cross-section of the load on a three-roll trough, parabolic cap (divisor 6).

Source: table inside an anonymous engineering sheet in Chinese (the one of the 1800 t/h coal
conveyor), 35 deg trough, 18 cells. The middle rolls are not printed there; they are the usual
lengths, printed in another sheet of the same kind.

Tolerance: half the last printed digit (5e-6 m2).
"""

from __future__ import annotations

import math

import pytest

from proof import proves
from splicewright.quantities import Worksheet
from splicewright.tension.across.load_section import (
    area_on_slope,
    cap_area_parabola,
    carry_section,
    trough_area,
    usable_width,
)
from strategies import conveyor_of, outline

pytestmark = proves(
    "Transition, trough and curves",
    "Section of the load, 18 cells",
    "A",
    "Cap, trough and whole section for six widths, parabolic cap.",
    doubt="The middle rolls are not printed with the table; they are the usual lengths.",
    tolerance="half the last printed digit (5e-6 m2)",
    sketch="trough",
)


TROUGH = math.radians(35)
TABLE = [
    # B mm, l3 mm, theta deg, S1, S2, S
    (500, 200, 30, 0.01274, 0.01617, 0.02891),
    (650, 250, 30, 0.02249, 0.02997, 0.05247),
    (800, 315, 30, 0.03531, 0.04687, 0.08219),
    (1000, 380, 20, 0.03550, 0.07717, 0.11267),
    (1200, 465, 20, 0.05222, 0.11284, 0.16506),
    (1400, 530, 30, 0.11370, 0.15767, 0.27137),
]


@pytest.mark.parametrize(("width", "middle", "theta", "cap", "trough", "both"), TABLE)
def test_cells(
    width: float, middle: float, theta: float, cap: float, trough: float, both: float
) -> None:
    usable, roll, angle = usable_width(width / 1e3), middle / 1e3, math.radians(theta)
    above = cap_area_parabola(usable, roll, TROUGH, angle)
    below = trough_area(usable, roll, TROUGH)
    assert above == pytest.approx(cap, abs=5.1e-6)
    assert below == pytest.approx(trough, abs=5.1e-6)
    assert above + below == pytest.approx(both, abs=5.1e-6)


@pytest.mark.parametrize(("width", "middle", "theta", "cap", "trough", "both"), TABLE)
def test_cells_from_a_conveyor_file(
    width: float, middle: float, theta: float, cap: float, trough: float, both: float
) -> None:
    """The same 18 cells end to end: what the conveyor's capacity check holds the load against."""
    sheet = Worksheet()
    room = carry_section(
        conveyor_of(
            outline(
                outline={"lift": "0 m"},
                belt={"width": f"{width} mm"},
                material={"surcharge": f"{theta} deg"},
                idlers={"carry": {"trough": "35 deg", "middle_roll": f"{middle} mm"}},
            )
        ),
        sheet,
    )
    parts = {key: sheet.get(f"load.{key}") for key in ("cap_area", "trough_area")}
    assert room is not None
    assert room.value == pytest.approx(both, abs=5.1e-6)
    for key, printed in (("cap_area", cap), ("trough_area", trough)):
        found = parts[key]
        assert found is not None and found.value == pytest.approx(printed, abs=5.1e-6)


@pytest.mark.parametrize(
    ("width", "usable"), [(0.5, 0.40), (1.2, 1.03), (1.999, 1.7491), (2.0, 1.75), (2.4, 2.15)]
)
def test_usable_width_on_both_branches(width: float, usable: float) -> None:
    # b = 0.9 B - 0.05 m up to 2 m, B - 0.25 m above.
    assert usable_width(width) == pytest.approx(usable)


def test_flat_belt() -> None:
    # One roll: l3 -> b, lambda = 0: the cap alone, b^2 tan/6.
    assert trough_area(1.0, 1.0, 0.0) == 0
    assert cap_area_parabola(1.0, 1.0, 0.0, math.radians(20)) == pytest.approx(
        math.tan(math.radians(20)) / 6
    )


def test_the_cap_is_less_on_a_slope() -> None:
    """k_1 of the standard, from memory: by hand at 10 deg with 20 deg, 1 level, 0 where equal."""
    ten, twenty = math.radians(10), math.radians(20)
    k = math.sqrt((math.cos(ten) ** 2 - math.cos(twenty) ** 2) / (1 - math.cos(twenty) ** 2))
    assert area_on_slope(0.08, 0.04, ten, twenty) == pytest.approx(0.08 + k * 0.04)
    assert area_on_slope(0.08, 0.04, 0.0, twenty) == pytest.approx(0.12)
    assert area_on_slope(0.08, 0.04, twenty, twenty) == pytest.approx(0.08)
    assert area_on_slope(0.08, 0.04, 2 * ten + 0.1, twenty) == pytest.approx(0.08)
    assert area_on_slope(0.08, 0.0, 0.0, 0.0) == pytest.approx(0.08)
