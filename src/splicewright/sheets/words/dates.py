"""Dates beside hours: when a joint put to work today comes to an age."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

from splicewright.history.pace import Pace
from splicewright.quantities import Kind, System, show

NO_PACE = "no dates: how much the belts run a day is neither on file nor stated"


def by_day(pace: Pace | None, further: float) -> str:
    """The day, to go on a number of hours: " (2027-03-05)"; empty where it is not known."""
    if pace is None or not math.isfinite(further):
        return ""
    soonest, latest = pace.dates(further)
    return f" ({_span(soonest, latest)})" if soonest is not None else ""


def in_days(pace: Pace | None, further: float) -> str:
    """How many days so much use takes, to go on a number of hours; empty where not known."""
    if pace is None or not (math.isfinite(further) and pace.slow > 0):
        return ""
    few, many = (f"{further / rate:,.0f}".replace(",", " ") for rate in (pace.fast, pace.slow))
    return f" ({few} days)" if few == many else f" ({few} to {many} days)"


def by_days(soonest: date | None, latest: date | None) -> str:
    """The days that a range lies between; empty where none is known."""
    return f" ({_span(soonest, latest)})" if soonest is not None else ""


def pace_words(pace: Pace | None, kind: Kind, system: System) -> str:
    """What the dates count from, or what is missing for any."""
    if pace is None:
        return NO_PACE
    slow, fast = (show(rate, kind, system) for rate in (pace.slow, pace.fast))
    rates = slow if slow == fast else f"{slow} to {fast}"
    span = "" if slow == fast else "; the earlier of two is where belts run most"
    return f"dates: from today, {pace.today}, at {rates} a day{span}"


def pairs(pace: Pace | None, values: Sequence[float], kind: Kind, system: System) -> str:
    """The ends of a range, each with its date."""
    shown = (
        f"{show(v, kind, system)}{by_day(pace, v)}" if math.isfinite(v) else "never" for v in values
    )
    return " to ".join(shown)


def _span(soonest: date | None, latest: date | None) -> str:
    if soonest == latest:
        return f"{soonest}"
    return f"{soonest} to {latest or 'no date'}"
