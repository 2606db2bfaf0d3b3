"""How fast use goes on from today: what turns hours, tonnes or turns ahead into dates."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from splicewright.quantities import Figure, Kind, Worksheet, measured

_LAST_DATE = date(2999, 12, 31)


@dataclass(frozen=True, slots=True)
class Pace:
    """How fast use goes on from today, over one conveyor or several: it turns use into dates.

    today : day from which use is counted
    slow, fast : use a day on the conveyor that runs least, and on the one that runs most
        [measure per day]
    """

    today: date
    slow: float
    fast: float

    def dates(self, further: float) -> tuple[date | None, date | None]:
        """Days by which so much more has run: on the fastest conveyor, and on the slowest."""
        return day_when(self.today, further, self.fast), day_when(self.today, further, self.slow)


def pace_of(today: date | None, rates: Iterable[float]) -> Pace | None:
    """The pace of conveyors; None without a day, or where the use of one is not known.

    today : day from which use is counted; None where lives have no calendar
    rates : use a day of each [measure per day]; nan where not known
    """
    known = list(rates)
    if today is None or not known or not all(rate > 0 for rate in known):
        return None
    return Pace(today, min(known), max(known))


def day_when(today: date, further: float, per_day: float) -> date | None:
    """The day by which so much more has run; None beyond the calendar, or where nothing runs."""
    days = further / per_day if per_day > 0 else math.nan
    if not 0 <= days < (_LAST_DATE - today).days:
        return None
    return today + timedelta(days=days)


def explain_pace(sheet: Worksheet, pace: Pace | None, kind: Kind, keys: Iterable[str] = ()) -> None:
    """Explain the pace, and how many days some uses take: keys ``pace.*`` and ``KEY_days*``.

    sheet : that already holds those uses; what is not in it is passed over
    pace : None explains nothing, for no date was told
    kind : of use
    keys : of uses that are told in days, too
    """
    if pace is None:
        return
    reason = "by the meters on file, or as stated"
    fast = measured("pace.fast", "use a day, where belts run most", pace.fast, kind, reason)
    rates: list[tuple[str, Figure]] = [("", sheet.note(fast))]
    if pace.slow != pace.fast:
        slow = measured("pace.slow", "use a day, where belts run least", pace.slow, kind, reason)
        rates.append(("_most", sheet.note(slow)))
    for key in keys:
        use = sheet.get(key)
        for end, rate in rates if use is not None else ():
            assert use is not None
            sheet.found(
                f"{key}_days{end}",
                f"{use.label}: in days",
                float(use.value) / float(rate.value),
                Kind.RATIO,
                "use/use a day",
                [use, rate],
            )
