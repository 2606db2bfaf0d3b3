"""Drawings of a vulcanised joint: lines as cut, every ply in section, the press over it all."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import pytest

from planned import planned
from sheets.plans import example
from splicewright.errors import OutputError
from splicewright.job import JointPlan
from splicewright.joint import End, StepForm, lay_steps
from splicewright.joint.fasteners.ranges import CordLine
from splicewright.quantities import Kind, Worksheet, stated
from splicewright.sheets.canvas.expansion import bounds, primitives
from splicewright.sheets.canvas.scene import CUT, Hatch, Line, Polyline, Scene, Text, leaves
from splicewright.sheets.drawings.step_joint import (
    corner_template,
    press_drawing,
    step_end,
    step_marking,
    step_section,
)


def step_plan() -> JointPlan:
    return planned("incline", "incline-vulcanised")


@cache
def of_cords() -> JointPlan:
    """The same plan with an invented table of cords laid in place of its plies."""
    plan = step_plan()
    best = plan.fastener
    assert best is not None and best.steps is not None
    size = replace(
        best.steps, form=StepForm.CORD, plies=1, step_length=0.6, transition=0.15,
        cords=(CordLine(0.6, None), CordLine(0.295, 0.305), CordLine(None, 0.0)),
    )  # fmt: skip
    joint = lay_steps(
        size, plan.conveyor.belt.width, plan.conveyor, plan.work,
        stated("thick", "thickest", 0.0146, Kind.LENGTH), Worksheet(),
    )  # fmt: skip
    best = replace(best, joint=size)
    choice = replace(plan.choice, candidates=(best, *plan.choice.candidates[1:]))
    return replace(plan, choice=choice, step_joint=joint)


def words(scene: Scene) -> list[str]:
    return [p.text for _, p in primitives(scene) if isinstance(p, Text)]


@pytest.mark.parametrize("which", list(End))
def test_lines_lie_where_they_are_cut(which: End) -> None:
    """The bias by its tangent, steps by their length: 20 deg, 250 mm, 998 mm wide, 4 plies."""
    lines = [i for _, i in leaves(Scene(step_end(step_plan(), which))) if isinstance(i, Line)]
    across = [i for i in lines if i.start[0] == -499 and i.end[0] == 499]
    assert len(across) == 4
    lean = 998 * math.tan(math.radians(20))
    sign = -1 if which is End.TRAILING else 1
    for number, line in enumerate(sorted(across, key=lambda i: -i.start[1])):
        assert line.end[1] - line.start[1] == pytest.approx(sign * lean)
        assert max(line.start[1], line.end[1]) == pytest.approx(-250 * number, abs=1e-6)
    assert [i.pen for i in across].count(CUT) == 1


def test_both_ends_say_which_cover_is_up_and_where_the_travel_goes() -> None:
    said = words(step_marking(step_plan()))
    assert "TRAILING END, CARRY COVER UP, ↑ TRAVEL" in said
    assert "LEADING END, PULLEY COVER UP, ↓ TRAVEL" in said
    assert said.count("LEFT") == said.count("RIGHT") == 2


def test_the_section_shows_every_ply_of_both_ends_whole_once() -> None:
    """A ruler along each row: two bars that meet and do not overlap, each seam a step further."""
    groups = [i for la, i in leaves(step_section(step_plan())) if la == "plies"]
    bars = [i for i in groups if isinstance(i, Polyline)]
    rows: dict[float, list[tuple[float, float]]] = {}
    for bar in bars:
        xs = [p[0] for p in bar.points]
        rows.setdefault(max(p[1] for p in bar.points), []).append((min(xs), max(xs)))
    assert len(rows) == 4
    seams = []
    for row in rows.values():
        (a, b), (c, d) = sorted(row)
        assert b == pytest.approx(c) and a == pytest.approx(-d)
        seams.append(b)
    gaps = [y - x for x, y in zip(sorted(seams), sorted(seams)[1:], strict=False)]
    assert gaps == pytest.approx([gaps[0]] * 3)
    # From the carry cover down the trailing end reaches ever further.
    assert [s for _, s in sorted(zip(rows, seams, strict=True), reverse=True)] == sorted(seams)


def test_the_platens_lie_over_the_whole_joint() -> None:
    """Corners of the joint, by its lines, each inside the band of platens at that edge."""
    scene = press_drawing(step_plan())
    platens = [i for la, i in leaves(scene) if la == "press" and isinstance(i, Polyline)]
    assert len(platens) == 2
    for _, line in ((la, i) for la, i in leaves(scene) if la == "joint"):
        assert isinstance(line, Line)
        for x, y in (line.start, line.end):
            spans = []
            for ring in platens:
                (x1, y1), (x2, y2), (_, y3), (_, _) = ring.points
                low = y1 + (x - x1) / (x2 - x1) * (y2 - y1)
                spans.append(low - 1e-6 <= y <= low + (y3 - y2) + 1e-6)
            assert any(spans)


@pytest.mark.parametrize("which", list(End))
def test_the_corner_has_the_bias_at_true_size(which: End) -> None:
    scene = corner_template(step_plan(), which)
    cuts = [i for _, i in leaves(scene) if isinstance(i, Line) and i.pen == CUT]
    [cut] = cuts
    rise = (cut.end[1] - cut.start[1]) / abs(cut.end[0] - cut.start[0])
    assert rise == pytest.approx(-math.tan(math.radians(20)))
    assert cut.start == (0.0, 0.0)
    side = "LEFT" if which is End.TRAILING else "RIGHT"
    assert any(text.startswith(f"{side} edge, plan ") for text in words(scene))
    assert {"100 mm", "4 in"} <= set(words(scene))


def test_cords_are_drawn_line_by_line_as_the_table_says() -> None:
    scene = step_section(of_cords())
    bars = [i for la, i in leaves(scene) if la == "cords" and isinstance(i, Polyline)]
    assert len(bars) == 4
    assert "600" in words(scene)
    assert any("cords end" in text for text in words(step_marking(of_cords())))


def test_waste_and_rubber_are_hatched() -> None:
    assert sum(isinstance(i, Hatch) for _, i in leaves(step_marking(step_plan()))) == 2
    assert sum(isinstance(i, Hatch) for _, i in leaves(step_section(step_plan()))) == 2


def test_a_scene_in_inches_is_the_same_scene() -> None:
    metric, inch = (bounds(step_section(step_plan(), s)) for s in ("metric", "inch"))
    assert metric == pytest.approx(inch, abs=6.0)


def test_a_plan_of_plates_has_no_such_drawing() -> None:
    with pytest.raises(OutputError, match="no vulcanised joint"):
        step_marking(example("incline"))
