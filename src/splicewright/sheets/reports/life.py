"""The report on the life of joints, as PDF."""

from __future__ import annotations

import math

from splicewright.history.life.limits import Limits
from splicewright.history.life.study import LifeStudy
from splicewright.quantities import System, percent, show
from splicewright.sheets.canvas.paper import A4, Paper
from splicewright.sheets.drawings.life import life_diagram
from splicewright.sheets.pages.drawings import MARGIN, Drawings
from splicewright.sheets.pages.report import key_number, report
from splicewright.sheets.pages.section import Section, as_sentence
from splicewright.sheets.words.dates import pace_words
from splicewright.sheets.words.life import life_answer, life_tables, life_words, span_of

_LIFE_CAUTIONS = (
    "A joint that was renewed counts as new. Joints of one record are taken to live under alike "
    "duty; a new material, speed or crew makes the forecast void.",
    "Joints taken out good count as good to that age. Failures found at an inspection count as "
    "failed at some time since the inspection before.",
    "Forecasts serve to plan inspections and stock. They do not "
    "clear a joint for service; only an inspection does that.",
)


def life_report(study: LifeStudy, system: System = "metric", paper: Paper = A4) -> bytes:
    """Return the report on the life of joints as PDF; the same study gives the same bytes."""
    drawings = Drawings({}, {})
    sections = []
    if study.failures:
        drawings.paste("life", life_diagram(study, system), paper.width - 2 * MARGIN)
        dates = as_sentence(pace_words(study.pace, study.measure.kind, system))
        sections.append(Section("Share still good", (*life_words(study), dates), ("life",)))
    sections += life_tables(study, system)
    of = f", {study.cause} only" if study.cause else ""
    return report(
        "Life report",
        study.name,
        study.invented,
        f"{study.number} joints by {study.measure.value}{of}; {percent(study.confidence)} limits.",
        life_answer(study, system),
        _life_numbers(study, system),
        sections,
        _LIFE_CAUTIONS,
        drawings,
        paper,
    )


def _life_numbers(study: LifeStudy, system: System) -> list[dict[str, str]]:
    if not study.settled:
        return []
    s = study.settled
    use = study.measure.kind
    return [
        key_number(
            "one in ten failed by",
            show(s.tenth, use, system),
            span_of(s.tenth_limits, study, system),
        ),
        key_number(
            "half failed by", show(s.half, use, system), span_of(s.half_limits, study, system)
        ),
        key_number(
            "mean life", show(s.law.mean, use, system), span_of(s.mean_limits, study, system)
        ),
        key_number("shape", f"{s.law.shape:.2f}", _plain(s.shape)),
        key_number(
            "63 % failed by (scale)",
            show(s.law.scale, use, system),
            span_of(s.scale, study, system),
        ),
        key_number("failed / joints", f"{study.failures} / {study.number}", "the rest still good"),
    ]


def _plain(limits: Limits) -> str:
    high = "no upper limit" if math.isinf(limits.high) else f"{limits.high:.2f}"
    return f"{limits.low:.2f} to {high}"
