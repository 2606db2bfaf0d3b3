"""North American handbook method in its own units, as far as its formulas are published.

Sources: effective tension and K_x as quoted in a technical note on belt scales
(hbwxwy.cn/st177927/article_1499333.html); sag factor 4.2 = 3 % (lovetofest.pl, 2024-07-13);
concave curve as quoted from the 5th edition (chenee-centre.be). No complete worked example with
all factors is published openly, so these check the formula in pounds and feet, worked here from
the printed text, against SI in and out.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from proof import proves
from splicewright.tension.across.curves import lift_off_radius
from splicewright.tension.resistance.secondary import feed_acceleration
from splicewright.tension.resistance.traction import slack_side_for_grip
from splicewright.tension.second_look.handbook import (
    belt_part,
    handbook_feed,
    idler_friction,
    idler_part,
    load_part,
)

pytestmark = proves(
    "Tension of the running belt",
    "Effective tension in pounds and feet",
    "A",
    "The North American handbook formula in its own units beside SI.",
    doubt=(
        "No complete worked example is openly published: the formula is checked, not its "
        "factor tables, which are from memory."
    ),
    tolerance="rounding of floats; printed factors to half their last digit",
    sketch="level",
)


# Exact by definition (NIST SP 811).
FT, LB, LBF, SHORT_TON = 0.3048, 0.45359237, 4.4482216152605, 907.18474


@given(
    st.floats(50, 5000), st.floats(-200, 400), st.floats(3, 60), st.floats(0, 400),
    st.floats(2, 6), st.floats(1, 3), st.floats(0.016, 0.035), st.floats(1, 3),
)  # fmt: skip
def test_effective_tension_in_pounds_and_feet(
    length: float, lift: float, belt: float, load: float, spacing: float, idler: float,
    flexure: float, cold: float,
) -> None:  # fmt: skip
    # Te = L Kt (Kx + Ky Wb + 0.015 Wb) + Wm (L Ky ± H), pulleys and accessories left out.
    kx = 0.00068 * (belt + load) + idler / spacing
    te = length * cold * (kx + flexure * belt + 0.015 * belt) + load * (length * flexure + lift)
    per_length = idler_friction(belt * LB / FT, load * LB / FT, idler * LBF, spacing * FT)
    found = idler_part(length * FT, cold, per_length)
    found += belt_part(length * FT, cold, flexure, belt * LB / FT)
    found += load_part(load * LB / FT, length * FT, flexure, lift * FT)
    assert found == pytest.approx(te * LBF, rel=1e-12, abs=1e-6)


def test_the_remembered_feed_constant_follows_from_its_units() -> None:
    # 2000 lb/short ton / 3600 s/h / 60 s/min / 32.2 ft/s² = 2.8755e-4.
    assert pytest.approx(2000 / 3600 / 60 / 32.2, rel=2e-5) == 2.8755e-4
    found = handbook_feed(150.0, 2.5, 0.4)
    # Momentum: the handbook's g of 32.2 beside 32.174 ft/s² is 0.08 % less.
    assert found == pytest.approx(float(feed_acceleration(150.0 / 900, 900, 2.5, 0.4)), rel=1e-3)


@pytest.mark.parametrize(
    ("friction", "degrees", "printed", "within"),
    [
        # 0.50 lagged at 180° is used in a published 38 m sheet; the others from memory.
        (0.35, 180, 0.50, 0.005),
        (0.35, 210, 0.38, 0.005),
        (0.35, 220, 0.35, 0.005),
        (0.35, 240, 0.30, 0.005),
        (0.25, 180, 0.84, 0.005),
    ],
)
def test_wrap_factor(friction: float, degrees: float, printed: float, within: float) -> None:
    # Printed to two places.
    found = slack_side_for_grip(1.0, 1.0, friction, math.radians(degrees))
    assert found == pytest.approx(printed, abs=within)


def test_concave_curve_in_feet_and_in_metres() -> None:
    # r1 = 1.11 Tc/Wb: 10 000 lbf and 12 lb/ft want 925 ft.
    found = 1.11 * 10e3 / 12 * FT
    assert pytest.approx(925) == 1.11 * 10e3 / 12
    # It covers the statics up to acos(1/1.11) = 25.7°, and no steeper.
    steepest = math.acos(1 / 1.11)
    assert math.degrees(steepest) == pytest.approx(25.7, abs=0.05)
    for slope, covered in ((steepest - 0.02, True), (steepest + 0.02, False)):
        exact = lift_off_radius(10e3 * LBF, 12 * LB / FT, slope)
        assert (found > float(exact)) is covered
