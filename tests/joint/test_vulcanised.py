"""The vulcanised step joint: lengths by laying two belts on a plane, strength by statics."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from proof import proves
from splicewright.joint import StepForm, lay_steps
from splicewright.joint.vulcanised import joint_length, overlap, rating_of, step_count
from splicewright.quantities import Kind, Worksheet, stated
from strategies import conveyor_of, outline, step_size

pytestmark = proves(
    "Choice, layout and marking",
    "Vulcanised step joint laid on a plane",
    "C",
    "Two stepped ends pushed into each other corner by corner; overlap, bias and belt needed.",
    doubt="Exact geometry; strengths come from the range file.",
    tolerance="rounding of floats: both sides are the same relation written twice",
    sketch="step",
)


@given(
    plies=st.integers(2, 8),
    step=st.floats(0.05, 0.5),
    bias=st.floats(0.0, 0.9),
    belt=st.floats(0.3, 2.4),
)
def test_two_square_ends_laid_into_each_other(
    plies: int, step: float, bias: float, belt: float
) -> None:
    """Coordinates: belt A is cut square at x = 0, its tip runs from (0, left) to (-b, right).

    Belt B, cut square too, is pushed over A until its own tip, at the same bias, lies the
    overlap behind A's on every line along the belt. How far B's square cut then lies beyond A's
    is the belt that is gone.
    """
    size = step_size(plies=plies, step_length=step, bias=bias)
    made = lay_steps(size, stated("w", "w", belt, Kind.LENGTH), Worksheet())
    lean = belt * math.sin(bias) / math.cos(bias)
    tip_a = {"left": 0.0, "right": -lean}
    pushed = made.belt_needed.value
    # B's square cut at x = -pushed; the corner that stays whole is the right one.
    tip_b = {"left": -pushed + lean, "right": -pushed}
    for side in ("left", "right"):
        assert tip_a[side] - tip_b[side] == pytest.approx((plies - 1) * step, abs=1e-12)
    corners = [*tip_a.values(), *tip_b.values()]
    assert max(corners) - min(corners) == pytest.approx(pushed, abs=1e-12)
    assert made.span.value == -pushed


def test_a_joint_by_hand() -> None:
    """4 plies, steps of 250 mm, 20 deg on 1000 mm: tan 20 deg = 0.363970 (tables)."""
    size = step_size(plies=4, step_length=0.25, bias=math.radians(20))
    made = lay_steps(size, stated("w", "w", 1.0, Kind.LENGTH), Worksheet())
    assert made.steps.value == 3
    assert made.overlap.value == pytest.approx(0.75)
    assert made.bias_offset.value == pytest.approx(0.363970, abs=1e-6)
    assert made.belt_needed.value == pytest.approx(1.113970, abs=1e-6)
    assert joint_length(overlap(step_count(4), 0.25), 0.0) == 0.75
    assert made.press_time.value == (45 + 25 + 60) * 60


def test_rating_is_kept_strength_over_the_stated_factor() -> None:
    """EP 500/3: 60 % of 500 N/mm over 8 is 37.5 N/mm, over 6 at starting 50 N/mm."""
    belt = conveyor_of(outline()).belt
    size = step_size(kept_strength=0.6, safety_factor=8.0, starting_safety_factor=6.0)
    assert rating_of(size, belt) == pytest.approx((37.5e3, 50e3))
    silent = step_size(kept_strength=0.6, safety_factor=8.0, starting_safety_factor=None)
    assert rating_of(silent, belt) == pytest.approx((37.5e3, 37.5e3))


@pytest.mark.parametrize("form", [StepForm.FINGER, StepForm.OVERLAP])
def test_fingers_and_an_overlap_take_one_length_and_the_bias(form: StepForm) -> None:
    size = step_size(plies=1, form=form)
    sheet = Worksheet()
    width = stated("w", "belt width", 1.2, Kind.LENGTH)
    found = lay_steps(size, width, sheet)
    wanted = size.step_length + 1.2 * math.tan(size.bias)
    assert found.belt_needed.value == pytest.approx(wanted) == -found.span.value
    assert f"{form.value} " in size.name
