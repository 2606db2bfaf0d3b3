"""Hand checks of a cut: points placed by trigonometry must give back the error."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from splicewright.errors import InputError
from splicewright.joint.belt_end.cut_checks import (
    CutVerdict,
    HandCheck,
    check_diagonals,
    check_edge_lengths,
    check_equal_arcs,
    judge_cut,
)

angles = st.floats(-0.05, 0.05)


def _length(one: tuple[float, float], other: tuple[float, float]) -> float:
    return math.hypot(one[0] - other[0], one[1] - other[1])


@given(angle=angles, back=st.floats(0.5, 5.0), width=st.floats(0.3, 3.0))
def test_equal_arcs_find_the_angle(angle: float, back: float, width: float) -> None:
    left = (-width / 2 * math.sin(-angle), width / 2 * math.cos(angle))
    right = (width / 2 * math.sin(-angle), -width / 2 * math.cos(angle))
    point = (back, 0.0)
    found = check_equal_arcs(_length(left, point), _length(right, point), back, width)
    assert found.out_of_square == pytest.approx(left[0] - right[0], abs=1e-9)


@given(lean=st.floats(-0.02, 0.02), back=st.floats(0.5, 5.0), width=st.floats(0.8, 3.0))
def test_diagonals_find_the_lean(lean: float, back: float, width: float) -> None:
    left, right = (lean / 2, width / 2), (-lean / 2, -width / 2)
    left_mark, right_mark = (left[0] + back, left[1]), (right[0] + back, right[1])
    found = check_diagonals(_length(left, right_mark), _length(right, left_mark), back, width)
    assert found.out_of_square == pytest.approx(lean, abs=1e-9)


@given(lean=st.floats(-0.01, 0.01), errors=st.tuples(*[st.floats(-0.5e-3, 0.5e-3)] * 2))
def test_stated_uncertainty_covers_what_the_tape_can_do(
    lean: float, errors: tuple[float, float]
) -> None:
    width, back = 1.0, 1.5
    left, right = (lean / 2, width / 2), (-lean / 2, -width / 2)
    d_left = _length(left, (right[0] + back, right[1])) + errors[0]
    d_right = _length(right, (left[0] + back, left[1])) + errors[1]
    found = check_diagonals(d_left, d_right, back, width)
    assert abs(found.out_of_square - lean) <= found.uncertainty * 1.01


def test_edge_lengths() -> None:
    assert check_edge_lengths(2.001, 2.004).out_of_square == pytest.approx(0.003)


@given(error=st.floats(-0.02, 0.02), doubt=st.floats(0, 0.01), limit=st.floats(1e-4, 0.02))
def test_a_cut_passes_only_beyond_doubt(error: float, doubt: float, limit: float) -> None:
    verdict = judge_cut(HandCheck(error, doubt), limit).verdict
    assume(abs(abs(error) - limit) > 1e-9 + doubt or abs(abs(error) - limit) < doubt - 1e-9)
    if verdict is CutVerdict.PASS:
        assert abs(error) + doubt <= limit
    elif verdict is CutVerdict.RECUT:
        assert abs(error) - doubt > limit
    else:
        assert abs(error) - doubt <= limit < abs(error) + doubt


def test_refusals() -> None:
    with pytest.raises(
        InputError,
        match=r"^diagonals: 2000 and 2050 mm cannot be: with 1500 mm marked back they make a "
        r"belt 1361 mm wide, not 1000 mm; measure again",
    ):
        check_diagonals(2.0, 2.05, 1.5, 1.0)
    with pytest.raises(InputError, match=r"^arcs: 400 and 400 mm cannot be: on a 1000 mm belt"):
        check_equal_arcs(0.4, 0.4, 1.0, 1.0)
    with pytest.raises(InputError, match=r"^back: 0 mm is not accepted: give a length above 0"):
        check_diagonals(1.0, 1.0, 0.0, 1.0)
    with pytest.raises(InputError, match=r"^limit: 0 mm is not accepted"):
        judge_cut(HandCheck(0.0, 0.0), 0.0)
