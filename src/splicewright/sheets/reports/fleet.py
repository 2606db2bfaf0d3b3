"""The fleet on paper: worst joints by their chance, failures by year, and the report."""

from __future__ import annotations

from dataclasses import replace

from splicewright.history.fleet.study import FleetStudy
from splicewright.quantities import System
from splicewright.sheets.canvas.paper import A4, Paper
from splicewright.sheets.drawings.fleet import fleet_chances, fleet_years
from splicewright.sheets.pages.drawings import MARGIN, Drawings
from splicewright.sheets.pages.report import key_number, report
from splicewright.sheets.pages.section import Section
from splicewright.sheets.words.fleet import counts_words, fleet_answer, fleet_sections

_CAUTIONS = (
    "A forecast does not permit the joint to run: inspect it, and let the responsible person "
    "decide that. What must not run stands first whatever its chance.",
    "Joints of one conveyor are taken to live under alike duty; conveyors borrow from each other "
    "where failures are few. After a change of material, speed or crew the forecast no longer "
    "applies.",
    "Only recorded facts are counted: the list is as complete as the register.",
)


def fleet_report(study: FleetStudy, system: System = "metric", paper: Paper = A4) -> bytes:
    """Return the report on the fleet as PDF; the same study gives the same bytes."""
    drawings = Drawings({}, {})
    sections = fleet_sections(study, system)
    wide = paper.width - 2 * MARGIN
    if study.expected > 0:
        drawings.paste("fleet-chances", fleet_chances(study), wide)
        sections.insert(1, Section("Most likely to fail", (), ("fleet-chances",)))
    if any(y.failures for y in study.years):
        drawings.paste("fleet-years", fleet_years(study), wide)
        at = next(n for n, s in enumerate(sections) if s.title == "Failures by year")
        sections[at] = _drawn(sections[at], "fleet-years")
    first = study.lines[0].urgency if study.lines else None
    numbers = [
        key_number(
            "most urgent",
            str(study.number(first)) if first else "0",
            str(first) if first else "nothing on file",
        ),
        key_number(
            "expected to fail",
            "not known" if study.why_not else f"{study.expected:.1f}",
            f"of {study.running} running, before {study.until}{counts_words(study.counts)}",
        ),
        key_number(
            "stops so far",
            str(sum(c.number for c in study.causes if c.failed)),
            _by_failures(study),
        ),
    ]
    return report(
        "Fleet",
        study.name,
        study.invented,
        f"As recorded by {study.today}; ages in {study.measure.value}.",
        fleet_answer(study, system),
        numbers,
        sections,
        _CAUTIONS,
        drawings,
        paper,
    )


def _by_failures(study: FleetStudy) -> str:
    lately = [c.lately for c in study.causes if c.failed]
    known = [n for n in lately if n is not None]
    return f"by failures, {sum(known)} in the last year" if known == lately else "by failures"


def _drawn(section: Section, name: str) -> Section:
    return replace(section, drawings=(name,))
