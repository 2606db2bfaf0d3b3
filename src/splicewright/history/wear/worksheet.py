"""When a place is worn out, number by number: the worksheet that explains it."""

from __future__ import annotations

import math

from splicewright.history.wear.line import use_at_limit
from splicewright.history.wear.study import PlaceWear, WearStudy
from splicewright.plant.conveyor import slug
from splicewright.quantities import Figure, Kind, Record, Worksheet, joined, measured, show, stated

_TOLD_FOR = {Kind.RUN_TIME: 3.6e6, Kind.TONNAGE: 1e6, Kind.TURNS: 1e3}
"""Use for which wear is told: 1000 h, 1000 t, 1000 turns [s, kg, -]."""
_LINE = "robust line through the readings: those far off count less (Huber); least squares else"
_ROBUST = "standard deviation of the readings about that line, no less than gauge and rounding"
_BAND = (
    "where the band of one further reading holds the limit: line ± q s √(1 + its own doubt), q of "
    "Student's t"
)
_DAYS = (
    "use left over the use of a day by the meter: the mean of all days for the likely date, the "
    "slowest and fastest tenth of them for the others"
)
_CURVE = "where the fitted curve, and its band, meet the limit, for wear speeds up for sure"


def record_of_wear(study: WearStudy) -> Record:
    """Explain every number of a study of wear.

    Returns a worksheet under the keys ``wear.*``, of several places ``wear.PLACE.*``.
    """
    return joined([(slug(p.series.place), record_of_place(p)) for p in study.places])


def record_of_place(place: PlaceWear) -> Record:
    """Explain every number of the forecast of one place.

    place : judged
    Returns a worksheet under the keys ``wear.*``; what is not known is not in it.
    """
    sheet, f = Worksheet(), place.forecast
    kind, line = f.measure.kind, f.line
    count = measured("wear.readings", "readings", len(place.series.readings), Kind.COUNT, "on file")
    now = measured("wear.now", "use at the last reading", f.now, kind, "as read")
    limit = stated("wear.limit", "worn out at", f.limit, Kind.LENGTH, place.series.source)
    if line is None:
        return sheet.finish()
    rests: list[Figure] = [count, now]
    start = sheet.found(
        "wear.start",
        "value of the line at use 0",
        line.intercept,
        Kind.LENGTH,
        _LINE,
        rests,
        "nist-line",
    )
    # Of one second, kilogram or turn it would be so little that it is shown as 0.
    per = stated("wear.use", "use for which wear is told", _TOLD_FOR[kind], kind, "for reading")
    slope = sheet.found(
        "wear.slope",
        f"wear in {show(_TOLD_FOR[kind], kind)}",
        line.slope * _TOLD_FOR[kind],
        Kind.LENGTH,
        _LINE,
        rests,
        "nist-line",
    )
    parts: list[Figure] = [limit, start, slope]
    if line.freedom > 1e-9:
        parts.append(
            sheet.found(
                "wear.spread",
                "readings scatter by",
                line.spread,
                Kind.LENGTH,
                _ROBUST,
                rests,
                "nist-line",
            )
        )
    for number, wild in enumerate(f.wild, 1):
        key, name = f"wear.far_{number}", f"far off, {wild.reading.label}"
        use = measured(f"{key}.use", f"{name}: use", wild.reading.use, kind, "on file")
        read = measured(f"{key}.read", f"{name}: read", wild.reading.value, Kind.LENGTH, "on file")
        label = f"{name}: by the line"
        ends = [start, slope, use, read]
        sheet.found(f"{key}.line", label, wild.expected, Kind.LENGTH, _LINE, ends, "nist-line")
    if math.isfinite(f.likely) and f.by_curve:
        sheet.found(
            "wear.likely",
            "worn out at, likely",
            f.likely,
            kind,
            _CURVE,
            [limit, *rests],
            "nist-curve",
        )
    elif math.isfinite(f.likely):
        sheet.work(
            "wear.likely",
            "worn out at, likely",
            use_at_limit,
            kind,
            limit=limit,
            intercept=start,
            wear=slope,
            use=per,
        )
    text = _CURVE if f.by_curve else _BAND
    for key, label, value in (
        ("earliest", "not before", f.earliest),
        ("latest", "at the latest", f.latest),
    ):
        if math.isfinite(value) and line.freedom > 1e-9:
            sheet.found(f"wear.{key}", f"worn out {label}", value, kind, text, parts, "nist-line")
    if f.bend is not None and math.isfinite(f.bend.chance):
        sheet.found(
            "wear.bend",
            "chance that a straight line bends so",
            f.bend.chance,
            Kind.SHARE,
            "F of line and curve through the same readings",
            rests,
            "nist-curve",
        )
    _dates(sheet, place, parts)
    sheet.found(
        "wear.first",
        "chance that it is the first place",
        place.chance_first,
        Kind.SHARE,
        "share of 10,000 draws of all lines from their doubt in which it is",
        parts,
        "nist-line",
    )
    return sheet.finish()


def _dates(sheet: Worksheet, place: PlaceWear, parts: list[Figure]) -> None:
    """Dates, as times from the last dated reading."""
    if not place.series.days:
        return
    last = max(day for day, _ in place.series.days)
    for kind, dates in (("", place.dates), ("other_", place.other_dates)):
        for end in ("earliest", "likely", "latest"):
            day = getattr(dates, end, None)
            if day is not None:
                by = "by the one of line and curve that does not count" if kind else ""
                label = f"from the last reading to the {end} date {by}".rstrip()
                time = (day - last).total_seconds()
                sheet.found(f"wear.{kind}{end}_in", label, time, Kind.TIME, _DAYS, parts)
