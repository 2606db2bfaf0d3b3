"""When each place is worn out."""

from __future__ import annotations

import math
from functools import partial

from splicewright.history.wear.study import NOT_ENOUGH, PlaceWear, WearStudy
from splicewright.quantities import Kind, System, percent, show
from splicewright.sheets.canvas.chart import PHONE
from splicewright.sheets.drawings.wear import wear_diagram
from splicewright.sheets.pages.document import (
    Diagram,
    Document,
    KeyNumber,
    Section,
    as_sentence,
    sentences,
)

_CAUTIONS = (
    "Plan by the earliest end, not by the likely one. Nothing read was dropped; readings far off "
    "count less and are named.",
    "Wear is taken to go on as it has: another material, speed, scraper or loading makes the "
    "forecast void. Measure again; a new reading moves it.",
    "A forecast does not permit the joint to run: inspect it first.",
    "Dates take the slowest and fastest tenth of the use between dated readings for the months to "
    "come.",
)
_BOX = ((940, 560), (360, 430))
_READINGS = 60
"""Readings of a place that are told; the JSON holds all."""


def wear_report(study: WearStudy, system: System = "metric") -> Document:
    """All places, the one that goes first at the head."""
    sections = (
        section
        for number in range(1, len(study.places) + 1)
        for section in place_sections(study, number, system)
    )
    return Document(
        "Wear report",
        study.name,
        f"Readings over {study.measure.value}; {percent(study.confidence)} ranges.",
        tuple(f"{as_sentence(p.series.place)[:-1]}: {_answer(p, system)}" for p in study.places),
        tuple(_first_place(study.places[0], len(study.places), system)),
        tuple(sections),
        study.notes,
        _CAUTIONS,
        study.invented,
    )


def place_sections(study: WearStudy, number: int, system: System) -> tuple[Section, Section]:
    """What the readings of one place say, counted from 1, and the readings."""
    place = study.places[number - 1]
    return _place(study, place, number, system), _readings(place, system)


def _place(study: WearStudy, place: PlaceWear, number: int, system: System) -> Section:
    forecast, series = place.forecast, place.series
    kind = forecast.measure.kind
    draw = partial(wear_diagram, study, place, system)
    limit = f"worn out at {show(series.limit, Kind.LENGTH, system)}"
    lines = [f"{limit}, {series.source}" if series.source else limit]
    if forecast.line is not None and forecast.line.freedom > 1e-9:
        spread = show(forecast.line.spread, Kind.LENGTH, system)
        lines.append(f"readings scatter by {spread} about the line (one standard deviation)")
    lines += [
        f"far off and counted less: {w.reading.label} at {show(w.reading.use, kind, system)} read "
        f"{show(w.reading.value, Kind.LENGTH, system)}, the line gives "
        f"{show(w.expected, Kind.LENGTH, system)}"
        for w in forecast.wild
    ]
    if len(study.places) > 1:
        lines.append(f"goes first with a chance of {percent(place.chance_first)}")
    says = f"Readings of {series.place} over use, line, band and limit; the table tells them"
    diagram = Diagram(f"wear-{number}", draw, partial(draw, PHONE), says, _BOX)
    points = (*sentences(lines), *course_words(place, system))
    title, says = as_sentence(series.place)[:-1], _answer(place, system)
    return Section(title, points, (diagram,), says=says)


def _answer(place: PlaceWear, system: System) -> str:
    """When the place is worn out, by use and by date."""
    return " ".join(as_sentence(one) for one in (place.answer.say(system), place.when) if one)


def _readings(place: PlaceWear, system: System) -> Section:
    """The readings of a place, the newest first."""
    wild = {id(w.reading) for w in place.forecast.wild}
    days = {use: day for day, use in place.series.days}
    kind = place.forecast.measure.kind
    rows = [
        (
            str(days.get(r.use) or "–"),
            show(r.use, kind, system),
            show(r.value, Kind.LENGTH, system),
            "far off, counted less" if id(r) in wild else "–",
        )
        for r in list(reversed(place.series.readings))[:_READINGS]
    ]
    title = f"{len(place.series.readings)} readings of {place.series.place}"
    head = ("day", "use", "read", "note")
    return Section(title, head=head, table=tuple(rows), at_hand=False)


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


def _first_place(place: PlaceWear, places: int, system: System) -> list[KeyNumber]:
    forecast, kind = place.forecast, place.forecast.measure.kind
    rows = [
        KeyNumber(
            "goes first",
            place.series.place,
            f"with a chance of {percent(place.chance_first)}",
        ),
        KeyNumber(
            "worn out at, likely", _or_not(forecast.likely, kind, system), _date(place, "likely")
        ),
        KeyNumber(
            "not before",
            _or_not(forecast.earliest, kind, system) if place.enough else NOT_ENOUGH,
            _date(place, "earliest") if place.enough else "",
        ),
    ]
    return rows if places > 1 else rows[1:]


def _date(place: PlaceWear, which: str) -> str:
    """One of the dates of a place, or why there is none."""
    if place.dates is None:
        return f"no date: {place.no_dates}"
    day = getattr(place.dates, which)
    return str(day) if day else "no date"


def _or_not(value: float, kind: Kind, system: System) -> str:
    return show(value, kind, system) if math.isfinite(value) else NOT_ENOUGH
