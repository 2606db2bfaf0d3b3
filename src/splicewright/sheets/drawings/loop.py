"""The belt loop from the side: runs, pulleys by number, drive, take-up and the place of work.

The carry side follows the true profile. Heights of a flat conveyor are drawn larger, and short
runs near pulleys longer than they are; the drawing says so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from splicewright.plant import Conveyor, Pulley, Run, Side, Work
from splicewright.quantities import System
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
    readable,
)
from splicewright.sheets.drawings.worked import Worked

_LENGTH, _TALLEST, _LEAST_HEIGHT = 150.0, 45.0, 12.0
_BIG, _SMALL = 5.0, 2.6
"""Radii of end pulleys and of the others on the sheet [mm]."""
_SHORTEST = 13.0
"""No run is drawn shorter than this [mm]."""
BELT = Pen("belt", 0.6)
_AT, _ARROW = 0.42, 11.0
"""How far along a run its arrow stands [1]; room that it and "travel" take to each side [mm]."""
_FLAT = 0.5
"""A rise below this [m] is level to the eye; nothing is enlarged for it."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A run on the sheet: its name and its two ends."""

    run: Run
    start: Point
    end: Point


@dataclass(frozen=True, slots=True)
class Wheel:
    """A pulley on the sheet."""

    number: int
    pulley: Pulley
    centre: Point
    radius: float


def side_view(
    worked: Worked, system: System = "metric", work: Work | None = None, long: float = _LENGTH
) -> Scene:
    """Draw the loop from the side, the carry side above, with the place of work.

    Parameters
    ----------
    work : the job whose place is marked; None marks none
    long : of the carry side on the sheet [mm]

    Returns
    -------
    Scene in millimetres of paper, about 175 mm wide
    """
    stretches, wheels, note = laid(worked.conveyor, long)
    items: list[Item] = [Line(s.start, s.end, BELT) for s in stretches]
    for wheel in wheels:
        driven = bool(wheel.pulley.drive)
        items.append(Circle(wheel.centre, wheel.radius, OUTLINE, 0.0 if driven else 1.0))
    items += wheel_numbers(wheels)
    flag = None if work is None else _spot(work, stretches)[0]
    longer = [s for s in stretches if math.dist(s.start, s.end) > min(35.0, 0.4 * long)]
    items += [_arrow(s, flag) for s in longer]
    carry = [s for s in stretches if s.run.side is Side.CARRY]
    items.append(_travel(max(carry or stretches, key=lambda s: math.dist(s.start, s.end)), flag))
    items += _take_up(worked.conveyor, wheels, long)
    if work is not None:
        items += _place(work, stretches, system, long)
    lowest = min(min(s.start[1], s.end[1]) for s in stretches)
    lowest = min([lowest, *(w.centre[1] - w.radius for w in wheels)])
    items += _legend(wheels, lowest - 17.0, long)
    return Scene(
        (Group("loop", tuple(items)),),
        f"Belt loop of {worked.conveyor.name}, from the side",
        f"{worked.mark}. {note}",
    )


def pulley_numbers(conveyor: Conveyor) -> dict[str, int]:
    """The number each pulley has on the side view, by its name."""
    return {pulley.name: n for n, pulley in enumerate(conveyor.pulleys(), 1)}


def laid(conveyor: Conveyor, length: float = _LENGTH) -> tuple[list[Stretch], list[Wheel], str]:
    """Walk the loop in the order of travel and place every run and pulley on the sheet.

    length : of the carry side on the sheet [mm]
    """
    carry = [r for r in conveyor.runs() if r.side is Side.CARRY]
    long = sum(_level(r) for r in carry) or 1.0
    heights = [0.0]
    for run in carry:
        heights.append(heights[-1] + run.rise.value)
    tall = max(heights) - min(heights)
    across = length / long
    up = across
    if tall > _FLAT:
        up = min(max(across, _LEAST_HEIGHT / tall), _TALLEST / tall)
    note = "Runs near pulleys are drawn longer than they are."
    if tall > _FLAT and not math.isclose(up, across):
        note = f"Heights are drawn {up / across:.1f} times as large as lengths. " + note
    return *_walk(conveyor, across, up), note


def _level(run: Run) -> float:
    """Length of a run seen from above [m]."""
    return math.sqrt(max(run.length.value**2 - run.rise.value**2, 0.0))


def _walk(conveyor: Conveyor, across: float, up: float) -> tuple[list[Stretch], list[Wheel]]:
    loop = conveyor.loop
    steps = _steps(conveyor, across, up)
    at, numbers = (0.0, 0.0), pulley_numbers(conveyor)
    stretches: list[Stretch] = []
    wheels: list[Wheel] = []
    for place, element in enumerate(loop):
        if isinstance(element, Run):
            step = steps[element.name]
            end = (at[0] + step[0], at[1] + step[1])
            stretches.append(Stretch(element, at, end))
            at = end
            continue
        before = _neighbour(loop, place, -1, steps)
        after = _neighbour(loop, place, 1, steps)
        group = _group(loop, place)
        turning = max(group, key=lambda n: _wrap(loop[n]))
        if place < turning:
            after = before
        elif place > turning:
            before = after
        centre, leave, radius = _turn(element, at, before, after)
        wheels.append(Wheel(numbers[element.name], element, centre, radius))
        at = leave
    return stretches, wheels


def _group(loop: tuple[Run | Pulley, ...], place: int) -> list[int]:
    """Pulleys that follow one another without a run between; one of them makes the turn."""
    first = last = place
    while first > 0 and isinstance(loop[first - 1], Pulley):
        first -= 1
    while last + 1 < len(loop) and isinstance(loop[last + 1], Pulley):
        last += 1
    return list(range(first, last + 1))


def _wrap(element: Run | Pulley) -> float:
    return element.wrap.value if isinstance(element, Pulley) else 0.0


def _neighbour(
    loop: tuple[Run | Pulley, ...], place: int, way: int, steps: dict[str, Point]
) -> Point:
    """Direction of the next run before or after a pulley, of length one."""
    for distance in range(1, len(loop) + 1):
        element = loop[(place + way * distance) % len(loop)]
        if isinstance(element, Run):
            x, y = steps[element.name]
            size = math.hypot(x, y) or 1.0
            return x / size, y / size
    return 1.0, 0.0


def _turn(pulley: Pulley, at: Point, before: Point, after: Point) -> tuple[Point, Point, float]:
    """Centre of a pulley met at `at`, the point where the belt leaves it, and its radius."""
    along = before[0] * after[0] + before[1] * after[1]
    if along < -0.5:
        # A half turn: the belt comes back beside itself, at the ends below or above, in a
        # take-up loop on the far side.
        level = abs(before[0]) > 0.5
        radius = _BIG if level else _SMALL
        side = (0.0, -1.0 if before[0] > 0 else 1.0) if level else (-1.0, 0.0)
        centre = (at[0] + side[0] * radius, at[1] + side[1] * radius)
        return centre, (at[0] + 2 * side[0] * radius, at[1] + 2 * side[1] * radius), radius
    if along < 0.8:
        corner = (after[0] - before[0], after[1] - before[1])
        return (at[0] + corner[0] * _SMALL, at[1] + corner[1] * _SMALL), at, _SMALL
    left = (-before[1], before[0])
    side_sign = 1.0 if pulley.touches.value.startswith("carry") else -1.0
    offset = side_sign * _SMALL
    # Set on along the belt, so that it does not hide a pulley that stands just before it.
    on = (at[0] + after[0] * 6.0, at[1] + after[1] * 6.0)
    return (on[0] + left[0] * offset, on[1] + left[1] * offset), at, _SMALL


def _steps(conveyor: Conveyor, across: float, up: float) -> dict[str, Point]:
    """Each run as a step on the sheet; the return side is made to end where the loop began."""
    runs = conveyor.runs()
    steps: dict[str, Point] = {}
    for run in runs:
        sign = 1.0 if run.side is Side.CARRY else -1.0
        x, y = sign * _level(run) * across, run.rise.value * up
        size = math.hypot(x, y)
        stretch = max(1.0, _SHORTEST / size) if size > 0 else 1.0
        steps[run.name] = (x * stretch, y * stretch)
    back = [r for r in runs if r.side is Side.RETURN]
    if back:
        longest = max(back, key=lambda r: r.length.value)
        shift = sum(
            -2 * _SMALL for a, b in pairwise(back) if _opposed(steps[a.name], steps[b.name])
        )
        x = sum(steps[r.name][0] for r in runs) + shift
        y = sum(steps[r.name][1] for r in runs)
        old = steps[longest.name]
        steps[longest.name] = (old[0] - x, old[1] - y)
    return steps


def _opposed(one: Point, other: Point) -> bool:
    dot = one[0] * other[0] + one[1] * other[1]
    return dot < -0.5 * math.hypot(*one) * math.hypot(*other)


def wheel_numbers(wheels: list[Wheel]) -> list[Item]:
    """The number of every pulley in or beside it."""
    items: list[Item] = []
    for wheel in wheels:
        x, y = wheel.centre
        if wheel.radius == _BIG:
            white = 1.0 if wheel.pulley.drive else 0.0
            items.append(
                Text((x, y), str(wheel.number), 3.4, "middle", "middle", bold=True, grey=white)
            )
        else:
            below = (x + wheel.radius + 0.8, y - wheel.radius - 0.4)
            items.append(
                Text(below, str(wheel.number), 3.0, "start", "middle", bold=True, masked=True)
            )
    return items


def _clear(stretch: Stretch, flag: float | None) -> float:
    """How far along a run its arrow stands: near the middle, off the flag of the place of work."""
    x1, x2 = stretch.start[0], stretch.end[0]
    return 0.72 if flag is not None and abs(x1 + _AT * (x2 - x1) - flag) < _ARROW else _AT


def _arrow(stretch: Stretch, flag: float | None) -> Item:
    """A filled head near the middle of a long run, pointing with the travel."""
    (x1, y1), (x2, y2) = stretch.start, stretch.end
    size = math.dist(stretch.start, stretch.end)
    u = ((x2 - x1) / size, (y2 - y1) / size)
    share = _clear(stretch, flag)
    tip = (x1 + (x2 - x1) * share + 3.0 * u[0], y1 + (y2 - y1) * share + 3.0 * u[1])
    back = (tip[0] - 6.0 * u[0], tip[1] - 6.0 * u[1])
    wings = tuple((back[0] - s * u[1] * 1.8, back[1] + s * u[0] * 1.8) for s in (1.0, -1.0))
    return Polyline((tip, *wings), None, closed=True, fill=0.0)


def _travel(stretch: Stretch, flag: float | None) -> Item:
    (x1, y1), (x2, y2) = stretch.start, stretch.end
    turn = math.degrees(math.atan2(y2 - y1, x2 - x1))
    share = _clear(stretch, flag)
    at = (x1 + share * (x2 - x1), y1 + share * (y2 - y1))
    above = (at[0] - 3.4 * math.sin(math.radians(turn)), at[1] + 3.4 * math.cos(math.radians(turn)))
    return Text(above, "travel", 2.8, "middle", rotation=readable(turn))


def _take_up(conveyor: Conveyor, wheels: list[Wheel], long: float) -> list[Item]:
    """A double arrow at the pulley that takes the belt up, along its travel."""
    wheel = next(w for w in wheels if w.pulley.name == conveyor.take_up.pulley)
    x, y = wheel.centre
    if wheel.radius == _BIG:
        out = -1.0 if x < long / 2 else 1.0
        near, far = (x + out * 6.5, y), (x + out * 14.5, y)
        label = Text((x + out * 7.0, y + 2.4), "take-up", 2.8, "end" if out < 0 else "start")
    else:
        near, far = (x, y - 4.0), (x, y - 12.0)
        label = Text((x - 3.0, y - 9.5), "take-up", 2.8, "end")
    return [Line(near, far, OUTLINE), *_heads(near, far), label]


def _heads(near: Point, far: Point) -> list[Item]:
    items: list[Item] = []
    size = math.dist(near, far)
    for tip, other in ((near, far), (far, near)):
        u = ((tip[0] - other[0]) / size, (tip[1] - other[1]) / size)
        back = (tip[0] - 2.6 * u[0], tip[1] - 2.6 * u[1])
        wings = tuple((back[0] - s * u[1] * 1.1, back[1] + s * u[0] * 1.1) for s in (1.0, -1.0))
        items.append(Polyline((tip, *wings), None, closed=True, fill=0.0))
    return items


def _spot(work: Work, stretches: list[Stretch]) -> tuple[float, float, Stretch]:
    """Where the place of work lies on the sheet, and on which run."""
    stretch = next(s for s in stretches if s.run.name == work.run)
    share = min(1.0, work.distance.value / max(stretch.run.length.value, 1e-9))
    (x1, y1), (x2, y2) = stretch.start, stretch.end
    return x1 + share * (x2 - x1), y1 + share * (y2 - y1), stretch


def _place(work: Work, stretches: list[Stretch], system: System, long: float) -> list[Item]:
    """The place of work: a black diamond on the belt with a flag over the drawing."""
    x, y, stretch = _spot(work, stretches)
    r = 3.0
    diamond = Polyline(((x - r, y), (x, y - r), (x + r, y), (x, y + r)), OUTLINE, True, 0.0)
    dot = Circle((x, y), 0.9, None, 1.0)
    above = max(max(s.start[1], s.end[1]) for s in stretches) + 14.0
    label = f"PLACE OF WORK: {stretch.run.name}, {work.distance.show(system)} along it"
    to_right = x < long * 0.4
    text = Text(
        (x + (2.0 if to_right else -2.0), above - 4.6),
        label,
        3.2,
        "start" if to_right else "end",
        bold=True,
        masked=True,
    )
    return [Line((x, y + r), (x, above), OUTLINE), text, diamond, dot]


def _legend(wheels: list[Wheel], top: float, long: float) -> list[Item]:
    """The pulleys' names in columns, three on a sheet."""
    items: list[Item] = []
    rows = math.ceil(len(wheels) / max(1, round(long / 50.0)))
    drives = {wheel.pulley.drive for wheel in wheels} - {""}
    for place, wheel in enumerate(sorted(wheels, key=lambda w: w.number)):
        column, row = divmod(place, rows)
        x, y = column * 55.0, top - row * 5.4
        drive = ""
        if wheel.pulley.drive:
            drive = f" ({wheel.pulley.drive})" if len(drives) > 1 else " (drive)"
        items += [
            Text((x, y), str(wheel.number), 3.0, "end", bold=True),
            Text((x + 2.0, y), wheel.pulley.name + drive, 3.0),
        ]
    return items
