"""Every back end draws the same: arrows, dimension text, hatches and bars become lines here.

Layout rules follow ISO 129-1 (extension lines with a small gap and an overshoot, closed filled
arrowheads, text above the dimension line and readable from below or from the right, running
dimensions from one origin circle); the sizes in millimetres are our choice.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from functools import lru_cache

from splicewright.sheets.canvas.scene import (
    BLACK,
    WHITE,
    Arc,
    Circle,
    Dimension,
    Group,
    Hatch,
    Item,
    Leader,
    Line,
    Marker,
    Pen,
    Point,
    Polyline,
    Primitive,
    RunningDimension,
    ScaleBar,
    Scene,
    Text,
    leaves,
    readable,
)

Box = tuple[float, float, float, float]  # left, bottom, right, top

ARROW_LENGTH = 3.0
ARROW_WIDTH = 1.0
EXTENSION_GAP = 1.0
EXTENSION_OVERSHOOT = 1.5
TEXT_GAP = 0.9
ORIGIN_RADIUS = 1.1
BAR_HEIGHT = 1.6
BAR_LETTERS = 2.8

CAP_HEIGHT = 0.698  # capital height over em of the font in sheets/canvas/fonts
_NARROW, _WIDE = frozenset(" .,:;'|!()[]ijlftrI·/-"), frozenset("mwMW@%→½")


def expand(scene: Scene) -> Scene:
    """Return the scene with nothing left but lines, polylines, arcs, circles and texts.

    Layers and drawing order stay. Texts come out standing on their baseline, so a back end
    needs no vertical alignment of its own.
    """
    groups: list[Group] = []
    for layer, item in leaves(scene):
        parts: tuple[Item, ...] = tuple(expand_item(item))
        if groups and groups[-1].layer == layer:
            groups[-1] = replace(groups[-1], items=groups[-1].items + parts)
        elif parts:
            groups.append(Group(layer, parts))
    return replace(scene, items=tuple(groups))


def primitives(scene: Scene) -> Iterator[tuple[str, Primitive]]:
    """Yield the expanded scene piece by piece, each with its layer."""
    for layer, item in leaves(scene):
        for part in expand_item(item):
            yield layer, part


def expand_item(item: Item) -> Iterator[Primitive]:
    """Yield the lines, circles and letters that draw one item."""
    match item:
        case Line() | Polyline() | Arc() | Circle():
            yield item
        case Text():
            yield from _text(item)
        case Dimension():
            yield from _dimension(item)
        case RunningDimension():
            yield from _running(item)
        case Leader():
            yield from _leader(item)
        case Hatch():
            yield from _hatch(item)
        case Marker():
            yield from _marker(item)
        case ScaleBar():
            yield from _bar(item)
        case Group():
            for part in item.items:
                yield from expand_item(part)


def text_width(text: str, size: float) -> float:
    """Estimate the length of letters `size` [mm] high, on the long side [mm of paper]."""
    return _line_ems(text) * size / CAP_HEIGHT


@lru_cache(maxsize=4096)
def _line_ems(text: str) -> float:
    return sum(_ems(letter) for letter in text)


def _ems(letter: str) -> float:
    if letter.isdecimal():
        return 0.6
    return 0.42 if letter in _NARROW else 0.95 if letter in _WIDE else 0.66


def bounds(scene: Scene) -> Box:
    """Return left, bottom, right and top of all that is drawn, stroke widths left out [mm].

    Letters count with their estimated width.

    Raises:
        ValueError: the scene draws nothing.
    """
    return around([extent(part) for _, part in primitives(scene)])


def reach(scene: Scene) -> Box | None:
    """Return a box that the bounds hold at least, from positions alone; None without any [mm].

    Positions grow with the scale and letters do not, so a scale at which these do not fit needs
    no further look.
    """
    boxes = []
    for _, item in leaves(scene):
        match item:
            case Line():
                boxes.append(_box((item.start, item.end)))
            case Polyline():
                boxes.append(_box(item.points))
            case Circle():
                (x, y), r = item.centre, item.radius
                boxes.append((x - r, y - r, x + r, y + r))
    return around(boxes) if boxes else None


def around(boxes: Sequence[Box]) -> Box:
    """Return the box round all of these; a `ValueError` when there are none."""
    if not boxes:
        message = "scene: draws nothing, so it has no bounds; a scene with an item is accepted"
        raise ValueError(message)
    left, bottom, right, top = zip(*boxes, strict=True)
    return min(left), min(bottom), max(right), max(top)


def extent(part: Primitive) -> Box:
    """Return left, bottom, right and top of one primitive [mm]."""
    match part:
        case Line():
            return _box((part.start, part.end))
        case Polyline():
            return _box(part.points)
        case Circle():
            (x, y), r = part.centre, part.radius
            return x - r, y - r, x + r, y + r
        case Arc():
            sweep = (part.end - part.start) % 360.0 or 360.0
            quarters = [q * 90.0 for q in range(4) if (q * 90.0 - part.start) % 360.0 <= sweep]
            return _box([arc_point(part, angle) for angle in (part.start, part.end, *quarters)])
        case Text():
            width = text_width(part.text, part.size)
            left = {"start": 0.0, "middle": -width / 2, "end": -width}[part.anchor]
            low, high = -0.3 * part.size, 1.1 * part.size
            corners = [(x, y) for x in (left, left + width) for y in (low, high)]
            return _box([_turned(part.at, corner, part.rotation) for corner in corners])


def arc_point(arc: Arc, angle: float) -> Point:
    """Return the arc's point at an angle [deg]."""
    a = math.radians(angle)
    return arc.centre[0] + arc.radius * math.cos(a), arc.centre[1] + arc.radius * math.sin(a)


def _box(points: Iterable[Point]) -> Box:
    xs, ys = zip(*points, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def _turned(at: Point, by: Point, angle: float) -> Point:
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    return at[0] + by[0] * c - by[1] * s, at[1] + by[0] * s + by[1] * c


def _stepped(at: Point, along: Point, by: float) -> Point:
    return at[0] + along[0] * by, at[1] + along[1] * by


def _text(text: Text) -> Iterator[Primitive]:
    """Stand the text on its baseline, over a white patch where it is masked."""
    drop = {"base": 0.0, "middle": text.size / 2, "top": text.size}[text.baseline]
    at = _turned(text.at, (0.0, -drop), text.rotation)
    if text.masked:
        width, edge = text_width(text.text, text.size), 0.2 * text.size
        left = {"start": 0.0, "middle": -width / 2, "end": -width}[text.anchor]
        low, high = -edge, text.size + edge
        corners = ((left, low), (left + width, low), (left + width, high), (left, high))
        patch = tuple(_turned(at, corner, text.rotation) for corner in corners)
        yield Polyline(patch, None, closed=True, fill=WHITE)
    yield replace(text, at=at, baseline="base", masked=False)


def _arrow(tip: Point, along: Point, pen: Pen) -> Polyline:
    """Draw a slim filled head whose point touches `tip` and which looks `along`."""
    back = _stepped(tip, along, -ARROW_LENGTH)
    across = (-along[1], along[0])
    wings = (_stepped(back, across, ARROW_WIDTH / 2), _stepped(back, across, -ARROW_WIDTH / 2))
    return Polyline((tip, *wings), pen=None, closed=True, fill=pen.grey)


def dimension_line(item: Dimension) -> tuple[Point, Point]:
    """Return where the arrows of a dimension touch: the points carried to its line [mm]."""
    (x1, y1), (x2, y2) = item.start, item.end
    outer = max if item.offset >= 0.0 else min
    if item.direction == "x":
        y = outer(y1, y2) + item.offset
        return (x1, y), (x2, y)
    if item.direction == "y":
        x = outer(x1, x2) + item.offset
        return (x, y1), (x, y2)
    long = math.hypot(x2 - x1, y2 - y1)
    left = (-(y2 - y1) / long, (x2 - x1) / long) if long else (0.0, 1.0)
    return _stepped(item.start, left, item.offset), _stepped(item.end, left, item.offset)


def _extension(measured: Point, foot: Point, pen: Pen) -> Iterator[Line]:
    long = math.dist(measured, foot)
    if long > EXTENSION_GAP:
        away = ((foot[0] - measured[0]) / long, (foot[1] - measured[1]) / long)
        start = _stepped(measured, away, EXTENSION_GAP)
        yield Line(start, _stepped(foot, away, EXTENSION_OVERSHOOT), pen)


def _dimension(item: Dimension) -> Iterator[Primitive]:
    first, last = dimension_line(item)
    long = math.dist(first, last)
    fallback = (0.0, 1.0) if item.direction == "y" else (1.0, 0.0)
    along = ((last[0] - first[0]) / long, (last[1] - first[1]) / long) if long else fallback
    back = (-along[0], -along[1])
    width = text_width(item.label, item.size)
    rotation = readable(math.degrees(math.atan2(along[1], along[0])))

    arrows_fit = long >= 2 * ARROW_LENGTH + 1.0
    reach = 0.0 if arrows_fit else 2 * ARROW_LENGTH
    if long >= width:
        shelf = reach
        middle = ((first[0] + last[0]) / 2, (first[1] + last[1]) / 2)
    else:  # the text stands on a shelf beyond the second point
        tail = reach if reach else ARROW_LENGTH / 2
        shelf = tail + width + 0.5
        middle = _stepped(last, along, tail + width / 2)
    at = _turned(middle, (0.0, TEXT_GAP), rotation)
    look = Text(at, item.label, item.size, "middle", rotation=rotation, grey=item.pen.grey)
    yield from _text(replace(look, masked=True))

    yield from _extension(item.start, first, item.pen)
    yield from _extension(item.end, last, item.pen)
    yield Line(_stepped(first, back, reach), _stepped(last, along, shelf), item.pen)
    yield _arrow(first, back if arrows_fit else along, item.pen)
    yield _arrow(last, along if arrows_fit else back, item.pen)


def _running(item: RunningDimension) -> Iterator[Primitive]:
    across = item.direction == "x"
    axis = 0 if across else 1
    points = (item.datum, *item.stations)
    outer = max if item.offset >= 0.0 else min
    level = outer(point[1 - axis] for point in points) + item.offset
    side = 1.0 if item.offset >= 0.0 else -1.0

    def on_line(place: float, rise: float = 0.0) -> Point:
        return (place, level + side * rise) if across else (level + side * rise, place)

    # Each text has its own slot; where stations crowd, the slots move apart and a short jog
    # joins the slot with its extension line.
    places = [point[axis] for point in points]
    slots = spread(places, 1.35 * item.size)
    moved = max(abs(slot - place) for slot, place in zip(slots, places, strict=True))
    crowded = moved > 0.05
    bend = EXTENSION_OVERSHOOT
    # A jog leans 45 degrees where it can: flatter, it could not be followed.
    foot = bend + (min(max(moved, 1.2 * item.size), 2.5 * item.size) if crowded else 0.0)
    for number, (label, slot) in enumerate(zip(("0", *item.labels), slots, strict=True)):
        text = Text(
            on_line(slot, foot + TEXT_GAP),
            label,
            item.size,
            "start" if side > 0.0 else "end",
            "middle",
            90.0 if across else 0.0,
            bold=number == 0,
            grey=item.pen.grey,
            masked=True,
        )
        yield from _text(text)

    zero = places[0]
    for end in (min(places), max(places)):
        if end != zero:
            yield Line(on_line(zero), on_line(end), item.pen)
    for point, place, slot in zip(points, places, slots, strict=True):
        yield from _extension(point, on_line(place), item.pen)
        if crowded:
            yield Line(on_line(place, bend), on_line(slot, foot), item.pen)
        if abs(place - zero) > ARROW_LENGTH + ORIGIN_RADIUS:
            sign = math.copysign(1.0, place - zero)
            yield _arrow(on_line(place), (sign, 0.0) if across else (0.0, sign), item.pen)
    yield Circle(on_line(zero), ORIGIN_RADIUS, item.pen, WHITE)


def spread(places: list[float], gap: float) -> list[float]:
    """Move crowded places apart to at least `gap`, each as little as can be.

    Neighbours that touch form a block, and a block stands where its members' mean shift is
    zero (least squares under the gap; the pool-adjacent-violators way).
    """
    order = sorted(range(len(places)), key=lambda index: places[index])
    blocks: list[tuple[float, list[int]]] = []  # mean of (place - rank · gap), members
    for rank, index in enumerate(order):
        mean, members = places[index] - rank * gap, [index]
        while blocks and blocks[-1][0] > mean:
            before, others = blocks.pop()
            count = len(others) + len(members)
            mean = (before * len(others) + mean * len(members)) / count
            members = others + members
        blocks.append((mean, members))
    slots = [0.0] * len(places)
    rank = 0
    for mean, members in blocks:
        for index in members:
            slots[index] = mean + rank * gap
            rank += 1
    return slots


def _leader(item: Leader) -> Iterator[Primitive]:
    long = math.dist(item.tip, item.elbow)
    side = 1.0 if item.elbow[0] >= item.tip[0] else -1.0
    shelf = _stepped(item.elbow, (side, 0.0), text_width(item.text, item.size) + 1.0)
    middle = ((item.elbow[0] + shelf[0]) / 2, item.elbow[1] + TEXT_GAP)
    grey = item.pen.grey
    yield from _text(Text(middle, item.text, item.size, "middle", grey=grey, masked=True))
    yield Polyline((item.tip, item.elbow, shelf), item.pen)
    if long:
        along = ((item.tip[0] - item.elbow[0]) / long, (item.tip[1] - item.elbow[1]) / long)
        yield _arrow(item.tip, along, item.pen)


def _hatch(item: Hatch) -> Iterator[Line]:
    angles = (item.angle, item.angle + 90.0) if item.crossed else (item.angle,)
    for angle in angles:
        yield from _hatch_lines(item, angle)


def _hatch_lines(item: Hatch, angle: float) -> Iterator[Line]:
    """Cut parallel lines with the rings; between an odd and an even cut the line is inside."""
    origin = item.boundary[0]
    rings = [
        [_turned((0.0, 0.0), (x - origin[0], y - origin[1]), -angle) for x, y in ring]
        for ring in (item.boundary, *item.holes)
    ]
    heights = [y for ring in rings for _, y in ring]
    first = math.ceil(min(heights) / item.spacing - 0.5)
    last = math.floor(max(heights) / item.spacing - 0.5)
    for number in range(first, last + 1):
        # Half a spacing off the corner, so that no line runs along an edge through it.
        y = (number + 0.5) * item.spacing
        cuts = sorted(
            x1 + (y - y1) / (y2 - y1) * (x2 - x1)
            for ring in rings
            for (x1, y1), (x2, y2) in zip(ring, ring[1:] + ring[:1], strict=True)
            if (y1 <= y) != (y2 <= y)
        )
        for enter, leave in zip(cuts[::2], cuts[1::2], strict=True):
            yield Line(
                _turned(origin, (enter, y), angle), _turned(origin, (leave, y), angle), item.pen
            )


def _marker(item: Marker) -> Iterator[Primitive]:
    (x, y), half = item.at, item.size / 2
    yield Line((x - half, y), (x + half, y), item.pen)
    yield Line((x, y - half), (x, y + half), item.pen)
    if item.kind == "registration":
        yield Circle(item.at, half * 0.6, item.pen)


def _bar(item: ScaleBar) -> Iterator[Primitive]:
    (x, y), step = item.at, item.length / item.divisions
    top = y + BAR_HEIGHT
    for number in range(0, item.divisions, 2):
        left, right = x + number * step, x + (number + 1) * step
        block = ((left, y), (right, y), (right, top), (left, top))
        yield Polyline(block, None, closed=True, fill=BLACK)
    yield Line((x, y), (x + item.length, y), item.pen)
    yield Line((x, top), (x + item.length, top), item.pen)
    for end in (x, x + item.length):
        yield Line((end, y - 1.0), (end, top + 1.0), item.pen)
    yield Text((x + item.length / 2, top + 1.2), item.label, BAR_LETTERS, "middle")
