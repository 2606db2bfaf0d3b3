"""How often to inspect and at what age to renew, by what things cost."""

from __future__ import annotations

import math
from collections.abc import Sequence

from splicewright.history.inspection_interval.interval import InspectionRule
from splicewright.history.inspection_interval.study import WhenToLook, WhenToRenew
from splicewright.quantities import Kind, System, percent, show
from splicewright.sheets.pages.document import (
    COST_CAUTIONS,
    Document,
    KeyNumber,
    Section,
    as_sentence,
    sentences,
)
from splicewright.sheets.reports.life import LIFE_CAUTION
from splicewright.sheets.reports.renewal import renewal_answer, renewal_section
from splicewright.sheets.words.amounts import money
from splicewright.sheets.words.dates import in_days, pace_words

_INTERVAL = (
    "The interval with the lowest cost does not permit the belt to run. If a failure can hurt "
    "someone, law, site rules, the maker or the responsible person set a shorter interval."
)
_DAMAGE = (
    "damage begins as often in old joints as in new ones, one at a time; each inspection finds "
    "existing damage with the same chance, however far it has grown"
)


def when_report(
    renew: WhenToRenew | None,
    look: WhenToLook | None,
    costs: Sequence[tuple[str, float]],
    system: System = "metric",
    *,
    name: str = "",
) -> Document:
    """At what age to renew, and how often to inspect.

    Parameters
    ----------
    renew, look : the rules; None where not asked
    costs : name and amount of each cost that was stated
    """
    answer: list[str] = []
    sections: list[Section] = []
    rests: list[str] = []
    if renew is not None:
        answer += renewal_answer(renew, system)
        sections += renewal_section(renew, system)
        rests += renew.notes
    if look is not None:
        answer += _answer(look, system)
        sections += _interval(look, system)
        if look.learnt is not None or look.why_not or look.rules is None:
            sections.append(_learnt(look, system))
        rests += [*look.notes, _DAMAGE]
    known = [one.known for one in (renew, look) if one is not None and one.known]
    both = renew is not None and look is not None
    kind = "Inspection interval" if renew is None else "Renewal age"
    return Document(
        "Renewal and inspection" if both else kind,
        name or "joints",
        as_sentence(f"rests on {' and '.join(known)}") if known else "By what things cost.",
        tuple(dict.fromkeys(answer)),
        tuple(KeyNumber(n, money(v), "as stated") for n, v in costs),
        tuple(sections),
        tuple(dict.fromkeys(rests)),
        (*COST_CAUTIONS, *((_INTERVAL,) if look is not None else ()), LIFE_CAUTION),
        any(one is not None and one.invented for one in (renew, look)),
    )


def _answer(when: WhenToLook, units: System) -> tuple[str, ...]:
    """The answer, first line first."""
    if when.rules is None:
        if when.why_not:
            return (f"Not enough data to say: {when.why_not}.",)
        return ("Enter the cost of an inspection, a repair and a failure to get the interval.",)
    best, kind = when.rules.stated, when.measure.kind
    first = (
        f"inspect every {show(best.interval, kind, units)} of use"
        f"{in_days(when.pace, best.interval)}"
        if math.isfinite(best.interval)
        else "inspections do not pay at these costs"
    )
    lines = [first, best.sentence]
    if when.learnt is None or not when.learnt.enough:
        few = f": the register holds too few data: {when.why_not}" if when.why_not else ""
        lines.append(f"from assumptions, not from inspections{few}")
    dated = pace_words(when.pace, kind, units)
    if when.pace is not None:
        dated += "; of a joint inspected before, count from that day"
    return sentences([*lines, dated])


def _interval(when: WhenToLook, units: System) -> tuple[Section, ...]:
    """The interval, what it misses, and how far it hangs on what was stated."""
    rules, kind = when.rules, when.measure.kind
    if rules is None:
        return ()

    def use(value: float) -> str:
        return f"{show(value, kind, units)}{in_days(when.pace, value)}"

    def every(name: str, rule: InspectionRule | None, why: str, note: str = "") -> None:
        if rule is None:
            return
        if math.isfinite(rule.interval):
            numbers.append(KeyNumber(name, f"every {use(rule.interval)}", note, f"interval.{why}"))
        else:
            numbers.append(KeyNumber(name, "inspections do not pay", note))

    numbers: list[KeyNumber] = []
    best = rules.stated
    near = ""
    if math.isfinite(best.interval) and math.isfinite(best.high):
        near = f"within 5 % of the least cost: {use(best.low)} to {use(best.high)}"
    every("Inspect", best, "best", near)
    if math.isfinite(best.interval):
        note = "of damages fail before an inspection finds them"
        share = show(best.missed, Kind.SHARE, units)
        numbers.append(KeyNumber("Missed all the same", share, note, "interval.missed"))
    if when.intervals is not None and when.values is not None:
        numbers.append(
            KeyNumber(
                "Nine times in ten",
                f"every {use(when.intervals.low)} to {use(when.intervals.high)}",
                "for doubt about delay and rate; its cost "
                f"{percent(when.values.low / best.value)} to "
                f"{percent(when.values.high / best.value)} of the stated",
            )
        )
    every("If a failure costs half", rules.half, "half")
    every("If it costs double", rules.double, "double")
    allow = "as past inspections allow"
    every("If delays are short", when.at_low, "short", f"as short {allow}")
    every("If delays are long", when.at_high, "long", f"as long {allow}")
    return (Section("The interval", numbers=tuple(numbers)),)


def _learnt(when: WhenToLook, units: System) -> Section:
    """What past inspections show of damage."""
    title = "What past inspections show"
    learnt, kind = when.learnt, when.measure.kind
    if learnt is None or not learnt.damages:
        return Section(title, ("Not enough data to say: no damage is on file.",))

    def use(value: float) -> str:
        return show(value, kind, units)

    where, sure = "belt" if when.of_belts else "joint", show(learnt.confidence, Kind.SHARE)
    numbers = [
        KeyNumber(
            "Damage seen",
            str(learnt.damages),
            f"of which {learnt.failures} failed, {learnt.unfound} without being found before",
            "looks.damages",
        ),
        KeyNumber(
            "New damage",
            f"every {use(1 / learnt.rate)}{in_days(when.pace, 1 / learnt.rate)}",
            f"of use at one {where}, on average",
            "damage.between",
        ),
    ]
    low = use(learnt.low) if learnt.low > 0 else ""
    if learnt.enough:
        high = f"to {use(learnt.high)}" if math.isfinite(learnt.high) else "or more"
        numbers.append(
            KeyNumber(
                "From seen to failed",
                f"{use(learnt.mean)}{in_days(when.pace, learnt.mean)}",
                f"on average; {low or '0'} {high} with {sure} confidence",
                "delay.mean",
            )
        )
    else:
        more = ""
        if low:
            more = f"{low}{in_days(when.pace, learnt.low)} or more on average, with {sure} "
            more += "confidence"
        why = "delay.low" if low else ""
        numbers.append(KeyNumber("From seen to failed", "not enough data to say", more, why))
    if learnt.enough and learnt.law is not None and learnt.law.shape != 1:
        numbers.append(
            KeyNumber(
                "Delays are not random",
                use(learnt.law.mean),
                f"on average by the law used, of shape {learnt.law.shape:.2g} (such by chance: "
                f"{learnt.chance_random:.2g})",
                "delay.used",
            )
        )
    return Section(title, numbers=tuple(numbers))
