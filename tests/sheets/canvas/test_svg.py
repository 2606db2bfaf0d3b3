"""SVG read back with the standard library's XML reader; units after SVG 1.1 chapter 7."""

from __future__ import annotations

import math
import re
from xml.etree import ElementTree as ET

import pytest

from sheets.shapes import HOLES, RADIUS, one_of_each, plate_row
from splicewright.sheets.canvas.expansion import bounds, primitives
from splicewright.sheets.canvas.placement import scaled
from splicewright.sheets.canvas.scene import Arc, Circle, Group, Line, Polyline, Scene, Text
from splicewright.sheets.canvas.svg import svg

NS = {"s": "http://www.w3.org/2000/svg"}


def test_one_user_unit_is_one_millimetre() -> None:
    root = ET.fromstring(svg(plate_row(), margin=5.0))
    left, bottom, right, top = bounds(plate_row())
    _, _, width, height = map(float, root.attrib["viewBox"].split())
    assert root.attrib["width"] == f"{root.attrib['viewBox'].split()[2]}mm"
    assert root.attrib["height"] == f"{root.attrib['viewBox'].split()[3]}mm"
    assert width == pytest.approx(right - left + 10.0, abs=1e-3)
    assert height == pytest.approx(top - bottom + 10.0, abs=1e-3)


def test_circles_stand_where_they_were_put() -> None:
    root = ET.fromstring(svg(plate_row()))
    circles = root.findall("s:g[@data-layer='holes']/s:circle", NS)
    found = [(float(c.attrib["cx"]), -float(c.attrib["cy"])) for c in circles]
    assert len(found) == len(HOLES)
    for got, wanted in zip(found, HOLES, strict=True):
        assert got == pytest.approx(wanted, abs=1e-3)
    assert all(float(c.attrib["r"]) == pytest.approx(RADIUS, abs=1e-3) for c in circles)


def test_lines_and_points_stand_where_they_were_put() -> None:
    scene = one_of_each()
    root = ET.fromstring(svg(scene))
    lines = [
        tuple(float(e.attrib[k]) for k in ("x1", "y1", "x2", "y2"))
        for e in root.iterfind(".//s:line", NS)
    ]
    wanted = [
        (p.start[0], -p.start[1], p.end[0], -p.end[1])
        for _, p in primitives(scene)
        if isinstance(p, Line)
    ]
    assert len(lines) == len(wanted)
    for got, want in zip(lines, wanted, strict=True):
        assert got == pytest.approx(want, abs=1e-3)
    corners = [e.attrib["points"] for e in root.iterfind(".//s:polygon", NS)]
    assert corners[0] == "0,0 10,-3 4,-9"


def test_arc_ends_and_turns_the_right_way() -> None:
    root = ET.fromstring(svg(Scene((Arc((10.0, 20.0), 5.0, 0.0, 90.0),))))
    [path] = root.iterfind(".//s:path", NS)
    numbers = [float(n) for n in re.findall(r"-?\d+\.?\d*", path.attrib["d"])]
    half = 5.0 * math.cos(math.pi / 4)
    # Counter-clockwise on paper, so sweep-flag 0 with y down; the halfway point is at 45°.
    start, first, second = numbers[:2], numbers[2:9], numbers[9:16]
    assert start == pytest.approx([15.0, -20.0], abs=1e-3)
    assert first == pytest.approx([5, 5, 0, 0, 0, 10 + half, -20 - half], abs=1e-3)
    assert second == pytest.approx([5, 5, 0, 0, 0, 10.0, -25.0], abs=1e-3)


def test_letters_have_their_capital_height() -> None:
    scene = Scene((Text((1.0, 2.0), "0 & <O>", 3.49, "end", rotation=30.0, bold=True),))
    [text] = ET.fromstring(svg(scene)).iterfind(".//s:text", NS)
    assert text.text == "0 & <O>"
    assert float(text.attrib["font-size"]) * 0.698 == pytest.approx(3.49, abs=1e-3)
    assert text.attrib["text-anchor"] == "end"
    assert text.attrib["transform"] == "rotate(-30 1 -2)"
    assert text.attrib["font-weight"] == "700"


def test_scaled_scene_is_smaller_on_paper() -> None:
    box = ET.fromstring(svg(scaled(Scene((Circle((0.0, 0.0), 50.0),)), 0.1), margin=0.0))
    assert (box.attrib["width"], box.attrib["height"]) == ("10mm", "10mm")


def test_title_and_description_come_first() -> None:
    root = ET.fromstring(svg(plate_row()))
    assert [child.tag.split("}")[1] for child in root][:2] == ["title", "desc"]
    assert root.findtext("s:title", namespaces=NS) == "Plate row"
    assert root.attrib["role"] == "img"
    bare = ET.fromstring(svg(Scene((Circle((0.0, 0.0), 1.0),))))
    assert bare.find("s:title", NS) is None


def test_only_greys_and_no_markers() -> None:
    text = svg(one_of_each())
    colours = set(re.findall(r'(?:fill|stroke)="([^"]+)"', text))
    assert all(c == "none" or re.fullmatch(r"#(..)\1\1", c) for c in colours)
    assert "marker" not in text


def test_layers_keep_the_order_of_drawing() -> None:
    scene = Scene(
        (
            Group("a", (Circle((0.0, 0.0), 1.0),)),
            Polyline(((0.0, 0.0), (1.0, 1.0))),
            Group("a", (Circle((0.0, 0.0), 2.0),)),
        )
    )
    groups = ET.fromstring(svg(scene)).findall("s:g", NS)
    assert [group.attrib["data-layer"] for group in groups] == ["a", "drawing", "a"]


def test_same_scene_same_text() -> None:
    assert svg(one_of_each()) == svg(one_of_each())
