"""The reports on wear and on the life of joints, as PDF, and their drawings as SVG."""

from __future__ import annotations

import math

from splicewright.history import Limits, WearStudy
from splicewright.history.life_study import LifeStudy
from splicewright.history.wear_study import NOT_ENOUGH, PlaceWear
from splicewright.quantities import Kind, System, show
from splicewright.sheets.drawing_pages import MARGIN, Drawings
from splicewright.sheets.history_words import (
    Section,
    date_of,
    life_answer,
    life_tables,
    life_words,
    place_words,
    span_of,
)
from splicewright.sheets.life_sheet import life_diagram
from splicewright.sheets.page import A4, Paper
from splicewright.sheets.report_page import key_number, report
from splicewright.sheets.wear_sheet import wear_diagram

_WEAR_CAUTIONS = (
    "Wear is taken to go on as it has: another material, speed, scraper or loading makes the "
    "forecast void. Measure again; a new reading moves it.",
    "Plan by the earliest end, not by the likely one. Nothing read was dropped; readings far off "
    "count less and are named.",
    "Dates take the slowest and fastest tenth of the use between dated readings for the months to "
    "come.",
)
_LIFE_CAUTIONS = (
    "A joint that was renewed counts as new. Joints of one record are taken to live under alike "
    "duty; a new material, speed or crew makes the forecast void.",
    "Joints taken out good count as good to that age. Failures found at a look count as failed "
    "somewhere since the look before.",
    "Forecasts serve to plan inspections and stock. They do not "
    "clear a joint for service; only a look does that.",
)


def wear_report(study: WearStudy, system: System = "metric", paper: Paper = A4) -> bytes:
    """Return the report on wear as PDF; the same study gives the same bytes.

    Parameters
    ----------
    study : of all places
    system : "metric" or "inch"
    paper : A4 or LETTER
    """
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
        "Wear report", study.name, study.invented,
        f"Readings over {study.measure.value}; {study.confidence:.0%} ranges.",
        answer, _first_place(first, len(study.places), system), sections, _WEAR_CAUTIONS,
        drawings, paper,
    )  # fmt: skip


def life_report(study: LifeStudy, system: System = "metric", paper: Paper = A4) -> bytes:
    """Return the report on the life of joints as PDF; the same study gives the same bytes.

    Parameters
    ----------
    study : of the joints
    system : "metric" or "inch", for tonnage
    paper : A4 or LETTER
    """
    drawings = Drawings({}, {})
    sections = []
    if study.failures:
        drawings.paste("life", life_diagram(study, system), paper.width - 2 * MARGIN)
        sections.append(Section("Share still good", tuple(life_words(study)), ("life",)))
    sections += life_tables(study, system)
    of = f", {study.cause} only" if study.cause else ""
    return report(
        "Life report", study.name, study.invented,
        f"{study.number} joints by {study.measure.value}{of}; {study.confidence:.0%} limits.",
        life_answer(study, system), _life_numbers(study, system), sections, _LIFE_CAUTIONS,
        drawings, paper,
    )  # fmt: skip


def _life_numbers(study: LifeStudy, system: System) -> list[dict[str, str]]:
    if not study.settled:
        return []
    s = study.settled
    use = study.measure.kind
    return [
        key_number("one in ten failed by", show(s.tenth, use, system),
                span_of(s.tenth_limits, study, system)),
        key_number("half failed by", show(s.half, use, system),
                   span_of(s.half_limits, study, system)),
        key_number("mean life", show(s.law.mean, use, system),
                   span_of(s.mean_limits, study, system)),
        key_number("shape", f"{s.law.shape:.2f}", _plain(s.shape)),
        key_number("63 % failed by (scale)", show(s.law.scale, use, system),
                span_of(s.scale, study, system)),
        key_number("failed / joints", f"{study.failures} / {study.number}", "the rest still good"),
    ]  # fmt: skip


def _first_place(place: PlaceWear, places: int, system: System) -> list[dict[str, str]]:
    forecast, kind = place.forecast, place.forecast.measure.kind
    found = [
        key_number("goes first", place.series.place,
                f"first of {places} with a chance of {place.chance_first:.0%}"),
        key_number("worn out at, likely", _or_not(forecast.likely, kind, system),
                date_of(place, "likely")),
        key_number("not before", _or_not(forecast.earliest, kind, system) if place.enough
                else NOT_ENOUGH, date_of(place, "earliest") if place.enough else ""),
    ]  # fmt: skip
    return found if places > 1 else found[1:]


def _or_not(value: float, kind: Kind, system: System) -> str:
    return show(value, kind, system) if math.isfinite(value) else NOT_ENOUGH


def _plain(limits: Limits) -> str:
    high = "no upper limit" if math.isinf(limits.high) else f"{limits.high:.2f}"
    return f"{limits.low:.2f} to {high}"
