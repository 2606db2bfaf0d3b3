"""Marking and cutting: centreline, square line, cut line, notches, hole lines."""

from __future__ import annotations

from splicewright.job import MIDPOINT_REACH, JointPlan
from splicewright.joint import End
from splicewright.quantities import System
from splicewright.sheets.canvas.placement import translated
from splicewright.sheets.canvas.scene import (
    CENTRE,
    DIMENSION,
    HIDDEN,
    OUTLINE,
    THIN,
    Dimension,
    Group,
    Hatch,
    Item,
    Leader,
    Line,
    Marker,
    Polyline,
    RunningDimension,
    Scene,
    Text,
)
from splicewright.sheets.drawings.belt_end import (
    MM,
    BeltEnd,
    as_the_crew_sees,
    belt_end,
    belt_outline,
    centre_line,
    cut_points,
    holes,
    length_text,
    room,
    square_line,
    travel_arrow,
    unit_note,
)

_LETTERS, _LARGE = 2.6, 2.8
_EVERY = 4
"""Of the plan's points on the cut line every fourth is written out."""
_APART = 90.0
"""Half the room between the two ends in the marking drawing of a belt of a metre [mm]."""


def marking(plan: JointPlan, system: System = "metric") -> Scene:
    """Both ends marked out: square line, cut line with its ordinates, notches, hole lines.

    Parameters
    ----------
    plan : with a layout

    Returns
    -------
    Scene [mm], 1:1; the leading end above, the trailing end below, drawn apart

    Raises
    ------
    OutputError
        The plan holds no layout.
    """
    leading, trailing = (belt_end(plan, which) for which in (End.LEADING, End.TRAILING))
    depth = max(leading.farthest(), trailing.farthest()) + 0.03 * room(leading)
    far = room(leading)
    items: list[Item] = []
    for one in (leading, trailing):
        parts = Scene(tuple(_end(one, depth)))
        items += translated(parts, 0.0, one.forward * _APART * far).items
    chain = translated(Scene((_ordinates(leading, system),)), 0.0, _APART * far)
    items.append(Group("dimensions", chain.items))
    half = MM * leading.half
    sides = tuple(
        Text((x, 0.0), word, 3.6, "middle", "middle", 90.0, bold=True)
        for x, word in ((-half - 45.0 * far, "LEFT"), (half + 45.0 * far, "RIGHT"))
    )
    items += [
        Group("labels", sides),
        travel_arrow((half + 110.0 * far, -60.0 * far), 130.0 * far, "TRAVEL", 3.0),
    ]
    drawn = Scene(
        tuple(items),
        "Marking and cutting, carry cover up",
        f"Plan {plan.id}. {unit_note(system)} The ends are drawn apart; travel is up the sheet.",
    )
    return as_the_crew_sees(drawn, plan)


def _end(one: BeltEnd, depth: float) -> list[Item]:
    text = f"{one.which.value.upper()}, CARRY COVER UP"
    where = one.at(depth - 0.008 * room(one), one.half - 0.012)
    name = Text(where, text, 3.0, "start", "middle", bold=True)
    return [
        belt_outline(one, depth),
        square_line(one, 0.012),
        Group("hole lines", tuple(_hole_lines(one))),
        Group("holes", holes(one).items),
        centre_line(one, 0.002, depth + 0.004),
        Group("labels", (name,)),
    ]


def _ordinates(one: BeltEnd, system: System) -> Item:
    """Stations on the cut line: how far from the centreline, how far behind the square line."""
    stations = cut_stations(one)
    curved = one.layout.curve_depth.value > 0
    texts = tuple(
        f"{length_text(abs(y), system)} / {length_text(x - one.square, system)}"
        if curved
        else length_text(abs(y), system)
        for x, y in stations
    )
    middle = max(x for x, _ in one.end.cut_line)
    points = tuple(one.at(x, y) for x, y in stations)
    return RunningDimension(one.at(middle, 0.0), points, "x", -one.forward * 7.0, texts, _LETTERS)


def cut_stations(one: BeltEnd) -> tuple[tuple[float, float], ...]:
    """Points of the cut line to write out, the middle left out: it is the datum."""
    line = one.end.cut_line
    if len(line) < 2 * _EVERY:
        return line
    return tuple(point for point in line[::_EVERY] if abs(point[1]) > 1e-6)


def _hole_lines(one: BeltEnd) -> list[Item]:
    """A line through each row: straight across a set, following the cut from set to set."""
    rows = sorted({hole.row for hole in one.end.holes})
    return [
        Polyline(tuple(one.at(h.x, h.y) for h in one.end.holes if h.row == row), THIN)
        for row in rows
    ]


def corner(plan: JointPlan, which: End, system: System = "metric") -> Scene:
    """The left corner of one end, large: notch, set-back, hole rows from the square line.

    Raises
    ------
    OutputError
        The plan holds no layout.
    """
    one = belt_end(plan, which)
    first, half = one.end.plates[0], one.half
    left = first.y + one.size.plate_width / 2
    right = first.y - one.size.plate_width / 2
    inner = right - 0.006
    depth, back = one.farthest() + 0.02, one.back(first.root)
    own = tuple(
        circle
        for circle, hole in zip(holes(one).items, one.end.holes, strict=True)
        if hole.plate == first.number
    )
    rows = sorted({round(h.x, 9) for h in one.end.holes if h.plate == first.number})
    outline = tuple(p for p in cut_points(one, depth) if p[0] < -MM * inner)
    plate = ((first.root, left), (back, left), (back, right), (first.root, right))
    seat = Polyline(tuple(one.at(x, y) for x, y in plate), HIDDEN, closed=True)
    square = Line(one.at(one.square, half + 0.008), one.at(one.square, inner), HIDDEN)
    marks: list[Item] = [
        RunningDimension(
            one.at(one.square, inner),
            tuple(one.at(x, inner) for x in rows),
            "y",
            5.0,
            tuple(length_text(x - one.square, system) for x in rows),
            _LARGE,
        ),
        _across(one, back, half, left, 14.0, one.end.setback_left, system),
    ]
    items: list[Item] = [
        Group("belt", (Polyline((*outline, one.at(first.root, inner)), OUTLINE),)),
        Group("square line", (square,)),
        Group("plates", (seat,)),
        Group("holes", own),
    ]
    if one.end.notch_width > 0:
        wide, long = one.end.notch_width, one.end.notch_length
        tip, foot = one.at(one.square, half), one.at(one.square + long, half)
        waste = (tip, one.at(_notch_foot(one), half - wide), foot)
        items.append(Group("waste", (Hatch(waste, spacing=1.6),)))
        marks += [
            _across(one, one.square, half, half - wide, -8.0, wide, system),
            Dimension(tip, foot, "y", -7.0, length_text(long, system), _LARGE),
        ]
    drawn = Scene(
        (*items, Group("dimensions", tuple(marks))),
        f"Left corner of the {which.value}, carry cover up",
        f"Plan {plan.id}. {unit_note(system)}",
    )
    return as_the_crew_sees(drawn, plan)


def _across(
    one: BeltEnd, x: float, start: float, end: float, offset: float, value: float, system: System
) -> Item:
    """A dimension across the belt; a positive offset stands it on the belt's side."""
    points = (one.at(x, start), one.at(x, end))
    return Dimension(*points, "x", one.forward * offset, length_text(value, system), _LARGE)


def _notch_foot(one: BeltEnd) -> float:
    """Where the notch meets the cut line, from the pin axis [m]."""
    points = cut_points(one, one.farthest() + 0.02)
    return one.forward * points[2][1] / MM


def squaring(system: System = "metric") -> Scene:
    """How the centreline and the square line are found: a sketch, not to scale.

    The distance over which midpoints are taken is the one of the marking step.
    """
    width, long = 30.0, 80.0
    top, low = width / 2, -width / 2
    places = (2.0, 21.0, 40.0, 59.0, 78.0)
    line_at = 12.0
    items: list[Item] = [
        Polyline(((long, top), (0.0, top), (-1.5, 4.0), (0.5, -5.0), (0.0, low), (long, low))),
        Line((-6.0, 0.0), (long + 6.0, 0.0), CENTRE),
        Line((line_at, top + 4.0), (line_at, low - 4.0), HIDDEN),
        Line((52.0, 0.0), (line_at, top), THIN),
        Line((52.0, 0.0), (line_at, low), THIN),
        *(Marker((x, 0.0), size=5.0) for x in places),
        *(Line((x, top), (x, low), DIMENSION) for x in places[1:]),
        Text((31.0, 8.8), "equal", 2.8, "middle", "middle", masked=True),
        Text((31.0, -8.8), "equal", 2.8, "middle", "middle", masked=True),
        Text((69.0, 7.5), "half", 2.8, "middle", "middle", masked=True),
        Text((69.0, -7.5), "half", 2.8, "middle", "middle", masked=True),
        Leader((line_at, top + 3.0), (line_at + 6.0, top + 8.0), "square line", 2.8),
        Text((long + 6.0, 0.0), "centreline", 2.8, "start", "middle"),
        Dimension((0.0, low), (long - 2.0, low), "x", -10.0, MIDPOINT_REACH[system], 2.8),
    ]
    return Scene((Group("sketch", tuple(items)),), "Centreline and square line (sketch)")
