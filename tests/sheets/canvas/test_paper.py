"""Paper sizes: ISO 216 (A4) and ANSI/ASME Y14.1 (Letter); scales: ISO 5455."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sheets.shapes import HOLES, RADIUS, plate_row
from splicewright.errors import OutputError
from splicewright.sheets.canvas.cutting import cut
from splicewright.sheets.canvas.expansion import Box, bounds, extent, primitives
from splicewright.sheets.canvas.paper import A4, LETTER, Tile, fit, tile_label, tiles
from splicewright.sheets.canvas.scene import (
    THIN,
    Arc,
    Circle,
    Line,
    Marker,
    Point,
    Polyline,
    Scene,
    Text,
    leaves,
)

places = st.floats(-50.0, 50.0)
points = st.tuples(places, places)
BOX: Box = (-20.0, -10.0, 15.0, 25.0)


def test_paper_sizes() -> None:
    assert (A4.width, A4.height) == (210.0, 297.0)
    assert (LETTER.width, LETTER.height) == pytest.approx((215.9, 279.4))
    assert (A4.turned().width, A4.turned().height) == (297.0, 210.0)


def test_fit_takes_the_largest_standard_scale() -> None:
    got = fit(plate_row(), 190.0, 120.0)
    assert (got.scale, got.reduction) == ("1:5", 5)
    left, bottom, right, top = bounds(got.scene)
    assert left >= 0.0
    assert bottom >= 0.0
    assert right <= 190.0
    assert top <= 120.0
    assert (left + right) / 2 == pytest.approx(95.0)
    assert (bottom + top) / 2 == pytest.approx(60.0)


def test_fit_takes_other_scales_where_asked() -> None:
    got = fit(plate_row(), 330.0, 200.0, (1.0, 2.5, 5.0))
    assert (got.scale, got.reduction) == ("1:2.5", 2.5)
    with pytest.raises(OutputError, match=r"any scale down to 1:2\.5"):
        fit(plate_row(), 100.0, 60.0, (1.0, 2.5))


def test_fit_counts_offsets_that_do_not_shrink() -> None:
    line = Scene((Line((0.0, 0.0), (200.0, 0.0)), Text((0.0, 0.0), "a" * 60, 3.0)))
    with pytest.raises(OutputError, match=r"does not fit 100 mm x 50 mm .* larger box"):
        fit(line, 100.0, 50.0)


def test_tile_labels() -> None:
    assert [tile_label(0, 0), tile_label(0, 11), tile_label(1, 0)] == ["A1", "A12", "B1"]
    assert [tile_label(25, 2), tile_label(26, 2), tile_label(51, 0)] == ["Z3", "AA3", "AZ1"]


def test_small_drawing_takes_one_sheet() -> None:
    [tile] = tiles(Scene((Circle((500.0, 700.0), 30.0),)), A4)
    assert tile.label == "A1"
    circles = [p for layer, p in leaves(tile.scene) if layer == "drawing"]
    assert len(circles) == 1


@pytest.mark.parametrize("paper", [A4, A4.turned(), LETTER, LETTER.turned()])
def test_every_point_of_the_drawing_is_on_a_sheet(paper: object) -> None:
    assert isinstance(paper, type(A4))
    laid = tiles(plate_row(), paper)
    for x, y in HOLES:
        assert any(w[0] <= x <= w[2] and w[1] <= y <= w[3] for w in (t.window for t in laid))
    for tile in laid:
        left, bottom, right, top = bounds(tile.scene)
        assert left >= 0.0
        assert bottom >= 0.0
        assert right <= paper.width
        assert top <= paper.height


def test_neighbours_share_the_overlap_and_their_crosses() -> None:
    laid = {tile.label: tile for tile in tiles(plate_row(), A4.turned(), overlap=12.0)}
    one, two = laid["B1"], laid["B2"]
    assert one.window[2] - two.window[0] == pytest.approx(12.0)
    strip = [p for p in crosses(one) if p[0] > two.window[0]]
    assert len(strip) == 2
    for cross in strip:
        assert min(math.dist(cross, other) for other in crosses(two)) < 1e-9


def crosses(tile: Tile) -> list[Point]:
    """Registration crosses of a sheet, where they stand on the drawing."""
    x, y = tile.origin
    return [
        (item.at[0] - x, item.at[1] - y)
        for _, item in leaves(tile.scene)
        if isinstance(item, Marker)
    ]


def test_empty_sheets_are_left_out_and_named_by_no_neighbour() -> None:
    far = Scene((Circle((0.0, 0.0), 20.0), Circle((600.0, 0.0), 20.0)))
    laid = tiles(far, A4)
    assert [tile.label for tile in laid] == ["A1", "A4"]
    words = {p.text for tile in laid for _, p in primitives(tile.scene) if isinstance(p, Text)}
    assert not any(word.startswith("joins") for word in words)
    assert {"sheet 1 of 2", "sheet 2 of 2"} <= words


def test_neighbours_are_named() -> None:
    laid = {tile.label: tile for tile in tiles(plate_row(), A4.turned())}
    words = {p.text for _, p in primitives(laid["A2"].scene) if isinstance(p, Text)}
    assert {"A2", "joins A1", "joins A3", "joins B2", "100 mm", "4 in", "Plate row"} <= words


def test_texts_are_never_cut_and_never_lost() -> None:
    scene = plate_row()
    laid = tiles(scene, A4)
    wanted = {p.text for _, p in primitives(scene) if isinstance(p, Text)}
    found = {p.text for tile in laid for _, p in primitives(tile.scene) if isinstance(p, Text)}
    assert wanted <= found


@pytest.mark.parametrize("overlap", [-1.0, 95.0, math.nan])
def test_overlap_that_leaves_no_room_is_refused(overlap: float) -> None:
    with pytest.raises(ValueError, match=r"overlap: .* does not suit A4; 0 mm to under 95 mm"):
        tiles(plate_row(), A4, overlap=overlap)


def sampled(part: Line | Arc, count: int = 400) -> list[Point]:
    steps = [(number + 0.5) / count for number in range(count)]
    if isinstance(part, Line):
        (x1, y1), (x2, y2) = part.start, part.end
        return [(x1 + s * (x2 - x1), y1 + s * (y2 - y1)) for s in steps]
    sweep = (part.end - part.start) % 360.0 or 360.0
    turns = [math.radians(part.start + s * sweep) for s in steps]
    (x, y), r = part.centre, part.radius
    return [(x + r * math.cos(a), y + r * math.sin(a)) for a in turns]


def length(part: object) -> float:
    if isinstance(part, Line):
        return math.dist(part.start, part.end)
    assert isinstance(part, Arc)
    return math.radians((part.end - part.start) % 360.0 or 360.0) * part.radius


@given(
    st.one_of(
        st.builds(Line, points, points),
        st.builds(Arc, points, st.floats(1.0, 40.0), st.floats(0, 180), st.floats(190, 350)),
    )
)
def test_cut_keeps_as_much_as_lies_inside(part: Line | Arc) -> None:
    pieces = list(cut(part, BOX))
    for piece in pieces:
        left, bottom, right, top = extent(piece)
        assert left >= BOX[0] - 1e-6
        assert bottom >= BOX[1] - 1e-6
        assert right <= BOX[2] + 1e-6
        assert top <= BOX[3] + 1e-6
    samples = sampled(part)
    inside = sum(BOX[0] <= x <= BOX[2] and BOX[1] <= y <= BOX[3] for x, y in samples)
    # Each crossing can put the count of sample points out by one; a circle crosses 8 times.
    allowed = 9 / len(samples) * length(part)
    share = inside / len(samples) * length(part)
    assert sum(map(length, pieces)) == pytest.approx(share, abs=allowed + 1e-6)


def test_cut_area_of_a_square_over_a_corner() -> None:
    square = Polyline(((0.0, 0.0), (40.0, 0.0), (40.0, 40.0), (0.0, 40.0)), THIN, True, 0.5)
    area, *strokes = cut(square, BOX)
    assert extent(area) == (0.0, 0.0, 15.0, 25.0)
    assert isinstance(area, Polyline)
    assert (area.pen, area.fill) == (None, 0.5)
    total = 0.0
    for stroke in strokes:
        assert isinstance(stroke, Polyline)
        total += sum(
            math.dist(a, b) for a, b in zip(stroke.points, stroke.points[1:], strict=False)
        )
    assert total == pytest.approx(15.0 + 25.0)


def test_cut_filled_circle_keeps_fill_and_ring_apart() -> None:
    parts = list(cut(Circle((15.0, 0.0), 6.0, THIN, 0.0), BOX))
    [area] = [part for part in parts if isinstance(part, Polyline)]
    assert extent(area)[2] == pytest.approx(15.0)
    ring = sum(length(part) for part in parts if isinstance(part, Arc))
    assert ring == pytest.approx(math.pi * 6.0)


def test_holes_cut_by_a_sheet_edge_stay_true_arcs() -> None:
    for tile in tiles(plate_row(), A4):
        for layer, part in leaves(tile.scene):
            if layer == "holes":
                assert isinstance(part, Circle | Arc)
                assert part.radius == RADIUS
