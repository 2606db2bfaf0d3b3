"""What is due as a calendar: of everything somebody sees, of a site, or of a conveyor."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING
from uuid import UUID

from splicewright.actions.fleet.due import DueLine, see_due
from splicewright.errors import Fault, InputError
from splicewright.files.calendar import CalendarDay, calendar_of

if TYPE_CHECKING:
    from splicewright.store import Register

MOST = 1_000
"""Days in one calendar; the longest overdue and the next ones."""
AHEAD = timedelta(days=366)
AGAIN = timedelta(hours=1)
_CAUTION = (
    "From what was recorded only. It does not permit the joint to run; site rules take precedence."
)


def due_calendar(
    register: Register,
    now: datetime,
    address: str,
    *,
    site: UUID | None = None,
    conveyor: UUID | None = None,
    before: datetime | None = None,
) -> bytes:
    """What is due within a year as iCalendar.

    Each thing stands on the day it is due. What is overdue would there be out of sight, so one day
    more, today, says how much is overdue, and another where there is more than it can show. The
    same register on the same day gives the same bytes.

    register : of whoever asks: it holds only the sites they are let into
    now : what is due before it is overdue
    address : of the app, for links
    site, conveyor : only of this one
    before : the register is brought up to date meanwhile: this is how it stood at that moment
    Raises InputError: there is no such site or conveyor.
    """
    name = "Due joints"
    if site is not None:
        there = register.site(site)
        if there is None:
            raise InputError(Fault("site", "the register knows no such site"))
        name = f"{name}, {there.name}"
    if conveyor is not None:
        plant = register.conveyor(conveyor)
        if plant is None or (site is not None and plant.site != site):
            raise InputError(Fault("conveyor", "the register knows no such conveyor"))
        name = f"{name}, {plant.name}"
    lines = see_due(register, now + AHEAD, site=site, conveyor=conveyor, limit=MOST + 1)
    too_many, lines = len(lines) > MOST, lines[:MOST]
    barred = {j.joint for j in register.barred(site=site, conveyor=conveyor, limit=MOST)}
    sites = {s.site: s.name for s in register.sites()}
    changes = register.changes_of({_subject(line) for line in lines})
    days = []
    for line in lines:
        sequence, changed = changes.get(_subject(line), (0, now))
        days.append(
            CalendarDay(
                f"{line.uid}@splicewright",
                sequence,
                changed,
                line.due.date(),
                _title(line, line.joint in barred),
                _text(line, sites.get(line.site, "")),
                f"{address}/jobs/{line.job}" if line.job else f"{address}/joints/{line.joint}",
            )
        )
    late = [line for line in lines if line.due.date() < now.date()]
    midnight = now.replace(hour=0, minute=0, second=0, microsecond=0)
    if before is not None:
        days.append(
            CalendarDay(
                f"before-{conveyor or site or 'all'}@splicewright",
                now.toordinal(),
                midnight,
                now.date(),
                f"Due dates as they stood at {before:%Y-%m-%d %H:%M} UTC",
                "The register was being brought up to date when this calendar was asked for. It "
                f"asks again within {AGAIN.total_seconds() / 60:.0f} minutes. {_CAUTION}",
                f"{address}/due",
            )
        )
    if too_many:
        days.append(
            CalendarDay(
                f"more-{conveyor or site or 'all'}@splicewright",
                now.toordinal(),
                midnight,
                now.date(),
                f"Not whole: only {MOST:,} due dates are shown; there are more",
                f"Subscribe to single sites or conveyors, or see the page Due. {_CAUTION}",
                f"{address}/due",
            )
        )
    if late:
        days.append(
            CalendarDay(
                f"overdue-{conveyor or site or 'all'}@splicewright",
                now.toordinal(),
                midnight,
                now.date(),
                f"{len(late)} overdue: {_title(late[0], late[0].joint in barred)}"
                + (" and more" if len(late) > 1 else ""),
                "\n".join([*(f"{line.due.date()}: {_title(line)}" for line in late), _CAUTION]),
                f"{address}/due",
            )
        )
    return calendar_of(name, days, AGAIN)


def _subject(line: DueLine) -> UUID:
    subject = line.job or line.joint
    assert subject is not None
    return subject


def _title(line: DueLine, must_not_run: bool = False) -> str:
    subject = f"joint {line.label}" if line.label else line.job_name
    warned = "Must not run: " if must_not_run else ""
    return f"{warned}{line.task} {subject}, {line.conveyor_name}"


def _text(line: DueLine, site: str) -> str:
    lines = [f"Due {line.due.date()} at {site}, {line.conveyor_name}.", line.why.say(), _CAUTION]
    return "\n".join(lines)
