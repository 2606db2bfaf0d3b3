"""The words of the age at which to renew; paper and screen alike."""

from __future__ import annotations

import math

from splicewright.history.inspection_interval.study import WhenToRenew
from splicewright.quantities import Kind, System, show


def renew_words(when: WhenToRenew | None, units: System) -> list[str]:
    """At what age to renew; the first line is the answer."""
    if when is None:
        return []
    if when.rules is None:
        return [f"Renew: not enough data to say: the lives {when.why_not}"]
    kind, stated = when.measure.kind, when.rules.stated
    told = [f"Renew: {use_words(stated.age, kind, units, 'at ')}; {stated.sentence}"]
    if math.isfinite(stated.age):
        low, high = (use_words(v, kind, units) for v in (stated.low, stated.high))
        told.append(f"  within 5 % of the least cost: {low} to {high}")
    saves = when.savings
    if saves is not None and math.isfinite(stated.age):
        told.append(
            f"  for doubt about the law it saves {saves.low:.0%} to {saves.high:.0%}, nine times "
            f"in ten{'; below 0 % it costs more than running to failure' * (saves.low < 0)}"
        )
    if when.ages is not None:
        low, high = (use_words(v, kind, units) for v in (when.ages.low, when.ages.high))
        told.append(
            f"  for doubt about the law the cheapest age may be anywhere from {low} to {high}"
        )
    if saves is not None and math.isinf(stated.age):
        told.append(f"  and save {saves.low:.0%} to {saves.high:.0%}")
    for name, rule in (("half", when.rules.half), ("double", when.rules.double)):
        told.append(f"  if a failure costs {name}: {use_words(rule.age, kind, units, 'at ')}")
    return [*told, f"  rests on {when.known}"]


def use_words(value: float, kind: Kind, units: System, before: str = "") -> str:
    """An age or interval in words; "never" where it is not finite."""
    return before + show(value, kind, units) if math.isfinite(value) else "never"
