"""1000 t/h over 258 m: cross-section with the triangular cap (divisor 4), capacity, lift power.

Source: Universitas Pasundan, Mechanical Engineering, course "Alat Pengangkat dan Pemindah
Material", conveyor sheet.

Tolerance: half the last printed digit; for the power of the lift 0.05 %, since the source divides
by 367 where 3600/9.81 is 366.97. Its power P1 by width and length factors is another method and is
not worked by this tool. The sheet fills the section to 70 %.
"""

from __future__ import annotations

import math

import pytest

from proof import proves
from splicewright.quantities import Worksheet
from splicewright.tension.across.load_section import (
    cap_area_parabola,
    carry_section,
    trough_area,
    usable_width,
)
from splicewright.tension.resistance.main import mass_flow_of, pulley_power
from strategies import published, solved

pytestmark = proves(
    "Tension of the running belt",
    "Lift power of a lecture's 1000 t/h conveyor",
    "A",
    "Section with a triangular cap, capacity, and power of the lift.",
    doubt="The source divides by 367 where 3600/9.81 is 366.97.",
    tolerance="half the last printed digit; 0.05 % for the rounded 367",
    sketch="incline",
)


ANGLES = math.radians(35), math.radians(15)


def test_usable_width() -> None:
    assert usable_width(1.2) == pytest.approx(1.03)


def test_areas() -> None:
    below = trough_area(1.03, 0.465, ANGLES[0])
    # The sheet's cap is a triangle, [...]² tan β / 4; ours the parabola, divided by 6.
    above = 1.5 * cap_area_parabola(1.03, 0.465, *ANGLES)
    assert below == pytest.approx(0.1128, abs=5e-5)
    assert above == pytest.approx(0.0577, abs=5e-5)
    assert below + above == pytest.approx(0.1705, abs=5e-5)


def test_areas_from_the_file() -> None:
    # The tool's cap is the parabola: two thirds of the printed triangle.
    sheet = Worksheet()
    carry_section(published("lecture-1000"), sheet)
    below, above = sheet.get("load.trough_area"), sheet.get("load.cap_area")
    assert below is not None and below.value == pytest.approx(0.1128, abs=5e-5)
    assert above is not None and above.value == pytest.approx(0.0577 / 1.5, abs=4e-5)


def test_capacity() -> None:
    # The printed 721.868 m3/h and 1098.683 t/h rest on an unrounded area: 0.01 %.
    area = trough_area(1.03, 0.465, ANGLES[0]) + 1.5 * cap_area_parabola(1.03, 0.465, *ANGLES)
    rate = mass_flow_of(0.7 * area * 1522, 1.68)
    assert 3.6 * rate == pytest.approx(1098.683, rel=1e-4)
    assert 3600 * rate / 1522 == pytest.approx(721.868, rel=1e-4)


def test_power_of_the_lift() -> None:
    conveyor = published("lecture-1000")
    lift = sum(f.slope.value for f in solved(conveyor).forces)
    assert pulley_power(lift, conveyor.speed.value) == pytest.approx(48.77e3, rel=5e-4)
