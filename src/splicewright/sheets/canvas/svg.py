"""A scene as SVG: one user unit is one millimetre, black and white, the same text every time."""

from __future__ import annotations

import math
from xml.etree import ElementTree as ET

from splicewright.sheets.canvas.expansion import CAP_HEIGHT, Box, arc_point, bounds, primitives
from splicewright.sheets.canvas.scene import (
    Arc,
    Circle,
    Line,
    Pen,
    Point,
    Polyline,
    Primitive,
    Scene,
    Text,
)

FONT_FAMILY = "Splicewright Sans"
_SVG = "http://www.w3.org/2000/svg"


def svg(scene: Scene, *, box: Box | None = None, margin: float = 2.0) -> str:
    """Return the scene as an SVG document whose size on paper is its size in millimetres.

    Coordinates are the scene's own with y turned down (x, -y), so a value can be read back.

    Args:
        box: left, bottom, right, top of the picture; None takes the bounds and `margin` [mm].
        margin: white around the bounds where no `box` is given [mm].
    """
    # Here: drawing modules load no numbers' library.
    from splicewright.quantities.going_on import go_on

    go_on()
    if box is None:
        left, bottom, right, top = bounds(scene)
        box = (left - margin, bottom - margin, right + margin, top + margin)
    left, bottom, right, top = box
    width, height = right - left, top - bottom
    root = ET.Element(
        "svg",
        {
            "xmlns": _SVG,
            "width": f"{_number(width)}mm",
            "height": f"{_number(height)}mm",
            "viewBox": f"{_number(left)} {_number(-top)} {_number(width)} {_number(height)}",
            "role": "img",
            "font-family": f"'{FONT_FAMILY}', sans-serif",
            "fill": "none",
            "stroke-linecap": "butt",
            "stroke-linejoin": "miter",
        },
    )
    if scene.title:
        ET.SubElement(root, "title").text = scene.title
    if scene.description:
        ET.SubElement(root, "desc").text = scene.description
    group, current = root, ""
    for layer, part in primitives(scene):
        if layer != current:
            group, current = ET.SubElement(root, "g", {"data-layer": layer}), layer
        _add(group, part)
    ET.indent(root, " ")
    return ET.tostring(root, encoding="unicode") + "\n"


def _number(value: float) -> str:
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _grey(level: float) -> str:
    step = round(255 * level)
    return f"#{step:02x}{step:02x}{step:02x}"


def _stroke(pen: Pen | None) -> dict[str, str]:
    if pen is None:
        return {}
    look = {"stroke": _grey(pen.grey), "stroke-width": _number(pen.width)}
    if pen.dash:
        look["stroke-dasharray"] = " ".join(_number(length) for length in pen.dash)
    return look


def _fill(fill: float | None) -> dict[str, str]:
    return {} if fill is None else {"fill": _grey(fill)}


def _pair(point: Point) -> str:
    return f"{_number(point[0])},{_number(-point[1])}"


def _add(group: ET.Element, part: Primitive) -> None:
    match part:
        case Line():
            (x1, y1), (x2, y2) = part.start, part.end
            ends = {"x1": _number(x1), "y1": _number(-y1), "x2": _number(x2), "y2": _number(-y2)}
            ET.SubElement(group, "line", ends | _stroke(part.pen))
        case Polyline():
            tag = "polygon" if part.closed else "polyline"
            points = {"points": " ".join(_pair(point) for point in part.points)}
            ET.SubElement(group, tag, points | _stroke(part.pen) | _fill(part.fill))
        case Circle():
            x, y = part.centre
            place = {"cx": _number(x), "cy": _number(-y), "r": _number(part.radius)}
            ET.SubElement(group, "circle", place | _stroke(part.pen) | _fill(part.fill))
        case Arc():
            ET.SubElement(group, "path", {"d": _arc_path(part)} | _stroke(part.pen))
        case Text():
            _add_text(group, part)


def _arc_path(arc: Arc) -> str:
    """Write the arc in two halves: an SVG arc command cannot close a full turn."""
    sweep = (arc.end - arc.start) % 360.0 or 360.0
    radius = _number(arc.radius)
    path = f"M{_pair(arc_point(arc, arc.start))}"
    for part in (0.5, 1.0):
        path += f" A{radius},{radius} 0 0 0 {_pair(arc_point(arc, arc.start + part * sweep))}"
    return path


def _add_text(group: ET.Element, text: Text) -> None:
    x, y = _number(text.at[0]), _number(-text.at[1])
    look = {"x": x, "y": y, "font-size": _number(text.size / CAP_HEIGHT), "fill": _grey(text.grey)}
    if text.anchor != "start":
        look["text-anchor"] = text.anchor
    if text.bold:
        look["font-weight"] = "700"
    if not math.isclose(text.rotation, 0.0, abs_tol=1e-9):
        look["transform"] = f"rotate({_number(-text.rotation)} {x} {y})"
    ET.SubElement(group, "text", look).text = text.text
