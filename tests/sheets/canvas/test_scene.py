"""Figures worked by hand or closed forms; ISO 129-1 rules as named in `expansion`."""

from __future__ import annotations

import math
import subprocess
import sys
from dataclasses import replace
from itertools import pairwise
from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheets.shapes import HOLES, one_of_each, plate_row
from splicewright.sheets.canvas.expansion import (
    bounds,
    dimension_line,
    expand,
    expand_item,
    primitives,
    spread,
    text_width,
)
from splicewright.sheets.canvas.placement import mirrored, scaled, translated
from splicewright.sheets.canvas.scene import (
    Arc,
    Circle,
    Dimension,
    Direction,
    Group,
    Hatch,
    Item,
    Line,
    Point,
    Polyline,
    RunningDimension,
    Scene,
    Text,
    inch_check_bar,
    leaves,
    metric_check_bar,
    metric_text,
    readable,
)

coordinates = st.floats(-2000.0, 2000.0).map(lambda value: round(value, 3))
points = st.tuples(coordinates, coordinates)
angles = st.floats(-89.0, 90.0)
texts = st.builds(
    Text,
    points,
    st.just("12"),
    anchor=st.sampled_from(["start", "middle", "end"]),
    baseline=st.sampled_from(["base", "middle", "top"]),
    rotation=angles,
)
dimensions = st.builds(
    Dimension,
    points,
    points,
    st.sampled_from(["x", "y", "free"]),
    st.floats(-40.0, 40.0),
)
items: st.SearchStrategy[Item] = st.one_of(
    st.builds(Line, points, points),
    st.builds(Circle, points, st.floats(0.1, 500.0)),
    st.builds(Arc, points, st.floats(0.1, 500.0), angles, st.floats(100.0, 260.0)),
    texts,
    dimensions,
    st.builds(Polyline, st.lists(points, min_size=2, max_size=6).map(tuple)),
)
scenes = st.lists(items, min_size=1, max_size=6).map(lambda parts: Scene(tuple(parts)))


def arrows(parts: list[Item]) -> list[Polyline]:
    return [part for part in parts if isinstance(part, Polyline) and part.fill == 0.0]


def numbers(scene: Scene) -> list[float]:
    """Every number that places something, arcs as their end points so that 0° is 360°."""
    found: list[float] = []
    for _, part in primitives(scene):
        match part:
            case Line():
                found += [*part.start, *part.end]
            case Polyline():
                found += [number for point in part.points for number in point]
            case Circle():
                found += [*part.centre, part.radius]
            case Arc():
                for angle in (part.start, part.end):
                    found += [math.cos(math.radians(angle)), math.sin(math.radians(angle))]
                found += [*part.centre, part.radius]
            case Text():
                found += [*part.at, part.rotation, len(part.anchor)]
    return found


@given(dimensions)
def test_arrow_tips_touch_the_measured_points(dimension: Dimension) -> None:
    (x1, y1), (x2, y2) = dimension.start, dimension.end
    tips = [arrow.points[0] for arrow in arrows(list(expand_item(dimension)))]
    assert len(tips) == 2
    for tip, (x, y) in zip(tips, (dimension.start, dimension.end), strict=True):
        if dimension.direction == "x":
            assert tip[0] == pytest.approx(x, abs=1e-9)
        elif dimension.direction == "y":
            assert tip[1] == pytest.approx(y, abs=1e-9)
        else:
            assert math.dist(tip, (x, y)) == pytest.approx(abs(dimension.offset), abs=1e-6)
    true = {"x": abs(x2 - x1), "y": abs(y2 - y1), "free": math.hypot(x2 - x1, y2 - y1)}
    assert math.dist(*tips) == pytest.approx(true[dimension.direction], abs=1e-6)
    assert dimension.measure == pytest.approx(true[dimension.direction])


@pytest.mark.parametrize(
    ("direction", "offset", "line"),
    [
        ("x", 10.0, ((0.0, 40.0), (40.0, 40.0))),
        ("x", -10.0, ((0.0, -10.0), (40.0, -10.0))),
        ("y", 10.0, ((50.0, 0.0), (50.0, 30.0))),
        ("y", -10.0, ((-10.0, 0.0), (-10.0, 30.0))),
        ("free", 5.0, ((-3.0, 4.0), (37.0, 34.0))),  # the 3-4-5 triangle
    ],
)
def test_dimension_line_stands_off_on_the_side_of_its_sign(
    direction: Direction, offset: float, line: tuple[Point, Point]
) -> None:
    got = dimension_line(Dimension((0.0, 0.0), (40.0, 30.0), direction, offset))
    assert got[0] == pytest.approx(line[0])
    assert got[1] == pytest.approx(line[1])


def test_wide_dimension_has_arrows_inside_and_narrow_one_outside() -> None:
    wide = arrows(list(expand_item(Dimension((0.0, 0.0), (50.0, 0.0), "x"))))
    assert all(0.0 <= x <= 50.0 for arrow in wide for x, _ in arrow.points)
    narrow = arrows(list(expand_item(Dimension((0.0, 0.0), (4.0, 0.0), "x"))))
    assert all(not 0.0 < x < 4.0 for arrow in narrow for x, _ in arrow.points)


@given(dimensions)
def test_dimension_text_reads_from_below_or_from_the_right(dimension: Dimension) -> None:
    [text] = [part for part in expand_item(dimension) if isinstance(part, Text)]
    assert -90.0 < text.rotation <= 90.0
    assert text.text == metric_text(dimension.measure)


def test_dimension_keeps_true_length_at_any_scale_and_letters_their_size() -> None:
    scene = scaled(Scene((Dimension((0.0, 0.0), (875.5, 0.0), "x", -12.0, size=3.5),)), 1 / 20)
    [text] = [part for _, part in primitives(scene) if isinstance(part, Text)]
    assert (text.text, text.size) == ("875.5", 3.5)
    left, bottom, right, _ = bounds(scene)
    assert right - left == pytest.approx(875.5 / 20)
    assert bottom == pytest.approx(-12.0 - 1.5)  # offset and overshoot are paper


def test_running_dimension_measures_each_station_from_the_datum() -> None:
    third = 1000.0 / 3.0
    stations = tuple((10.0 + number * third, 0.0) for number in range(1, 31))
    running = RunningDimension((10.0, 0.0), stations)
    # Rounded one by one: the last is exactly 10 m, not 30 times a rounded third (9999).
    assert running.labels[0] == "333.3"
    assert running.labels[-1] == "10000"
    tips = sorted(arrow.points[0][0] for arrow in arrows(list(expand_item(running))))
    assert tips == pytest.approx([x for x, _ in stations])


def test_running_dimension_on_both_sides_of_the_datum_points_away_from_it() -> None:
    running = RunningDimension((0.0, 0.0), ((-50.0, 0.0), (50.0, 0.0)))
    for arrow in arrows(list(expand_item(running))):
        tip, *wings = (abs(x) for x, _ in arrow.points)
        assert tip == 50.0
        assert all(wing < tip for wing in wings)
    assert running.labels == ("50", "50")


def test_running_dimension_spreads_crowded_texts_without_moving_arrows() -> None:
    running = RunningDimension((0.0, 0.0), ((100.0, 0.0), (101.0, 0.0), (102.0, 0.0)))
    parts = list(expand_item(running))
    places = sorted(part.at[0] for part in parts if isinstance(part, Text) and not part.bold)
    assert all(b - a >= 3.0 for a, b in pairwise(places))
    tips = sorted(arrow.points[0][0] for arrow in arrows(list(parts)))
    assert tips == [100.0, 101.0, 102.0]


@given(st.lists(coordinates, min_size=1, max_size=12), st.floats(0.1, 20.0))
def test_spread_keeps_order_gap_and_mean(places: list[float], gap: float) -> None:
    slots = spread(places, gap)
    pairs = sorted(zip(places, slots, strict=True), key=lambda pair: pair[1])
    assert [place for place, _ in pairs] == sorted(places)
    assert all(b[1] - a[1] >= gap - 1e-6 for a, b in pairwise(pairs))
    assert sum(slots) == pytest.approx(sum(places), abs=1e-6)


def test_spread_leaves_room_alone() -> None:
    assert spread([30.0, 0.0, 10.0], 5.0) == pytest.approx([30.0, 0.0, 10.0])
    assert spread([10.0, 10.0], 4.0) == pytest.approx([8.0, 12.0])


@given(scenes, coordinates, coordinates)
def test_moving_there_and_back_changes_nothing(scene: Scene, dx: float, dy: float) -> None:
    there_and_back = translated(translated(scene, dx, dy), -dx, -dy)
    assert numbers(there_and_back) == pytest.approx(numbers(scene), abs=1e-6)


@given(scenes, coordinates, st.sampled_from(["x", "y"]))
def test_mirroring_twice_changes_nothing(
    scene: Scene, line: float, about: Literal["x", "y"]
) -> None:
    twice = mirrored(mirrored(scene, about, line), about, line)
    assert numbers(twice) == pytest.approx(numbers(scene), abs=1e-6)


@given(scenes, st.floats(0.01, 100.0))
def test_scaling_there_and_back_changes_nothing(scene: Scene, factor: float) -> None:
    back = scaled(scaled(scene, factor), 1 / factor)
    assert numbers(back) == pytest.approx(numbers(scene), rel=1e-9, abs=1e-5)


@given(scenes, coordinates, coordinates)
def test_expanding_and_moving_can_change_places(scene: Scene, dx: float, dy: float) -> None:
    first = numbers(expand(translated(scene, dx, dy)))
    assert first == pytest.approx(numbers(translated(expand(scene), dx, dy)), abs=1e-5)


@given(texts, st.sampled_from(["x", "y"]))
def test_mirrored_text_covers_the_mirrored_place(text: Text, about: Literal["x", "y"]) -> None:
    # The box without the descender is symmetric, so compare the middle of the capital box.
    def middle(of: Text) -> Point:
        [placed] = [part for _, part in primitives(Scene((of,))) if isinstance(part, Text)]
        along = math.radians(placed.rotation)
        shift = {"start": 0.5, "middle": 0.0, "end": -0.5}[placed.anchor]
        step, rise = shift * text_width(of.text, of.size), of.size / 2
        return (
            placed.at[0] + step * math.cos(along) - rise * math.sin(along),
            placed.at[1] + step * math.sin(along) + rise * math.cos(along),
        )

    [flipped] = mirrored(Scene((text,)), about).items
    assert isinstance(flipped, Text)
    x, y = middle(text)
    assert middle(flipped) == pytest.approx((-x, y) if about == "x" else (x, -y), abs=1e-6)
    assert -90.0 < flipped.rotation <= 90.0


def test_mirror_puts_what_was_left_to_the_right() -> None:
    scene = Scene((Circle((3.0, 4.0), 1.0), Dimension((0.0, 0.0), (0.0, 9.0), "y", -12.0)))
    circle, dimension = mirrored(scene, "x", 10.0).items
    assert isinstance(circle, Circle)
    assert isinstance(dimension, Dimension)
    assert circle.centre == (17.0, 4.0)
    assert dimension_line(dimension) == ((32.0, 0.0), (32.0, 9.0))


def test_mirrored_arc_is_the_other_half() -> None:
    [arc] = mirrored(Scene((Arc((0.0, 0.0), 5.0, 0.0, 90.0),))).items
    assert isinstance(arc, Arc)
    assert bounds(Scene((arc,))) == pytest.approx((-5.0, 0.0, 0.0, 5.0))


@pytest.mark.parametrize(
    ("arc", "box"),
    [
        (Arc((0.0, 0.0), 2.0, 0.0, 90.0), (0.0, 0.0, 2.0, 2.0)),
        (Arc((0.0, 0.0), 2.0, 45.0, 135.0), (-(2**0.5), 2**0.5, 2**0.5, 2.0)),
        (Arc((1.0, 1.0), 2.0, 90.0, 0.0), (-1.0, -1.0, 3.0, 3.0)),
        (Arc((0.0, 0.0), 2.0, 0.0, 360.0), (-2.0, -2.0, 2.0, 2.0)),
    ],
)
def test_bounds_of_arcs(arc: Arc, box: tuple[float, float, float, float]) -> None:
    assert bounds(Scene((arc,))) == pytest.approx(box, abs=1e-12)


def test_bounds_of_nothing_are_refused() -> None:
    with pytest.raises(ValueError, match="scene: draws nothing"):
        bounds(Scene(()))


@pytest.mark.parametrize("factor", [0.0, -2.0, math.nan])
def test_scale_factor_must_be_above_zero(factor: float) -> None:
    with pytest.raises(ValueError, match=r"factor: .* a number above 0 is accepted"):
        scaled(Scene(()), factor)


@pytest.mark.parametrize("angle", [0.0, 30.0, 45.0, 90.0, 137.0])
def test_hatch_lines_times_spacing_is_the_area(angle: float) -> None:
    # Closed form: lines a spacing s apart over an area A have the whole length A / s.
    outer = ((0.0, 0.0), (80.0, 0.0), (80.0, 60.0), (0.0, 60.0))
    hole = ((20.0, 20.0), (50.0, 20.0), (50.0, 40.0), (20.0, 40.0))
    hatch = Hatch(outer, (hole,), spacing=0.05, angle=angle)
    length = sum(
        math.dist(part.start, part.end) for part in expand_item(hatch) if isinstance(part, Line)
    )
    # Only lines that end beside a corner miss: under one line of 100 mm at each of 8 corners.
    assert length * 0.05 == pytest.approx(80 * 60 - 30 * 20, abs=8 * 100 * 0.05)


def test_hatch_lines_lie_inside_and_not_in_the_hole() -> None:
    outer = ((0.0, 0.0), (80.0, 0.0), (80.0, 60.0), (0.0, 60.0))
    hole = ((20.0, 20.0), (50.0, 20.0), (50.0, 40.0), (20.0, 40.0))
    for part in expand_item(Hatch(outer, (hole,), 3.0, crossed=True)):
        assert isinstance(part, Line)
        x, y = (part.start[0] + part.end[0]) / 2, (part.start[1] + part.end[1]) / 2
        assert 0.0 <= x <= 80.0
        assert 0.0 <= y <= 60.0
        assert not (20.0 < x < 50.0 and 20.0 < y < 40.0)


def test_check_bars_keep_their_length_at_any_scale() -> None:
    # 4 in = 4 x 25.4 mm exactly (international inch, 1959).
    for bar, length in ((metric_check_bar((3.0, 4.0)), 100.0), (inch_check_bar((3.0, 4.0)), 101.6)):
        scene = scaled(Scene((bar,)), 0.1)
        left, _, right, _ = bounds(scene)
        assert right - left == pytest.approx(length)


def test_mirrored_check_bar_covers_the_mirrored_place() -> None:
    left, _, right, _ = bounds(mirrored(Scene((metric_check_bar((20.0, 0.0)),)), "x"))
    assert (left, right) == pytest.approx((-120.0, -20.0))


def test_layers_come_in_drawing_order_and_inner_groups_keep_theirs() -> None:
    scene = one_of_each()
    assert scene.layers == ("drawing", "round: parts", "inner")
    assert expand(scene).layers == scene.layers
    assert expand(expand(scene)) == expand(scene)


def test_expanded_scene_holds_only_primitives() -> None:
    for _, part in leaves(expand(one_of_each())):
        assert isinstance(part, Line | Polyline | Arc | Circle | Text)
        assert not (isinstance(part, Text) and part.baseline != "base")


def test_group_expands_like_its_items() -> None:
    inner = (Circle((0.0, 0.0), 1.0), metric_check_bar((0.0, 0.0)))
    assert list(expand_item(Group("a", inner))) == [p for item in inner for p in expand_item(item)]


@pytest.mark.parametrize(
    ("length", "decimals", "text"),
    [
        (875.0, 1, "875"),
        (43.25, 2, "43.25"),
        (100.0, 0, "100"),
        (0.04, 1, "0"),
        (-0.04, 1, "0"),
        (-12.5, 1, "−12.5"),
    ],
)
def test_metric_text(length: float, decimals: int, text: str) -> None:
    assert metric_text(length, decimals) == text


@pytest.mark.parametrize(
    ("angle", "turned"),
    [(0.0, 0.0), (90.0, 90.0), (91.0, -89.0), (180.0, 0.0), (-90.0, 90.0), (270.0, 90.0)],
)
def test_readable(angle: float, turned: float) -> None:
    assert readable(angle) == turned


def test_masked_text_has_a_white_patch_before_it() -> None:
    plain = Text((5.0, 5.0), "875", 3.0, "middle", "middle", 90.0)
    patch, text = expand_item(replace(plain, masked=True))
    assert isinstance(patch, Polyline)
    assert patch.fill == 1.0
    assert [text] == list(expand_item(plain))


def test_plate_row_bounds_hold_every_hole() -> None:
    left, bottom, right, top = bounds(plate_row())
    assert all(left < x < right and bottom < y < top for x, y in HOLES)


def test_importing_the_drawing_modules_loads_no_drawing_library() -> None:
    code = (
        "import sys; import splicewright.sheets.canvas.pdf, splicewright.sheets.canvas.dxf;"
        "print([m for m in ('ezdxf', 'typst', 'numpy') if m in sys.modules])"
    )
    run = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env={"PYTHONPATH": ":".join(sys.path)},
    )
    assert run.stdout.strip() == "[]"
