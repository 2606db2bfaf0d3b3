"""Single relations: signs, limits and arrays. Published numbers stand in tests/outside."""

from __future__ import annotations

import math

import numpy as np
import pytest

from proof import proves
from splicewright.tension.resistance import main as law
from splicewright.tension.resistance import traction
from splicewright.tension.running import load_cases

pytestmark = proves(
    "Tension of the running belt",
    "Single resistances, sag and traction",
    "C",
    "Main and slope resistance on a slope and on a hanging strand, take-up on two strands, "
    "sag of a parabola: each as an expression of its inputs.",
    doubt="Forms of ISO 5048 and DIN 22101 as read in part and from memory; arithmetic exact.",
    tolerance="rounding of floats",
    sketch="level",
)


def test_main_resistance_with_one_factor_is_the_standards_form() -> None:
    # f l g [q_R + (q_B + q_G) cos delta]
    rise = 100 * math.sin(math.radians(12))
    expected = 0.022 * 100 * 9.81 * (14 + (12 + 80) * math.cos(math.radians(12)))
    assert law.main_resistance(0.022, 0.022, 100, 14, 12, 80, rise) == pytest.approx(expected)
    assert law.main_resistance(0.022, 0.022, 100, 14, 12, 80, -rise) == pytest.approx(expected)


def test_a_hanging_strand_has_no_weight_on_its_idlers() -> None:
    assert law.main_resistance(0.02, 0.03, 6, 5, 12, 80, -6) == pytest.approx(0.02 * 6 * 9.81 * 5)


def test_slope_resistance_changes_sign_downhill() -> None:
    assert law.slope_resistance(12, 80, 10) == pytest.approx(92 * 98.1)
    assert law.slope_resistance(12, 80, -10) == -law.slope_resistance(12, 80, 10)


def test_skirts_grow_with_the_square_of_the_flow() -> None:
    one, two = (law.skirt_resistance(0.6, f, 1500, 4, 2.0, 0.6) for f in (0.1, 0.2))
    assert two == pytest.approx(4 * one)
    assert one == pytest.approx(0.6 * 0.01 * 1500 * 9.81 * 4 / (4 * 0.36))


def test_allowance_is_a_share_of_main_and_secondary() -> None:
    assert law.allowance(0.25, 800, 200) == 250
    assert law.secondary_resistance(1.3, 1000) == pytest.approx(300)


def test_take_up_pulls_on_both_strands() -> None:
    assert traction.counterweight_tension(3000, 2, 1) == pytest.approx(14715)
    assert traction.take_up_tension(30e3, 2) == 15e3


def test_starting_surplus_is_never_taken_from_a_braking_pull() -> None:
    assert load_cases.share_of_surplus(
        load_cases.starting_surplus(1.5, -8e3), 1, 4
    ) == pytest.approx(1e3)


def test_sag_is_that_of_a_parabola() -> None:
    # A span a of line load w under tension T sags w a^2/(8 T).
    tension = traction.tension_for_sag(1.2, 12, 80, 0.01)
    assert 92 * 9.81 * 1.2**2 / (8 * tension) == pytest.approx(0.01 * 1.2)


@pytest.mark.parametrize(
    "relation",
    [
        lambda x: law.main_resistance(0.02, 0.03, 100, 14, 12, 80, x),
        lambda x: law.motor_power(1.0, x, 0.9),
        lambda x: traction.slack_side_for_grip(1.2, x, 0.3, 3.3),
        lambda x: load_cases.starting_surplus(1.5, x),
        lambda x: law.tilt_resistance(0.43, 0.35, 40, 12, x, 0.98, 0.02),
    ],
)
def test_arrays_give_what_floats_give(relation) -> None:  # type: ignore[no-untyped-def]
    values = np.array([-40.0, 0.0, 25.0])
    assert relation(values) == pytest.approx([relation(float(v)) for v in values], rel=1e-15)


def test_sag_of_a_run_is_that_of_its_slacker_end() -> None:
    # The parabola w L^2/(8 T) over its span L, worked with unequal inputs: 1.2 m, 10 and 50 kg/m.
    hung = 1.2 * 60 * 9.81 / 8
    assert traction.sag_at(1.2, 10, 50, 9000, 6000) == pytest.approx(hung / 6000)
    assert traction.sag_at(1.2, 10, 50, -5, 6000) == 1
    limit = traction.tension_for_sag(1.2, 10, 50, 0.02)
    assert traction.sag_at(1.2, 10, 50, limit, 2 * limit) == pytest.approx(0.02)
