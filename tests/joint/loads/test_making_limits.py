"""Limits of making: against all that is assumed, the direct solve, and plane geometry."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from proof import proves
from sheets.plans import COMPLETE, SITE, example, solid
from splicewright.job import JointPlan, plan
from splicewright.joint import load_ranges
from splicewright.joint.loads.hinge import share_both
from splicewright.joint.loads.making_limits import (
    MakingLimits,
    arc_difference,
    asking_most,
    diagonal_difference,
    plate_rating,
)
from splicewright.joint.loads.membrane import PlateRow
from splicewright.joint.loads.stiffness import (
    REFINE,
    Case,
    assumed_plate_stiffness,
    assumed_strips,
    hinged_cases,
    pins,
    spread_cases,
)
from splicewright.joint.loads.tolerances import Error, tolerance

pytestmark = proves(
    "Limits of making, and damage",
    "Limits of making against every assumed case and the direct solve",
    "D",
    "The few cases that a plan works are held against all of them; a joint made at its "
    "limit is shared out directly and must have lost just the margin that was allowed; "
    "lengths and diagonals by coordinates.",
    doubt="Coordinates are exact; the direct solve shares the tool's own mechanics and would "
    "share its errors.",
    tolerance="1e-9 where the same system is solved again; 1e-5 for lengths and diagonals, whose "
    "second order is left out",
    sketch="square",
)


def test_all_plates_at_their_rating_carry_the_rated_tension() -> None:
    assert 24 * plate_rating(60e3, 0.9144, 24) == pytest.approx(60e3 * 0.9144)


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


def plates_of(name: str) -> tuple[JointPlan, MakingLimits, tuple[Case, ...], float]:
    """A plan, its limits, all that is assumed of its joint, and its pull."""
    told = solid() if name == "solid" else example(name)
    best, layout, limits = told.fastener, told.layout, told.limits
    assert limits is not None and best is not None and layout is not None
    belt, width, size = told.conveyor.belt, layout.width.value, best.size
    pull = told.demand.running.value * width
    strips = assumed_strips(width, belt.modulus, belt.carcass)
    plate = assumed_plate_stiffness(limits.plate_rating.value)
    one, other = (PlateRow(tuple(p.y for p in end.plates), size.plate_width) for end in layout.ends)
    if not best.construction.hinged:
        return told, limits, spread_cases(strips, one, plate, pull, refine=REFINE), pull
    cases = hinged_cases(strips, (one, other), plate, pull, pins(size.pin), refine=REFINE)
    return told, limits, cases, pull


@pytest.mark.parametrize("name", [*COMPLETE, "solid"])
def test_no_assumed_case_asks_for_more(name: str) -> None:
    """The few cases that a plan works are the smallest of all, for every error."""
    _, limits, cases, pull = plates_of(name)
    for error, limit in (
        (Error.OUT_OF_SQUARE, limits.out_of_square),
        (Error.HOLE_LINE, limits.hole_line),
        (Error.OFF_CENTRE, limits.off_centre),
        (Error.TIGHTNESS, limits.tightness),
    ):
        found = tolerance(error, cases, pull)
        assert found.smallest == pytest.approx(limit.smallest.value, rel=1e-9)
        assert found.typical == pytest.approx(limit.typical.value, rel=1e-9)
        typical = [c for c in found.cases if "belt typical, plates typical" in c.case
                   and "wires" not in c.case]  # fmt: skip
        by_guidance = {hold: next(c.amount for c in typical if hold in c.case)
                       for hold in ("guided all along", "not guided")}  # fmt: skip
        assert limit.guided is not None
        sides = (limit.guided.held, limit.guided.loose)
        shown = [None if side is None else side.value for side in sides]
        assert shown == list(by_guidance.values())


def test_plates_carry_what_the_limit_says_when_the_joint_is_made_that_way() -> None:
    """At the limit of either end the worst plate has 1/0.9 of its load: shared directly."""
    _, limits, cases, pull = plates_of("incline")
    case = asking_most(cases, Error.OUT_OF_SQUARE)[0]
    assert case.hinge is not None and case.guidance is not None
    lean = limits.out_of_square.smallest.value * case.hinge.y / case.edge.strip.width
    n = len(case.edge.row)
    alone = np.concatenate([lean[:n], 0 * lean[n:]])
    sound, both, one, opposite = share_both(
        case.hinge, case.plate_stiffness, pull, guidance=case.guidance,
        slack=np.array([0 * lean, lean, alone, case.hinge.side * lean]),
    ).max(axis=1)  # fmt: skip
    mirrored = share_both(case.hinge, case.plate_stiffness, pull, guidance=case.guidance,
                          slack=-lean).max()  # fmt: skip
    assert max(both, mirrored) / sound == pytest.approx(1 / 0.9, rel=1e-9)
    # One end alone costs less, for the pin tilts; ends that lean against each other cost nothing.
    assert sound < one < 0.5 * (sound + both) * (1 + 1e-9) * 1.01
    assert opposite == pytest.approx(sound, rel=1e-3)


def test_both_limits_of_guidance_are_told() -> None:
    limits = example("incline").limits
    assert limits is not None
    square = limits.out_of_square
    assert square.guided is not None
    held, loose = square.guided.held, square.guided.loose
    assert held is not None and loose is None
    # A belt that nothing guides swings until it is square again.
    assert square.guidance() == f"{held.show()} guided all along, no limit not guided"
    assert square.smallest.value < held.value < square.typical.value
    off = limits.off_centre
    assert off.guidance() == f"{off.typical.show()}, whatever guides the belt"


def test_a_plan_kept_before_the_two_were_told_apart_is_read() -> None:
    made = example("incline")
    kept = json.loads(made.to_json())
    for limit in kept["limits"].values():
        if isinstance(limit, dict):
            limit.pop("guided", None)
    old = JointPlan.from_json(json.dumps(kept)).limits
    assert old is not None and made.limits is not None
    assert old.out_of_square.smallest == made.limits.out_of_square.smallest
    assert old.out_of_square.guidance() == "guided and not guided were not told apart"


def test_the_same_joint_is_worked_once() -> None:
    from splicewright.joint.loads.making_limits import _worked

    before = _worked.cache_info()
    made = example("incline")
    ranges = load_ranges((SITE / "fasteners" / "hinged.toml", SITE / "fasteners" / "solid.toml"))
    again = plan(made.conveyor, replace(made.work, crew=made.work.crew), ranges)
    assert again.limits == made.limits
    assert _worked.cache_info().misses == before.misses


def test_limits_of_measuring_follow_from_the_square() -> None:
    told = example("incline")
    limits = told.limits
    assert limits is not None and told.layout is not None
    width = told.layout.width.value
    # Two widths, and no more than lies free before a pulling clamp 1.5 m from the cut.
    assert limits.back.value == pytest.approx(min(2 * width, 1.5 - 0.1), abs=0.05)
    assert limits.diagonals.value == pytest.approx(
        diagonal_difference(limits.out_of_square.smallest.value, limits.back.value, width)
    )
    step = next(step for step in told.steps if step.key == "cut")
    said = [r for r in step.readings if r.what == "Their difference"]
    assert [r.high for r in said] == [limits.diagonals.value] * 2
    text = said[0].limit.say()
    assert "derived from mechanics, smallest of the assumed cases" in text
    assert "the maker's value takes precedence" in text
