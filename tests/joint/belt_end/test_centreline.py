"""Squaring: points placed by trigonometry must give back the angle they were placed with."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from splicewright.errors import InputError
from splicewright.joint.belt_end.centreline import (
    correct,
    fit_centreline,
    midpoints_from_edges,
    midpoints_from_sound_edge,
    square_line,
)

X = (0.5, 1.5, 3.0, 4.5, 6.0)
angles = st.floats(-0.05, 0.05)


@settings(deadline=None)
@given(angle=angles, start=st.floats(-0.2, 0.2))
def test_a_straight_belt_gives_back_its_line(angle: float, start: float) -> None:
    found = fit_centreline(X, [start + math.tan(angle) * x for x in X])
    assert found.slope == pytest.approx(math.tan(angle), abs=1e-12)
    assert found.offset == pytest.approx(start, abs=1e-12)
    assert found.bow == pytest.approx(0.0, abs=1e-12)
    assert not found.bowed
    line = square_line(found, 1.2, 0.4)
    across = (line.left - line.right, 1.2)
    along = (1.0, found.slope)
    assert across[0] * along[0] + across[1] * along[1] == pytest.approx(0.0, abs=1e-12)


def test_a_perfect_fit_still_owns_up_to_the_tape() -> None:
    """s = 1 mm / sqrt(12), t(3; 0.975) = 3.182 (Student's table), sum (x - 3.1)^2 = 19.7."""
    found = fit_centreline(X, [0.0] * 5)
    assert found.scatter == pytest.approx(1e-3 / math.sqrt(12))
    assert found.slope_uncertainty == pytest.approx(
        3.182 * found.scatter / math.sqrt(19.7), rel=2e-4
    )
    assert found.uncertainty_at(3.1) == pytest.approx(
        3.182 * found.scatter / math.sqrt(5), rel=2e-4
    )
    assert found.uncertainty_at(0.0) > found.uncertainty_at(3.1)


def test_bow_is_the_height_over_the_chord() -> None:
    """Circle of 400 m radius over 5.5 m: L^2/(8R) = 9.45 mm, middle to the left."""
    x = np.linspace(0.5, 6.0, 12)
    y = np.sqrt(400.0**2 - (x - 3.25) ** 2) - 400.0
    found = fit_centreline(x.tolist(), y.tolist())
    assert found.bow == pytest.approx(5.5**2 / (8 * 400), rel=1e-3)
    assert found.bowed
    assert found.end_lean == pytest.approx(math.asin(2.75 / 400), rel=1e-3)
    three = fit_centreline([0.0, 3.0, 6.0], [0.0, 0.004, 0.0])
    assert three.bow == pytest.approx(0.004)
    assert three.bow_uncertainty is None
    assert not three.bowed


def test_short_span_is_flagged() -> None:
    assert fit_centreline([0.0, 1.0, 2.0], [0.0] * 3).short
    assert not fit_centreline(X, [0.0] * 5).short


@settings(deadline=None)
@given(angle=angles, drawn=angles)
def test_correction_brings_any_line_square(angle: float, drawn: float) -> None:
    width, at = 1.2, 0.4
    line = square_line(fit_centreline(X, [math.tan(angle) * x for x in X]), width, at)
    left, right = at + drawn * width / 2, at - drawn * width / 2
    move = correct(line, left, right)
    assert left + move.left == pytest.approx(line.left)
    assert right + move.right == pytest.approx(line.right)
    assert move.out_of_square == pytest.approx((drawn + math.tan(angle)) * width, abs=1e-12)
    assert move.uncertainty == pytest.approx(2 * line.uncertainty)


@given(offsets=st.lists(st.floats(-0.3, 0.3), min_size=3, max_size=8), width=st.floats(0.3, 2.0))
def test_midpoints_by_both_edges_and_by_the_sound_one_agree(
    offsets: list[float], width: float
) -> None:
    left, right = [m + width / 2 for m in offsets], [m - width / 2 for m in offsets]
    for found in (
        midpoints_from_edges(left, right),
        midpoints_from_sound_edge(left, width, "left"),
        midpoints_from_sound_edge(right, width, "right"),
    ):
        np.testing.assert_allclose(found, offsets, atol=1e-12)


def test_refusals() -> None:
    with pytest.raises(InputError) as caught:
        fit_centreline([1.0, 9.0], [0.0, 0.0, 0.0], belt_length=8.0)
    assert [str(fault) for fault in caught.value.faults] == [
        "midpoints: 3 for 2 stations: give one at each station",
        "stations: 2 given: at least 3 are needed, two points always make a line and say nothing "
        "of how far it may be off",
        "stations: 9 m is off the 8 m of belt: give 0 m or more on it",
    ]
    with pytest.raises(InputError, match=r"^stations: -1 m is off the belt: give 0 m or more"):
        fit_centreline([-1.0, 1.0, 2.0], [0.0] * 3)
    with pytest.raises(InputError, match=r"^stations: 2 m is given twice"):
        fit_centreline([1.0, 2.0, 2.0], [0.0] * 3)
    with pytest.raises(InputError, match=r"^midpoints: a value is not a number"):
        fit_centreline([1.0, 2.0, 3.0], [0.0, math.nan, 0.0])
    with pytest.raises(InputError, match=r"^edges: 2 left and 1 right: give a pair"):
        midpoints_from_edges([1.0, 1.0], [0.0])
    with pytest.raises(InputError, match=r"^edges: station 1: left edge at 0 mm is not to the"):
        midpoints_from_edges([0.0], [0.1])
