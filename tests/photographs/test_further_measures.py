"""Square line, notches, torn edges, holes, gap and pin in rendered photographs, against how drawn.

The renderer (`rendering`) shares nothing with the solver. The quick run looks at one scene of each;
how often the ranges hold is counted by `python -m photographs.accuracy`, docs/photographs.md.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from depth import sized
from photographs.rendering import draw, photograph
from photographs.scenes import (
    COUNT,
    HIGH,
    HOLE,
    LONG,
    PITCH,
    PLATE,
    SMALL,
    bars_of,
    facing,
    notched,
    pinned,
    punched,
)
from proof import noted, proves
from splicewright.errors import InputError
from splicewright.photographs.edge_damage import SideLooked, damage_of
from splicewright.photographs.hole_rows import PlannedHole
from splicewright.photographs.measures import EndMeasured, Value, turned
from splicewright.photographs.measuring import (
    measure_edges,
    measure_holes,
    measure_pictures,
    measure_plates,
    measure_square_line,
    measure_two_ends,
)
from splicewright.photographs.picture import Picture, read_picture
from splicewright.photographs.pin_ends import Pin
from splicewright.photographs.plate_sides import PlannedRow

pytestmark = proves(
    "Photographs",
    "Lines, notches, holes, gaps and pins of rendered belts",
    "B",
    "Scenes drawn by a ray tracer of their own: what is cut, torn, punched, apart or standing out "
    "against how it was drawn.",
    doubt="A rendered scene is no belt: torn rubber, burrs, dirt in holes are not in it.",
    tolerance="2.2 of the printed 95 % half-widths",
    sketch="photograph",
)


def taken(scene: object) -> list[Picture]:
    return [read_picture(photograph(scene), "one.jpg")]  # type: ignore[arg-type]


def near(end: EndMeasured, known: dict[str, float]) -> None:
    values = {value.key: value for value in end.values}
    for key, true in known.items():
        value = values[key]
        noted(f"{key} [m]", value.value, true, 2.2 * value.half_width)
        assert abs(value.value - true) < 2.2 * value.half_width, value


def seeds(first: int) -> range:
    return range(first, first + sized(1, deep=20))


@pytest.mark.parametrize("seed", seeds(9001))
def test_a_square_line_is_told_before_the_cut(seed: int) -> None:
    scene = replace(draw(seed, size=SMALL, shadows=()), uncut=True, depth=0.0)
    try:
        made = measure_square_line(taken(scene), bars_of(scene, seed))
    except InputError:
        assert seed != 9001
        return
    # The line of the scene leans by `chalk_skew` over the width: its left end lies further ahead.
    near(made.end, {"width": scene.width, "out_of_square": scene.chalk_skew})


def test_without_a_line_it_says_so() -> None:
    scene = replace(draw(9001, size=SMALL, shadows=()), uncut=True, chalk=-5.0)
    with pytest.raises(InputError, match="chalk line could not be found"):
        measure_square_line(taken(scene), bars_of(scene, 9001))


@pytest.mark.parametrize("seed", seeds(9001))
def test_notches_and_a_tear_are_named_with_their_size(seed: int) -> None:
    scene, (wide, long), tear = notched(seed)
    try:
        made = measure_pictures(taken(scene), bars_of(scene, seed)).end
    except InputError:
        assert seed != 9001
        return
    side = "left" if tear[0] > 0 else "right"
    known = {
        f"notch_{what}_{s}": v
        for s in ("left", "right")
        for what, v in (("width", wide), ("length", long))
    }
    near(made, {**known, f"damage 1 depth {side}": tear[2], f"damage 1 length {side}": tear[3]})
    assert len([v for v in made.values if v.key.startswith("damage")]) == 3
    assert "damage 1" in made.drawn[0]


def test_a_ray_that_leaves_the_picture_ends_no_measurement() -> None:
    """Found by the sixty scenes: the light beyond one ray was not in the picture."""
    scene, (wide, _), _ = notched(9113)
    made = measure_pictures(taken(scene), bars_of(scene, 9113)).end
    near(made, {"notch_width_left": wide, "notch_width_right": wide})


def test_a_tear_at_the_end_of_the_stretch_looked_at_says_that_it_may_go_on() -> None:
    along = np.arange(-0.7, -0.2, 2e-3)
    for middle, on in ((-0.45, False), (-0.21, True)):
        inside = 0.02 * np.clip(1 - np.abs(along - middle) / 0.05, 0, 1)
        looked = SideLooked("left", along, inside, np.zeros((len(along), 2)), 1e-3)
        (found,) = damage_of(looked, None, None, None)
        assert found.beyond is on
        assert ("may go on" in found.values(1, 0.0, "of it")[1].label) is on


def test_a_sound_end_has_neither_and_edges_are_looked_at_without_a_cut() -> None:
    scene = draw(9001, size=SMALL, shadows=())
    made = measure_pictures(taken(scene), bars_of(scene, 9001)).end
    assert not [v for v in made.values if v.key.startswith(("notch", "damage"))]
    torn = replace(scene, nicks=((1, -0.6, 0.02, 0.02),))
    edges = measure_edges(taken(torn), bars_of(torn, 9001)).end
    near(edges, {"width": scene.width, "damage 1 depth left": 0.02})


@pytest.mark.parametrize("seed", seeds(9101))
def test_holes_are_found_where_they_were_punched(seed: int) -> None:
    scene, plan, off, missing = punched(seed)
    planned = [PlannedHole(*hole) for hole in plan]
    try:
        made, _ = measure_holes(taken(scene), bars_of(scene, seed), planned, HOLE, scene.thickness)
    except InputError:
        assert seed != 9101
        return
    seen = [k for k, hole in enumerate(made.holes) if hole.behind is not None]
    assert missing not in seen
    assert len(seen) >= len(plan) - 4
    for k in seen:
        hole = made.holes[k]
        assert hole.behind is not None and hole.behind_half_width is not None
        assert hole.across is not None and hole.across_half_width is not None
        noted(
            f"hole {k}: behind its place [m]", hole.behind, off[k, 0], 2.2 * hole.behind_half_width
        )
        assert abs(hole.behind - off[k, 0]) < 2.2 * hole.behind_half_width
        assert abs(hole.across - off[k, 1]) < 2.2 * hole.across_half_width
    for row, (back, lean, left) in made.rows.items():
        mine = [k for k in seen if planned[k].row == row]
        across = np.array([planned[k].across for k in mine])
        slope, middle = np.polyfit(across, off[mine, 0], 1)
        for value, true in (
            (back, middle),
            (lean, slope * scene.width),
            (left, off[mine, 1].mean()),
        ):
            assert abs(value[0] - true) < 2.2 * value[1]


def test_an_end_without_holes_is_refused() -> None:
    scene, plan, _, _ = punched(9101)
    bare = replace(scene, holes=())
    with pytest.raises(InputError, match="too few of the 60 holes"):
        measure_holes(
            taken(bare), bars_of(bare, 9101), [PlannedHole(*h) for h in plan], HOLE, bare.thickness
        )


@pytest.mark.parametrize("seed", seeds(9201))
def test_the_gap_between_two_ends_and_edge_against_edge(seed: int) -> None:
    scene, known = facing(seed)
    try:
        made = measure_two_ends(taken(scene), bars_of(scene, seed), scene.thickness)
    except InputError:
        assert seed != 9201
        return
    near(made.end, known)


def test_sheets_on_one_end_alone_tell_no_gap() -> None:
    scene = draw(9201, size=SMALL, shadows=())
    with pytest.raises(InputError, match="3 and 4 on the other"):
        measure_two_ends(taken(scene), bars_of(scene, 9201), scene.thickness)


@pytest.mark.parametrize("seed", seeds(9301))
def test_a_pin_that_stands_out_is_named_on_its_side_only(seed: int) -> None:
    scene, out = pinned(seed)
    row = PlannedRow(COUNT, PITCH, PLATE, LONG, HIGH)
    try:
        _, _, pins = measure_plates(
            taken(scene), bars_of(scene, seed), row, Pin(0.007, scene.thickness)
        )
    except InputError:
        assert seed != 9301
        return
    assert [value.key for value, _ in pins] in (["pin_left"], *([[]] if seed != 9301 else []))
    for value, _ in pins:
        assert abs(value.value - out) < 2.2 * value.half_width


def test_who_looks_the_other_way_has_the_sides_changed() -> None:
    values = [
        Value("width", "width", 1.0, 1e-3),
        Value("gap_left", "gap at the left edge", 0.02, 1e-3),
        Value("gap_right", "gap at the right edge", 0.03, 2e-3),
        Value("edge_left", "left edge, further left positive", 0.004, 1e-3),
        Value("notch_width_left", "notch at the left corner", 0.01, 1e-3),
    ]
    covariance = np.diag([1.0, 2.0, 3.0, 4.0, 5.0])
    covariance[1, 3] = covariance[3, 1] = 0.5
    told, moved = turned(values, covariance)
    assert [(v.key, v.value) for v in told] == [
        ("width", 1.0), ("gap_left", 0.03), ("gap_right", 0.02), ("edge_right", -0.004),
        ("notch_width_right", 0.01),
    ]  # fmt: skip
    assert told[3].label == "right edge, further left positive"
    assert list(np.diag(moved)) == [1, 3, 2, 4, 5] and moved[2, 3] == -0.5
