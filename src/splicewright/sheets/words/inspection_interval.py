"""The words of the inspection interval; paper and screen alike."""

from __future__ import annotations

import math

from splicewright.history.inspection_interval.study import WhenToLook
from splicewright.quantities import System, percent, show
from splicewright.sheets.words.dates import in_days, pace_words
from splicewright.sheets.words.renewal import use_words


def look_words(when: WhenToLook | None, units: System) -> list[str]:
    """The inspection interval; the first line is the answer."""
    if when is None:
        return []
    kind = when.measure.kind

    def use(value: float, before: str = "") -> str:
        return use_words(value, kind, units, before, when.pace)

    if when.rules is None:
        return [f"Inspect: not enough data: {when.why_not}", *_delay_words(when, units)]
    stated = when.rules.stated
    lines = [f"Inspect: {use(stated.interval, 'every ')}; {stated.sentence}"]
    if math.isfinite(stated.interval):
        low, high = (use(v) for v in (stated.low, stated.high))
        lines.append(f"  within 5 % of the least cost: {low} to {high}")
    if when.intervals is not None and when.values is not None:
        lines.append(
            f"  nine times in ten, for doubt about delay and rate: "
            f"{use(when.intervals.low, 'every ')} to "
            f"{use(when.intervals.high)}; its cost "
            f"{percent(when.values.low / stated.value)} to "
            f"{percent(when.values.high / stated.value)} of "
            "the stated"
        )
    for name, rule in (("half", when.rules.half), ("double", when.rules.double)):
        lines.append(f"  if a failure costs {name}: {use(rule.interval, 'every ')}")
    for name, at in (("short", when.at_low), ("long", when.at_high)):
        if at is not None:
            lines.append(
                f"  if delays are as {name} as past inspections allow: {use(at.interval, 'every ')}"
            )
    dated = f"  {pace_words(when.pace, kind, units)}"
    if when.pace is not None:
        dated += "; of a joint inspected before, count from that day"
    lines += [dated, *_delay_words(when, units)]
    if when.why_not:
        lines.append(f"  not enough data to learn it from the register: {when.why_not}")
    return [*lines, f"  rests on {when.known}"] if when.known else lines


def _delay_words(when: WhenToLook, units: System) -> list[str]:
    """What past inspections show of damage."""
    learnt, kind = when.learnt, when.measure.kind
    if learnt is None or not learnt.damages:
        return []
    lines = [
        f"  new damage at one joint or belt every {show(1 / learnt.rate, kind, units)}"
        f"{in_days(when.pace, 1 / learnt.rate)} on average; "
        f"{learnt.unfound} of {learnt.failures} failures came without being found before"
    ]
    if not learnt.enough:
        if learnt.low > 0:
            least = show(learnt.low, kind, units)
            lines.append(
                f"  damage that can be seen takes {least}"
                f"{in_days(when.pace, learnt.low)} or more on average to fail, with "
                f"{percent(learnt.confidence)} confidence"
            )
        return lines
    high = f"to {show(learnt.high, kind, units)}" if math.isfinite(learnt.high) else "or more"
    lines.append(
        f"  from seen to failed: {show(learnt.mean, kind, units)}"
        f"{in_days(when.pace, learnt.mean)} on average "
        f"({show(learnt.low, kind, units)} {high}, {percent(learnt.confidence)} limits)"
    )
    if learnt.law is not None and learnt.law.shape != 1:
        lines.append(
            f"  delays are not random (chance {learnt.chance_random:.2g}): shape "
            f"{learnt.law.shape:.2g}, mean {show(learnt.law.mean, kind, units)}, is used"
        )
    return lines
