"""Marking drawings: cut line, ordinates, notches (three times as long as wide, docs/anatomy.md)."""

from __future__ import annotations

import pytest

from sheets.plans import COMPLETE, example, solid
from splicewright.joint import End
from splicewright.sheets.canvas.expansion import primitives
from splicewright.sheets.canvas.scene import (
    Circle,
    Dimension,
    Hatch,
    RunningDimension,
    Scene,
    Text,
    leaves,
)
from splicewright.sheets.drawings.cut import corner, marking, squaring


def words(scene: Scene) -> str:
    return " | ".join(p.text for _, p in primitives(scene) if isinstance(p, Text))


def test_ordinates_follow_the_curve() -> None:
    """x_cut(y) - a = d (1 - (2 y/B)^2), the parabola of docs/anatomy.md."""
    told = example("incline")
    assert told.layout is not None
    [chain] = [i for _, i in leaves(marking(told)) if isinstance(i, RunningDimension)]
    depth, width = 1000.0 * told.layout.curve_depth.value, 1000.0 * told.layout.width.value
    assert len(chain.stations) > 8
    for (x, _), label in zip(chain.stations, chain.labels, strict=True):
        across, back = (float(part) for part in label.split(" / "))
        assert across == pytest.approx(abs(x), abs=0.501 if abs(x) >= 100 else 0.051)  # by tape
        assert back == pytest.approx(depth * (1 - (2 * x / width) ** 2), abs=0.051)


def test_straight_ends_have_no_ordinates() -> None:
    [chain] = [i for _, i in leaves(marking(example("shuttle"))) if isinstance(i, RunningDimension)]
    assert chain.labels == ("400", "400")


@pytest.mark.parametrize("name", COMPLETE)
def test_marking_has_both_ends_with_all_holes(name: str) -> None:
    told = example(name)
    assert told.layout is not None
    scene = marking(told)
    for which in End:
        assert f"{which.value.upper()}, PULLEY COVER UP" in words(scene)
    drawn = [i for la, i in leaves(scene) if la == "holes" and isinstance(i, Circle)]
    assert len(drawn) == len(told.layout.leading.holes) + len(told.layout.trailing.holes)
    for word in ("LEFT", "RIGHT", "TRAVEL"):
        assert word in words(scene)


@pytest.mark.parametrize("which", list(End))
@pytest.mark.parametrize("name", COMPLETE)
def test_corner_shows_the_notch_only_where_there_is_one(name: str, which: End) -> None:
    told = example(name)
    assert told.layout is not None
    end = told.layout.leading if which is End.LEADING else told.layout.trailing
    scene = corner(told, which)
    measures = [d.measure for _, d in leaves(scene) if isinstance(d, Dimension)]
    wanted = [1000.0 * end.setback_left]
    if end.notch_width:
        wanted += [1000.0 * end.notch_width, 3000.0 * end.notch_width]
    assert measures == pytest.approx(wanted)
    hatched = [i for _, i in leaves(scene) if isinstance(i, Hatch)]
    assert len(hatched) == (1 if end.notch_width else 0)
    # On the return side the pulley cover lies up: the belt's left is on the right of the sheet.
    assert all(x > 0 for item in hatched for x, _ in item.boundary)


def test_known_travel_notches_the_trailing_end_only_and_reversing_both() -> None:
    known, reversing = example("incline").layout, example("shuttle").layout
    assert known is not None
    assert reversing is not None
    assert (known.leading.notch_width, known.trailing.notch_width > 0) == (0.0, True)
    assert reversing.leading.notch_width == reversing.trailing.notch_width > 0


def test_sketch_tells_how_far_back_the_midpoints_go() -> None:
    assert "5 to 7 m" in words(squaring())
    assert "16 to 23 ft" in words(squaring("inch"))


def test_solid_plates_are_marked_out_too() -> None:
    assert "TRAILING END" in words(marking(solid(), "inch"))
