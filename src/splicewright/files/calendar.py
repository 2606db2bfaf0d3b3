"""Days as a calendar that any calendar program subscribes to (iCalendar, RFC 5545)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

MEDIA_TYPE = "text/calendar; charset=utf-8"
_MADE_BY = "-//Splicewright//due dates//EN"
_MOST_SEQUENCE = 2**31 - 1


@dataclass(frozen=True, slots=True)
class CalendarDay:
    """Something on a day.

    uid : the same as long as it is the same thing
    url : where more is said; empty for none
    """

    uid: str
    sequence: int
    changed: datetime
    day: date
    title: str
    text: str
    url: str = ""


def calendar_of(name: str, days: Iterable[CalendarDay], again: timedelta) -> bytes:
    """A calendar of whole days that block nobody's time; the same days give the same bytes.

    again : how soon a program should ask again
    """
    from icalendar import Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", _MADE_BY)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    # RFC 7986 has name and refresh; the x- names are what older programs read.
    for key in ("name", "x-wr-calname"):
        calendar.add(key, name)
    calendar.add("refresh-interval", again, parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", f"PT{round(again.total_seconds() / 60)}M")
    for day in days:
        event = Event()
        event.add("uid", day.uid)
        event.add("dtstamp", day.changed)
        event.add("last-modified", day.changed)
        event.add("sequence", min(day.sequence, _MOST_SEQUENCE))
        event.add("dtstart", day.day)
        event.add("dtend", day.day + timedelta(days=1))
        event.add("summary", day.title)
        event.add("description", day.text)
        event.add("transp", "TRANSPARENT")
        if day.url:
            event.add("url", day.url)
        calendar.add_component(event)
    data: bytes = calendar.to_ical()
    return data
