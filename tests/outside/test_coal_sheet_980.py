"""Coal, 980 t/h over 540 m at 0.94 deg: five resistances listed one by one.

Source: anonymous engineering sheet in Chinese on a document-sharing page, no author, no year.
An office sheet, not a standard.

Tolerance: half the last printed digit, except where said. The sheet's main resistance leaves out
cos(0.94 deg) = 0.99987, so ours may be smaller by that share. The idler tilt of 1.38 deg and the
second cleaner are inferred from the printed results. Roller speed is not worked by this tool.
"""

from __future__ import annotations

import math

import pytest

from proof import proves
from splicewright.plant import Conveyor
from splicewright.quantities import Worksheet
from splicewright.tension import Running
from splicewright.tension.across.load_section import (
    cap_area_parabola,
    carry_section,
    trough_area,
    usable_width,
)
from splicewright.tension.resistance.main import mass_flow_of
from strategies import published, solved

pytestmark = proves(
    "Tension of the running belt",
    "Coal, 980 t/h over 540 m",
    "A",
    "Five resistances listed one by one, masses, capacity and section.",
    doubt="An office sheet; it leaves out cos 0.94 degrees = 0.99987.",
    tolerance="half the last printed digit, and 0.013 % where the cosine is left out",
    sketch="incline",
)


@pytest.fixture(scope="module")
def conveyor() -> Conveyor:
    return published("sheet-coal-980")


@pytest.fixture(scope="module")
def full(conveyor: Conveyor) -> Running:
    return solved(conveyor)


def test_lift(conveyor: Conveyor) -> None:
    assert conveyor.runs()[0].rise.value == pytest.approx(8.8601, abs=5e-5)
    assert conveyor.runs()[0].rise.value == pytest.approx(540 * math.tan(math.radians(0.94)))


def test_masses_per_metre(conveyor: Conveyor) -> None:
    carry, back = conveyor.runs()
    assert conveyor.material.line_mass.value == pytest.approx(108.889, abs=5e-4)
    assert carry.idlers.line_mass.value == pytest.approx(25.925, abs=5e-4)
    assert back.idlers.line_mass.value == pytest.approx(10.727, abs=5e-4)


def test_capacity(conveyor: Conveyor) -> None:
    # Q = 3.6 S v rho with the printed S = 0.458 m2 and k = 1; Q in t/h.
    rate = mass_flow_of(0.458 * 900, conveyor.speed.value)
    assert 3.6 * rate == pytest.approx(3709.8, abs=0.05)


def test_cross_section(conveyor: Conveyor) -> None:
    # Printed 0.458 m2; middle roll 0.67 m by the same author's table, trough 35, surcharge 30 deg.
    usable = usable_width(conveyor.belt.width.value)
    angles = math.radians(35), math.radians(30)
    area = trough_area(usable, 0.67, angles[0]) + cap_area_parabola(usable, 0.67, *angles)
    assert area == pytest.approx(0.458, abs=1e-3)


def test_cross_section_from_the_file(conveyor: Conveyor) -> None:
    # 980 t/h fill 26 % of it; the capacity check of the tool stands on the same number.
    room = carry_section(conveyor, Worksheet())
    assert room is not None and room.value == pytest.approx(0.458, abs=1e-3)
    filled = 980 / 3.6 / 2.5 / 900 / room.value
    assert filled == pytest.approx(980 / 3709.8, rel=2e-3)


def test_main_resistance_leaves_out_the_cosine(full: Running) -> None:
    main = sum(f.main.value for f in full.forces)
    assert main == pytest.approx(23599.05, rel=1.5e-4)
    assert main < 23599.05


def test_lift_resistance(full: Running) -> None:
    assert sum(f.slope.value for f in full.forces) == pytest.approx(9464.34, abs=0.05)


def test_cleaners_and_single_force(full: Running) -> None:
    special = full.forces[1].special
    assert special is not None
    assert special.value == pytest.approx(1296.00 + 353.16, abs=0.01)


def test_idler_tilt(full: Running) -> None:
    # Printed 2637.48; 1.38 deg is inferred and rounds to 0.02 %.
    special = full.forces[0].special
    assert special is not None
    assert special.value == pytest.approx(2637.48, rel=3e-4)


def test_pull_is_the_sum(full: Running) -> None:
    printed = 23599.05 + 9464.34 + 1296.00 + 353.16 + 2637.48
    assert full.pull.value == pytest.approx(printed, rel=1.5e-4)
