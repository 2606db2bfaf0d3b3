"""The tension diagram: force per width round the loop for each load case."""

from __future__ import annotations

import math
from itertools import pairwise

from splicewright.quantities import POLICY, Kind, System, show
from splicewright.sheets.canvas.chart import GRID, ladder, ticks_on
from splicewright.sheets.canvas.expansion import spread, text_width
from splicewright.sheets.canvas.scene import (
    OUTLINE,
    Circle,
    Group,
    Item,
    Line,
    Pen,
    Point,
    Polyline,
    Scene,
    Text,
)
from splicewright.sheets.drawings.loop import pulley_numbers
from splicewright.sheets.drawings.worked import Worked
from splicewright.tension import LoadCase, Running, WorstLoading

_NARROW = 100.0
"""Up to this width [mm] it is drawn for a phone."""
_WIDE, _HIGH, _TALL = 150.0, 50.0, 80.0
"""Width of the diagram, its height for the three cases and for all of them [mm]."""
PENS = {
    LoadCase.EMPTY: Pen("empty", 0.35, (1.2, 1.0)),
    LoadCase.FULL: Pen("full", 0.7),
    LoadCase.RISING: Pen("rising runs loaded", 0.35, (7.0, 1.2, 1.2, 1.2)),
    LoadCase.FALLING: Pen("falling runs loaded", 0.35, (2.6, 1.6)),
    LoadCase.STARTING: Pen("starting full", 0.55, (4.0, 1.2)),
    LoadCase.COASTING: Pen("coasting full", 0.3, (0.6, 1.8)),
    LoadCase.BRAKING: Pen("braking full", 0.5, (2.0, 0.8, 0.6, 0.8)),
    LoadCase.BLOCKED: Pen("blocked chute", 0.7, (1.6, 1.2)),
    LoadCase.HOLDING: Pen("holdback engaged", 0.3, (10.0, 2.0)),
}
WORST = Pen("any loading", 0.25)
_PLATE = Pen("nameplate", 0.3, (6.0, 1.0, 1.0, 1.0, 1.0, 1.0))

Curve = tuple[str, Pen, list[tuple[float, float]]]
"""Name and line of one case, and its points: along the loop [m], force per width [N/m]."""


def tension_diagram(
    worked: Worked,
    system: System = "metric",
    *,
    reverse: bool = False,
    every: bool = False,
    wide: float = _WIDE,
) -> Scene:
    """Draw the tension per width over the distance along the loop, one line for each load case.

    The station's force is divided by the belt width, as the plan's own largest value is.

    Parameters
    ----------
    reverse : the ordinary cases of the other direction of travel
    every : all cases that can happen and the worst partial loading, each line lettered, in
        place of empty, full and starting; forward only
    wide : of the diagram [mm]

    Returns
    -------
    Scene in millimetres of paper, about 175 mm wide
    """
    cases = worked.demand.reverse_cases if reverse else worked.demand.cases
    if every and not reverse:
        by_case = {c.case: c for c in (*worked.demand.cases, *worked.demand.other_cases)}
        cases = tuple(by_case[case] for case in LoadCase if case in by_case)
    high = _TALL if every else _HIGH
    width = worked.conveyor.belt.width.value
    curves = [(c.case.value, PENS[c.case], _points(worked, c, width)) for c in cases]
    if every and not reverse and worked.demand.worst is not None:
        curves.append(("any loading", WORST, _worst_points(worked, worked.demand.worst, width)))
    plate = worked.demand.nameplate
    marks = (
        [
            ("motor plate, running", plate.largest.value),
            ("motor plate, starting", plate.starting.value),
        ]
        if plate
        else []
    )
    top = max([t for _, _, points in curves for _, t in points] + [value for _, value in marks])
    step, factor = ladder(max(top, 1.0), Kind.WIDTH_FORCE, system, 6 if not every else 8)
    rungs = math.ceil(top / step + 0.15)
    up = high / (rungs * step)
    along = wide / worked.path.belt_length.value
    items: list[Item] = [*_axes(worked, (step, rungs, up, factor), (along, wide), high, system)]
    items += [Line((0.0, value * up), (wide, value * up), _PLATE) for _, value in marks]
    drawn = [(n, pen, [(x * along, t * up) for x, t in points]) for n, pen, points in curves]
    items += [Polyline(tuple(points), pen) for _, pen, points in drawn]
    labels = [
        (value * up, f"{label} {show(value, Kind.WIDTH_FORCE, system)}") for label, value in marks
    ]
    # On a phone a label is half as long as the diagram, and curves pass wherever it stands.
    narrow = wide <= _NARROW
    items += [] if narrow else [_over(drawn, y, label, wide) for y, label in labels]
    if every:
        items += _letters(drawn, wide)
    levels = [label for _, label in labels] if narrow else []
    low, key = _key(drawn, wide, levels, lettered=every)
    items += key
    items += _largest(worked, cases, width, (up, along, wide), low, system)
    way = ", running backwards" if reverse else ""
    return Scene(
        (Group("tension", tuple(items)),),
        f"Tension round the loop{way}",
        f"{worked.mark}. Force per width at every station, by the resistance way.",
    )


def _axes(
    worked: Worked,
    rise: tuple[float, int, float, float],
    run: tuple[float, float],
    high: float,
    system: System,
) -> list[Item]:
    """Force up, distance along the loop, and the pulleys by their numbers on the side view."""
    (step, rungs, up, factor), (along, wide) = rise, run
    items: list[Item] = []
    for rung in range(rungs + 1):
        y = rung * step * up
        items.append(Line((-1.5, y), (wide, y), GRID))
        items.append(Text((-2.5, y), f"{rung * step / factor:g}", 2.8, "end", "middle"))
    unit = POLICY[Kind.WIDTH_FORCE].shown(system).unit
    items.append(Text((-2.5, high + 5.0), unit, 2.8, "end", "middle", bold=True))
    length = worked.path.belt_length.value
    far, metre = ladder(length, Kind.DISTANCE, system, ticks_on(wide))
    for tick in range(math.floor(length / far) + 1):
        x = tick * far * along
        items.append(Line((x, 0.0), (x, -1.5), OUTLINE))
        items.append(Text((x, -2.5), f"{tick * far / metre:g}", 2.8, "middle", "top"))
    unit = POLICY[Kind.DISTANCE].shown(system).unit
    items.append(
        Text((wide, -7.0), f"{unit} along the loop from the first pulley", 2.8, "end", "top")
    )
    numbers = pulley_numbers(worked.conveyor)
    stations = [s for s in worked.path.stations if not s.is_run]
    places = [(s.start + s.end) / 2 * along for s in stations]
    for station, x, slot in zip(
        stations, places, spread(places, min(5.0, wide / len(places))), strict=True
    ):
        items.append(Polyline(((x, 0.0), (x, high), (slot, high + 3.0)), GRID))
        text = str(numbers[station.name])
        items.append(Text((slot, high + 3.6), text, 3.0, "middle", bold=True))
    items += [Line((0.0, 0.0), (wide, 0.0), OUTLINE), Line((0.0, 0.0), (0.0, high), OUTLINE)]
    return items


def _points(worked: Worked, case: Running, width: float) -> list[tuple[float, float]]:
    """Distance along the loop [m] and force per width [N/m], in the order of the loop."""
    points: list[tuple[float, float]] = []
    backwards = case in worked.demand.reverse_cases
    for point in case.points:
        station = worked.path.at(point.name)
        ends = (station.end, station.start) if backwards else (station.start, station.end)
        forces = (point.entering.value / width, point.leaving.value / width)
        points.append((ends[0], forces[0]))
        stuck = next((f.surplus for f in case.forces if f.run == point.name), None)
        if case.case is LoadCase.BLOCKED and stuck is not None:
            points.append((ends[1], forces[1] - stuck.value / width))
        points.append((ends[1], forces[1]))
    return sorted(points, key=lambda pair: pair[0])


def _worst_points(worked: Worked, worst: WorstLoading, width: float) -> list[tuple[float, float]]:
    """The largest tension any loading gives: behind each element, which enters the next."""
    points: list[tuple[float, float]] = []
    for before, here in zip((worst.points[-1], *worst.points), worst.points, strict=False):
        station = worked.path.at(here.name)
        points += [
            (station.start, before.tension.value / width),
            (station.end, here.tension.value / width),
        ]
    return sorted(points, key=lambda pair: pair[0])


def _over(drawn: list[Curve], y: float, label: str, wide: float) -> Text:
    """The label of a level line: at its end, or where curves pass there at its beginning."""
    size, long = 2.5, text_width(label, 2.5)

    def is_free(left: float) -> bool:
        return not any(
            min(before[0], after[0]) <= left + long
            and max(before[0], after[0]) >= left
            and min(before[1], after[1]) <= y + size + 0.9
            and max(before[1], after[1]) >= y + 0.9
            for _, _, points in drawn
            for before, after in pairwise(points)
        )

    if not is_free(wide - long) and is_free(1.0):
        return Text((1.0, y + 0.9), label, size, "start", masked=True)
    return Text((wide, y + 0.9), label, size, "end", masked=True)


def _letters(drawn: list[Curve], wide: float) -> list[Item]:
    """A letter on each line, each at its own place along the loop, so that none hides another."""
    items: list[Item] = []
    for place, (_, _, points) in enumerate(drawn):
        x = wide * (place + 0.5) / len(drawn)
        items.append(
            Text(
                (x, _height(points, x)),
                _letter(place),
                2.8,
                "middle",
                "middle",
                bold=True,
                masked=True,
            )
        )
    return items


def _letter(place: int) -> str:
    return chr(ord("a") + place)


def _height(points: list[tuple[float, float]], x: float) -> float:
    """Height of a line at `x`."""
    for (x1, y1), (x2, y2) in pairwise(points):
        if x1 <= x <= x2 and x2 > x1:
            return y1 + (y2 - y1) * (x - x1) / (x2 - x1)
    return points[-1][1]


def _largest(
    worked: Worked,
    cases: tuple[Running, ...],
    width: float,
    scale: tuple[float, float, float],
    low: float,
    system: System,
) -> list[Item]:
    """Ring and label where the largest tension of all cases stands."""
    up, along, wide = scale
    case = max(cases, key=lambda c: c.largest.value)
    x, t = max(_points(worked, case, width), key=lambda pair: pair[1])
    at: Point = (x * along, t * up)
    words = [f"largest {case.largest.show(system)}: {case.case.value},", f"end of {case.where}"]
    ring, text = (8.0, 18.0) if wide > _NARROW else (0.0, 4.0)
    if text + text_width(" ".join(words), 2.8) <= wide + 25.0:
        words = [" ".join(words)]
    lines = [
        Text((text, low - 4.0 * n), line, 2.8, "start", "middle", bold=True)
        for n, line in enumerate(words)
    ]
    return [Circle(at, 1.6, OUTLINE), Circle((ring, low), 1.6, OUTLINE), *lines]


def _key(
    drawn: list[Curve], wide: float, levels: list[str], *, lettered: bool
) -> tuple[float, list[Item]]:
    """Which line is which load case or level, as many in a row as fit; and where the next row
    begins."""
    items: list[Item] = []
    x, y = 0.0, -13.0
    lines = [
        (f"{_letter(place)}  {name}" if lettered else name, pen)
        for place, (name, pen, _) in enumerate(drawn)
    ]
    for label, pen in (*lines, *((label, _PLATE) for label in levels)):
        length = 18.0 + text_width(label, 2.8) + 8.0
        if x and x + length - 8.0 > wide + 8.0:
            x, y = 0.0, y - 6.0
        items.append(Line((x, y), (x + 16.0, y), pen))
        items.append(Text((x + 18.0, y), label, 2.8, "start", "middle"))
        x += length
    return y - 7.0, items
