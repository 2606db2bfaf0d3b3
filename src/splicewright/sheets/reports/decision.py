"""The ways at a torn or worn place beside each other."""

from __future__ import annotations

from splicewright.history.decision.options import JudgedOption
from splicewright.history.decision.study import DecisionStudy
from splicewright.quantities import System, percent, show, show_time
from splicewright.sheets.pages.document import (
    COST_CAUTIONS,
    Document,
    KeyNumber,
    Point,
    Section,
    as_sentence,
)
from splicewright.sheets.words.amounts import money

_CAUTIONS = (
    "The tool ranks the options; people decide. What is found when the place is opened, local law, "
    "site rules, the maker's instructions and a competent person take precedence.",
    *COST_CAUTIONS,
)
_HEAD = (
    "way",
    "stop",
    "material and work",
    "strength kept",
    "fails before the stop",
    "expected cost",
)


def decision_report(study: DecisionStudy, system: System = "metric") -> Document:
    """The options, best first, and how far their order hangs on what a failure costs."""
    asked, best, place = study.decision, study.best, study.decision.situation
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
    until = show(place.until, asked.measure.kind, system)
    return Document(
        "Torn or worn place",
        asked.name,
        "Ways in order of cost per use until the next planned stop.",
        (*((as_sentence(f"{best.option.way} first"),) if best else ()), _steady(study)),
        (
            KeyNumber("window", show_time(place.window), "for the work"),
            KeyNumber("next planned stop after", until, "of use"),
            KeyNumber("cost of a failure", money(place.failure_cost), "as stated"),
        ),
        (
            Section(
                "The options, best first", listed=tuple(_way(v, system) for v in study.verdicts)
            ),
            Section("The options compared", head=_HEAD, table=rows),
        ),
        cautions=_CAUTIONS,
        invented=asked.invented,
    )


def _way(verdict: JudgedOption, system: System) -> Point:
    """One way: whether it can be done, what it takes and gives, and the reasons."""
    option = verdict.option
    name = str(option.way).capitalize()
    reasons = verdict.reasons if verdict.possible else verdict.refused
    why = "; ".join(sentence.say(system) for sentence in reasons)
    if not verdict.possible:
        return Point(name, why, "", "cannot be done", "bad")
    takes = (
        f"{show_time(option.time)} stop, expected cost {money(verdict.expected_cost)}, keeps "
        f"{percent(option.kept_strength)} of the belt's strength"
    )
    return Point(name, f"{takes}; {why}" if why else takes, "", "can be done", "good")


def _steady(study: DecisionStudy) -> str:
    """How far the order hangs on what a failure costs."""
    half, double = study.if_half or "none", study.if_double or "none"
    if study.best is None:
        return "None of these options can be done."
    if study.steady:
        return "The first option stays first if a failure costs half or double."
    return f"If a failure costs half: {half} first; if double: {double} first."
