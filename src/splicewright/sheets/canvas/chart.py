"""Axes of a diagram in millimetres of paper: round steps, numbers, light lines behind."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from splicewright.quantities import POLICY, Kind, System
from splicewright.sheets.canvas.scene import OUTLINE, Item, Line, Pen, Point, Polyline, Text

GRID = Pen("grid", 0.18, grey=0.6)
INVENTED = " Invented data: not for real work."
"""Behind what a diagram says of itself when its data are invented."""
_STEPS = (1.0, 2.0, 2.5, 5.0)
SHEET, PHONE = 150.0, 62.0
"""Width of a diagram on a sheet, and drawn for a phone, whose letters stay as large [mm]."""


def ticks_on(wide: float) -> int:
    """How many numbers an axis of `wide` mm carries."""
    return 8 if wide > 100.0 else 4


def ladder(top: float, kind: Kind, system: System, most: int) -> tuple[float, float]:
    """A round step in the shown unit that gives at most `most` rungs: SI step, and SI per unit."""
    factor = POLICY[kind].shown(system).factor
    rough = top / factor / most
    decade = 10.0 ** math.floor(math.log10(rough)) if rough > 0 else 1.0
    step = next((s * decade for s in _STEPS if s * decade >= rough), 10 * decade)
    return step * factor, factor


@dataclass(frozen=True, slots=True)
class Chart:
    """A diagram's frame: SI values from 0 to `right` and `top` on `wide` by `high` mm of paper."""

    wide: float
    high: float
    right: float
    top: float

    def at(self, x: float, y: float) -> Point:
        """Where a pair of values lies; values outside the frame are drawn on its edge."""
        return (
            self.wide * min(max(x / self.right, 0.0), 1.0),
            self.high * min(max(y / self.top, 0.0), 1.0),
        )

    def curve(self, points: Iterable[tuple[float, float]], pen: Pen) -> list[Item]:
        """A line through the values that lie in the frame; it stops where it leaves it."""
        runs: list[list[Point]] = [[]]
        for x, y in points:
            if math.isfinite(y) and 0 <= x <= self.right and 0 <= y <= self.top:
                runs[-1].append(self.at(x, y))
            elif runs[-1]:
                runs.append([])
        return [Polyline(tuple(run), pen) for run in runs if len(run) > 1]

    def axes(self, x: Kind, x_title: str, y: Kind, y_title: str, system: System) -> list[Item]:
        """Both axes with numbers in the shown units."""
        items: list[Item] = []
        step, unit = ladder(self.top, y, system, 6)
        for rung in range(math.floor(self.top / step + 1e-9) + 1):
            height = self.at(0.0, rung * step)[1]
            items.append(Line((-1.5, height), (self.wide, height), GRID))
            items.append(Text((-2.5, height), f"{rung * step / unit:.6g}", 2.8, "end", "middle"))
        title = f"{y_title}, {POLICY[y].shown(system).unit}"
        items.append(Text((0.0, self.high + 4.0), title, 2.8, bold=True))
        step, unit = ladder(self.right, x, system, ticks_on(self.wide))
        for tick in range(math.floor(self.right / step + 1e-9) + 1):
            along = self.at(tick * step, 0.0)[0]
            items.append(Line((along, 0.0), (along, -1.5), OUTLINE))
            items.append(Text((along, -2.5), f"{tick * step / unit:.6g}", 2.8, "middle", "top"))
        title = f"{x_title}, {POLICY[x].shown(system).unit}"
        items.append(Text((self.wide, -7.5), title, 2.8, "end", "top", bold=True))
        items.append(Line((0.0, 0.0), (self.wide, 0.0), OUTLINE))
        items.append(Line((0.0, 0.0), (0.0, self.high), OUTLINE))
        return items


def key(entries: Iterable[tuple[str, Pen]], at: Point, wide: float) -> list[Item]:
    """Which line means what, from `at` on, in rows no wider than `wide` mm."""
    from splicewright.sheets.canvas.expansion import text_width

    items: list[Item] = []
    x, y = at
    for words, pen in entries:
        length = 13.5 + text_width(words, 2.6)
        if x > at[0] and x + length > at[0] + wide:
            x, y = at[0], y - 5.0
        items.append(Line((x, y), (x + 12.0, y), pen))
        items.append(Text((x + 13.5, y), words, 2.6, "start", "middle"))
        x += length + 6.0
    return items
