"""The reports on wear and on the life of joints, as PDF, and their drawings as SVG."""

from __future__ import annotations

import math

from splicewright.history.wear.study import NOT_ENOUGH, PlaceWear, WearStudy
from splicewright.quantities import Kind, System, percent, show
from splicewright.sheets.canvas.paper import A4, Paper
from splicewright.sheets.drawings.wear import wear_diagram
from splicewright.sheets.pages.drawings import MARGIN, Drawings
from splicewright.sheets.pages.report import key_number, report
from splicewright.sheets.pages.section import Section
from splicewright.sheets.words.wear import date_of, place_words

_WEAR_CAUTIONS = (
    "Wear is taken to go on as it has: another material, speed, scraper or loading makes the "
    "forecast void. Measure again; a new reading moves it.",
    "Plan by the earliest end, not by the likely one. Nothing read was dropped; readings far off "
    "count less and are named.",
    "Dates take the slowest and fastest tenth of the use between dated readings for the months to "
    "come.",
)


def wear_report(study: WearStudy, system: System = "metric", paper: Paper = A4) -> bytes:
    """Return the report on wear as PDF; the same study gives the same bytes."""
    drawings = Drawings({}, {})
    sections = []
    for number, place in enumerate(study.places, 1):
        drawings.paste(
            f"wear-{number}", wear_diagram(study, place, system), paper.width - 2 * MARGIN
        )
        words = place_words(place, system)
        sections.append(Section(place.series.place, words, (f"wear-{number}",)))
    first = study.places[0]
    answer = [f"{p.series.place}: {p.answer.say(system)}" for p in study.places]
    return report(
        "Wear report",
        study.name,
        study.invented,
        f"Readings over {study.measure.value}; {percent(study.confidence)} ranges.",
        answer,
        _first_place(first, len(study.places), system),
        sections,
        _WEAR_CAUTIONS,
        drawings,
        paper,
    )


def _first_place(place: PlaceWear, places: int, system: System) -> list[dict[str, str]]:
    forecast, kind = place.forecast, place.forecast.measure.kind
    rows = [
        key_number(
            "goes first",
            place.series.place,
            f"first of {places} with a chance of {percent(place.chance_first)}",
        ),
        key_number(
            "worn out at, likely", _or_not(forecast.likely, kind, system), date_of(place, "likely")
        ),
        key_number(
            "not before",
            _or_not(forecast.earliest, kind, system) if place.enough else NOT_ENOUGH,
            date_of(place, "earliest") if place.enough else "",
        ),
    ]
    return rows if places > 1 else rows[1:]


def _or_not(value: float, kind: Kind, system: System) -> str:
    return show(value, kind, system) if math.isfinite(value) else NOT_ENOUGH
