"""The loop at standstill with its clamps: where they stand on the loop, and the place enlarged.

Above, the loop from the side with what pulls and what is secured. Below, the belt at the place of
work along the tape, left and right as above: restraining and pulling clamps, their anchors and
hoists, distances and forces.
"""

from __future__ import annotations

import math

from splicewright.job import ClampPlace, JointPlan
from splicewright.plant import Run, Side, TakeUpKind
from splicewright.quantities import System
from splicewright.sheets.canvas.expansion import ARROW_LENGTH, text_width
from splicewright.sheets.canvas.scene import (
    DIMENSION,
    HIDDEN,
    OUTLINE,
    THIN,
    Circle,
    Dimension,
    Group,
    Item,
    Line,
    Pen,
    Point,
    Polyline,
    Scene,
    Text,
    readable,
)
from splicewright.sheets.drawings.at_rest_words import if_one_lets_go
from splicewright.sheets.drawings.loop import BELT, Stretch, Wheel, laid, wheel_numbers

_WIDE = 150.0
"""Width of both drawings [mm]."""
_CHAIN = Pen("anchor chain", 0.5, (1.4, 0.9))
_ROPE = Pen("hoist", 0.35, (3.0, 1.2))
_SLOPED = 0.01
"""A rise over length below this is level to the load [-]."""
_LETTERS = 2.8
"""Height of the letters at the tape [mm]."""
_PAST = 0.18
"""Belt drawn past the restraining clamps, as a share of the length between them."""


def clamp_drawing(plan: JointPlan, system: System = "metric") -> Scene:
    """Draw the standing loop with its clamps, and the place of work enlarged.

    Returns
    -------
    Scene in millimetres of paper, about 175 mm wide
    """
    stretches, wheels, note = laid(plan.conveyor)
    loop = _loop(plan, stretches, wheels, system)
    lowest = min(
        [min(s.start[1], s.end[1]) for s in stretches] + [w.centre[1] - w.radius for w in wheels]
    )
    # What is said of a take-up on the left stands above the name of the run.
    take_up = next(w for w in wheels if w.pulley.name == plan.conveyor.take_up.pulley)
    gap = 50.0 if take_up.centre[0] > _WIDE / 2 else 56.0
    place = _place(plan, lowest - gap, _to_left(plan, stretches), system)
    return Scene(
        (Group("loop", tuple(loop)), Group("place", tuple(place))),
        f"Clamps at standstill, {plan.work.name}",
        f"{plan.mark}. Below, the belt at the place along the tape, left and right as above; to "
        f"scale lengthwise, level here whatever its slope. {note}",
    )


def _loop(
    plan: JointPlan, stretches: list[Stretch], wheels: list[Wheel], system: System
) -> list[Item]:
    items: list[Item] = [Line(s.start, s.end, BELT) for s in stretches]
    for wheel in wheels:
        driven = bool(wheel.pulley.drive)
        items.append(Circle(wheel.centre, wheel.radius, OUTLINE, 0.0 if driven else 1.0))
    items += wheel_numbers(wheels)
    stretch = next(s for s in stretches if s.run.name == plan.work.run)
    items += [_bar(stretch, p, plan) for p in plan.clamps.places if p.restraining]
    items += _pulls(plan, stretches, system)
    items += _secured(plan, wheels)
    return items


def _bar(stretch: Stretch, place: ClampPlace, plan: JointPlan) -> Item:
    """A heavy bar across the belt, far enough from the place of work to be told from it."""
    (x1, y1), (x2, y2) = stretch.start, stretch.end
    size = math.dist(stretch.start, stretch.end)
    u = ((x2 - x1) / size, (y2 - y1) / size)
    length = max(stretch.run.length.value, 1e-9)
    here = plan.work.distance.value
    away = plan.clamps.restraining.value
    work = min(1.0, here / length) * size
    along = (here + (-away if place.behind else away)) / length * size
    along = min(along, work - 2.0) if place.behind else max(along, work + 2.0)
    at = (x1 + along * u[0], y1 + along * u[1])
    return Line(
        (at[0] - 3.2 * u[1], at[1] + 3.2 * u[0]), (at[0] + 3.2 * u[1], at[1] - 3.2 * u[0]),
        Pen("clamp", 1.2),
    )  # fmt: skip


def _pulls(plan: JointPlan, stretches: list[Stretch], system: System) -> list[Item]:
    """An open arrow down every sloping carry run that may carry load."""
    back = plan.at_rest.run_back
    if back.most.value <= 0:
        return []
    items: list[Item] = []
    sloped = [s for s in stretches if s.run.side is Side.CARRY and _slope(s.run) > _SLOPED]
    for s in sloped:
        low, high = (s.start, s.end) if s.run.rise.value > 0 else (s.end, s.start)
        size = math.dist(low, high)
        u = ((low[0] - high[0]) / size, (low[1] - high[1]) / size)
        out = (-u[1] * 5.0, u[0] * 5.0) if u[0] < 0 else (u[1] * 5.0, -u[0] * 5.0)
        out = (out[0] * math.copysign(1.0, out[1] or 1.0), abs(out[1]))
        tip = (low[0] - 0.3 * size * u[0] + out[0], low[1] - 0.3 * size * u[1] + out[1])
        tail = (tip[0] - 16.0 * u[0], tip[1] - 16.0 * u[1])
        items += [Line(tail, tip, OUTLINE), _head(tip, u)]
    longest = max(sloped, key=lambda s: s.run.length.value, default=None)
    if longest is not None:
        down = longest.run.rise.value > 0
        low, high = (longest.start, longest.end) if down else (longest.end, longest.start)
        turn = math.degrees(math.atan2(high[1] - low[1], high[0] - low[0]))
        u = ((high[0] - low[0]) / math.dist(low, high), (high[1] - low[1]) / math.dist(low, high))
        middle = 0.3 * math.dist(low, high) + 8.0
        up = (-u[1], u[0]) if u[0] > 0 else (u[1], -u[0])
        at = (low[0] + middle * u[0] + 8.0 * up[0], low[1] + middle * u[1] + 8.0 * up[1])
        text = f"load pulls up to {back.most.show(system)}"
        items.append(Text(at, text, 2.8, "middle", rotation=readable(turn), masked=True))
    return items


def _slope(run: Run) -> float:
    return abs(run.rise.value) / max(run.length.value, 1e-9)


def _head(tip: Point, u: Point, size: float = 3.0) -> Item:
    back = (tip[0] - size * u[0], tip[1] - size * u[1])
    wings = tuple((back[0] - k * u[1] * size / 3, back[1] + k * u[0] * size / 3) for k in (1, -1))
    return Polyline((tip, *wings), OUTLINE, closed=True, fill=1.0)


def _secured(plan: JointPlan, wheels: list[Wheel]) -> list[Item]:
    """What is made safe before the belt is held by its clamps alone."""
    gravity = plan.conveyor.take_up.kind is TakeUpKind.GRAVITY
    wheel = next(w for w in wheels if w.pulley.name == plan.conveyor.take_up.pulley)
    x, y = wheel.centre
    text = "weight lifted, hung, blocked" if gravity else "take-up slacked"
    middle = x > _WIDE / 2
    at = (x + (-2.0 if middle else 2.0), y - wheel.radius - 6.0)
    items: list[Item] = [Text(at, text, 2.8, "end" if middle else "start", "top", masked=True)]
    for driven in (w for w in wheels if w.pulley.drive):
        x, y = driven.centre
        to_left = x > _WIDE / 2
        at = (x + (-driven.radius if to_left else driven.radius), y + driven.radius + 3.0)
        items.append(
            Text(
                at,
                "drive locked out: not trusted to hold",
                2.8,
                "end" if to_left else "start",
                masked=True,
            )
        )
    return items


def _to_left(plan: JointPlan, stretches: list[Stretch]) -> bool:
    """Whether the belt at the place travels to the left in the side view."""
    stretch = next(s for s in stretches if s.run.name == plan.work.run)
    return stretch.end[0] < stretch.start[0]


def _place(plan: JointPlan, level: float, to_left: bool, system: System) -> list[Item]:
    """The belt at the place along the tape, travel to the side it has in the side view."""
    clamps = plan.clamps
    run = next(r for r in plan.conveyor.runs() if r.name == clamps.run)
    here = plan.path.at(run.name).start + plan.work.distance.value
    ends = clamps.places[0], clamps.places[-1]
    first, last = (p.station.value for p in ends)
    past = _PAST * (last - first)
    low = first - min(past, max(ends[0].beyond.value, 0.0))
    high = last + min(past, max(ends[1].beyond.value, 0.0))
    across = _WIDE / (high - low)

    def x_of(station: float) -> float:
        x = (station - low) * across
        return _WIDE - x if to_left else x

    items: list[Item] = []
    work = x_of(here)
    places = clamps.places[::-1] if to_left else clamps.places
    inner = [x_of(p.station.value) for p in places]
    items.append(Line((0.0, level), (inner[0], level), BELT))
    items.append(Line((inner[-1], level), (_WIDE, level), BELT))
    gap = 2.0 if len(inner) > 2 else 0.0  # a belt that stays in one piece is not cut
    for a, b in ((inner[0], work - gap), (work + gap, inner[-1])):
        items.append(Polyline(_slack(a, b, level), BELT))
    items += _ends((places[0], places[-1]), past, level, system)
    for place, x in zip(places, inner, strict=True):
        items += _clamp(plan, place, x, level, place is places[0], system)
    if len(inner) > 2:  # a belt that stays in one piece is not drawn
        items += [
            Line((inner[1], level + 9.0), (inner[2], level + 9.0), _ROPE),
            Text((work, level + 10.4), "hoists", 2.8, "middle", masked=True),
        ]
    items += [
        Line((work, level - 5.0), (work, level + 5.0), THIN),
        Text((work, level - 9.6), "place of work", 2.8, "middle", bold=True, masked=True),
    ]
    items += _tape(plan, inner, work, level, system)
    uphill = run.rise.value
    way = "rising" if uphill > 0 else "falling"
    lies = f"{way} with the travel" if uphill else "level"
    top, turn = level + 35.0, -1.0 if to_left else 1.0
    tail, tip = (_WIDE - 5.0, _WIDE - 26.0) if to_left else (_WIDE - 26.0, _WIDE - 5.0)
    remains = plan.at_rest.movement.remains.show(system)
    items += [
        Text((0.0, top), f"{run.name}, {lies}", 3.2, bold=True),
        Text((0.0, top - 4.6), f"take-up released: up to {remains} may stay in the belt here", 2.8),
        Line((tail, top + 1.0), (tip - 3.0 * turn, top + 1.0), OUTLINE),
        _head((tip, top + 1.0), (turn, 0.0)),
        Text((_WIDE - 27.5, top + 1.0), "travel", 2.8, "end", "middle"),
    ]
    return items


def _slack(start: float, end: float, level: float) -> tuple[Point, ...]:
    """Belt that hangs slack between clamp and cut."""
    count = 8
    return tuple(
        (start + (end - start) * n / count, level - 2.2 * math.sin(math.pi * n / count))
        for n in range(count + 1)
    )


def _ends(
    outer: tuple[ClampPlace, ClampPlace], past: float, level: float, system: System
) -> list[Item]:
    """The ends of the drawn belt, left and right: a pulley, or belt on to which pulley."""
    items: list[Item] = []
    for place, x, anchor in zip(outer, (0.0, _WIDE), ("start", "end"), strict=True):
        pen, lean = (HIDDEN, 0.0) if place.beyond.value <= past else (THIN, 1.2)
        items.append(Line((x - lean, level - 4.0), (x + lean, level + 4.0), pen))
        text = place.goes_on(system) if place.beyond.value >= 0 else place.stands(system)
        start = anchor == "start"
        items.append(Text((x, level - 41.2), text, 2.8, "start" if start else "end", masked=True))
    return items


def _clamp(
    plan: JointPlan, place: ClampPlace, x: float, level: float, leftmost: bool, system: System
) -> list[Item]:
    """Two bars over and under the belt; a chain from a restraining one to the structure."""
    fill = 0.0 if place.restraining else 1.0
    items: list[Item] = [
        Polyline(
            (
                (x - 1.4, level + s),
                (x + 1.4, level + s),
                (x + 1.4, level + s + 3.0),
                (x - 1.4, level + s + 3.0),
            ),
            OUTLINE,
            closed=True,
            fill=fill,
        )
        for s in (0.5, -3.5)
    ]
    if not place.restraining:
        return [*items, Line((x, level + 3.5), (x, level + 9.0), _ROPE)]
    # The anchor holds against the pull away from the cut.
    inward = 1.0 if leftmost else -1.0
    foot = (x + inward * 9.0, level - 14.0)
    items += [Line((x, level - 3.5), foot, _CHAIN), *_ground(foot)]
    head = (x, level + 5.5)
    tip = (x - inward * 12.0, level + 5.5)
    items += [Line(head, tip, OUTLINE), _head(tip, (-inward, 0.0))]
    words = (
        place.name,
        f"carries up to {place.force.show(system)}",
        f"up to {if_one_lets_go(plan, place).show(system)} if one thing lets go",
        f"rated {place.rating.show(system)} or more",
    )
    at = max(0.0, min(_WIDE, x - inward * 18.0))
    for n, text in enumerate(words):
        items.append(
            Text(
                (at, level + 24.5 - 4.2 * n),
                text,
                2.8,
                "start" if leftmost else "end",
                bold=n in {0, 3},  # not masked: a mask is wider than its words, and cut the others'
            )
        )
    return items


def _ground(at: Point) -> list[Item]:
    """Structure: a short line with hatching under it."""
    x, y = at
    items: list[Item] = [Line((x - 4.0, y), (x + 4.0, y), OUTLINE)]
    items += [
        Line((x - 4.0 + 2.0 * n, y), (x - 5.5 + 2.0 * n, y - 1.6), DIMENSION) for n in range(5)
    ]
    return items


def _tape(
    plan: JointPlan, inner: list[float], work: float, level: float, system: System
) -> list[Item]:
    """Distances from the place of work, and between the restraining clamps."""
    clamps = plan.clamps
    y, outer = level - 14.0, (inner[0], inner[-1])
    pulling, holding = clamps.pulling.show(system), clamps.restraining.show(system)
    items: list[Item] = [
        Line((x, level - 4.5), (x, level - (37.0 if x in outer else 24.0)), DIMENSION)
        for x in inner
    ]
    rows = [(x, holding, 15.0) for x in outer]
    room = text_width(pulling, _LETTERS) + 2 * ARROW_LENGTH + 2.0
    apart = all(abs(x - work) >= room for x in inner[1:-1])
    items.append(Line((work, level - (11.5 if apart else 23.5)), (work, level - 30.5), DIMENSION))
    if apart:
        rows += [(x, pulling, 8.0) for x in inner[1:-1]]
    else:  # two numbers beside each other would not be told apart
        items.append(
            Dimension(
                (inner[1], y - 8.0), (inner[2], y - 8.0), "x", 0.0, f"2 × {pulling}", _LETTERS
            )
        )
    for x, text, drop in rows:
        a, b = sorted((x, work))
        items.append(Dimension((a, y - drop), (b, y - drop), "x", 0.0, text, _LETTERS))
    items.append(
        Dimension(
            (outer[0], y - 22.0), (outer[1], y - 22.0), "x", 0.0, clamps.free.show(system), 2.8
        )
    )
    return items
