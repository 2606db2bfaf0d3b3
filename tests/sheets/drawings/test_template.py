"""Punch templates read back from DXF and from the tiled PDF at 1:1."""

from __future__ import annotations

import io
import math
from itertools import pairwise
from pathlib import Path
from typing import Any

import pdfplumber
import pytest

from proof import proves
from sheets.canvas.test_pdf import centres
from sheets.plans import COMPLETE, example, wanted_holes
from splicewright.joint import End
from splicewright.sheets.canvas.dxf import dxf
from splicewright.sheets.canvas.expansion import primitives
from splicewright.sheets.canvas.paper import A4, LETTER, Paper
from splicewright.sheets.canvas.pdf import tiled_pdf
from splicewright.sheets.canvas.scene import Text
from splicewright.sheets.drawings.template import template, template_tiles

pytestmark = proves(
    "Drawings and units",
    "Punch templates read back",
    "B",
    "Holes and cut line read from DXF by ezdxf and from the tiled PDF by pdfplumber, beside "
    "the plan's numbers.",
    doubt=(
        "Reading libraries; a printer's own scale is not covered: bars of true length are "
        "printed for that."
    ),
    tolerance="0.001 mm in DXF, the digits written; 0.01 mm for the size of the paper",
    sketch="square",
)


ENDS = {"leading": End.LEADING, "trailing": End.TRAILING}


def read_back(name: str, which: str, folder: Path) -> Any:
    import ezdxf

    path = folder / "template.dxf"
    path.write_bytes(dxf(template(example(name), ENDS[which])))
    readfile: Any = ezdxf.readfile  # type: ignore[attr-defined]
    doc = readfile(path)
    assert doc.audit().errors == []
    return doc


@pytest.mark.parametrize("name", COMPLETE)
@pytest.mark.parametrize("which", ENDS)
def test_dxf_holes_are_the_plans_holes(name: str, which: str, tmp_path: Path) -> None:
    told = example(name)
    assert told.layout is not None
    doc = read_back(name, which, tmp_path)
    holes = list(doc.modelspace().query("CIRCLE[layer=='holes']"))
    wanted = wanted_holes(told, which)
    assert len(holes) == len(wanted)
    for hole, want in zip(holes, wanted, strict=True):
        assert (hole.dxf.center.x, hole.dxf.center.y) == pytest.approx(want, abs=1e-3)
        assert hole.dxf.radius == pytest.approx(500.0 * told.layout.hole.value, abs=1e-3)
    crosses = list(doc.modelspace().query("LINE[layer=='hole centres']"))
    assert len(crosses) == 2 * len(wanted)


@pytest.mark.parametrize("which", ENDS)
def test_dxf_cut_line_is_the_plans_cut_line(which: str, tmp_path: Path) -> None:
    told = example("incline")
    assert told.layout is not None
    end = told.layout.leading if which == "leading" else told.layout.trailing
    doc = read_back("incline", which, tmp_path)
    [cut] = doc.modelspace().query("LWPOLYLINE[layer=='belt']")
    up = 1.0 if which == "leading" else -1.0
    drawn = [(x, y) for x, y, *_ in cut.get_points()]
    for x, y in end.cut_line:
        at = (-1000.0 * y, up * 1000.0 * x)
        near = min(math.dist(at, point) for point in drawn)
        in_notch = 1000.0 * abs(abs(y) - told.layout.width.value / 2) < 1000.0 * end.notch_width
        assert in_notch or near < 0.05
    if end.notch_width:
        half = 500.0 * told.layout.width.value
        corners = (drawn[0], drawn[-1])
        for corner, side in zip(corners, (-1.0, 1.0), strict=True):
            long = 1000.0 * (told.layout.cut_line.value + end.notch_length)
            assert corner == pytest.approx((side * half, up * long), abs=1e-3)


@pytest.mark.parametrize(
    ("name", "which", "paper"),
    [
        # Every plan with both ends and both papers, every end on both papers.
        (name, which, (A4, LETTER)[(number + turn) % 2])
        for number, name in enumerate(COMPLETE)
        for turn, which in enumerate(ENDS)
    ],
    ids=lambda part: part if isinstance(part, str) else "A4" if part is A4 else "Letter",
)
def test_tiled_holes_are_the_plans_holes(name: str, which: str, paper: Paper) -> None:
    told = example(name)
    assert told.layout is not None
    radius = 500.0 * told.layout.hole.value
    wanted = wanted_holes(told, which)
    turned, laid = template_tiles(template(told, ENDS[which]), paper)
    seen = set()
    with pdfplumber.open(io.BytesIO(tiled_pdf(laid, turned))) as pdf:
        assert len(pdf.pages) == len(laid)
        for tile, page in zip(laid, pdf.pages, strict=True):
            assert float(page.width) * 25.4 / 72 == pytest.approx(turned.width, abs=0.01)
            assert float(page.height) * 25.4 / 72 == pytest.approx(turned.height, abs=0.01)
            for x, y, found in centres(page):
                if abs(found - radius) > 0.05:
                    continue
                at = (x - tile.origin[0], y - tile.origin[1])
                hole = min(wanted, key=lambda hole, at=at: math.dist(hole, at))  # type: ignore[misc]
                assert math.dist(hole, at) < 0.05
                seen.add(hole)
    # A hole on the edge of a sheet is cut into arcs there and counted whole on no sheet.
    assert len(seen) >= 0.9 * len(wanted)


@pytest.mark.parametrize("name", COMPLETE)
@pytest.mark.parametrize("which", ENDS)
def test_template_says_what_it_is(name: str, which: str) -> None:
    told = example(name)
    assert told.layout is not None
    scene = template(told, ENDS[which])
    words = {p.text for _, p in primitives(scene) if isinstance(p, Text)}
    other = "trailing" if which == "leading" else "leading"
    assert {f"{which.upper()} END", "CARRY COVER UP", "LEFT", "RIGHT", "TRAVEL"} <= words
    assert f"{other.upper()} END" not in words
    assert {f"plan {told.id}", f"pitch {told.layout.pitch.show()}", "100 mm", "4 in"} <= words


def test_every_sheet_names_the_end_and_the_face() -> None:
    for which, end in ENDS.items():
        _, laid = template_tiles(template(example("incline"), end), A4)
        for tile in laid:
            words = " ".join(p.text for _, p in primitives(tile.scene) if isinstance(p, Text))
            assert f"{which} end, carry cover up" in words
            assert f"{which.upper()} END" in words
            assert "100 mm" in words


def test_sheets_lie_the_way_that_takes_fewer() -> None:
    turned, laid = template_tiles(template(example("incline"), End.LEADING), A4)
    assert (turned.width, turned.height) == (297.0, 210.0)
    assert len(laid) == 4


def spans(page: Any) -> set[float]:
    """Lengths of the level strokes of a sheet [mm]."""
    return {
        round((line["x1"] - line["x0"]) * 25.4 / 72, 2)
        for line in page.lines
        if abs(line["top"] - line["bottom"]) < 0.01
    }


@pytest.mark.parametrize("paper", [A4, LETTER], ids=["A4", "Letter"])
@pytest.mark.parametrize("which", ENDS)
def test_every_printed_sheet_has_bars_of_true_length(which: str, paper: Paper) -> None:
    turned, laid = template_tiles(template(example("incline"), ENDS[which]), paper)
    with pdfplumber.open(io.BytesIO(tiled_pdf(laid, turned))) as pdf:
        for page in pdf.pages:
            assert {100.0, 101.6} <= spans(page)


@pytest.mark.parametrize("which", ENDS)
def test_neighbours_print_the_same_registration_marks(which: str) -> None:
    turned, laid = template_tiles(template(example("incline"), ENDS[which]), A4)
    rings = []
    with pdfplumber.open(io.BytesIO(tiled_pdf(laid, turned))) as pdf:
        for tile, page in zip(laid, pdf.pages, strict=True):
            rings.append(
                [
                    (x - tile.origin[0], y - tile.origin[1])
                    for x, y, radius in centres(page)
                    if radius < 3.0
                ]
            )
    assert len(rings) == 4
    for one, other in pairwise(rings):
        shared = [a for a in one if any(math.dist(a, b) < 0.05 for b in other)]
        assert len(shared) >= 2
        assert max(math.dist(shared[0], b) for b in shared) > 50.0


@pytest.mark.parametrize("which", ENDS)
def test_dxf_has_bars_marks_and_sides(which: str, tmp_path: Path) -> None:
    """100 mm and 4 in by the bars' strokes; marks near all four corners; LEFT on the left."""
    told = example("incline")
    assert told.layout is not None
    doc = read_back("incline", which, tmp_path)
    space = doc.modelspace()
    bars = {
        round(abs(e.dxf.end.x - e.dxf.start.x), 6)
        for e in space.query("LINE[layer=='check bars']")
        if abs(e.dxf.end.y - e.dxf.start.y) < 1e-6
    }
    assert bars == {100.0, 101.6}
    half = 500.0 * told.layout.width.value
    marks = [e.dxf.center for e in space.query("CIRCLE[layer=='registration']")]
    assert sorted(round(abs(m.x), 6) for m in marks) == [round(half - 6.0, 6)] * 4
    assert sum(m.x < 0 for m in marks) == 2 and len({round(m.y, 6) for m in marks}) == 2
    words = {e.dxf.text: e.dxf.insert for e in space.query("TEXT")}
    assert words["LEFT"].x < 0 < words["RIGHT"].x
    end = told.layout.leading if which == "leading" else told.layout.trailing
    # The ends are shifted against each other: the wider set-back tells the sides apart.
    holes = [e.dxf.center.x for e in space.query("CIRCLE[layer=='holes']")]
    left, right = half + min(holes), half - max(holes)
    assert end.setback_left != pytest.approx(end.setback_right, abs=1e-3)
    assert (left < right) == (end.setback_left < end.setback_right)
