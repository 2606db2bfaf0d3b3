"""The wear diagram of one place: readings, line, band, limit, and where they meet."""

from __future__ import annotations

import math

from splicewright.history.wear.bending import Course
from splicewright.history.wear.study import PlaceWear, WearStudy
from splicewright.quantities import Kind, System, percent, show
from splicewright.sheets.canvas.chart import INVENTED, Chart, key
from splicewright.sheets.canvas.scene import (
    BLACK,
    OUTLINE,
    Anchor,
    Circle,
    Group,
    Item,
    Line,
    Marker,
    Pen,
    Polyline,
    Scene,
    Text,
)

_WIDE, _HIGH = 150.0, 62.0
_LINE = Pen("line of wear", 0.6)
_BAND = Pen("band", 0.3, (1.2, 1.0))
_LIMIT = Pen("limit", 0.5, (6.0, 1.2, 1.0, 1.2))
_CURVE = Pen("curve", 0.5, (3.0, 1.0))
_RANGE = Pen("range of the end", 1.6)


def wear_diagram(
    study: WearStudy, place: PlaceWear, system: System = "metric", wide: float = _WIDE
) -> Scene:
    """Draw one place's readings over use, with line, band, limit and the range of its end.

    Parameters
    ----------
    place : the one to draw; wide : of the frame [mm]

    Returns
    -------
    Scene in millimetres of paper, about 165 mm by 95 mm
    """
    forecast, kind = place.forecast, study.measure.kind
    readings = place.series.readings
    right = max([r.use for r in readings] + [b.use for b in place.band]) or 1.0
    values = [r.value for r in readings] + [forecast.limit]
    if place.series.new is not None:
        values.append(place.series.new)
    chart = Chart(wide, _HIGH, right, 1.15 * max(values) or 1e-3)
    items: list[Item] = chart.axes(kind, study.measure.value, Kind.LENGTH, "reading", system)
    items += [
        Line(chart.at(0.0, forecast.limit), chart.at(right, forecast.limit), _LIMIT),
        Text(
            (1.0, chart.at(0.0, forecast.limit)[1] + 1.0),
            f"limit {show(forecast.limit, Kind.LENGTH, system)}",
            2.8,
            masked=True,
        ),
    ]
    items += chart.curve(((b.use, b.line) for b in place.band), _LINE)
    for edge in ("low", "high"):
        items += chart.curve(((b.use, getattr(b, edge)) for b in place.band), _BAND)
    wild = {id(w.reading) for w in forecast.wild}
    for reading in readings:
        at = chart.at(reading.use, reading.value)
        if id(reading) in wild:
            items.append(Marker(at, "cross", 3.4, OUTLINE))
            items.append(Text((at[0] + 2.2, at[1] + 0.8), reading.label, 2.6, masked=True))
        else:
            items.append(Circle(at, 0.9, OUTLINE, fill=BLACK))
    bent = _bent(place, right)
    items += chart.curve(bent, _CURVE)
    items += _end(chart, place, right, system)
    legend = [("line", _LINE)]
    if any(math.isfinite(b.low) for b in place.band):
        legend.append((f"{percent(study.confidence)} band of one further reading", _BAND))
    if bent:
        legend.append(("curve, wear " + _course(place), _CURVE))
    legend.append(("limit", _LIMIT))
    if _span(place, right) is not None:
        legend.append(("range of the end", _RANGE))
    items += key(legend, (0.0, -16.0), wide)
    marks = "Dots: readings." + (" Crosses: readings far off, counted less." if wild else "")
    marks += INVENTED if study.invented else ""
    return Scene((Group("wear", tuple(items)),), f"Wear of {place.series.place}", marks)


def _bent(place: PlaceWear, right: float) -> list[tuple[float, float]]:
    """The curve where the readings bend clearly, from the first reading on."""
    bend = place.forecast.bend
    if bend is None or bend.curve is None or bend.course not in {Course.LEVELS, Course.SPEEDS}:
        return []
    begin, limit = bend.curve.origin, place.forecast.limit
    end = min(right, bend.likely)  # beyond the limit it means nothing
    uses = [begin + (end - begin) * i / 48 for i in range(49)]
    heights = (float(h) for h in bend.curve.at(uses))
    falling = bend.curve.start > limit
    return [
        (u, max(h, limit) if falling else min(h, limit)) for u, h in zip(uses, heights, strict=True)
    ]


def _course(place: PlaceWear) -> str:
    return place.forecast.bend.course.value if place.forecast.bend is not None else ""


def _span(place: PlaceWear, right: float) -> tuple[float, float] | None:
    """Uses between which the end lies, as far as they are drawn."""
    f = place.forecast
    if f.line is None or f.line.freedom <= 1e-9 or f.met or math.isinf(f.likely):
        return None
    return (f.earliest, min(f.latest, right)) if f.earliest < right else None


def _end(chart: Chart, place: PlaceWear, right: float, system: System) -> list[Item]:
    """The range of the end as a bar on the limit, the likely end as a post, with dates."""
    f = place.forecast
    span = _span(place, right)
    if span is None:
        return []
    y = chart.at(0.0, f.limit)[1]
    low, high = (chart.at(u, 0.0)[0] for u in span)
    items: list[Item] = [Line((low, y), (high, y), _RANGE)]
    if math.isinf(f.latest) or f.latest > right:
        arrow = ((high - 3.0, y + 1.6), (high, y), (high - 3.0, y - 1.6))
        items.append(Polyline(arrow, OUTLINE))
    if f.likely <= right:
        x = chart.at(f.likely, 0.0)[0]
        items.append(Line((x, y + 3.0), (x, 0.0), OUTLINE))
        label = show(f.likely, f.measure.kind, system)
        if place.dates is not None and place.dates.likely is not None:
            label += f", {place.dates.likely}"
        # At the foot of the post, where no reading lies.
        left = x > 0.45 * chart.wide
        place_at = (x - 1.5 if left else x + 1.5, 2.0)
        anchor: Anchor = "end" if left else "start"
        items.append(Text(place_at, label, 2.8, anchor, bold=True, masked=True))
    return items
