"""The fleet drawn: worst joints by their chance, failures by year."""

from __future__ import annotations

import math

from splicewright.history.fleet.study import FleetLine, FleetStudy
from splicewright.quantities import Kind, percent
from splicewright.sheets.canvas.chart import GRID, INVENTED, ladder
from splicewright.sheets.canvas.expansion import text_width
from splicewright.sheets.canvas.scene import (
    OUTLINE,
    Group,
    Item,
    Line,
    Point,
    Polyline,
    Scene,
    Text,
)

_WIDE, _ROW, _HIGH = 100.0, 5.4, 52.0


_SHOWN = 20


_YEARS = 12


_YEAR = 8.0
"""The least width of a year with its number under it [mm]."""


_WIDEST = 14.0
"""Of a bar [mm]: two years alone are not two black walls."""
_LONGEST = 30


_SHADES = (0.0, 0.5, 0.78, 1.0)


def fleet_chances(study: FleetStudy) -> Scene:
    """Draw the joints most likely to fail before the next stop as bars.

    Returns
    -------
    Scene in millimetres of paper, a row for each of 20 joints at most
    """
    known = [line for line in study.lines if math.isfinite(line.chance)]
    lines = sorted(known, key=lambda line: -line.chance)[:_SHOWN]
    right = 1.05 * max((line.chance for line in lines), default=1.0) or 1.0
    low = -_ROW * len(lines)
    step, unit = ladder(right, Kind.SHARE, "metric", 6)
    items: list[Item] = []
    for tick in range(math.floor(right / step + 1e-9) + 1):
        x = _WIDE * tick * step / right
        items.append(Line((x, 0.0), (x, low), GRID))
        items.append(Text((x, 1.5), f"{tick * step / unit:.6g} %", 2.6, "middle"))
    for row, line in enumerate(lines):
        y = -_ROW * (row + 0.5)
        end = _WIDE * line.chance / right
        items.append(_box((0.0, y - 1.6), (end, y + 1.6), 0.6))
        items.append(Text((-1.5, y), _called(line), 2.6, "end", "middle"))
        items.append(
            Text((end + 1.2, y), percent(line.chance, 1), 2.6, "start", "middle", masked=True)
        )
    items.append(Line((0.0, 0.0), (0.0, low), OUTLINE))
    caption = (
        f"Chance of failing before {study.until}, the {len(lines)} joints most likely to fail."
    )
    caption += INVENTED if study.invented else ""
    return Scene((Group("chances", tuple(items)),), "Joints most likely to fail", caption)


def fleet_years(study: FleetStudy, wide: float = 150.0) -> Scene:
    """Draw the failures of each year as bars, shaded by cause.

    Returns
    -------
    Scene in millimetres of paper, the last twelve years at most, as far as their numbers fit
    """
    years = study.years[-min(_YEARS, int(wide // _YEAR)) :]
    totals: dict[str, int] = {}
    for year in years:
        for cause, count in year.causes:
            totals[cause] = totals.get(cause, 0) + count
    first = sorted(totals, key=lambda c: (-totals[c], c))[: len(_SHADES) - 1]
    top = max(1.0, 1.1 * max(y.failures for y in years))
    step = ladder(top, Kind.COUNT, "metric", 6)[0]
    step = max(1.0, float(math.ceil(step)))
    each = wide / len(years)
    items: list[Item] = []
    for rung in range(math.floor(top / step + 1e-9) + 1):
        y = _HIGH * rung * step / top
        items.append(Line((-1.5, y), (wide, y), GRID))
        items.append(Text((-2.5, y), f"{rung * step:.0f}", 2.8, "end", "middle"))
    for n, year in enumerate(years):
        counts = dict(year.causes)
        parts = [counts.get(cause, 0) for cause in first]
        parts.append(year.failures - sum(parts))
        middle, half, reached = (n + 0.5) * each, min(0.3 * each, _WIDEST / 2), 0.0
        left, right = middle - half, middle + half
        for part, shade in zip(parts, (*_SHADES[: len(first)], _SHADES[-1]), strict=True):
            if part:
                high = reached + _HIGH * part / top
                items.append(_box((left, reached), (right, high), shade))
                reached = high
        items.append(Text((middle, -2.0), str(year.year), 2.8, "middle", "top"))
        rate = f"{year.failures / year.watched:.2g}" if year.watched > 0.5 else ""
        items.append(Text((middle, reached + 1.2), rate, 2.6, "middle", masked=True))
    items.append(Line((0.0, 0.0), (wide, 0.0), OUTLINE))
    # Pages show no caption: what a number over a bar is stands in the drawing.
    says = "failures; over each bar: per joint and year"
    items.append(Text((0.0, _HIGH + 4.0), says, 2.8, bold=True))
    items += _shade_key(first, len(totals) > len(first), wide)
    caption = INVENTED.strip() if study.invented else ""
    return Scene((Group("years", tuple(items)),), "Failures by year and cause", caption)


def _shade_key(causes: list[str], others: bool, wide: float) -> list[Item]:
    items: list[Item] = []
    x, y = 0.0, -12.0
    named = [*zip(causes, _SHADES, strict=False), *([("other", _SHADES[-1])] if others else [])]
    for words, shade in named:
        length = 6.5 + text_width(words, 2.6)
        if x and x + length > wide:
            x, y = 0.0, y - 5.0
        items.append(_box((x, y - 1.5), (x + 5.0, y + 1.5), shade))
        items.append(Text((x + 6.5, y), words, 2.6, "start", "middle"))
        x += length + 5.5
    return items


def _box(low: Point, high: Point, shade: float) -> Polyline:
    corners = ((low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1]))
    return Polyline(corners, OUTLINE, True, shade)


def _called(line: FleetLine) -> str:
    words = f"{line.conveyor}, {line.what}"
    return words if len(words) <= _LONGEST else words[: _LONGEST - 1] + "…"
