"""The finished joint from above with the load of each plate as a bar over it."""

from __future__ import annotations

import math

from splicewright.job import JointLoads, JointPlan
from splicewright.joint import End, PlaceLoads
from splicewright.quantities import POLICY, Kind, System
from splicewright.sheets.canvas.chart import ladder
from splicewright.sheets.canvas.expansion import spread, text_width
from splicewright.sheets.canvas.placement import translated
from splicewright.sheets.canvas.scene import (
    OUTLINE,
    THIN,
    Circle,
    Group,
    Item,
    Line,
    Pen,
    Polyline,
    Scene,
    Text,
)
from splicewright.sheets.drawings.belt_end import belt_end

_WIDE, _HIGH = 126.0, 32.0
_BAR_GREY = 0.82
_RATING = Pen("rating", 0.6, (5.0, 1.5))
_MEAN = Pen("mean", 0.3, (1.2, 1.0))
_GRID = Pen("grid", 0.18, grey=0.6)
_PLATE_LONG = 8.0
"""Length of a plate in the top view under the bars [mm of paper]: not to scale."""


def loads_diagram(plan: JointPlan, loads: JointLoads, system: System = "metric") -> Scene:
    """Draw the plate loads where the worst plate load occurs.

    Bars: typical. Uprights with ends: the range over everything assumed. Full and open marks:
    typical belt and plates, held all along and not guided at all. The bars stand over the
    leading end; the trailing end carries the same loads the other way round.

    Parameters
    ----------
    plan : with a joint

    Returns
    -------
    Scene in millimetres of paper, about 175 mm by 95 mm

    Raises
    ------
    OutputError
        The plan holds no joint.
    """
    leading, trailing = (belt_end(plan, which) for which in (End.LEADING, End.TRAILING))
    at = loads.worst
    along = _WIDE / (2 * leading.half)
    top = max(loads.rating.value, *at.high)
    step, factor = ladder(top, Kind.FORCE, system, 5)
    rungs = math.ceil(top / step + 0.15)
    up = _HIGH / (rungs * step)
    wide = along * leading.size.plate_width
    items: list[Item] = [*_axis(step, rungs, up, factor, system)]
    places = [along * (leading.half - plate.y) for plate in leading.end.plates]
    for x, load in zip(places, at.loads, strict=True):
        items.append(_box(x, wide, 0.0, load * up, _BAR_GREY))
    items += _limits(loads, up, system)
    # Where guidance changes nothing, as in a sound hinged joint, there is nothing to mark.
    guided = at.held != at.loose
    items += _marks(at, places, min(wide, 4.0), up, guided)
    for one, pin_side in ((leading, 1.0), (trailing, -1.0)):
        for plate in one.end.plates:
            x = along * (one.half - plate.y)
            low = -12.5 + pin_side * 1.2
            items.append(_box(x, wide, low, low + pin_side * _PLATE_LONG, 1.0))
    every = 1 if wide > 4.2 else 5
    last = len(places)
    for one, y in ((leading, -7.3), (trailing, -17.7)):
        items += [
            Text((along * (one.half - p.y), y), str(p.number), 2.4, "middle", "middle")
            for p in one.end.plates
            if p.number in {1, last} or (p.number % every == 0 and p.number + every // 2 < last)
        ]
    hinged = plan.fastener is not None and plan.fastener.construction.hinged
    items += [
        Line((0.0, -12.5), (_WIDE, -12.5), OUTLINE),
        *(Line((x, -24.0), (x, -1.5), OUTLINE) for x in (0.0, _WIDE)),
        Text((-3.0, -7.3), "leading", 2.5, "end", "middle"),
        Text((-3.0, -12.5), "pin" if hinged else "cut", 2.5, "end", "middle"),
        Text((-3.0, -17.7), "trailing", 2.5, "end", "middle"),
        Text((0.0, -27.5), "LEFT", 3.0, "start", "middle", bold=True),
        Text((_WIDE / 2, -27.5), "carry cover up, travel up the sheet", 2.6, "middle", "middle"),
        Text((_WIDE, -27.5), "RIGHT", 3.0, "end", "middle", bold=True),
    ]
    items += _key(guided)
    return Scene(
        (Group("plate loads", tuple(items)),),
        f"Plate loads, {at.place.name}",
        f"Plan {plan.id}. Bars stand over the plates of the leading end; the trailing end carries "
        "the same, the other way round.",
    )


def _box(x: float, wide: float, low: float, high: float, grey: float) -> Polyline:
    left, right = x - wide / 2, x + wide / 2
    return Polyline(((left, low), (right, low), (right, high), (left, high)), THIN, True, grey)


def _axis(step: float, rungs: int, up: float, factor: float, system: System) -> list[Item]:
    items: list[Item] = []
    for rung in range(rungs + 1):
        y = rung * step * up
        items.append(Line((-1.5, y), (_WIDE, y), _GRID))
        items.append(Text((-2.5, y), f"{rung * step / factor:g}", 2.8, "end", "middle"))
    unit = POLICY[Kind.FORCE].shown(system).unit
    items.append(Text((-2.5, _HIGH + 5.0), unit, 2.8, "end", "middle", bold=True))
    items += [Line((0.0, 0.0), (_WIDE, 0.0), OUTLINE), Line((0.0, 0.0), (0.0, _HIGH), OUTLINE)]
    return items


def _limits(loads: JointLoads, up: float, system: System) -> list[Item]:
    levels = [loads.mean.value * up, loads.rating.value * up]
    names = ("mean", "rating of a plate")
    values = (loads.mean.show(system), loads.rating.show(system))
    items: list[Item] = []
    for level, slot, name, value, pen in zip(
        levels, spread(levels, 8.0), names, values, (_MEAN, _RATING), strict=True
    ):
        items += [
            Line((0.0, level), (_WIDE + 2.0, level), pen),
            Text((_WIDE + 3.0, slot + 0.9), name, 2.5),
            Text((_WIDE + 3.0, slot), value, 2.8, "start", "top", bold=True),
        ]
    return items


def _marks(at: PlaceLoads, places: list[float], wide: float, up: float, guided: bool) -> list[Item]:
    """The range of each plate, and both limits of side guidance left and right of it."""
    items: list[Item] = []
    bar = 0.3 * wide
    for x, low, high in zip(places, at.low, at.high, strict=True):
        items += [
            Line((x, low * up), (x, high * up), OUTLINE),
            Line((x - bar, low * up), (x + bar, low * up), OUTLINE),
            Line((x - bar, high * up), (x + bar, high * up), OUTLINE),
        ]
    if not guided:
        return items
    radius = min(0.9, 0.22 * wide)
    for x, one, other in zip(places, at.held, at.loose, strict=True):
        items += [
            Circle((x - bar, one * up), radius, THIN, 0.0),
            Circle((x + bar, other * up), radius, THIN, 1.0),
        ]
    return items


def _key(guided: bool) -> list[Item]:
    """What bars, uprights and marks mean."""
    y, x = -33.5, 0.0
    items: list[Item] = []
    signs: tuple[tuple[Item, str], ...] = (
        (_box(0.0, 3.0, -1.5, 1.5, _BAR_GREY), "typical"),
        (Line((0.0, -1.8), (0.0, 1.8), OUTLINE), "range of all assumptions"),
        (Circle((0.0, 0.0), 0.9, THIN, 0.0), "sides held"),
        (Circle((0.0, 0.0), 0.9, THIN, 1.0), "nothing guides it"),
    )
    for sign, label in signs if guided else signs[:2]:
        items += translated(Scene((sign,)), x + 1.5, y).items
        items.append(Text((x + 5.0, y), label, 2.6, "start", "middle"))
        x += 5.0 + text_width(label, 2.6) + 6.0
    return items
