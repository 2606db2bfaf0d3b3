"""The words of the reports on wear and life: the same on paper and on the screen."""

from __future__ import annotations

from splicewright.history.wear.study import PlaceWear, WearStudy
from splicewright.quantities import Kind, System, percent, show
from splicewright.sheets.pages.section import as_sentence


def place_words(place: PlaceWear, system: System) -> tuple[str, ...]:
    """What the readings of one place say."""
    forecast = place.forecast
    kind = forecast.measure.kind
    lines = [as_sentence(place.answer.say(system))]
    if place.when:
        lines.append(as_sentence(place.when))
    if forecast.line is not None and forecast.line.freedom > 1e-9:
        spread = show(forecast.line.spread, Kind.LENGTH, system)
        lines.append(f"Readings scatter by {spread} about the line (one standard deviation).")
    lines += [
        f"Far off and counted less: {w.reading.label} at {show(w.reading.use, kind, system)} read "
        f"{show(w.reading.value, Kind.LENGTH, system)}, the line gives "
        f"{show(w.expected, Kind.LENGTH, system)}."
        for w in forecast.wild
    ]
    lines += course_words(place, system)
    return tuple(lines)


def course_words(place: PlaceWear, system: System) -> list[str]:
    """Line, levelling off or speeding up, and dates by the one not in the answer."""
    if place.course is None:
        return []
    lines = [as_sentence(place.course.say(system))]
    dates = place.other_dates
    if dates is not None and dates.likely is not None:
        latest = dates.latest or "no latest date"
        by = "line" if place.forecast.by_curve else "curve"
        lines.append(f"Dates by the {by}: likely {dates.likely}, {dates.earliest} to {latest}.")
    return lines


def date_of(place: PlaceWear, which: str) -> str:
    """One of the dates of a place, or why there is none."""
    if place.dates is None:
        return f"no date: {place.no_dates}"
    day = getattr(place.dates, which)
    return str(day) if day else "no date"


def wear_lines(study: WearStudy, system: System) -> list[str]:
    """All places, the one that goes first at the head."""
    several = len(study.places) > 1
    lines = [f"{study.name}: by {study.measure.value}, {percent(study.confidence)} ranges"]
    for number, place in enumerate(study.places, 1):
        turn = f"{number}. " if several else ""
        first = f" [first with a chance of {percent(place.chance_first)}]" if several else ""
        lines.append(f"{turn}{place.series.place}: {place.answer.say(system)}{first}")
        if place.when:
            lines.append(f"   {place.when}")
        lines += [
            f"   ! far off the line and counted less: {wild.reading.label}"
            for wild in place.forecast.wild
        ]
        lines += [f"   {line}" for line in course_words(place, system)]
    return lines
