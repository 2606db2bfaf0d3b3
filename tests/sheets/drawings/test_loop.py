"""Side view of the loop and tension diagram against the plan's own stations and forces."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from sheets.plans import COMPLETE, example, without_range
from splicewright.sheets.canvas.expansion import primitives
from splicewright.sheets.canvas.scene import Circle, Line, Polyline, Scene, Text, leaves
from splicewright.sheets.drawings.loop import pulley_numbers, side_view
from splicewright.sheets.drawings.tension import PENS, tension_diagram
from splicewright.tension import LoadCase


def words(scene: Scene) -> list[str]:
    return [p.text for _, p in primitives(scene) if isinstance(p, Text)]


def belt(scene: Scene) -> list[Line]:
    return [i for _, i in leaves(scene) if isinstance(i, Line) and i.pen.name == "belt"]


@pytest.mark.parametrize("name", COMPLETE)
def test_every_run_and_pulley_is_drawn_and_the_loop_closes(name: str) -> None:
    told = example(name)
    scene = side_view(told, work=told.work)
    assert len(belt(scene)) == len(told.conveyor.runs())
    outlined = [i for _, i in leaves(scene) if isinstance(i, Circle) and i.pen is not None]
    assert len(outlined) == len(told.conveyor.pulleys())
    tail = outlined[0]
    last = belt(scene)[-1].end
    assert math.dist(last, tail.centre) == pytest.approx(tail.radius, abs=1e-6)
    for pulley in told.conveyor.pulleys():
        assert any(text.startswith(pulley.name) for text in words(scene))


def test_profile_is_true_where_it_is_steep() -> None:
    """34 m over 207 m of level length: the drawn slope is the conveyor's own."""
    told = example("incline")
    run = next(r for r in told.conveyor.runs() if r.name == "incline")
    line = belt(side_view(told, work=told.work))[1]
    slope = (line.end[1] - line.start[1]) / (line.end[0] - line.start[0])
    level = math.sqrt(run.length.value**2 - run.rise.value**2)
    assert slope == pytest.approx(run.rise.value / level)
    assert "Heights are drawn" not in side_view(told, work=told.work).description


@pytest.mark.parametrize("name", COMPLETE)
def test_place_of_work_stands_on_its_run(name: str) -> None:
    told = example(name)
    scene = side_view(told, work=told.work)
    dot = next(i for _, i in leaves(scene) if isinstance(i, Circle) and i.pen is None)
    number = [run.name for run in told.conveyor.runs()].index(told.work.run)
    line = belt(scene)[number]
    run = told.conveyor.runs()[number]
    share = told.work.distance.value / run.length.value
    at = tuple(a + share * (b - a) for a, b in zip(line.start, line.end, strict=True))
    assert dot.centre == pytest.approx(at)
    said = f"PLACE OF WORK: {told.work.run}, {told.work.distance.show()} along it"
    assert said in words(scene)


@pytest.mark.parametrize("share", [0.1, 0.3, 0.4, 0.45, 0.5, 0.58, 0.7, 0.9])
def test_no_arrow_lies_under_the_flag_of_the_place_of_work(share: float) -> None:
    """Along the return run of a level conveyor; a head is 6 mm long, half a diamond 3 mm."""
    told = example("flat")
    run = next(r for r in told.conveyor.runs() if r.name == told.work.run)
    distance = replace(told.work.distance, value=share * run.length.value)
    scene = side_view(told, work=replace(told.work, distance=distance))
    shapes = [i for _, i in leaves(scene) if isinstance(i, Polyline) and i.fill == 0.0]
    diamond = next(i for i in shapes if len(i.points) == 4)
    middle = sum(x for x, _ in diamond.points) / 4
    heads = [i for i in shapes if len(i.points) == 3 and max(x for x, _ in i.points) > 20]
    assert len(heads) == 2
    for head in heads:
        assert all(abs(x - middle) > 3.0 for x, _ in head.points), (share, head.points)


def test_drive_is_black_and_named() -> None:
    scene = side_view(example("incline"))
    black = [i for _, i in leaves(scene) if isinstance(i, Circle) and i.pen and i.fill == 0.0]
    assert len(black) == 1
    assert "head pulley (drive)" in words(scene)
    assert "take-up" in words(scene)
    assert "travel" in words(scene)


@pytest.mark.parametrize("name", COMPLETE)
def test_tension_lines_have_the_plans_forces(name: str) -> None:
    told = example(name)
    ways = [(False, told.demand.cases)]
    if told.demand.reverse_cases:
        ways.append((True, told.demand.reverse_cases))
    for reverse, cases in ways:
        scene = tension_diagram(told, reverse=reverse)
        width = told.conveyor.belt.width.value
        for case in cases:
            [line] = [
                i for _, i in leaves(scene) if isinstance(i, Polyline) and i.pen is PENS[case.case]
            ]
            forces = [f.value / width for p in case.points for f in (p.entering, p.leaving)]
            heights = [y for _, y in line.points]
            scale = max(heights) / max(forces)
            assert sorted(heights) == pytest.approx(sorted(scale * f for f in forces))
            assert [x for x, _ in line.points] == sorted(x for x, _ in line.points)
            if case.case is LoadCase.FULL:
                assert max(forces) == pytest.approx(case.largest.value)
        said = f"largest {max(c.largest.value for c in cases) / 1e3:.3g} N/mm"
        assert any(text.startswith(said) for text in words(scene))


def test_load_cases_differ_without_colour() -> None:
    looks = {(pen.dash, pen.width) for pen in PENS.values()}
    assert len(looks) == len(PENS) == len(LoadCase)
    assert all(pen.grey == 0.0 for pen in PENS.values())
    drawn = words(tension_diagram(example("incline")))
    assert {"empty", "full", "starting full", "N/mm"} <= set(drawn)
    inch = words(tension_diagram(example("incline"), "inch"))
    assert "lbf/in" in inch
    assert not any("N/mm" in text for text in inch)


def test_pulleys_have_the_same_numbers_in_both_drawings() -> None:
    told = example("incline")
    numbers = {str(n) for n in pulley_numbers(told.conveyor).values()}
    for scene in (side_view(told, work=told.work), tension_diagram(told)):
        assert numbers <= set(words(scene))


def test_plan_without_fastener_still_has_its_loop() -> None:
    assert words(side_view(without_range()))
    assert words(tension_diagram(without_range()))
