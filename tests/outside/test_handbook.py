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
from splicewright.tension.across.curves import handbook_lift_off_radius, lift_off_radius
from splicewright.tension.resistance.main import GRAVITY
from splicewright.tension.resistance.secondary import feed_acceleration
from splicewright.tension.resistance.traction import tension_for_sag
from splicewright.tension.second_look.handbook import (
    handbook_feed,
    handbook_load,
    handbook_pull,
    handbook_sag,
    side_by_side,
    wrap_factor,
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
    # Te = L Kt (Kx + Ky Wb + 0.015 Wb) + Wm (L Ky ± H) + Tp + Tam + Tac, all lbf, ft, lbf/ft.
    kx = 0.00068 * (belt + load) + idler / spacing
    te = length * cold * (kx + flexure * belt + 0.015 * belt) + load * (length * flexure + lift)
    te += 750 + 120 + 300
    found = handbook_pull(
        length=length * FT, lift=lift * FT, belt=belt * LB / FT, load=load * LB / FT,
        spacing=spacing * FT, idler_force=idler * LBF, flexure=flexure, cold=cold,
        pulleys=750 * LBF, feed=120 * LBF, accessories=300 * LBF,
    )  # fmt: skip
    assert found.total == pytest.approx(te * LBF, rel=1e-12, abs=1e-6)


def test_load_per_foot() -> None:
    # Wm = 33.33 Q/V: 600 short tons per hour at 500 ft/min are 40 lb/ft.
    found = handbook_load(600 * SHORT_TON / 3600, 500 * FT / 60)
    assert found == pytest.approx(33.33 * 600 / 500 * LB / FT, rel=1e-12)
    # The same from masses: flow over speed; 33.33 is 2000/60 cut short.
    assert found == pytest.approx(600 * SHORT_TON / 3600 / (500 * FT / 60), rel=2e-4)


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
    assert wrap_factor(friction, math.radians(degrees)) == pytest.approx(printed, abs=within)


def test_sag_factor_is_the_parabola_at_3_percent() -> None:
    # 4.2 for 1/(8 x 0.03) = 4.167, rounded up; 9.80665 beside 9.81 is 0.03 %.
    found = handbook_sag(1.2, 15.0, 80.0)
    assert found == pytest.approx(4.2 * (1.2 / FT) * (95 * FT / LB) * LBF, rel=1e-12)
    assert found == pytest.approx(tension_for_sag(1.2, 15.0, 80.0, 0.03), rel=0.01)


def test_concave_curve_in_feet_and_in_metres() -> None:
    # r1 = 1.11 Tc/Wb: 10 000 lbf and 12 lb/ft want 925 ft.
    found = handbook_lift_off_radius(10e3 * LBF, 12 * LB / FT)
    assert found == pytest.approx(1.11 * 10e3 / 12 * FT, rel=1e-12)
    assert pytest.approx(925) == 1.11 * 10e3 / 12
    # It covers the statics up to acos(1/1.11) = 25.7°, and no steeper.
    steepest = math.acos(1 / 1.11)
    assert math.degrees(steepest) == pytest.approx(25.7, abs=0.05)
    for slope, covered in ((steepest - 0.02, True), (steepest + 0.02, False)):
        exact = lift_off_radius(10e3 * LBF, 12 * LB / FT, slope)
        assert (float(found) > float(exact)) is covered


def test_methods_side_by_side_differ_group_by_group() -> None:
    pull = handbook_pull(
        length=100.0, lift=10.0, belt=14.0, load=80.0, spacing=1.2, idler_force=8.0, flexure=0.03,
        cold=1.0, pulleys=3000.0, feed=500.0, accessories=1500.0,
    )  # fmt: skip
    beside = side_by_side(pull, main=3000.0, secondary=2400.0, slope=80 * GRAVITY * 10.0,
                          special=1600.0)  # fmt: skip
    *groups, total = beside
    assert sum(float(b.difference) for b in groups) == pytest.approx(float(total.difference))
    lift = groups[1]
    # Lift differs by the two values of gravity only.
    assert lift.handbook / lift.resistance == pytest.approx(9.80665 / 9.81)
    assert all(b.reason for b in beside)
