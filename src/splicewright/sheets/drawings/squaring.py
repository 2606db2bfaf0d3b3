"""A belt end squared: where its middle was found, the square line, and what to move at each edge.

Left is up the sheet where the belt lies to the right, as seen on the carry cover of a trailing
end; a leading end is drawn the other way round, with its belt to the left. Across the belt is
drawn larger than along it: corrections of millimetres must be seen.
"""

from __future__ import annotations

import math

from splicewright.joint import End
from splicewright.joint.belt_end.centreline import Centreline, SquareLine
from splicewright.joint.belt_end.squared_end import SquaredEnd
from splicewright.quantities import Kind, System, show
from splicewright.sheets.canvas.chart import GRID, INVENTED, key, ladder
from splicewright.sheets.canvas.scene import (
    CENTRE,
    CUT,
    HIDDEN,
    OUTLINE,
    THIN,
    Anchor,
    Group,
    Item,
    Line,
    Marker,
    Pen,
    Point,
    Polyline,
    Scene,
    Text,
)

_LONG, _HIGH = 130.0, 36.0
_END, _BESIDE = 46.0, 60.0
"""Height of the belt, and how much of it is drawn, in the lower part [mm of paper]."""
_LOW = -(_HIGH / 2 + 37.0 + _END / 2)
_LINE = Pen("centreline by least squares", 0.5)
_BAND = Pen("95 % of where it may lie", 0.25, (1.2, 1.0))
_LARGEST = 4.5
"""What the largest correction measures on paper [mm]."""


def squaring_drawing(squaring: SquaredEnd, system: System = "metric") -> Scene:
    """Draw what was measured on a belt end and what follows of it.

    Returns
    -------
    Scene in millimetres of paper, about 175 mm by 150 mm; without stations a note alone
    """
    trailing = squaring.measured.end is not End.LEADING
    items: list[Item] = []
    if squaring.centreline is not None and squaring.line is not None:
        items += _measured(squaring, squaring.centreline, trailing, system)
        items += _end(squaring, squaring.line, trailing, system)
    else:
        items.append(Text((0.0, 0.0), "No stations measured: only the hand checks are given.", 3.0))
    caption = "Offsets, leans and moves are drawn larger than the belt."
    if squaring.measured.end is None:
        caption += " The end is not named: drawn as a trailing end, travel to the right."
    caption += INVENTED if squaring.invented else ""
    return Scene((Group("squaring", tuple(items)),), f"Squaring, {squaring.name}", caption)


def _measured(
    squaring: SquaredEnd, centre: Centreline, trailing: bool, system: System
) -> list[Item]:
    """Stations, fitted line, its band, and the stretched line."""
    seen = squaring.measured
    far = max(seen.stations)
    places = [n * far / 40 for n in range(41)]
    most = max(abs(y) for y in seen.midpoints)
    most = max(most, *(abs(centre.at(x)) + centre.uncertainty_at(x) for x in places), 1e-3)
    up = 0.92 * _HIGH / 2 / most

    def at(x: float, y: float) -> Point:
        along = _LONG * x / far
        return (along if trailing else _LONG - along, y * up)

    items: list[Item] = [Line(at(0.0, 0.0), at(far, 0.0), CENTRE)]
    step, _ = ladder(most, Kind.LENGTH, system, 3)
    for n in range(-int(most / step), int(most / step) + 1):
        y = n * step * up
        items.append(Line((-1.5, y), (_LONG, y), GRID))
        if n:
            items.append(
                Text((-2.5, y), show(abs(n) * step, Kind.LENGTH, system), 2.4, "end", "middle")
            )
    items.append(Text((-2.5, 0.0), "stretched line", 2.4, "end", "middle"))
    items.append(Polyline(tuple(at(x, centre.at(x)) for x in places), _LINE))
    for sign in (1.0, -1.0):
        band = (at(x, centre.at(x) + sign * centre.uncertainty_at(x)) for x in places)
        items.append(Polyline(tuple(band), _BAND))
    for x, y in zip(seen.stations, seen.midpoints, strict=True):
        point = at(x, y)
        items.append(Marker(point, size=4.0, pen=OUTLINE))
        items.append(Line((point[0], -_HIGH / 2), (point[0], -_HIGH / 2 - 1.5), OUTLINE))
        items.append(
            Text((point[0], -_HIGH / 2 - 2.5), show(x, Kind.DISTANCE, system), 2.4, "middle", "top")
        )
        text = show(abs(y), Kind.LENGTH, system) + (" L" if y > 0 else " R" if y < 0 else "")
        below = y >= centre.at(x)
        items.append(
            Text(
                (point[0], point[1] + (3.4 if below else -3.4)),
                text,
                2.5,
                "middle",
                "middle",
                masked=True,
            )
        )
    side = 0.0 if trailing else _LONG
    items += [
        Text(
            (side, _HIGH / 2 + 3.5),
            "LEFT",
            3.0,
            "start" if trailing else "end",
            "middle",
            bold=True,
        ),
        Text(
            (side, -_HIGH / 2 - 8.5),
            "RIGHT",
            3.0,
            "start" if trailing else "end",
            "middle",
            bold=True,
        ),
        Text(
            (_LONG / 2, _HIGH / 2 + 8.0),
            "middle of the belt off the stretched line, by distance from the rough end",
            2.6,
            "middle",
            "middle",
        ),
    ]
    items += key([(_LINE.name, _LINE), (_BAND.name, _BAND)], (0.0, -_HIGH / 2 - 14.5), _LONG)
    return items


def _end(squaring: SquaredEnd, line: SquareLine, trailing: bool, system: System) -> list[Item]:
    """The end of the belt: square line, drawn line, and the move at each edge.

    The belt leans to the stretched line as it was found to, made larger.
    """
    way = 1.0 if trailing else -1.0
    middle = (34.0 if trailing else _LONG - 34.0, _LOW)
    lean, moves = (line.right - line.left) / 2, squaring.correction
    most = max([abs(lean), *((abs(moves.left), abs(moves.right)) if moves else ())])
    along = _LARGEST / most if most > 1e-6 else 0.0
    turn = math.atan(2 * lean * along / _END)

    def edge(x: float, side: float) -> Point:
        """A point on an edge, `x` along the stretched line from the square line's middle [m]."""
        return (middle[0] + way * x * along, _LOW + side * _END / 2)

    def belt(x: float, y: float) -> Point:
        """A point of the leaning belt, from the square line's middle [mm of paper]."""
        return (
            middle[0] + way * (x * math.cos(turn) - y * math.sin(turn)),
            _LOW + x * math.sin(turn) + y * math.cos(turn),
        )

    half, anchor = _END / 2, _anchor(trailing)
    rough = ((-14.0, half), (-27.0, 0.5 * half), (-25.0, 0.1 * half), (-27.0, -0.4 * half),
             (-14.0, -half))  # fmt: skip
    outline = (belt(_BESIDE, half), *(belt(x, y) for x, y in rough), belt(_BESIDE, -half))
    items: list[Item] = [
        Polyline(outline, OUTLINE),
        Line(belt(-32.0, 0.0), belt(_BESIDE + 3.0, 0.0), CENTRE),
        Line(edge(line.left - line.at, 1.0), edge(line.right - line.at, -1.0), CUT),
        Text(belt(_BESIDE + 3.0, half), "LEFT", 3.2, anchor, "middle", bold=True),
        Text(belt(_BESIDE + 3.0, -half), "RIGHT", 3.2, anchor, "middle", bold=True),
        *_travel(belt(_BESIDE + 5.0, 0.0), trailing),
    ]
    drawn = squaring.measured.drawn
    edges = (("left", 1.0, line.left), ("right", -1.0, line.right))
    for number, (name, side, where) in enumerate(edges):
        tip = edge(where - line.at, side)
        text = f"square line {show(where, Kind.DISTANCE, system)}"
        items.append(
            Text(
                (tip[0], tip[1] + 5.0 * side), text, 2.6, "middle", "middle", bold=True, masked=True
            )
        )
        if moves is None or drawn is None:
            continue
        items += _move(edge(drawn[number] - line.at, 0.8 * side), edge(where - line.at, 0.8 * side))
        move = moves.left if name == "left" else moves.right
        how = "into the belt" if move >= 0 else "towards the end"
        label = f"{name}: move {show(abs(move), Kind.LENGTH, system)} {how}"
        items.append(
            Text(
                belt(13.0, 0.6 * side * half), label, 2.8, anchor, "middle", bold=True, masked=True
            )
        )
    if moves is not None and drawn is not None:
        items.append(Line(edge(drawn[0] - line.at, 1.0), edge(drawn[1] - line.at, -1.0), HIDDEN))
        items.append(
            Text(belt(13.0, -4.0), "broken line: as drawn", 2.5, anchor, "middle", masked=True)
        )
    return items


def _anchor(trailing: bool) -> Anchor:
    return "start" if trailing else "end"


def _move(start: Point, end: Point) -> list[Item]:
    """An arrow from the drawn to the square line."""
    if abs(end[0] - start[0]) < 0.8:
        return []
    turn = 1.0 if end[0] > start[0] else -1.0
    head = ((end[0] - turn * 2.2, end[1] + 1.0), end, (end[0] - turn * 2.2, end[1] - 1.0))
    return [Line(start, end, THIN), Polyline(head, OUTLINE, closed=True, fill=0.0)]


def _travel(at: Point, trailing: bool) -> list[Item]:
    """Which way the belt travels: out of the end for a leading, into it for a trailing one."""
    (x, y), long = at, 22.0
    tip, start = (x + long, x) if trailing else (x, x - long)
    head = ((tip - 4.0, y + 2.0), (tip, y), (tip - 4.0, y - 2.0))
    return [
        Line((start, y), (tip - 4.0, y), CUT),
        Polyline(head, OUTLINE, closed=True, fill=0.0),
        Text(((start + tip) / 2, y + 4.5), "TRAVEL", 2.8, "middle", "middle", bold=True),
    ]
