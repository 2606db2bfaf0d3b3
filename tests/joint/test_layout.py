"""Where plates and holes go: positions, not only totals; unequal numbers on purpose."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from depth import examples
from proof import proves
from splicewright.joint import BoltRow, End, EndLayout, Layout, NoLayoutError, Size, cut_at
from splicewright.joint import lay_plates as lay
from splicewright.joint.fasteners.ranges import EdgeSets
from splicewright.joint.layout import arc_depth, sets_across
from splicewright.plant import Travel
from splicewright.quantities import Given, Kind, Worksheet, stated
from splicewright.quantities.units import INCH
from strategies import metres, size

pytestmark = proves(
    "Choice, layout and marking",
    "Where every plate and hole lies",
    "C",
    "Positions over random widths, pitches and set-backs: inside belt and plate, meshed, "
    "mirrored, as many as fit.",
    doubt="Geometry; exact.",
    tolerance="rounding of floats: both sides are the same relation written twice",
    sketch="square",
)


TROUGH = 0.61  # 35 deg


def width_of(value: float) -> Given:
    return stated("belt.width", "belt width", value, Kind.LENGTH)


def layout(
    size: Size,
    width: float,
    *,
    trough: float = TROUGH,
    travel: Travel = Travel.KNOWN,
    curve: float | None = None,
    notch: float | None = None,
) -> Layout:
    return lay(
        size, width_of(width), trough, travel, Worksheet(),
        curve=None if curve is None else stated("layout.curve_depth", "d", curve, Kind.LENGTH),
        notch=None if notch is None else stated("joint.notch_width", "n", notch, Kind.LENGTH),
    )  # fmt: skip


def rules(plates: int) -> tuple[EdgeSets, ...]:
    """Pieces all across a flat belt, two at each edge of a shallow trough, one of a deep one."""
    return (
        EdgeSets(math.radians(9.9), plates, None),
        EdgeSets(math.radians(29.9), plates, 2),
        EdgeSets(math.radians(90.0), plates, 1),
    )


@st.composite
def sizes(draw: st.DrawFn) -> Size:
    pitch = draw(metres(0.025, 0.07))
    plate = round(pitch * draw(metres(0.75, 0.97)), 6)
    hole = round(0.2 * plate, 6)
    reach = 0.28 * plate
    rows = [
        BoltRow(round(0.3 * pitch, 6), (-reach, reach)),
        BoltRow(round(0.8 * pitch, 6), (0.1 * reach,)),
    ]
    low = draw(metres(0.004, 0.02))
    return size(
        pitch=pitch,
        plate_width=plate,
        mesh_offset=draw(st.sampled_from([0.0, pitch / 2, round(pitch / 3, 6)])),
        setback=(low, low + draw(metres(0.5, 1.6)) * pitch),
        rows=tuple(rows[: draw(st.integers(1, 2))]),
        hole=hole,
        bolt=0.8 * hole,
        sets=(1, 2, 3),
        edge_sets=draw(st.sampled_from([(), rules(3), rules(2), (EdgeSets(0.5, 3, None),)])),
        curve_depth=draw(st.sampled_from([None, 0.003, 0.008])),
    )


@st.composite
def layouts(draw: st.DrawFn) -> tuple[Size, float, Layout]:
    made, width = draw(sizes()), draw(metres(0.4, 2.4))
    try:
        found = layout(made, width, trough=draw(st.sampled_from([0.0, 0.3, 0.7])))
    except NoLayoutError:
        assume(False)
        raise
    return made, width, found


@settings(max_examples=examples(60))
@given(layouts())
def test_every_hole_lies_inside_the_belt_and_its_plate(case: tuple[Size, float, Layout]) -> None:
    made, width, found = case
    for end in found.ends:
        plates = {p.number: p for p in end.plates}
        assert len(end.holes) == found.count * made.bolts_per_plate
        for hole in end.holes:
            assert abs(hole.y) + made.hole / 2 < width / 2
            plate = plates[hole.plate]
            assert abs(hole.y - plate.y) + made.hole / 2 <= made.plate_width / 2 + 1e-9
            assert hole.x - plate.root == pytest.approx(made.rows[hole.row - 1].from_cut)


@settings(max_examples=examples(60))
@given(layouts())
def test_setbacks_stay_in_their_limits_on_all_four_corners(
    case: tuple[Size, float, Layout],
) -> None:
    made, width, found = case
    low, high = made.setback
    for end in found.ends:
        left = width / 2 - (end.plates[0].y + made.plate_width / 2)
        right = width / 2 + (end.plates[-1].y - made.plate_width / 2)
        assert (end.setback_left, end.setback_right) == pytest.approx((left, right))
        for corner in (left, right):
            assert low - 1e-9 <= corner <= high + 1e-9
    mean = (found.leading.setback_left + found.leading.setback_right) / 2
    assert found.setback.value == pytest.approx(mean)


@settings(max_examples=examples(60))
@given(layouts())
def test_no_more_plates_would_fit(case: tuple[Size, float, Layout]) -> None:
    made, width, found = case
    over = found.count * made.pitch + made.plate_width
    assert (width - over) / 2 - made.mesh_offset / 2 < made.setback[0] + 1e-9


@settings(max_examples=examples(60))
@given(layouts())
def test_the_two_ends_mesh(case: tuple[Size, float, Layout]) -> None:
    made, _, found = case
    for one, other in zip(found.leading.plates, found.trailing.plates, strict=True):
        # Positive y is left; the leading end stands half the offset to the left.
        assert one.y - other.y == pytest.approx(made.mesh_offset, abs=1e-12)
    assert found.joint_width.value == pytest.approx(
        found.leading.plates[0].y - found.trailing.plates[-1].y + made.plate_width
    )


@settings(max_examples=examples(60))
@given(layouts())
def test_the_ends_are_each_others_mirror(case: tuple[Size, float, Layout]) -> None:
    _, _, found = case
    mirrored = [-p.y for p in reversed(found.trailing.plates)]
    assert [p.y for p in found.leading.plates] == pytest.approx(mirrored, abs=1e-12)
    roots = [p.root for p in reversed(found.trailing.plates)]
    assert [p.root for p in found.leading.plates] == pytest.approx(roots, abs=1e-12)
    assert found.pieces == tuple(reversed(found.pieces))


@settings(max_examples=examples(60))
@given(layouts())
def test_plates_stand_a_pitch_apart_and_pieces_add_up(case: tuple[Size, float, Layout]) -> None:
    made, _, found = case
    for end in found.ends:
        assert [p.number for p in end.plates] == list(range(1, found.count + 1))
        for one, following in pairwise(end.plates):
            assert one.y - following.y == pytest.approx(made.pitch)
            assert one.piece <= following.piece
        for piece, members in enumerate(found.pieces, 1):
            roots = {p.root for p in end.plates if p.piece == piece}
            assert len(roots) == 1  # a set is rigid
            assert sum(1 for p in end.plates if p.piece == piece) == members
    assert sum(found.pieces) == found.count


def test_positions_worked_by_hand() -> None:
    # 300 mm belt, pitch 43, plate 38, offset 21.5: room 300 - 2 (12 + 10.75) - 38 = 216.5 holds
    # five pitches (215), so six plates over 253 mm and a mean set-back of 23.5 mm.
    found = layout(size(curve_depth=None), 0.300)
    assert found.count == 6
    assert found.setback.value == pytest.approx(0.0235)
    assert (found.leading.setback_left, found.leading.setback_right) == pytest.approx(
        (0.0235 - 0.01075, 0.0235 + 0.01075)
    )
    assert [p.y for p in found.leading.plates] == pytest.approx(
        [0.11825, 0.07525, 0.03225, -0.01075, -0.05375, -0.09675]
    )
    first = [h for h in found.leading.holes if h.plate == 1]
    # Offsets across are measured to the right of the plate's middle: left is positive y.
    assert [h.row for h in first] == [1, 1, 2]
    assert [h.x for h in first] == pytest.approx([0.028, 0.028, 0.048])
    middle = 0.11825
    assert [h.y for h in first] == pytest.approx([middle + 0.011, middle - 0.009, middle - 0.002])


def test_curved_end() -> None:
    found = layout(size(sets=(1,), edge_sets=()), 0.800)
    middle = min(found.leading.plates, key=lambda p: abs(p.y))
    edge = found.leading.plates[0]
    for plate in (middle, edge):
        assert plate.root == pytest.approx(0.013 + 0.003 * (1 - (2 * plate.y / 0.8) ** 2))
    line = found.leading.cut_line
    assert line[0] == pytest.approx((0.013, 0.4))
    assert line[len(line) // 2] == pytest.approx((0.016, 0.0))
    assert line[-1] == pytest.approx((0.013, -0.4))


def test_a_straight_end_needs_two_points() -> None:
    found = layout(size(curve_depth=None), 0.800)
    assert found.leading.cut_line == ((0.013, 0.4), (0.013, -0.4))
    assert str(found.remarks[0]) == "No curve stated by job or range: the end is cut straight."


def test_stated_curve_goes_before_the_ranges() -> None:
    found = layout(size(), 0.8, curve=0.005)
    assert found.curve_depth.value == 0.005
    assert str(found.remarks[0]) == "Curve depth as stated for this job."


@given(metres(2, 100), metres(0.4, 2.4))
def test_arc_depth_is_that_of_the_circle(radius: float, width: float) -> None:
    depth = arc_depth(radius, width)
    # The chord's half squared is depth times the rest of the diameter (Thales).
    assert depth * (2 * radius - depth) == pytest.approx((width / 2) ** 2, rel=1e-9)


@given(metres(2, 100), metres(0.4, 2.4), metres(0, 1))
def test_parabola_follows_the_arc_of_equal_depth(radius: float, width: float, share: float) -> None:
    depth = arc_depth(radius, width)
    y = share * width / 2
    arc = depth - (radius - (radius**2 - y**2) ** 0.5)
    parabola = cut_at(0.0, depth, y, width)
    assert abs(arc - parabola) <= depth**3 / width**2 * 1.0001 + 1e-12


def test_curve_from_the_arc_of_the_range() -> None:
    made = size(curve_depth=None, curve_radius=20.0)
    found = layout(made, 1.0)
    assert found.curve_depth.value == pytest.approx(20 - (400 - 0.25) ** 0.5, rel=1e-9)


def test_an_arc_smaller_than_the_belt_is_wide() -> None:
    with pytest.raises(ValueError, match=r"an arc of 0\.4 m cannot span a belt of 1 m"):
        arc_depth(0.4, 1.0)


@pytest.mark.parametrize(
    ("count", "plates", "trough", "pieces"),
    [
        (12, 3, 0.61, (3, 1, 1, 1, 1, 1, 1, 3)),  # deep: one triple at each edge
        (16, 3, 0.35, (3, 3, 1, 1, 1, 1, 3, 3)),  # shallow: two
        (16, 3, 0.0, (3, 3, 1, 1, 1, 1, 3, 3)),  # flat: as many as fit evenly
        (12, 3, 0.0, (3, 3, 3, 3)),
        (7, 3, 0.35, (3, 1, 3)),
        (6, 3, 0.61, (3, 3)),
        (5, 3, 0.61, (1, 1, 1, 1, 1)),
        (7, 2, 0.61, (2, 1, 1, 1, 2)),
        (8, 0, 0.0, (1,) * 8),  # no data: single plates
        (8, 3, 1.58, (1,) * 8),  # a trough deeper than the data speak of
    ],
)
def test_sets_across(count: int, plates: int, trough: float, pieces: tuple[int, ...]) -> None:
    found = rules(plates) if plates else ()
    assert sets_across(count, found, trough) == pieces


def test_a_listed_width_takes_a_strip_cut_straight() -> None:
    made = size(strip_widths=(0.65, 0.8))
    found = layout(made, 0.804, curve=0.004)
    assert found.strip
    assert found.pieces == (found.count,)
    assert found.curve_depth.value == 0
    assert str(found.remarks[0]) == (
        "The strip is one piece: the end is cut straight. The stated curve depth is not used."
    )
    assert not layout(made, 0.806).strip


@pytest.mark.parametrize(
    ("travel", "leading", "trailing"),
    [(Travel.KNOWN, False, True), (Travel.UNKNOWN, True, True), (Travel.REVERSING, True, True)],
)
def test_which_ends_are_notched(travel: Travel, leading: bool, trailing: bool) -> None:
    found = layout(size(), 0.8, travel=travel)
    assert (found.leading.notch_width > 0, found.trailing.notch_width > 0) == (leading, trailing)
    expected = (
        "Notches go on the trailing end only."
        if travel is Travel.KNOWN
        else "Direction of travel not known or reversing: both ends are notched."
    )
    assert str(found.remarks[2]) == expected


@settings(max_examples=examples(60))
@given(layouts(), metres(0.001, 0.2))
def test_a_notch_is_three_times_as_long_and_clear_of_the_plates(
    case: tuple[Size, float, Layout], wish: float
) -> None:
    made, width, _ = case
    found = layout(made, width, travel=Travel.UNKNOWN, notch=wish)
    for end in found.ends:
        assert end.notch_length == pytest.approx(3 * end.notch_width)
        assert end.notch_width <= wish
        if end.notch_width:
            corner = min(end.setback_left, end.setback_right)
            assert end.notch_width <= corner - 0.003 + 1e-9


def test_no_room_for_a_notch() -> None:
    found = layout(size(setback=(0.001, 0.030), mesh_offset=0.02), 6 * 0.043 + 0.038 + 0.023)
    assert found.trailing.notch_width == 0
    assert str(found.remarks[1]) == (
        "No room for an edge notch beside the outermost plate: trim the corners round."
    )


def test_a_notch_nobody_stated_is_clear_of_the_plate_and_25_mm_at_the_most() -> None:
    narrow, wide = size(), size(pitch=0.09, setback=(0.04, 0.15))
    tight, roomy = layout(narrow, 0.8), layout(wide, 0.8)
    assert tight.trailing.notch_width == pytest.approx(tight.setback.value - 0.01075 - 0.003)
    assert tight.trailing.notch_width < 0.025
    assert roomy.trailing.notch_width == 0.025


def test_a_notch_too_wide_is_cut_down_and_said() -> None:
    found = layout(size(), 0.8, notch=0.1)
    room = found.setback.value - 0.0215 / 2 - 0.003
    assert found.trailing.notch_width == pytest.approx(room)
    assert str(found.remarks[1]).startswith("The stated notch of 100 mm would reach")


def test_no_layout_names_the_widths_that_fit_and_they_do() -> None:
    # Seventeen plates span 726 mm, eighteen 769 mm; each corner keeps 23.0 to 23.5 mm on average.
    made = size(setback=(0.012, 0.0345), mesh_offset=0.022)
    with pytest.raises(NoLayoutError) as caught:
        layout(made, 0.8)
    said = caught.value.sentence
    assert str(said) == (
        "no number of plates keeps the edge set-backs of 12 mm to 34.5 mm on a belt of 800 mm; "
        "near it fit 772 mm to 773 mm and 815 mm to 816 mm"
    )
    numbers = {name: value for name, value, _ in said.numbers}
    for name in ("less_low", "less_high", "more_low", "more_high"):
        assert layout(made, numbers[name]).count in {17, 18}
    assert " mm" not in said.say("inch")


@settings(max_examples=examples(80))
@given(sizes(), metres(0.4, 2.4))
def test_every_width_that_is_named_fits(size: Size, width: float) -> None:
    try:
        layout(size, width)
    except NoLayoutError as error:
        numbers = {name: value for name, value, _ in error.sentence.numbers}
        for name in ("less_low", "less_high", "more_low", "more_high"):
            if name in numbers:
                assert layout(size, numbers[name]).count >= 3
        for near in ("less", "more"):
            if f"{near}_low" in numbers:
                assert not numbers[f"{near}_low"] <= width <= numbers[f"{near}_high"]


def test_a_belt_too_narrow_for_three_plates() -> None:
    with pytest.raises(NoLayoutError, match="no number of plates keeps"):
        layout(size(), 0.13)


def test_numbers_typed_in_inch_lay_the_same_joint() -> None:
    inch = size(
        pitch=1.75 * INCH, plate_width=1.5 * INCH, mesh_offset=0.875 * INCH,
        setback=(0.5 * INCH, 2.25 * INCH),
    )  # fmt: skip
    metric = replace(
        inch, pitch=0.04445, plate_width=0.0381, mesh_offset=0.022225, setback=(0.0127, 0.05715)
    )
    one, two = layout(inch, 36 * INCH), layout(metric, 0.9144)
    assert one.count == two.count

    def holes(end: EndLayout) -> list[float]:
        return [v for h in end.holes for v in (h.x, h.y)]

    assert holes(one.leading) == pytest.approx(holes(two.leading), rel=1e-12)


def test_ends_are_told_apart() -> None:
    found = layout(size(), 0.8)
    assert [e.which for e in found.ends] == [End.LEADING, End.TRAILING]
    assert [str(w) for w in End] == ["leading end", "trailing end"]
