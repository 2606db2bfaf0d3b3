"""The plate and hole drawing of each end, and the finished joint seen from above."""

from __future__ import annotations

from splicewright.job import JointPlan
from splicewright.joint import End
from splicewright.quantities import System
from splicewright.sheets.canvas.scene import (
    HIDDEN,
    OUTLINE,
    Dimension,
    Group,
    Item,
    Leader,
    Line,
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
    clear_of_zero,
    holes,
    length_text,
    numbers,
    plates,
    room,
    square_line,
    travel_arrow,
    unit_note,
)

_LETTERS = 2.6
_CROWDED = 0.035
"""Pitch over belt width below which the whole joint has no room to number every plate."""


def end_drawing(plan: JointPlan, which: End, system: System = "metric") -> Scene:
    """Plates and holes of one end, every hole measured from the centreline.

    The dimensions run from the centreline to each hole, so that no errors add up; the rows are
    measured from the square line, on which the cut meets the belt edges.

    Parameters
    ----------
    plan : with a layout

    Returns
    -------
    Scene [mm], 1:1, layers belt, centreline, plates, holes

    Raises
    ------
    OutputError
        The plan holds no layout.
    """
    one = belt_end(plan, which)
    depth = one.farthest() + 0.022
    title = f"Plates and holes, {which.value}, carry cover up"
    drawn = Scene(
        (
            belt_outline(one, depth),
            square_line(one, 0.008),
            plates(one),
            holes(one),
            centre_line(one, 0.004, depth + 0.004),
            numbers(one, 0.011, _LETTERS),
            Group("labels", tuple(_names(one))),
            Group("dimensions", tuple(_dimensions(one, system))),
        ),
        title,
        f"Plan {plan.id}. {unit_note(system)} Travel is up the sheet; left is left of the travel.",
    )
    return as_the_crew_sees(drawn, plan)


def _names(one: BeltEnd) -> list[Item]:
    """Which end, which face, which side; strips of the drawing say it in their captions."""
    x = one.farthest() + 0.06
    which = f"{one.which.value.upper()}, CARRY COVER UP, ↑ TRAVEL"
    words = ((0.85, "LEFT"), (0.0, which), (-0.85, "RIGHT"))
    return [
        Text(one.at(x, share * one.half), text, 2.8, "middle", "middle", bold=True)
        for share, text in words
    ]


def _dimensions(one: BeltEnd, system: System) -> list[Item]:
    end, away = one.end, -one.forward
    stations = clear_of_zero({round(hole.y, 9) for hole in end.holes})
    nearest = {round(h.y, 9): h.x for h in sorted(end.holes, key=lambda h: -h.x)}
    items: list[Item] = [
        RunningDimension(
            one.at(one.square, 0.0),
            tuple(one.at(nearest[y], y) for y in stations),
            "x",
            away * 7.0,
            tuple(length_text(abs(y), system) for y in stations),
            _LETTERS,
        )
    ]
    first, last = end.plates[0], end.plates[-1]
    half = one.size.plate_width / 2
    behind = max(one.back(first.root), one.back(last.root))
    for edge, plate, setback in (
        (one.half, first.y + half, end.setback_left),
        (-one.half, last.y - half, end.setback_right),
    ):
        items.append(
            Dimension(
                one.at(behind, max(edge, plate)),
                one.at(behind, min(edge, plate)),
                "x",
                one.forward * 8.5,
                length_text(setback, system),
                _LETTERS,
            )
        )
    # A pitch is shown clear of the edges and of the plate numbers.
    pair = end.plates[one.layout.count // 3 : one.layout.count // 3 + 2]
    left, right = (one.at(one.back(plate.root) + 0.016, plate.y) for plate in pair)
    pitch = length_text(one.layout.pitch.value, system)
    items.append(Dimension(left, right, "x", one.forward * 5.0, pitch, _LETTERS))
    rows = sorted({round(h.x, 9) for h in end.holes if h.plate == first.number})
    for edge, offset in ((one.half, -8.0), (-one.half, 8.0)):
        items.append(
            RunningDimension(
                one.at(one.square, edge),
                tuple(one.at(x, edge) for x in rows),
                "y",
                offset,
                tuple(length_text(x - one.square, system) for x in rows),
                _LETTERS,
            )
        )
    return items


def joint_drawing(plan: JointPlan, system: System = "metric") -> Scene:
    """The finished joint from above: both ends meshed, the pin, the pieces, the plate numbers.

    Raises
    ------
    OutputError
        The plan holds no layout.
    """
    leading, trailing = (belt_end(plan, which) for which in (End.LEADING, End.TRAILING))
    layout, size = leading.layout, leading.size
    far = room(leading)
    depth = max(leading.farthest(), trailing.farthest()) + 0.06 * far
    every = 1 if size.pitch > _CROWDED * layout.width.value else 5
    half = MM * leading.half
    items: list[Item] = []
    for one in (trailing, leading):
        where = one.at(depth - 0.01 * far, one.half - 0.012)
        name = Text(where, one.which.value.upper(), 3.2, "start", "middle", bold=True)
        items += [
            belt_outline(one, depth),
            plates(one),
            holes(one),
            numbers(one, 0.014 * far, 2.4, every),
        ]
        items += [
            Group("labels", (name,)),
            Group("dimensions", tuple(_setbacks(one, depth, system))),
        ]
    lengths = plan.lengths
    if lengths is not None and lengths.pin is not None:
        pin = lengths.pin.value
        items.append(Group("pin", tuple(_pin(pin, size.pin))))
        ends = (trailing.at(depth, pin / 2), trailing.at(depth, -pin / 2))
        text = f"hinge pin {length_text(pin, system)}"
        items.append(Group("dimensions", (Dimension(*ends, "x", -14.0, text, 3.0),)))
    edges = (leading.at(depth, leading.half), leading.at(depth, -leading.half))
    width = f"belt {length_text(layout.width.value, system)}"
    items += [
        centre_line(leading, depth + 0.01, depth + 0.01),
        travel_arrow((half + 125.0 * far, -30.0 * far), 90.0 * far, "TRAVEL", 3.0),
        Group(
            "labels",
            (
                Text((-half - 34.0 * far, 0.0), "LEFT", 3.6, "middle", "middle", 90.0, bold=True),
                Text((half + 34.0 * far, 0.0), "RIGHT", 3.6, "middle", "middle", 90.0, bold=True),
            ),
        ),
        Group("dimensions", (Dimension(*edges, "x", 14.0, width, 3.0),)),
    ]
    if lengths is not None:
        note = f"cut to cut {length_text(lengths.span.value, system)}"
        items.append(Group("dimensions", (_span(leading, depth, note),)))
    drawn = Scene(
        tuple(items),
        "Finished joint, carry cover up",
        f"Plan {plan.id}. {unit_note(system)} Grey: plates of one piece. Plates are numbered "
        "from the left.",
    )
    return as_the_crew_sees(drawn, plan)


def _setbacks(one: BeltEnd, depth: float, system: System) -> list[Item]:
    end, half = one.end, one.half
    offset = one.forward * 6.0
    return [
        Dimension(
            one.at(depth, outer),
            one.at(depth, inner),
            "x",
            offset,
            length_text(setback, system),
            2.6,
        )
        for outer, inner, setback in (
            (half - end.setback_left, half, end.setback_left),
            (end.setback_right - half, -half, end.setback_right),
        )
    ]


def _span(one: BeltEnd, depth: float, note: str) -> Item:
    """A note that comes down to the middle of the cut between two plates."""
    middle = one.layout.count // 2
    left, right = one.end.plates[middle], one.end.plates[middle + 1]
    y = (left.y + right.y) / 2
    return Leader(one.at(left.root, y), one.at(depth + 0.014 * room(one), y), note, 2.8)


def _pin(length: float, diameter: float) -> list[Item]:
    long, thick = MM * length / 2, MM * diameter / 2
    box = ((-long, -thick), (long, -thick), (long, thick), (-long, thick))
    # What lies inside the loops is hidden; the ends and the length are what the crew looks for.
    return [
        Polyline(box, HIDDEN, closed=True),
        Line((-long, -thick), (-long, thick), OUTLINE),
        Line((long, -thick), (long, thick), OUTLINE),
    ]
