"""The belt map, read back as shapes and letters."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from splicewright.sheets.canvas.expansion import bounds, primitives
from splicewright.sheets.canvas.scene import Circle, Hatch, Line, Polyline, Scene, Text, leaves
from splicewright.sheets.drawings.belt_map import HIGH, WIDE, belt_map_drawing


@dataclass(frozen=True)
class Part:
    name: str
    start: float
    end: float


@dataclass(frozen=True)
class Joint:
    label: str
    place: float
    can_run: bool | None = None


PIECES = (Part("first roll", 0.0, 50.0), Part("insert", 50.0, 200.0))
JOINTS = (Joint("J1", 0.0), Joint("J2", 50.0, True), Joint("J3", 150.0, False))


def drawn(*joints: Joint, damage: tuple[Part, ...] = (), invented: bool = False) -> Scene:
    return belt_map_drawing("main belt", 200.0, PIECES, joints, damage, invented=invented)


def letters(scene: Scene) -> list[str]:
    return [p.text for _, p in primitives(scene) if isinstance(p, Text)]


def test_everything_stands_where_it_lies_on_the_belt() -> None:
    scene = drawn(*JOINTS, damage=(Part("", 100.0, 120.0),))
    strokes = [p for layer, p in leaves(scene) if layer == "joints" and isinstance(p, Line)]
    assert {s.start[0] for s in strokes} == {0.0, WIDE / 4, WIDE * 3 / 4}
    (hatch,) = [p for _, p in leaves(scene) if isinstance(p, Hatch)]
    assert {x for x, _ in hatch.boundary} == {WIDE / 2, WIDE * 0.6}
    boxes = [p for layer, p in leaves(scene) if layer == "belt" and isinstance(p, Polyline)]
    assert [max(x for x, _ in box.points) for box in boxes] == [WIDE / 4, WIDE, WIDE]
    assert {"first roll", "insert", "J1", "J2", "J3"} <= set(letters(scene))


def test_a_joint_that_must_not_run_is_marked() -> None:
    marks = [p for _, p in leaves(drawn(*JOINTS)) if isinstance(p, Circle)]
    assert [mark.centre for mark in marks] == [(WIDE * 3 / 4, HIGH / 2)]


def test_labels_never_lie_on_each_other() -> None:
    many = [Joint(f"K2-{n}", 100.0 + 0.5 * n) for n in range(30)]
    placed = [p for _, p in leaves(drawn(*many)) if isinstance(p, Text) and p.text[:3] == "K2-"]
    assert 3 < len(placed) < 30
    spots = [(round(t.at[1], 3), t.at[0]) for t in placed]
    assert len(set(spots)) == len(spots)
    left, _, right, _ = bounds(drawn(*many, Joint("a long label at the end", 200.0)))
    assert left >= -10
    assert right <= WIDE + 10


def test_little_damage_can_still_be_seen_and_none_leaves_the_belt() -> None:
    scene = drawn(damage=(Part("", 10.0, 10.001), Part("", 199.9, 200.0)))
    for hatch in (p for _, p in leaves(scene) if isinstance(p, Hatch)):
        across = [x for x, _ in hatch.boundary]
        assert max(across) - min(across) == pytest.approx(1.2)
        assert 0 <= min(across) <= max(across) <= WIDE


def test_it_says_its_length_its_unit_and_that_it_is_invented() -> None:
    assert "200 m round" in drawn().description
    assert "Invented data" in drawn(invented=True).description
    inch = belt_map_drawing("b", 200.0, (), (), (), "inch")
    assert "656 ft round" in inch.description
    assert "from the mark, ft" in letters(inch)
    empty = belt_map_drawing("b", 0.0, (), (), ())
    assert len(letters(empty)) == 0
