"""The words of the ways at a torn or worn place; paper and screen alike."""

from __future__ import annotations

from splicewright.history.decision.options import Verdict
from splicewright.history.decision.study import DecisionStudy
from splicewright.quantities import System, percent, show_time
from splicewright.sheets.words.fleet import money

DECIDES = (
    "The tool ranks the options; people decide. Local law, site rules, the maker's instructions "
    "and a competent person take precedence."
)


def verdict_words(verdict: Verdict, number: int, units: System) -> list[str]:
    """One way: the first line what it takes and gives, then the reasons."""
    option = verdict.option
    if not verdict.possible:
        why = "; ".join(sentence.say(units) for sentence in verdict.refused)
        return [f"-  {option.way}: cannot be done: {why}"]
    first = (
        f"{number}. {option.way}: {show_time(option.time)}, expected cost "
        f"{money(verdict.expected_cost)}, keeps {percent(option.kept_strength)} of the "
        "belt's strength"
    )
    return [first, *(f"     {sentence.say(units)}" for sentence in verdict.reasons)]


def steady_words(study: DecisionStudy) -> str:
    """How far the order hangs on what a failure costs."""
    half, double = study.if_half or "none", study.if_double or "none"
    if study.best is None:
        return "None of these options can be done."
    if study.steady:
        return "The first option stays first if a failure costs half or double."
    return f"If a failure costs half: {half} first; if double: {double} first."


def decision_lines(study: DecisionStudy, system: System) -> list[str]:
    """The options, best first, and how far their order hangs on what a failure costs."""
    lines = [study.decision.name]
    for number, verdict in enumerate(study.verdicts, 1):
        lines += verdict_words(verdict, number, system)
    return [*lines, steady_words(study), DECIDES]
