"""Joint geometry and load shares worked by hand. Every value here is derived: Euclid, statics of
springs, and the differential equation of the bonded lap written out beside its check.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from proof import proves
from splicewright.joint.belt_end.cut_checks import check_diagonals, check_equal_arcs, error_by_arcs
from splicewright.joint.loads.bolts import row_shares
from splicewright.joint.loads.hinge import Hinge, share_both
from splicewright.joint.loads.membrane import even_row, free_compliance
from splicewright.joint.loads.meshing import Strip
from splicewright.joint.loads.on_pulley import plate_sagitta
from splicewright.joint.loads.sharing import Guidance, share, unguided

HELD = Guidance("held", 0.0)
K, PULL, PITCH = 2e6, 9e3, 0.1
THREE = free_compliance(Strip(0.4, 1e14, 1e14, 1e14), even_row(3, PITCH, 0.09), refine=1)


# Equal arcs -------------------------------------------------------------------------------------


def test_three_four_five_is_square() -> None:
    """Derived, Pythagoras: belt 1.2 m, point 0.8 m behind the line: both lengths 1.0 m."""
    assert check_equal_arcs(1.0, 1.0, 0.8, 1.2).out_of_square == 0


@proves(
    "Choice, layout and marking",
    "Squaring by equal arcs",
    "C",
    "A cut turned by a known angle, arcs by the law of cosines.",
    doubt="Exact.",
    tolerance="1e-9: rounding of floats",
    sketch="square",
)
@pytest.mark.parametrize("turned", [1e-3, 5e-3, -8e-3])
def test_equal_arcs_by_the_circle_through_both_ends(turned: float) -> None:
    """Derived: the ends of a line 1.2 m wide turned by φ lie on the circle of 0.6 m about its
    middle; their distances from a point 2.4 m behind it follow from the law of cosines,
    r² = 0.6² + 2.4² - 2 · 0.6 · 2.4 cos(90° ∓ φ), and the line is out of square by 1.2 sin φ.
    """
    angle = math.asin(turned / 1.2)
    left, right = (
        math.sqrt(0.6**2 + 2.4**2 - 2 * 0.6 * 2.4 * math.cos(math.pi / 2 - way * angle))
        for way in (1, -1)
    )
    assert error_by_arcs(left, right, 2.4) == pytest.approx(turned, rel=1e-9)
    assert check_equal_arcs(left, right, 2.4, 1.2).out_of_square == pytest.approx(turned, rel=1e-9)


# Diagonals --------------------------------------------------------------------------------------


def test_diagonals_of_a_rectangle() -> None:
    """Derived, Pythagoras: 1.2 m wide, 1.6 m marked back: both diagonals 2.0 m."""
    assert check_diagonals(2.0, 2.0, 1.6, 1.2).out_of_square == 0


@proves(
    "Choice, layout and marking",
    "Squaring by diagonals",
    "C",
    "A leaning cut, diagonals by the law of cosines.",
    doubt="Exact.",
    tolerance="1e-9: rounding of floats",
    sketch="square",
)
@pytest.mark.parametrize("lean", [1e-3, 6e-3, -4e-3])
def test_diagonals_of_a_leaning_cut_by_the_law_of_cosines(lean: float) -> None:
    """Derived: edges 1.2 m apart, the cut's left end `lean` further into the belt. Edge and cut
    meet at angles whose cosine is ±lean over the cut's length c; marks 1.6 m back:
    d² = c² + 1.6² - 2 · 1.6 c cos. Left diagonal: from the left end to the mark on the right.
    """
    cut = math.hypot(1.2, lean)
    left, right = (
        math.sqrt(cut**2 + 1.6**2 - 2 * 1.6 * cut * (way * lean / cut)) for way in (1, -1)
    )
    found = check_diagonals(left, right, 1.6, 1.2)
    assert found.out_of_square == pytest.approx(lean, rel=1e-9)


# Plate on a pulley ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("radius", "half", "rest"),
    [(0.250, 0.070, 0.240), (0.130, 0.050, 0.120), (0.365, 0.027, 0.364)],
)
def test_sagitta_of_plates_that_come_out_even(radius: float, half: float, rest: float) -> None:
    """Derived: R - √(R² - l²/4); 7-24-25, 5-12-13 and 27-364-365 are whole triangles."""
    assert math.hypot(half, rest) == pytest.approx(radius, rel=1e-12)
    assert plate_sagitta(2 * half, 2 * radius) == pytest.approx(radius - rest, rel=1e-9)


def test_sagitta_to_first_order_is_l_squared_over_eight_r() -> None:
    """Derived: R - √(R² - l²/4) = l²/(8R) (1 + l²/(16 R²) + ...)."""
    for length, radius in ((0.05, 0.4), (0.08, 0.3)):
        first = length**2 / (8 * radius)
        second = 1 + length**2 / (16 * radius**2)
        assert plate_sagitta(length, 2 * radius) == pytest.approx(first * second, rel=1e-4)


# Slack plates -----------------------------------------------------------------------------------


@proves(
    "Plate loads",
    "Three plates, one slack",
    "C",
    "Three springs side by side, the middle one slack by g.",
    doubt="Exact statics.",
    tolerance="1e-5, a nearly rigid belt in place of a rigid one",
    sketch="pin",
)
def test_slack_in_the_middle_of_three() -> None:
    """Derived: three springs side by side, the middle one slack by g.

    2 k δ + k (δ - g) = F: δ = (F/k + g)/3, so F/3 + k g/3 outside, F/3 - 2 k g/3 in the middle;
    from k g = F/2 on the middle hangs loose and the others halve the pull.
    """
    for g in (0.5e-3, 1.5e-3):
        loads = share(THREE, K, PULL, slack=np.array([0.0, g, 0.0]), guidance=HELD).loads
        wanted = [PULL / 3 + K * g / 3, PULL / 3 - 2 * K * g / 3, PULL / 3 + K * g / 3]
        np.testing.assert_allclose(loads, wanted, rtol=1e-5)
    loose = share(THREE, K, PULL, slack=np.array([0.0, 2.3e-3, 0.0]), guidance=HELD).loads
    np.testing.assert_allclose(loose, [PULL / 2, 0.0, PULL / 2], rtol=1e-6)


@pytest.mark.parametrize("g", [0.4e-3, -0.4e-3])
def test_slack_at_the_edge_of_three_that_nothing_guides(g: float) -> None:
    """Derived: moments about the middle want P_1 = P_3, so the end turns by g/2 per pitch.

    Then P_2 = k δ, P_1 = P_3 = k (δ - g/2), 3 δ = F/k + g: (F + k g)/3 and (F - k g/2)/3.
    """
    loads = share(THREE, K, PULL, slack=np.array([g, 0.0, 0.0]), guidance=unguided()).loads
    edge, middle = (PULL - K * g / 2) / 3, (PULL + K * g) / 3
    np.testing.assert_allclose(loads, [edge, middle, edge], rtol=1e-5)


@proves(
    "Plate loads",
    "A slack edge plate on a pin that tilts",
    "C",
    "Two ends, a rigid pin that may tilt and has no moment.",
    doubt="Exact statics.",
    tolerance="1e-5: a nearly rigid belt in place of a rigid one",
    sketch="pin",
)
def test_slack_at_the_edge_of_one_of_two_ends_on_a_rigid_pin() -> None:
    """Derived: ends held, the pin tilts by φ and has no moment, so Σ y P is the same on both.

    Trailing: p k 2 p φ' with e = δ + y φ; leading: e = δ - y φ - g at y = p. Balance
    k (-2 p² φ - p g) = k 2 p² φ: φ = -g/(4 p). Leading δ = (F/k + g)/3; each end shares the slack.
    """
    g = 0.6e-3
    hinge = Hinge(THREE, THREE, 1e12)
    slack = np.array([g, 0.0, 0.0, 0.0, 0.0, 0.0])
    loads = share_both(hinge, K, PULL, guidance=HELD, slack=slack)
    tilt, far = -g / (4 * PITCH), (PULL / K + g) / 3
    leading = K * (far - tilt * PITCH * np.array([1, 0, -1]) - np.array([g, 0, 0]))
    trailing = K * (PULL / K / 3 + tilt * PITCH * np.array([1, 0, -1]))
    np.testing.assert_allclose(loads, np.r_[leading, trailing], rtol=1e-5)


def test_springs_in_series_and_side_by_side() -> None:
    """Derived: a plate on a softer seat, k and c in series, k c/(k + c), beside two sound ones."""
    seat = 3e6
    soft = K * seat / (K + seat)
    loads = share(THREE, np.array([K, soft, K]), PULL, guidance=HELD).loads
    np.testing.assert_allclose(loads, PULL * np.array([K, soft, K]) / (2 * K + soft), rtol=1e-5)


# Shear lag --------------------------------------------------------------------------------------


@proves(
    "Plate loads",
    "Rows of bolts tend to Volkersen's lap",
    "C",
    "Shear lag of a bonded lap, derived again; the misfit must fall with the square of the "
    "row spacing.",
    doubt="Equation from memory (1938), derived in the test.",
    tolerance="0.3 on the order 2, from two finite spacings",
    sketch="bolt",
)
@pytest.mark.parametrize(("plate", "belt"), [(4e5, 4e5), (8e5, 2e5), (1e5, 6e5)])
def test_rows_of_bolts_tend_to_volkersens_lap(plate: float, belt: float) -> None:
    """Derived: two bars lapped over 2h, joined by κ per length; Volkersen's equation (1938, from
    memory) made again here. q = κ (u_b - u_p), N_p' = -q, N_b' = q, u' = N/A:

        q'' = ω² q, ω² = κ (1/A_p + 1/A_b), q'(-h) = -κ F/A_p, q'(h) = κ F/A_b
        q = a cosh ωx + b sinh ωx, a = κ F (1/A_b + 1/A_p)/(2 ω sinh ωh),
        b = κ F (1/A_b - 1/A_p)/(2 ω cosh ωh)

    Rows of bolts stand each for their part of the lap; the misfit falls with its square.
    """
    half, shear = 0.05, 3e8
    omega = math.sqrt(shear * (1 / plate + 1 / belt))
    a = shear * (1 / belt + 1 / plate) / (2 * omega * math.sinh(omega * half))
    b = shear * (1 / belt - 1 / plate) / (2 * omega * math.cosh(omega * half))
    misfits = []
    for rows in (20, 40):
        x = np.linspace(-half, half, rows + 1)
        parts = np.diff(a * np.sinh(omega * x) + b * np.cosh(omega * x)) / omega
        assert parts.sum() == pytest.approx(1.0)
        step = 2 * half / rows
        found = np.array(row_shares(rows, shear * step, plate / step, belt / step))
        misfits.append(np.abs(found - parts).max() / parts.max())
    assert misfits[1] < 0.02
    assert math.log2(misfits[0] / misfits[1]) == pytest.approx(2.0, abs=0.3)
