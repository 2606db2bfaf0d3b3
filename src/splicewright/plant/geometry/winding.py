"""Laying a belt round placed pulleys, and refusing what cannot be built."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.plant.conveyor import Cover
from splicewright.plant.geometry.tangents import (
    Arc,
    Placed,
    Span,
    TautLoop,
    Turn,
    Winding,
    closing_error,
    turned_through,
    wind,
)
from splicewright.quantities import Kind, show

_TIGHT = 1e-9
Point = tuple[float, float]


def round_pulleys(pulleys: Sequence[Placed], thickness: float = 0.0) -> TautLoop:
    """Lay the belt round the pulleys in the order of travel.

    The cover that touches says on which side of the belt a pulley stands: inside the loop for
    the pulley cover, outside for the carry cover. Where both ways round are possible (two
    pulleys), the belt leaves the first pulley on the upper strand.

    Parameters
    ----------
    pulleys : in the order the belt meets them
    thickness : of the belt [m]

    Raises
    ------
    InputError
        Pulleys overlap, the belt cannot pass between two, does not reach one, runs through
        one, or crosses itself.
    """
    _check_entries(pulleys, thickness)
    laid = [_lay(pulleys, thickness, turn) for turn in (Turn.RIGHT, Turn.LEFT)]
    good = [way for way in laid if not way.faults]
    if good:
        return max((way.loop() for way in good), key=_first_height)
    # The way round with the fewest obstacles is the one that was meant; its first one is told.
    raise InputError(min(laid, key=lambda way: len(way.faults)).faults[0])


def _first_height(loop: TautLoop) -> float:
    return loop.spans[0].start[1] + loop.spans[0].end[1]


def _check_entries(pulleys: Sequence[Placed], thickness: float) -> None:
    if len(pulleys) < 2:
        raise InputError(
            Fault("pulleys", f"{len(pulleys)} given; a belt loop has two pulleys or more")
        )
    faults = []
    if not (math.isfinite(thickness) and thickness >= 0):
        faults.append(Fault("thickness", f"{thickness:g} m is no belt thickness; give 0 or more"))
    names = [p.name for p in pulleys]
    for name in sorted({n for n in names if names.count(n) > 1}):
        faults.append(Fault(name, "two pulleys have this name; each needs its own"))
    for p in pulleys:
        if not all(math.isfinite(v) for v in (p.x, p.z)):
            faults.append(Fault(p.name, f"centre ({p.x:g}, {p.z:g}) is no place; give x and z"))
        if not (math.isfinite(p.diameter) and p.diameter > 0):
            faults.append(
                Fault(p.name, f"diameter {p.diameter:g} m is not possible; give more than 0")
            )
    if faults:
        raise InputError(*faults)
    for a, b in itertools.combinations(pulleys, 2):
        _check_pair(a, b)


def _check_pair(a: Placed, b: Placed) -> None:
    apart, least = math.hypot(a.x - b.x, a.z - b.z), (a.diameter + b.diameter) / 2
    if apart >= least:
        return
    if apart <= abs(a.diameter - b.diameter) / 2:
        small, large = sorted((a, b), key=lambda p: p.diameter)
        raise InputError(
            Fault(small.name, f"stands inside {large.name}; centres must be {_m(least)} apart")
        )
    raise InputError(
        Fault(
            b.name,
            f"overlaps {a.name}: centres are {_m(apart)} apart, at least {_m(least)} is needed",
        )
    )


@dataclass(frozen=True, slots=True)
class _Way:
    """One way round, with what is wrong with it."""

    pulleys: Sequence[Placed]
    radius: tuple[float, ...]
    turns: tuple[Turn, ...]
    turn: Turn
    winding: Winding
    points: tuple[tuple[Point, Point], ...]
    faults: tuple[Fault, ...]

    def loop(self) -> TautLoop:
        """The way as a loop; only asked of a way without faults."""
        count = len(self.pulleys)
        arcs = tuple(
            Arc(
                p.name,
                p.touches,
                self.turns[n],
                float(self.winding.wrap[n]),
                self.radius[n] * float(self.winding.wrap[n]),
                self.points[n - 1][1],
                self.points[n][0],
            )
            for n, p in enumerate(self.pulleys)
        )
        spans = tuple(
            Span(
                p.name,
                self.pulleys[(n + 1) % count].name,
                float(self.winding.span[n]),
                math.remainder(float(self.winding.heading[n]), 2 * math.pi),
                *self.points[n],
            )
            for n, p in enumerate(self.pulleys)
        )
        error = float(closing_error(self.winding, self.radius, self.turns))
        return TautLoop(arcs, spans, float(self.winding.length), self.turn, error)


def _lay(pulleys: Sequence[Placed], thickness: float, turn: Turn) -> _Way:
    turns = tuple(turn if p.touches is Cover.PULLEY else Turn(-turn) for p in pulleys)
    radius = tuple((p.diameter + thickness) / 2 for p in pulleys)
    winding = wind([p.x for p in pulleys], [p.z for p in pulleys], radius, turns)
    if not np.all(np.isfinite(winding.span)):
        close = _too_close(pulleys, radius, winding)
        return _Way(pulleys, radius, turns, turn, winding, (), close)
    points = _tangent_points(pulleys, radius, turns, winding)
    faults = _obstacles(pulleys, radius, winding, points)
    missed = abs(float(turned_through(winding.wrap, turns)) - turn * 2 * math.pi)
    if not faults and missed > 1e-6:
        # Cannot happen to a closed line that does not cross itself; kept as the last guard.
        faults = (Fault("pulleys", "the wrap angles do not add up to one full turn"),)
    return _Way(pulleys, radius, turns, turn, winding, points, faults)


def _tangent_points(
    pulleys: Sequence[Placed], radius: Sequence[float], turns: Sequence[Turn], winding: Winding
) -> tuple[tuple[Point, Point], ...]:
    """Start and end of the span that leaves each pulley."""
    points = []
    for n, heading in enumerate(winding.heading.tolist()):
        normal = (-math.sin(heading), math.cos(heading))
        ends = []
        for k in (n, (n + 1) % len(pulleys)):
            reach = turns[k] * radius[k]
            ends.append((pulleys[k].x - reach * normal[0], pulleys[k].z - reach * normal[1]))
        points.append((ends[0], ends[1]))
    return tuple(points)


def _too_close(
    pulleys: Sequence[Placed], radius: Sequence[float], winding: Winding
) -> tuple[Fault, ...]:
    faults = []
    for n in np.flatnonzero(~np.isfinite(winding.span)).tolist():
        k = (n + 1) % len(pulleys)
        a, b = pulleys[n], pulleys[k]
        apart = math.hypot(a.x - b.x, a.z - b.z)
        faults.append(
            Fault(
                b.name,
                f"the belt cannot pass between it and {a.name}: centres are {_m(apart)} apart, "
                f"more than {_m(radius[n] + radius[k])} is needed",
            )
        )
    return tuple(faults)


def _obstacles(
    pulleys: Sequence[Placed],
    radius: Sequence[float],
    winding: Winding,
    points: Sequence[tuple[Point, Point]],
) -> tuple[Fault, ...]:
    """All that is in the belt's way: pulleys not reached, strands crossed, pulleys run into."""
    count = len(pulleys)
    strand = [f"{p.name} to {pulleys[(n + 1) % count].name}" for n, p in enumerate(pulleys)]
    faults = [
        Fault(
            p.name,
            f"the belt would wrap it by {math.degrees(winding.wrap[n]):.0f}° and cross itself "
            f"there: it does not reach this pulley with the {p.touches.value}; give the other "
            "cover, or correct its place or the order",
        )
        for n, p in enumerate(pulleys)
        if winding.wrap[n] > math.pi and _cross(points[n - 1], points[n])
    ]
    faults.extend(
        Fault(
            strand[n],
            f"the belt crosses the strand {strand[k]}: a bend pulley is missing, or the order "
            "or a touching cover is wrong",
        )
        for n, k in itertools.combinations(range(count), 2)
        if _cross(points[n], points[k])
    )
    faults.extend(
        Fault(
            pulleys[k].name,
            f"stands in the way of the belt, strand {strand[n]}; correct its place or the order",
        )
        for n, k in itertools.product(range(count), range(count))
        if k not in {n, (n + 1) % count}
        and _distance((pulleys[k].x, pulleys[k].z), *points[n]) < radius[k] * (1 - _TIGHT)
    )
    return tuple(faults)


def _cross(one: tuple[Point, Point], other: tuple[Point, Point]) -> bool:
    """Whether two strands cross; touching at an end is no crossing."""
    (a, b), (c, d) = one, other
    tiny = _TIGHT * max(math.dist(a, b), math.dist(c, d)) ** 2
    return (
        _side(a, b, c) * _side(a, b, d) < 0
        and _side(c, d, a) * _side(c, d, b) < 0
        and min(abs(_side(*s)) for s in ((a, b, c), (a, b, d), (c, d, a), (c, d, b))) > tiny
    )


def _side(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _distance(p: Point, a: Point, b: Point) -> float:
    """Distance of a point from a strand."""
    length = math.dist(a, b)
    if length == 0:
        return math.dist(p, a)
    along = ((p[0] - a[0]) * (b[0] - a[0]) + (p[1] - a[1]) * (b[1] - a[1])) / length**2
    share = min(1.0, max(0.0, along))
    return math.dist(p, (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])))


def _m(value: float) -> str:
    return show(value, Kind.DISTANCE)
