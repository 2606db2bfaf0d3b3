"""How soon somebody must act: one rule for everything that has a date. Past is past."""

from __future__ import annotations

from datetime import date
from enum import StrEnum


class Urgency(StrEnum):
    """How soon somebody must act."""

    NOW = "now"
    OVERDUE = "overdue"
    STOP = "before the next stop"
    LATER = "later"

    @property
    def rank(self) -> int:
        """Place in the list, 0 first."""
        return list(Urgency).index(self)


def urgency_of_end(
    earliest: date | None, likely: date | None, latest: date | None, today: date, until: date
) -> Urgency:
    """How soon something that wears out within a range of dates must be looked at.

    earliest, likely, latest : range and middle of the end; None where no date is known
    today, until : now, and the next planned stop

    A day that has come is past: with the likely end behind us the thing is overdue, with the whole
    range behind us it counts as worn out. Nothing gets less urgent because nobody read it again.
    """
    if latest is not None and latest <= today:
        return Urgency.NOW
    if likely is not None and likely <= today:
        return Urgency.OVERDUE
    first = min((d for d in (earliest, likely) if d is not None), default=None)
    return Urgency.STOP if first is not None and first <= until else Urgency.LATER


def urgency_of_duty(due: date | None, today: date, until: date) -> Urgency:
    """How soon a task must be done that is due on a day; None has no day."""
    if due is None:
        return Urgency.LATER
    if due < today:
        return Urgency.OVERDUE
    return Urgency.STOP if due <= until else Urgency.LATER
