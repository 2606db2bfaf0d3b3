"""DXF read back and audited with ezdxf; $INSUNITS 4 is millimetres in the DXF reference."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from proof import proves
from sheets.shapes import HOLES, RADIUS, WIDTH, one_of_each, plate_row
from splicewright.sheets.canvas.dxf import dxf
from splicewright.sheets.canvas.placement import scaled
from splicewright.sheets.canvas.scene import Arc, Dimension, Scene, Text

pytestmark = proves(
    "Drawings and units",
    "DXF read back and audited",
    "B",
    "Every kind of line, circle, dimension and text is written to DXF and read back with "
    "ezdxf: places, radii, true lengths that dimensions measure, units and layers; no error "
    "in its audit.",
    doubt="ezdxf is an independent reader, but also the library that writes: an error of both "
    "would not show; $INSUNITS by the DXF reference.",
    tolerance="0.001 mm, the digits written; rounding of floats elsewhere",
    sketch="rule",
)


def read_back(scene: Scene, folder: Path) -> Any:
    import ezdxf

    path = folder / "drawing.dxf"
    path.write_bytes(dxf(scene))
    readfile: Any = ezdxf.readfile  # type: ignore[attr-defined]
    doc = readfile(path)
    assert doc.audit().errors == []
    return doc


def test_circles_units_and_layers(tmp_path: Path) -> None:
    doc = read_back(plate_row(), tmp_path)
    assert doc.header["$INSUNITS"] == 4
    assert doc.header["$MEASUREMENT"] == 1
    assert {"belt", "plates", "holes", "dimensions"} <= {layer.dxf.name for layer in doc.layers}
    holes = list(doc.modelspace().query("CIRCLE[layer=='holes']"))
    assert len(holes) == len(HOLES)
    for hole, (x, y) in zip(holes, HOLES, strict=True):
        assert (hole.dxf.center.x, hole.dxf.center.y) == pytest.approx((x, y), abs=1e-3)
        assert hole.dxf.radius == pytest.approx(RADIUS, abs=1e-3)


def test_plates_are_closed_polylines(tmp_path: Path) -> None:
    doc = read_back(plate_row(), tmp_path)
    plates = list(doc.modelspace().query("LWPOLYLINE[layer=='plates']"))
    assert len(plates) == len(HOLES) // 2
    assert all(plate.closed for plate in plates)
    xs = [x for x, *_ in plates[0].get_points()]
    assert max(xs) - min(xs) == pytest.approx(36.0)


def test_dimensions_are_real_and_measure_what_they_show(tmp_path: Path) -> None:
    doc = read_back(plate_row(), tmp_path)
    across, up = doc.modelspace().query("DIMENSION")
    assert across.get_measurement() == pytest.approx(WIDTH)
    assert up.get_measurement() == pytest.approx(180.0)
    block = doc.blocks.get(across.dxf.geometry)
    assert [text.dxf.text for text in block.query("TEXT")] == ["650"]
    assert len(block.query("HATCH")) == 2  # the arrowheads


def test_free_dimension_is_aligned_and_keeps_the_true_length(tmp_path: Path) -> None:
    scene = scaled(Scene((Dimension((0.0, 0.0), (300.0, 400.0), "free", 8.0),)), 0.1)
    [dimension] = read_back(scene, tmp_path).modelspace().query("DIMENSION")
    assert math.isclose(dimension.get_measurement(), 50.0)
    assert dimension.dxf.actual_measurement == pytest.approx(500.0)
    assert dimension.override().get("dimlfac") == pytest.approx(10.0)


def test_own_text_of_a_dimension_overrides_the_measured_one(tmp_path: Path) -> None:
    scene = Scene((Dimension((0.0, 0.0), (12.0, 0.0), "x", text="⌀12 ±0.5"),))
    [dimension] = read_back(scene, tmp_path).modelspace().query("DIMENSION")
    assert dimension.dxf.text == "%%c12 ±0.5"


def test_every_kind_of_item_survives(tmp_path: Path) -> None:
    doc = read_back(one_of_each(), tmp_path)
    kinds = {entity.dxftype() for entity in doc.modelspace()}
    assert kinds == {"LINE", "LWPOLYLINE", "HATCH", "ARC", "CIRCLE", "TEXT", "DIMENSION"}
    assert "round_ parts" in doc.layers  # a colon is not accepted in a DXF layer name


def test_arcs_and_texts_stand_as_they_were_put(tmp_path: Path) -> None:
    scene = Scene(
        (Arc((20.0, 30.0), 7.5, 300.0, 75.0), Text((3.0, 4.0), "8 × ⌀12", 3.5, rotation=90.0))
    )
    arc, text = read_back(scene, tmp_path).modelspace()
    assert (arc.dxf.start_angle, arc.dxf.end_angle) == (300.0, 75.0)
    assert (text.dxf.height, text.dxf.rotation, text.dxf.text) == (3.5, 90.0, "8 × %%c12")
    assert (text.dxf.insert.x, text.dxf.insert.y) == pytest.approx((3.0, 4.0))


def test_whole_turn_is_a_circle(tmp_path: Path) -> None:
    [circle] = read_back(Scene((Arc((1.0, 2.0), 3.0, 0.0, 360.0),)), tmp_path).modelspace()
    assert circle.dxftype() == "CIRCLE"


def test_dashed_pens_bring_their_line_types(tmp_path: Path) -> None:
    doc = read_back(plate_row(), tmp_path)
    [centre] = doc.modelspace().query("LINE[linetype=='CENTRE']")
    assert centre.dxf.lineweight == 25
    assert "CENTRE" in doc.linetypes


def test_same_scene_same_bytes_and_the_library_is_left_as_it_was() -> None:
    import ezdxf

    options: Any = ezdxf.options  # type: ignore[attr-defined]
    assert dxf(one_of_each()) == dxf(one_of_each())
    assert options.write_fixed_meta_data_for_testing is False
