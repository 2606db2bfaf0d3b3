"""Bolts: statics of the screw, ladders of springs, geometry on the pulley."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from proof import proves
from splicewright.errors import InputError
from splicewright.joint.loads.bolts import (
    assumed_relaxation,
    bolt_stress,
    clamp_force,
    friction_grip,
    left_to_teeth,
    nut_factor,
    pitch_diameter,
    relaxed_clamp,
    retightening_time,
    row_shares,
    stress_area,
    tightening_torque,
)

pytestmark = proves(
    "Plate loads",
    "Torque, clamp force and rows of bolts",
    "C",
    "Thread as an inclined plane, stress areas as tabled, relaxation, two rows by compatibility.",
    doubt="Stress areas and pitch diameter of the ISO tables from memory.",
    tolerance=("half the last printed digit; 2 % for terms of second order in lead times friction"),
    sketch="bolt",
)


PITCH, BEARING, DIAMETER = 1.5e-3, 13e-3, 10e-3  # M10


@pytest.mark.parametrize(
    ("diameter", "pitch", "printed"),
    [(6, 1.0, "20.1"), (8, 1.25, "36.6"), (10, 1.5, "58.0"), (12, 1.75, "84.3"), (16, 2, "157")],
)
def test_stress_areas_are_those_of_iso_898(diameter: float, pitch: float, printed: str) -> None:
    """ISO 898-1 table of nominal stress areas, as printed to three digits (from memory)."""
    half = 0.5 * 10.0 ** -len(printed.partition(".")[2])
    area = stress_area(diameter * 1e-3, pitch * 1e-3) * 1e6
    assert area == pytest.approx(float(printed), abs=half)


def test_pitch_diameter_is_that_of_iso_724() -> None:
    """M10: 9.026 mm, ISO 724 (from memory)."""
    assert pitch_diameter(10e-3, 1.5e-3) == pytest.approx(9.026e-3, abs=5e-7)


@given(mu=st.floats(0.0, 0.4))
def test_nut_factor_is_the_inclined_plane(mu: float) -> None:
    """Wedge of the thread's lead angle with flank friction, to first order in lead times μ."""
    lead = math.atan(PITCH / (math.pi * pitch_diameter(10e-3, 1.5e-3)))
    rub = math.atan(mu / math.cos(math.radians(30)))
    wedge = pitch_diameter(10e-3, 1.5e-3) / 2 * math.tan(lead + rub)
    exact = (wedge + mu * BEARING / 2) / DIAMETER
    assert nut_factor(10e-3, 1.5e-3, 13e-3, mu) == pytest.approx(exact, rel=0.02)


def test_textbook_nut_factor_of_dry_steel() -> None:
    """K about 0.2 goes with a friction of about 0.15; textbook, from memory."""
    assert nut_factor(10e-3, 1.5e-3, 13e-3, 0.15) == pytest.approx(0.2, abs=0.01)


def test_a_tightened_bolt_by_hand() -> None:
    """M12, 30 kN: 30,000/84.27 mm2 = 356 N/mm2. Two bolts, two covers, 0.35: 42 kN of grip, so a
    plate that pulls 50.5 kN leaves 8.5 kN to teeth and shanks, and one that pulls 40 kN none."""
    assert bolt_stress(30e3, 84.27e-6) == pytest.approx(30e3 / 84.27 * 1e6)
    grip = friction_grip(30.01e3, 2, 0.35)
    assert grip == pytest.approx(30.01e3 * 0.35 * 2 + 30.01e3 * 0.35 * 2)
    assert left_to_teeth(50.5123e3, grip) == pytest.approx(50.5123e3 - 42.014e3)
    assert left_to_teeth(40e3, grip) == 0.0


@given(torque=st.floats(1, 200), factor=st.floats(0.1, 0.4))
def test_torque_and_clamp_undo_each_other(torque: float, factor: float) -> None:
    assert tightening_torque(factor, 10e-3, clamp_force(torque, factor, 10e-3)) == pytest.approx(
        torque
    )


@given(share=st.floats(0.5, 0.999), loss=st.floats(0.02, 0.1))
def test_retightening_time_is_when_the_clamp_is_down_to_the_share(
    share: float, loss: float
) -> None:
    time = retightening_time(share, loss)
    assert relaxed_clamp(8e3, loss, time) == pytest.approx(share * 8e3)


def test_relaxation_by_decades() -> None:
    """5 % per decade: 10 % gone after two decades less the first reading; never negative."""
    assert relaxed_clamp(1e4, 0.05, 99 * 60.0) == pytest.approx(9e3)
    assert relaxed_clamp(1e4, 0.05, 0.0) == 1e4
    assert relaxed_clamp(1e4, 0.5, 1e9) == 0.0
    assert assumed_relaxation().assumed


stiffness = st.floats(1e5, 1e9)


@given(bolt=stiffness, plate=stiffness, belt=stiffness)
def test_two_rows_share_as_compatibility_says(bolt: float, plate: float, belt: float) -> None:
    first, second = row_shares(2, bolt, plate, belt)
    assert first + second == pytest.approx(1.0)
    assert second / first == pytest.approx((1 / bolt + 1 / belt) / (1 / bolt + 1 / plate))


@given(rows=st.integers(1, 6), bolt=stiffness, chain=stiffness)
def test_equal_chains_load_the_rows_symmetrically(rows: int, bolt: float, chain: float) -> None:
    shares = row_shares(rows, bolt, chain, chain)
    np.testing.assert_allclose(shares, shares[::-1], rtol=1e-6)
    assert shares[0] == pytest.approx(max(shares))


def test_stiff_plates_put_the_pull_on_the_row_furthest_in() -> None:
    """Shear lag of a long lap joint: the soft chain hands its load over where it comes in."""
    shares = row_shares(3, 5e6, 1e9, 2e6)
    assert shares[0] < shares[1] < shares[2]


def test_refusals() -> None:
    with pytest.raises(InputError, match=r"^rows: 0 is not accepted: give 1 or more"):
        row_shares(0, 1e6, 1e6, 1e6)
    with pytest.raises(InputError, match=r"^belt_stiffness: -1 is not accepted"):
        row_shares(2, 1e6, 1e6, -1.0)
