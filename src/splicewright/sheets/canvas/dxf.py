"""A scene as DXF: millimetres, 1:1, real circles, arcs, polylines, texts and dimensions."""

from __future__ import annotations

import io
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from splicewright.sheets.canvas.expansion import dimension_line, expand_item
from splicewright.sheets.canvas.scene import (
    Arc,
    Circle,
    Dimension,
    Line,
    Pen,
    Polyline,
    Primitive,
    Scene,
    Text,
    leaves,
)

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.layouts.base import BaseLayout

# Stroke widths that DXF group code 370 knows [0.01 mm].
_WEIGHTS = (5, 9, 13, 15, 18, 20, 25, 30, 35, 40, 50, 53, 60, 70, 80, 90, 100, 106, 120, 140)
_STYLE, _BOLD_STYLE, _DIMENSION_STYLE = "SHEET", "SHEET-BOLD", "SHEET"
_MASK = 0.99  # an area as white as this only hides what lies under it; DXF has nothing to hide
_SWITCH = threading.Lock()


def dxf(scene: Scene) -> bytes:
    """Return the scene as a DXF R2010 file, the same bytes every time.

    Layers are the scene's; line types and stroke widths are the pens'. A `Dimension` becomes a
    DXF dimension that shows our own drawing of it until a program redraws it. All other things
    come apart into plain entities. Dates and identifiers in the file are fixed ones.
    """
    from ezdxf import units
    from ezdxf.filemanagement import new

    with _fixed_dates():
        doc = new("R2010", units=units.MM)
        doc.header["$MEASUREMENT"] = 1
        _add_styles(doc)
        space = doc.modelspace()
        for layer, item in leaves(scene):
            name = _add_layer(doc, layer)
            if isinstance(item, Dimension):
                _add_dimension(doc, item, name)
            else:
                for part in expand_item(item):
                    _add(doc, space, part, name)
        # The library goes through a set of them, whose order is another in each process.
        for kind in sorted(doc.entitydb.dxf_types_in_use()):
            doc.classes.add_class(kind)
        stream = io.StringIO()
        doc.write(stream)
    return stream.getvalue().encode(doc.output_encoding, "dxfreplace")


@contextmanager
def _fixed_dates() -> Iterator[None]:
    """Switch on the library's fixed dates; its switch is one for the process, hence the lock."""
    from ezdxf import options  # type: ignore[attr-defined]

    with _SWITCH:
        before = options.write_fixed_meta_data_for_testing
        options.write_fixed_meta_data_for_testing = True
        try:
            yield
        finally:
            options.write_fixed_meta_data_for_testing = before


def _add_styles(doc: Drawing) -> None:
    doc.styles.add(_STYLE, font="arial.ttf")
    doc.styles.add(_BOLD_STYLE, font="arialbd.ttf")
    style = doc.dimstyles.add(_DIMENSION_STYLE)
    style.dxf.dimtxsty = _STYLE
    style.dxf.dimasz = 3.0
    style.dxf.dimexo = 1.0
    style.dxf.dimexe = 1.5
    style.dxf.dimgap = 0.9
    style.dxf.dimtad = 1
    style.dxf.dimtih = 0
    style.dxf.dimtoh = 0
    style.dxf.dimzin = 8


def _add_layer(doc: Drawing, layer: str) -> str:
    name = re.sub(r'[<>/\\":;?*|=`,]', "_", layer)
    if name not in doc.layers:
        doc.layers.add(name)
    return name


def _look(doc: Drawing, pen: Pen, layer: str) -> dict[str, Any]:
    weight = min(_WEIGHTS, key=lambda known: abs(known - 100 * pen.width))
    look: dict[str, Any] = {"layer": layer, "lineweight": weight}
    if pen.dash:
        name = pen.name.upper()
        if name not in doc.linetypes:
            strokes = [-length if number % 2 else length for number, length in enumerate(pen.dash)]
            doc.linetypes.add(name, [sum(pen.dash), *strokes], description=pen.name)
        look["linetype"] = name
    return look | _shade(pen.grey)


def _shade(grey: float) -> dict[str, Any]:
    step = round(255 * grey)
    return {"true_color": step << 16 | step << 8 | step} if step else {}


def _add(doc: Drawing, space: BaseLayout, part: Primitive, layer: str) -> None:
    match part:
        case Line():
            space.add_line(part.start, part.end, _look(doc, part.pen, layer))
        case Arc():
            look = _look(doc, part.pen, layer)
            if (part.end - part.start) % 360.0 == 0.0:
                space.add_circle(part.centre, part.radius, look)
            else:
                space.add_arc(part.centre, part.radius, part.start, part.end, dxfattribs=look)
        case Circle():
            if part.fill is not None and part.fill < _MASK:
                hatch = space.add_hatch(dxfattribs={"layer": layer} | _shade(part.fill))
                hatch.paths.add_edge_path().add_arc(part.centre, part.radius, 0.0, 360.0)
            if part.pen is not None:
                space.add_circle(part.centre, part.radius, _look(doc, part.pen, layer))
        case Polyline():
            if part.fill is not None and part.fill < _MASK:
                hatch = space.add_hatch(dxfattribs={"layer": layer} | _shade(part.fill))
                hatch.paths.add_polyline_path(part.points, is_closed=True)
            if part.pen is not None:
                look = _look(doc, part.pen, layer)
                space.add_lwpolyline(part.points, close=part.closed, dxfattribs=look)
        case Text():
            _add_text(space, part, layer)


def _add_text(space: BaseLayout, text: Text, layer: str) -> None:
    from ezdxf.enums import TextEntityAlignment

    align = {
        "start": TextEntityAlignment.LEFT,
        "middle": TextEntityAlignment.CENTER,
        "end": TextEntityAlignment.RIGHT,
    }[text.anchor]
    look = {"layer": layer, "style": _BOLD_STYLE if text.bold else _STYLE} | _shade(text.grey)
    entity = space.add_text(
        _letters(text.text), height=text.size, rotation=text.rotation, dxfattribs=look
    )
    entity.set_placement(text.at, align=align)


def _letters(text: str) -> str:
    """Write the diameter sign as DXF's own code, which every program shows in every font."""
    return text.replace("⌀", "%%c")


def _add_dimension(doc: Drawing, item: Dimension, layer: str) -> None:
    _, last = dimension_line(item)
    space, look = doc.modelspace(), {"layer": layer}
    override = {"dimtxt": item.size, "dimdec": item.decimals, "dimlfac": 1.0 / item.scale}
    text = "<>" if item.text is None else _letters(item.text)
    if item.direction == "free":
        style = space.add_aligned_dim(
            item.start,
            item.end,
            distance=item.offset,
            text=text,
            dimstyle=_DIMENSION_STYLE,
            override=override,
            dxfattribs=look,
        )
    else:
        style = space.add_linear_dim(
            base=last,
            p1=item.start,
            p2=item.end,
            angle=0.0 if item.direction == "x" else 90.0,
            text=text,
            dimstyle=_DIMENSION_STYLE,
            override=override,
            dxfattribs=look,
        )
    style.commit()
    block = doc.blocks.new_anonymous_block(type_char="D")
    for part in expand_item(item):
        _add(doc, block, part, layer)
        if isinstance(part, Text):
            style.dimension.dxf.text_midpoint = part.at
    style.dimension.dxf.geometry = block.name
    style.dimension.dxf.defpoint = last
    style.dimension.dxf.actual_measurement = item.measure
