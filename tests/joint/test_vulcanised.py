"""The vulcanised step joint: lengths by laying two belts on a plane, strength by statics."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from proof import proves
from splicewright.joint import End, StepForm, StepGeometry, StepSize, lay_steps
from splicewright.joint.fasteners.ranges import CordLine
from splicewright.joint.vulcanised import joint_length, overlap, rating_of, step_count
from splicewright.plant import load_work
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

PLANT = conveyor_of(outline())
WORK = load_work(None, PLANT)


def laid(size: StepSize, width: float) -> StepGeometry:
    wide = stated("w", "belt width", width, Kind.LENGTH)
    thick = stated("belt.thickest", "thickest", 0.010, Kind.LENGTH)
    return lay_steps(size, wide, PLANT, WORK, thick, Worksheet())


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
    made = laid(size, belt)
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
    made = laid(size, 1.0)
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
    found = laid(size, 1.2)
    wanted = size.step_length + 1.2 * math.tan(size.bias)
    assert found.belt_needed.value == pytest.approx(wanted) == -found.span.value
    assert f"{form.value} " in size.name


@given(
    plies=st.integers(2, 6),
    step=st.floats(0.1, 0.4),
    bias=st.floats(0.0, 0.6),
    belt=st.floats(0.4, 2.0),
    share=st.floats(0.0, 1.0),
)
def test_two_stairs_laid_together_leave_no_ply_twice_and_none_open(
    plies: int, step: float, bias: float, belt: float, share: float
) -> None:
    """Brute force on coordinates: both ends are cut as their marks say, pushed over each other by
    what the joint takes, and each ply of both is looked for along a line parallel to the edges."""
    joint = laid(step_size(plies=plies, step_length=step, bias=bias), belt)
    length = joint.belt_needed.value

    def cut_at(which: End, what: str) -> float:
        mark = next(m for m in joint.marks(which) if m.what == what)
        return mark.left + share * (mark.right - mark.left)

    for ply in range(1, plies + 1):
        ends = cut_at(End.TRAILING, "cut through" if ply == plies else f"ply {ply} ends")
        starts = cut_at(End.LEADING, "cut through" if ply == 1 else f"ply {ply} starts")
        # Square line of the trailing end at x = length, that of the leading end at 0.
        assert length - ends == pytest.approx(starts, abs=1e-9)
    for which in End:
        marks = joint.marks(which)
        assert min(m.left for m in marks) >= -1e-12 and min(m.right for m in marks) >= -1e-12
        assert min(*(m.left for m in marks), *(m.right for m in marks)) == pytest.approx(0)


def test_marks_by_hand() -> None:
    """3 plies, 200 mm, 1000 mm wide, tan 20 deg = 0.363970: one corner of each end stays."""
    joint = laid(step_size(plies=3, step_length=0.2, bias=math.radians(20)), 1.0)
    trailing = [(m.what, round(m.left, 4), round(m.right, 4)) for m in joint.marks(End.TRAILING)]
    assert trailing == [
        ("cut through", 0.0, 0.364), ("ply 2 ends", 0.2, 0.564), ("ply 1 ends", 0.4, 0.764),
    ]  # fmt: skip
    leading = [(m.what, round(m.left, 4), round(m.right, 4)) for m in joint.marks(End.LEADING)]
    assert leading == [
        ("cut through", 0.364, 0.0), ("ply 2 starts", 0.564, 0.2), ("ply 3 starts", 0.764, 0.4),
    ]  # fmt: skip


def test_cords_are_cut_where_the_users_table_says() -> None:
    """Four lines of cords: two pass, two butt in the middle with a gap of 10 mm."""
    size = step_size(
        plies=1, form=StepForm.CORD, step_length=0.6, bias=0.0, transition=0.15,
        cords=(CordLine(0.6, None), CordLine(0.295, 0.305), CordLine(None, 0.0),
               CordLine(0.295, 0.305)),
    )  # fmt: skip
    joint = laid(size, 1.0)
    assert joint.belt_needed.value == pytest.approx(0.6)
    marks = {m.what: round(m.middle, 3) for m in joint.marks(End.TRAILING)}
    assert marks == {
        "1 of 4 cords end": 0.0, "2 of 4 cords end": 0.305, "covers off from here": 0.75,
    }  # fmt: skip
    assert joint.curing is not None
    assert joint.curing.press_length.value == pytest.approx(0.6 + 2 * (0.1 + 0.15))
