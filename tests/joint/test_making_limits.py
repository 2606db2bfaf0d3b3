"""Limits of making: against finite elements, statics of a bolt row, and plane geometry."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sheets.plans import COMPLETE, example
from splicewright.joint.making_limits import (
    arc_difference,
    diagonal_difference,
    off_centre_limit,
    plate_rating,
    row_of,
)
from splicewright.joint.membrane import Strip, even_row, locked_compliance
from splicewright.joint.sharing import share
from splicewright.joint.stiffness import (
    Case,
    assumed_plate_stiffness,
    assumed_strips,
    spread_cases,
)
from splicewright.joint.tolerances import LOSS, Error, cost, tolerance


def test_all_plates_at_their_rating_carry_the_rated_tension() -> None:
    assert 24 * plate_rating(60e3, 0.9144, 24) == pytest.approx(60e3 * 0.9144)


@pytest.mark.parametrize(("count", "pitch"), [(3, 0.05), (10, 0.06), (23, 0.043)])
def test_off_centre_limit_is_statics_of_a_bolt_row(count: int, pitch: float) -> None:
    """P = F/N + M y / sum y^2 with M = F a/2 on the outermost plate, worked plate by plate."""
    pull, loss = 3.7e4, 0.13
    a = off_centre_limit(loss, count, pitch)
    y = even_row(count, pitch, 0.9 * pitch).y
    outermost = pull / count + pull * a / 2 * y.max() / float(y @ y)
    assert outermost == pytest.approx(pull / count / (1 - loss))


def test_lengths_to_a_line_out_of_square_differ_as_coordinates_say() -> None:
    """A line 1.4 m wide turned by 3 mm over its width; a point 2 m behind, marks 2 m behind."""
    out, back, width = 3e-3, 2.0, 1.4
    angle = math.asin(out / width)
    left = np.array([-math.sin(angle), math.cos(angle)]) * width / 2
    right = -left
    point = np.array([back, 0.0])
    arcs = np.linalg.norm(point - right) - np.linalg.norm(point - left)
    assert abs(arcs) == pytest.approx(arc_difference(out, back, width), rel=1e-5)
    along = np.array([back, 0.0])
    diagonals = np.linalg.norm(left + along - right) - np.linalg.norm(right + along - left)
    assert abs(diagonals) == pytest.approx(diagonal_difference(out, back, width), rel=1e-5)


def test_cost_is_the_loss_at_the_limit_and_what_the_share_gives_elsewhere() -> None:
    strip, row = Strip(1.0, 6e6, 2e6, 3e5), even_row(23, 0.043, 0.038)
    edge = locked_compliance(strip, row)
    found = tolerance(Error.HOLE_LINE, [Case("held", edge, 4e6, None)], 4e4)
    assert found.typical is not None
    held = Case("held", edge, 4e6, None)
    assert cost(Error.HOLE_LINE, held, 4e4, found.typical) == pytest.approx(LOSS)
    sound = float(share(edge, 4e6, 4e4).worst)
    ahead = float(share(edge, 4e6, 4e4, slack=-1e-3 * np.eye(23)).worst.max())
    assert cost(Error.HOLE_LINE, held, 4e4, 1e-3) == pytest.approx(1 - sound / ahead)


@pytest.mark.parametrize("name", COMPLETE)
def test_limits_are_below_those_of_every_case_in_finite_elements(name: str) -> None:
    """Held sides, stiff belt and the telling plates: no assumed case allows less."""
    told = example(name)
    limits, best, layout = told.limits, told.fastener, told.layout
    assert limits is not None and best is not None and layout is not None
    belt, width = told.conveyor.belt, layout.width.value
    pull = told.demand.running.value * width
    cases = spread_cases(
        assumed_strips(width, belt.modulus, belt.carcass),
        row_of(layout, best.size),
        assumed_plate_stiffness(limits.plate_rating.value),
        pull,
        refine=1,
    )
    for error, limit in (
        (Error.OUT_OF_SQUARE, limits.out_of_square),
        (Error.HOLE_LINE, limits.hole_line),
        (Error.OFF_CENTRE, limits.off_centre),
        (Error.TIGHTNESS, limits.tightness),
    ):
        smallest = tolerance(error, cases, pull).smallest
        assert smallest is not None
        # By no more than half: the limit is on the safe side, not far out.
        assert 0.5 * smallest < limit.smallest.value <= smallest
        assert limit.smallest.value <= limit.typical.value


def test_limits_of_measuring_follow_from_the_square() -> None:
    told = example("incline")
    limits = told.limits
    assert limits is not None and told.layout is not None
    width = told.layout.width.value
    assert limits.back.value == pytest.approx(2 * width, abs=0.05)
    assert limits.diagonals.value == pytest.approx(
        diagonal_difference(limits.out_of_square.smallest.value, limits.back.value, width)
    )
    step = next(step for step in told.steps if step.key == "cut")
    said = [r for r in step.readings if r.what == "Their difference"]
    assert [r.high for r in said] == [limits.diagonals.value] * 2
    text = said[0].limit.say()
    assert "derived from mechanics, smallest of the assumed cases" in text
    assert "the maker's value goes first" in text
