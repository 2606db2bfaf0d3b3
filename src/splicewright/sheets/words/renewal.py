"""The words of the age at which to renew; paper and screen alike."""

from __future__ import annotations

import math

from splicewright.history.inspection_interval.study import WhenToRenew
from splicewright.history.pace import Pace
from splicewright.quantities import Kind, System, percent, show
from splicewright.sheets.words.dates import by_day, pace_words


def renew_words(when: WhenToRenew | None, units: System) -> list[str]:
    """At what age to renew; the first line is the answer."""
    if when is None:
        return []
    if when.rules is None:
        return [f"Renew: not enough data to say: the lives {when.why_not}"]
    kind, stated = when.measure.kind, when.rules.stated

    def use(value: float, before: str = "") -> str:
        return use_words(value, kind, units, before, when.pace)

    lines = [f"Renew: {use(stated.age, 'at ')}; {stated.sentence}"]
    if math.isfinite(stated.age):
        low, high = (use(v) for v in (stated.low, stated.high))
        lines.append(f"  within 5 % of the least cost: {low} to {high}")
    saves = when.savings
    if saves is not None and math.isfinite(stated.age):
        lines.append(
            f"  for doubt about the law it saves {percent(saves.low)} to "
            f"{percent(saves.high)}, nine times "
            f"in ten{'; below 0 % it costs more than running to failure' * (saves.low < 0)}"
        )
    if when.ages is not None:
        low, high = (use(v) for v in (when.ages.low, when.ages.high))
        lines.append(
            f"  for doubt about the law the cheapest age may be anywhere from {low} to {high}"
        )
    if saves is not None and math.isinf(stated.age):
        lines.append(f"  and save {percent(saves.low)} to {percent(saves.high)}")
    for name, rule in (("half", when.rules.half), ("double", when.rules.double)):
        lines.append(f"  if a failure costs {name}: {use(rule.age, 'at ')}")
    dated = f"  {pace_words(when.pace, kind, units)}"
    if when.pace is not None:
        dated += ", for a joint put to work then"
    return [*lines, dated, f"  rests on {when.known}"]


def use_words(
    value: float, kind: Kind, units: System, before: str = "", pace: Pace | None = None
) -> str:
    """An age or interval in words, with its date where known; "never" where it is not finite."""
    if not math.isfinite(value):
        return "never"
    return before + show(value, kind, units) + by_day(pace, value)
