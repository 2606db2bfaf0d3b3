"""The tension diagram: force per width round the loop for each load case."""

from __future__ import annotations

import math

from splicewright.job import JointPlan
from splicewright.quantities import POLICY, Kind, System, show
from splicewright.sheets.chart import GRID, ladder
from splicewright.sheets.expansion import spread, text_width
from splicewright.sheets.loop_sheet import pulley_numbers
from splicewright.sheets.scene import (
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
from splicewright.tension import LoadCase, Running

_WIDE, _HIGH = 150.0, 50.0
PENS = {
    LoadCase.EMPTY: Pen("empty", 0.35, (1.2, 1.0)),
    LoadCase.FULL: Pen("full", 0.7),
    LoadCase.STARTING: Pen("starting full", 0.55, (4.0, 1.2)),
}
_PLATE = Pen("nameplate", 0.3, (6.0, 1.0, 1.0, 1.0, 1.0, 1.0))


def tension_diagram(plan: JointPlan, system: System = "metric", *, reverse: bool = False) -> Scene:
    """Draw the tension per width over the distance along the loop, one line for each load case.

    The station's force is divided by the belt width, as the plan's own largest value is.

    Parameters
    ----------
    plan : any plan
    system : "metric" or "inch", for axes and lettering
    reverse : the cases of the other direction of travel

    Returns
    -------
    Scene in millimetres of paper, about 175 mm by 105 mm
    """
    cases = plan.demand.reverse_cases if reverse else plan.demand.cases
    width = plan.conveyor.belt.width.value
    plate = plan.demand.nameplate
    marks = (
        [
            ("motor plate, running", plate.largest.value),
            ("motor plate, starting", plate.starting.value),
        ]
        if plate
        else []
    )
    top = max([case.largest.value for case in cases] + [value for _, value in marks])
    step, factor = ladder(top, Kind.WIDTH_FORCE, system, 6)
    rungs = math.ceil(top / step + 0.15)
    up = _HIGH / (rungs * step)
    along = _WIDE / plan.path.belt_length.value
    items: list[Item] = [*_axes(plan, step, rungs, up, along, factor, system)]
    for label, value in marks:
        y = value * up
        items += [
            Line((0.0, y), (_WIDE, y), _PLATE),
            Text((_WIDE, y + 0.9), f"{label} {show(value, Kind.WIDTH_FORCE, system)}", 2.5, "end",
                 masked=True),
        ]  # fmt: skip
    for case in cases:
        items += _curve(plan, case, width, up, along)
    items += _largest(plan, cases, width, up, along, system)
    items += _key(cases)
    way = ", running backwards" if reverse else ""
    return Scene(
        (Group("tension", tuple(items)),),
        f"Tension round the loop{way}",
        f"Plan {plan.id}. Force per width at every station, by the resistance way.",
    )


def _axes(
    plan: JointPlan, step: float, rungs: int, up: float, along: float, factor: float, system: System
) -> list[Item]:
    """Force up, distance along the loop, and the pulleys by their numbers on the side view."""
    items: list[Item] = []
    for rung in range(rungs + 1):
        y = rung * step * up
        items.append(Line((-1.5, y), (_WIDE, y), GRID))
        items.append(Text((-2.5, y), f"{rung * step / factor:g}", 2.8, "end", "middle"))
    unit = POLICY[Kind.WIDTH_FORCE].shown(system).unit
    items.append(Text((-2.5, _HIGH + 5.0), unit, 2.8, "end", "middle", bold=True))
    length = plan.path.belt_length.value
    far, metre = ladder(length, Kind.DISTANCE, system, 8)
    for tick in range(math.floor(length / far) + 1):
        x = tick * far * along
        items.append(Line((x, 0.0), (x, -1.5), OUTLINE))
        items.append(Text((x, -2.5), f"{tick * far / metre:g}", 2.8, "middle", "top"))
    unit = POLICY[Kind.DISTANCE].shown(system).unit
    items.append(
        Text((_WIDE, -7.0), f"{unit} along the loop from the first pulley", 2.8, "end", "top")
    )
    numbers = pulley_numbers(plan)
    stations = [s for s in plan.path.stations if not s.is_run]
    places = [(s.start + s.end) / 2 * along for s in stations]
    for station, x, slot in zip(stations, places, spread(places, 5.0), strict=True):
        items.append(Polyline(((x, 0.0), (x, _HIGH), (slot, _HIGH + 3.0)), GRID))
        text = str(numbers[station.name])
        items.append(Text((slot, _HIGH + 3.6), text, 3.0, "middle", bold=True))
    items += [Line((0.0, 0.0), (_WIDE, 0.0), OUTLINE), Line((0.0, 0.0), (0.0, _HIGH), OUTLINE)]
    return items


def _points(plan: JointPlan, case: Running, width: float) -> list[tuple[float, float]]:
    """Distance along the loop [m] and force per width [N/m], in the order of the loop."""
    found: list[tuple[float, float]] = []
    backwards = case in plan.demand.reverse_cases
    for point in case.points:
        station = plan.path.at(point.name)
        ends = (station.end, station.start) if backwards else (station.start, station.end)
        forces = (point.entering.value / width, point.leaving.value / width)
        found += zip(ends, forces, strict=True)
    return sorted(found, key=lambda pair: pair[0])


def _curve(plan: JointPlan, case: Running, width: float, up: float, along: float) -> list[Item]:
    points = tuple((x * along, t * up) for x, t in _points(plan, case, width))
    return [Polyline(points, PENS[case.case])]


def _largest(
    plan: JointPlan, cases: tuple[Running, ...], width: float, up: float, along: float,
    system: System,
) -> list[Item]:  # fmt: skip
    """Ring and label where the largest tension of all cases stands."""
    case = max(cases, key=lambda c: c.largest.value)
    x, t = max(_points(plan, case, width), key=lambda pair: pair[1])
    at: Point = (x * along, t * up)
    said = f"largest {case.largest.show(system)}: {case.case.value}, end of {case.where}"
    return [
        Circle(at, 1.6, OUTLINE),
        Circle((8.0, -20.0), 1.6, OUTLINE),
        Text((18.0, -20.0), said, 2.8, "start", "middle", bold=True),
    ]


def _key(cases: tuple[Running, ...]) -> list[Item]:
    """Which line is which load case."""
    items: list[Item] = []
    x = 0.0
    for case in cases:
        items.append(Line((x, -13.0), (x + 16.0, -13.0), PENS[case.case]))
        items.append(Text((x + 18.0, -13.0), case.case.value, 2.8, "start", "middle"))
        x += 18.0 + text_width(case.case.value, 2.8) + 8.0
    return items
