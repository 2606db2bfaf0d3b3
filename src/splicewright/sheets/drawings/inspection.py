"""The damaged joint from above: what was found on every plate, and what each carries.

Leading end above the pin, trailing end below it, left on the left: as somebody sees it who
stands on the belt and faces the travel. Black and white tell everything.
"""

from __future__ import annotations

import math

from splicewright.job.inspection.joint_assessment import JointAssessment, PlateLoad
from splicewright.joint import End
from splicewright.quantities import POLICY, Kind, System, show
from splicewright.sheets.canvas.chart import GRID, INVENTED, ladder
from splicewright.sheets.canvas.expansion import text_width
from splicewright.sheets.canvas.placement import translated
from splicewright.sheets.canvas.scene import (
    CUT,
    OUTLINE,
    THIN,
    Group,
    Hatch,
    Item,
    Line,
    Pen,
    Point,
    Polyline,
    Scene,
    Text,
)

_WIDE, _HIGH = 132.0, 30.0
_GREY = 0.82
_PLATE, _GAP = 8.0, 1.2
_BELT = 14.0
"""How far the belt is drawn on each side of the pin [mm of paper]: not to scale."""
_FOOT = 19.0
"""Where the bars stand, from the pin [mm of paper]."""
_MAY = Pen("may carry", 0.9)
_LIMIT = Pen("rating of a sound plate", 0.3, (5.0, 1.5))


def assessment_drawing(assessment: JointAssessment, system: System = "metric") -> Scene:
    """Draw a damaged joint with the load of every plate.

    Returns
    -------
    Scene in millimetres of paper, about 178 mm by 125 mm
    """
    plates = [plate for end in End for plate in assessment.of(end)]
    top = max([assessment.rated_pull, *(p.high or 0.0 for p in plates)])
    step, factor = ladder(top, Kind.FORCE, system, 4)
    rungs = math.ceil(top / step + 0.1)
    up = _HIGH / (rungs * step)
    items: list[Item] = [*_belt(assessment)]
    for end, way in ((End.LEADING, 1.0), (End.TRAILING, -1.0)):
        items += _axis(rungs, step, factor, up, way, system)
        for plate in assessment.of(end):
            items += _plate(assessment, plate, way)
            items += _bar(
                assessment,
                plate,
                up,
                way,
                plate.number == assessment.next_plate and end is assessment.next_end,
            )
        items += _names(assessment, end, way)
        level = way * (_FOOT + assessment.rated_pull * up)
        items.append(Line((0.0, level), (_WIDE + 2.0, level), _LIMIT))
        text = show(assessment.rated_pull, Kind.FORCE, system)
        items.append(Text((_WIDE + 3.0, level), f"sound {text}", 2.5, "start", "middle"))
    foot = -(_FOOT + _HIGH + 8.0)
    items += [
        Text((0.0, foot), "LEFT", 3.2, "start", "middle", bold=True),
        Text((_WIDE / 2, foot), "seen on the carry cover, travel up the sheet", 2.6, "middle",
             "middle"),
        Text((_WIDE, foot), "RIGHT", 3.2, "end", "middle", bold=True),
    ]  # fmt: skip
    items += _key(foot - 7.0)
    caption = f"{assessment.place}. Loads typical, with their range over everything assumed."
    caption += INVENTED if assessment.invented else ""
    return Scene(
        (Group("assessment", tuple(items)),), f"Joint as found, {assessment.name}", caption
    )


def _across(assessment: JointAssessment, y: float) -> float:
    """Place across the sheet of a place across the belt: left is left [mm of paper]."""
    return _WIDE * (0.5 - y / assessment.width)


def _box(x: float, wide: float, low: float, high: float) -> tuple[Point, ...]:
    left, right = x - wide / 2, x + wide / 2
    return ((left, low), (right, low), (right, high), (left, high))


def _belt(assessment: JointAssessment) -> list[Item]:
    """Sides of the belt, the pin, and what is torn off, hatched."""
    items: list[Item] = [Line((0.0, 0.0), (_WIDE, 0.0), CUT)]
    items.append(Text((-3.0, 0.0), "pin" if assessment.hinged else "cut", 2.5, "end", "middle"))
    for x in (0.0, _WIDE):
        items += [Line((x, way * _GAP), (x, way * _BELT), OUTLINE) for way in (1.0, -1.0)]
    for (left, right), way in zip(assessment.torn, (1.0, -1.0), strict=True):
        for wide, start, turn in ((left, 0.0, 1.0), (right, _WIDE, -1.0)):
            if wide > 0:
                end = start + turn * _WIDE * wide / assessment.width
                low, high = sorted((way * _GAP, way * _BELT))
                corners = ((start, low), (end, low), (end, high), (start, high))
                items.append(Hatch(corners, spacing=1.0, crossed=True))
                items.append(Polyline(corners, OUTLINE, closed=True))
    return items


def _wide(assessment: JointAssessment) -> float:
    return _WIDE * assessment.plate_width / assessment.width


def _plate(assessment: JointAssessment, plate: PlateLoad, way: float) -> list[Item]:
    """A plate as it is: empty when sound, hatched when damaged, crossed out when it is lost."""
    x, wide = _across(assessment, plate.y), _wide(assessment)
    low, high = sorted((way * _GAP, way * (_GAP + _PLATE)))
    corners = _box(x, wide, low, high)
    items: list[Item] = [Polyline(corners, OUTLINE, closed=True)]
    if plate.kept == 0:
        a, b, c, d = corners
        items += [Line(a, c, CUT), Line(b, d, CUT)]
    elif plate.state:
        items.append(Hatch(corners, spacing=1.0))
    return items


def _bar(
    assessment: JointAssessment, plate: PlateLoad, up: float, way: float, goes_next: bool
) -> list[Item]:
    if plate.load is None or plate.low is None or plate.high is None:
        return []
    x, wide = _across(assessment, plate.y), _wide(assessment)

    def at(load: float) -> float:
        return way * (_FOOT + load * up)

    low, high = sorted((at(0.0), at(plate.load)))
    bar = 0.3 * min(wide, 4.0)
    items: list[Item] = [Polyline(_box(x, wide, low, high), THIN, True, _GREY)]
    items.append(Line((x, at(plate.low)), (x, at(plate.high)), OUTLINE))
    items += [Line((x - bar, at(v)), (x + bar, at(v)), OUTLINE) for v in (plate.low, plate.high)]
    may = at(plate.kept * assessment.rated_pull)
    items.append(Line((x - 0.5 * wide, may), (x + 0.5 * wide, may), _MAY))
    if goes_next:
        items.append(
            Text(
                (x, way * (_FOOT + _HIGH + 2.2)),
                "NEXT",
                2.8,
                "middle",
                "middle",
                bold=True,
                masked=True,
            )
        )
    return items


def _names(assessment: JointAssessment, end: End, way: float) -> list[Item]:
    row = assessment.of(end)
    every = 1 if _WIDE * assessment.pitch / assessment.width > 4.6 else 5
    last = len(row)
    items: list[Item] = [
        Text(
            (_across(assessment, p.y), way * (_GAP + _PLATE + 3.0)),
            str(p.number),
            2.4,
            "middle",
            "middle",
        )
        for p in row
        if p.number in {1, last}
        or (p.number % every == 0 and p.number + every // 2 < last)
        or (p.state and every == 1)
    ]
    items.append(Text((-3.0, way * 7.0), end.value.split()[0], 2.5, "end", "middle"))
    return items


def _axis(
    rungs: int, step: float, factor: float, up: float, way: float, system: System
) -> list[Item]:
    items: list[Item] = []
    for rung in range(rungs + 1):
        y = way * (_FOOT + rung * step * up)
        items.append(Line((-1.5, y), (_WIDE, y), GRID if rung else OUTLINE))
        items.append(Text((-2.5, y), f"{rung * step / factor:g}", 2.6, "end", "middle"))
    unit = POLICY[Kind.FORCE].shown(system).unit
    items.append(Text((-2.5, way * (_FOOT + _HIGH + 4.0)), unit, 2.6, "end", "middle", bold=True))
    return items


def _key(y: float) -> list[Item]:
    x = -12.0
    cross = _box(0.0, 3.0, -1.5, 1.5)
    signs: tuple[tuple[tuple[Item, ...], str], ...] = (
        ((Polyline(cross, THIN, True, _GREY),), "typical load"),
        ((Line((0.0, -1.8), (0.0, 1.8), OUTLINE),), "its range"),
        ((Line((-1.7, 0.0), (1.7, 0.0), _MAY),), "may carry"),
        ((Polyline(cross, OUTLINE, True), Hatch(cross, spacing=1.0)), "damaged"),
        (
            (
                Polyline(cross, OUTLINE, True),
                Line(cross[0], cross[2], CUT),
                Line(cross[1], cross[3], CUT),
            ),
            "carries nothing",
        ),
        ((Hatch(cross, spacing=1.0, crossed=True), Polyline(cross, OUTLINE, True)), "belt torn"),
    )
    items: list[Item] = []
    for sign, label in signs:
        items += translated(Scene(sign), x + 1.5, y).items
        items.append(Text((x + 4.5, y), label, 2.5, "start", "middle"))
        x += 4.5 + text_width(label, 2.5) + 3.0
    return items
