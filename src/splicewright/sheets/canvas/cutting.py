"""Cut lines, circles and areas along the edges of a box, so that a tile holds only its own part."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from splicewright.sheets.canvas.expansion import Box, arc_point, extent
from splicewright.sheets.canvas.scene import Arc, Circle, Line, Point, Polyline, Primitive, Text

_SAME = 1e-9
_ROUND_AREA_SIDES = 180


def cut(part: Primitive, box: Box) -> Iterator[Primitive]:
    """Yield what of a primitive lies in the box (left, bottom, right, top) [mm].

    Letters are never cut: a text is yielded whole if the middle of its place is in the box.
    """
    place = extent(part)
    if isinstance(part, Text):
        middle = ((place[0] + place[2]) / 2, (place[1] + place[3]) / 2)
        if inside(middle, box):
            yield part
        return
    if place[0] > box[2] or place[2] < box[0] or place[1] > box[3] or place[3] < box[1]:
        return
    if holds(box, place):
        yield part
        return
    match part:
        case Line():
            piece = _segment(part.start, part.end, box)
            if piece is not None:
                yield replace(part, start=piece[0], end=piece[1])
        case Polyline():
            yield from _polyline(part, box)
        case Arc():
            yield from _arc(part, box)
        case Circle():
            if part.fill is not None:
                yield from _area(_round(part), part.fill, box)
            if part.pen is not None:
                yield from _arc(Arc(part.centre, part.radius, 0.0, 360.0, part.pen), box)


def inside(point: Point, box: Box) -> bool:
    """Whether a point lies in the box or on its edge."""
    return box[0] <= point[0] <= box[2] and box[1] <= point[1] <= box[3]


def holds(outer: Box, inner: Box) -> bool:
    """Whether the inner box lies wholly in the outer one."""
    return inside((inner[0], inner[1]), outer) and inside((inner[2], inner[3]), outer)


def _segment(start: Point, end: Point, box: Box) -> tuple[Point, Point] | None:
    """Cut one straight piece (Liang and Barsky 1984); None where it is outside."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    enter, leave = 0.0, 1.0
    for towards, room in (
        (-dx, start[0] - box[0]),
        (dx, box[2] - start[0]),
        (-dy, start[1] - box[1]),
        (dy, box[3] - start[1]),
    ):
        if towards == 0.0:
            if room < 0.0:
                return None
        elif towards < 0.0:
            enter = max(enter, room / towards)
        else:
            leave = min(leave, room / towards)
    if leave - enter <= _SAME:
        return None
    first = start if enter == 0.0 else (start[0] + enter * dx, start[1] + enter * dy)
    last = end if leave == 1.0 else (start[0] + leave * dx, start[1] + leave * dy)
    return first, last


def _polyline(part: Polyline, box: Box) -> Iterator[Polyline]:
    if part.fill is not None:
        yield from _area(part.points, part.fill, box)
    if part.pen is None:
        return
    points = part.points + part.points[:1] if part.closed else part.points
    chain: list[Point] = []
    for start, end in pairwise(points):
        piece = _segment(start, end, box)
        if chain and (piece is None or piece[0] != chain[-1]):
            yield Polyline(tuple(chain), part.pen)
            chain = []
        if piece is not None:
            chain = [*chain, piece[1]] if chain else list(piece)
    if chain:
        yield Polyline(tuple(chain), part.pen)


def _arc(arc: Arc, box: Box) -> Iterator[Arc]:
    """Part the arc where its circle crosses the box's edges; keep the parts whose middle is in."""
    sweep = (arc.end - arc.start) % 360.0 or 360.0
    (cx, cy), r = arc.centre, arc.radius
    turns = {0.0, sweep}
    for reach, upright in (
        (box[0] - cx, True),
        (box[2] - cx, True),
        (box[1] - cy, False),
        (box[3] - cy, False),
    ):
        if abs(reach) < r:
            half = math.degrees(math.acos(reach / r))
            for angle in (half, -half) if upright else (90.0 - half, 90.0 + half):
                turn = (angle - arc.start) % 360.0
                if turn < sweep:
                    turns.add(turn)
    ordered = sorted(turns)
    for first, last in pairwise(ordered):
        middle = arc_point(arc, arc.start + (first + last) / 2)
        if last - first > _SAME and inside(middle, box):
            yield replace(arc, start=arc.start + first, end=arc.start + last)


def _round(circle: Circle) -> tuple[Point, ...]:
    ring = Arc(circle.centre, circle.radius, 0.0, 360.0)
    step = 360.0 / _ROUND_AREA_SIDES
    return tuple(arc_point(ring, number * step) for number in range(_ROUND_AREA_SIDES))


def _area(points: tuple[Point, ...], fill: float, box: Box) -> Iterator[Polyline]:
    """Cut a filled area edge by edge (Sutherland and Hodgman 1974)."""
    ring = list(points)
    for axis, edge, sign in ((0, box[0], 1), (0, box[2], -1), (1, box[1], 1), (1, box[3], -1)):
        kept: list[Point] = []
        for before, here in zip(ring[-1:] + ring[:-1], ring, strict=True):
            was, now = sign * (before[axis] - edge), sign * (here[axis] - edge)
            if (was < 0.0) != (now < 0.0):
                share = was / (was - now)
                kept.append(
                    (
                        before[0] + share * (here[0] - before[0]),
                        before[1] + share * (here[1] - before[1]),
                    )
                )
            if now >= 0.0:
                kept.append(here)
        ring = kept
    if len(ring) > 2:
        yield Polyline(tuple(ring), None, closed=True, fill=fill)
