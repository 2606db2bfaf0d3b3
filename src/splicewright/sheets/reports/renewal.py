"""At what age to renew a joint, by what things cost."""

from __future__ import annotations

import math

from splicewright.history.inspection_interval.study import WhenToRenew
from splicewright.quantities import System, percent, show
from splicewright.sheets.pages.document import KeyNumber, Section, sentences
from splicewright.sheets.words.dates import by_day, pace_words


def renewal_answer(when: WhenToRenew, units: System) -> tuple[str, ...]:
    """The age; the first line is the answer."""
    if when.rules is None:
        return sentences([f"renewal: not enough data to say: the lives {when.why_not}"])
    stated = when.rules.stated
    dated = pace_words(when.pace, when.measure.kind, units)
    if when.pace is not None:
        dated += ", for a joint put to work then"
    lines = [stated.sentence, dated]
    if math.isfinite(stated.age):
        lines.insert(0, f"renew at {_use(when, stated.age, units)}")
    return sentences(lines)


def renewal_section(when: WhenToRenew, units: System) -> tuple[Section, ...]:
    """The age, how sure it is, and how far it hangs on what was stated."""
    if when.rules is None:
        return ()
    stated, saves = when.rules.stated, when.savings
    numbers = []
    if math.isfinite(stated.age):
        near = f"{_use(when, stated.low, units)} to {_use(when, stated.high, units)}"
        note = f"within 5 % of the least cost: {near}"
        numbers.append(KeyNumber("Renew at", _use(when, stated.age, units), note, "renewal.age"))
    if saves is not None:
        share = f"{percent(saves.low)} to {percent(saves.high)}"
        note = "nine times in ten, for doubt about the law"
        if saves.low < 0:
            note += "; below 0 % it costs more than running to failure"
        numbers.append(KeyNumber("It saves", share, note, "renewal.saves_least"))
    if when.ages is not None:
        span = f"{_use(when, when.ages.low, units)} to {_use(when, when.ages.high, units)}"
        note = "nine times in ten, for doubt about the law"
        numbers.append(KeyNumber("The cheapest age may be", span, note, "renewal.from"))
    for name, key, rule in (
        ("If a failure costs half", "half", when.rules.half),
        ("If it costs double", "double", when.rules.double),
    ):
        numbers.append(KeyNumber(name, _use(when, rule.age, units), "", f"renewal.{key}"))
    return (Section("At what age to renew", numbers=tuple(numbers)),)


def _use(when: WhenToRenew, value: float, units: System) -> str:
    """An age with its date where known; "never" where it is not finite."""
    if not math.isfinite(value):
        return "never"
    return show(value, when.measure.kind, units) + by_day(when.pace, value)
