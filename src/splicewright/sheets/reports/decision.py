"""The ways at a torn or worn place beside each other, as PDF."""

from __future__ import annotations

from splicewright.history.decision.study import DecisionStudy
from splicewright.quantities import System, percent, show, show_time
from splicewright.sheets.canvas.paper import A4, Paper
from splicewright.sheets.pages.drawings import Drawings
from splicewright.sheets.pages.report import COST_CAUTIONS, key_number, report
from splicewright.sheets.pages.section import Section, as_sentence
from splicewright.sheets.words.decision import steady_words
from splicewright.sheets.words.fleet import money

_PLACE_CAUTIONS = (
    "The tool ranks the options; people decide. What is found when the place is opened takes "
    "precedence.",
    *COST_CAUTIONS,
)


def decision_report(study: DecisionStudy, system: System = "metric", paper: Paper = A4) -> bytes:
    """Return the ways at a torn or worn place as PDF."""
    asked = study.decision
    rows = tuple(
        (
            str(v.option.way) if v.possible else f"{v.option.way} (cannot be done)",
            show_time(v.option.time),
            money(v.option.cost),
            percent(v.option.kept_strength),
            percent(v.chance_of_failing),
            money(v.expected_cost),
        )
        for v in study.verdicts
    )
    sections = [
        Section(
            "The options compared",
            (),
            head=(
                "way",
                "stop",
                "material and work",
                "strength kept",
                "fails before the stop",
                "expected cost",
            ),
            table=rows,
        )
    ]
    for verdict in study.verdicts:
        reasons = verdict.reasons if verdict.possible else verdict.refused
        sections.append(
            Section(
                str(verdict.option.way).capitalize(),
                tuple(as_sentence(s.say(system)) for s in reasons),
            )
        )
    best = study.best
    first = f"{best.option.way} first" if best else "none of these ways can be done"
    place = asked.situation
    numbers = [
        key_number("window", show_time(place.window), "for the work"),
        key_number(
            "next planned stop after", show(place.until, asked.measure.kind, system), "of use"
        ),
        key_number("cost of a failure", money(place.failure_cost), "as stated"),
    ]
    return report(
        "Torn or worn place",
        asked.name,
        asked.invented,
        "Ways in order of cost per use until the next planned stop.",
        [as_sentence(first), steady_words(study)],
        numbers,
        sections,
        _PLACE_CAUTIONS,
        Drawings({}, {}),
        paper,
    )
