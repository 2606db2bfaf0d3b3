"""Belt out, belt in and the take-up. Expected values are sums written out."""

from __future__ import annotations

from typing import Any

import pytest

from proof import proves
from splicewright.loop import BeltBudget, budget, lay_out
from splicewright.quantities import Figure, Kind, Worksheet
from strategies import conveyor_of, outline, work_of

pytestmark = proves(
    "Loop and take-up",
    "Belt out, belt in, and the take-up",
    "C",
    "Change of length, position of the take-up afterwards and slack for piece, shortening and "
    "new belt, as sums written out.",
    doubt="Exact sums.",
    tolerance="rounding of floats: both sides are the same relation written twice",
    sketch="take-up",
)


SPAN = 0.032
TAKE_UP = {"kind": "gravity", "travel": "2 m", "position": "0.5 m"}


def budgeted(take_up: dict[str, Any] | None = None, **tables: Any) -> BeltBudget:
    conveyor = conveyor_of(outline(take_up=take_up or TAKE_UP))
    sheet = Worksheet()
    length = lay_out(conveyor, sheet).belt_length
    span = Figure("lengths.span", "span", SPAN, Kind.LENGTH)
    return budget(conveyor, work_of(conveyor, **tables), length, span, sheet)


def test_shortened_by_what_comes_out_less_the_joint() -> None:
    belt = budgeted(work={"reason": "shorten belt"}, belt={"cut_out": "0.6 m"})
    assert belt.change.value == pytest.approx(SPAN - 0.6)
    # Two strands move with the take-up pulley.
    assert belt.position_after.value == pytest.approx(0.5 + (SPAN - 0.6) / 2)
    assert belt.left.value == pytest.approx(2 - belt.position_after.value)
    assert belt.slack_needed.value == pytest.approx(0.6 - SPAN + 0.05)
    assert belt.slack_there.value == pytest.approx(2 * 0.5)
    assert belt.closes
    assert belt.remarks == ()


def test_two_joints_of_an_insert() -> None:
    belt = budgeted(work={"reason": "torn belt"}, belt={"cut_out": "5 m", "insert": "5.2 m"})
    assert belt.change.value == pytest.approx(0.2 + 2 * SPAN)
    assert belt.slack_needed.value == pytest.approx(2 * 0.05)
    assert belt.stretch.value == pytest.approx(0.015 * 5.2)  # polyester, only what is new
    assert belt.left_after_stretch.value == pytest.approx(belt.left.value - 0.015 * 5.2 / 2)
    assert belt.belt_to_have.value == pytest.approx(belt.new_length.value - 2 * SPAN)


def test_new_belt_is_cut_to_the_loop_as_it_stands() -> None:
    belt = budgeted(work={"reason": "new belt"}, belt={"insert": "245 m"})
    assert belt.change.value == 0
    assert belt.position_after.value == 0.5
    assert belt.stretch.value == pytest.approx(0.015 * belt.new_length.value)
    assert not belt.room_for_stretch or belt.left_after_stretch.value >= 0


def test_ends_do_not_come_together() -> None:
    belt = budgeted(work={"reason": "shorten belt"}, belt={"cut_out": "1.2 m"})
    assert not belt.closes
    assert not belt.room_for_stretch
    assert [str(r) for r in belt.remarks] == [
        "The take-up gives 1 m of slack, 1.22 m is needed: the ends do not come together. Insert "
        "more belt, or cut out less.",
        "The loop becomes too short: the take-up would stand beyond its slack end.",
    ]


def test_loop_becomes_too_long() -> None:
    belt = budgeted(work={"reason": "lengthen belt"}, belt={"insert": "4 m"})
    assert belt.closes
    assert not belt.room_for_stretch
    assert [str(r) for r in belt.remarks] == [
        "The loop becomes too long: the take-up would stand beyond its tight end."
    ]


def test_no_room_for_the_stretch_of_new_belt() -> None:
    tight = {"kind": "gravity", "travel": "2 m", "position": "1.9 m"}
    belt = budgeted(tight, work={"reason": "new belt"}, belt={"insert": "245 m"})
    assert belt.left.value > 0
    assert belt.left_after_stretch.value < 0
    assert [str(r) for r in belt.remarks] == [
        "The take-up has no room for the stretch of the new belt: plan to shorten the belt after "
        "running in."
    ]
