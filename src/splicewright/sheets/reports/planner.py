"""The planner's page on paper."""

from __future__ import annotations

from splicewright.history.planner.study import PlannerStudy
from splicewright.quantities import System
from splicewright.sheets.canvas.paper import A4, Paper
from splicewright.sheets.pages.drawings import Drawings
from splicewright.sheets.pages.report import key_number, report
from splicewright.sheets.words.planner import PLANNER_CAUTIONS, planner_answer, planner_sections


def planner_report(study: PlannerStudy, system: System = "metric", paper: Paper = A4) -> bytes:
    """Return the planner's page as PDF; the same study gives the same bytes."""
    numbers = [
        key_number("now", str(len(study.now)), "to act on, worst first"),
        key_number(
            "to renew",
            "not weighed" if study.unweighed else str(len(study.to_renew)),
            f"at the stop on {study.until}",
        ),
        key_number(
            "past the cheapest age",
            "not weighed" if study.unweighed else str(len(study.past)),
            "and running",
        ),
    ]
    return report(
        "Planner's page",
        study.fleet.name,
        study.invented,
        f"As recorded by {study.today}; ages in {study.fleet.measure.value}.",
        planner_answer(study, system),
        numbers,
        planner_sections(study, system),
        PLANNER_CAUTIONS,
        Drawings({}, {}),
        paper,
    )
