"""Small marks that stand many times in a list; made here because macros take several times as long.

Everything in them is ours, so nothing is escaped.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from markupsafe import Markup

from splicewright.store import State

_LOOKS = {State.RUNNING: "state good", State.SUSPENDED: "state bad", State.BUILT: "state warn"}
_DAY = timedelta(days=1)


def state(now: State, can_run: bool | None = None) -> Markup:
    """The state of a joint, and that it must not run where that was decided."""
    mark = f'<span class="{_LOOKS.get(now, "state ")}">{now.value}</span>'
    if can_run is False and now is not State.REMOVED:
        mark += ' <span class="state bad">must not run</span>'
    return Markup(mark)


def due_when(due: datetime, now: datetime) -> Markup:
    """How far ahead or overdue a task is, and its day."""
    days = (due - now) // _DAY
    if days < 0:
        mark = f'<span class="state bad">{-days} {_days(-days)} overdue</span>'
    elif days == 0:
        mark = '<span class="state warn">within a day</span>'
    elif days <= 7:
        mark = f'<span class="state warn">in {days} {_days(days)}</span>'
    else:
        mark = f"in {days} days,"
    return Markup(f"{mark} {day(due)}")


def moment(at: datetime | None) -> Markup:
    """Day and time; told in UTC, and by the page's script in the reader's own time."""
    if at is None:
        return Markup("–")
    at = at.astimezone(UTC)
    text = at.isoformat(timespec="seconds")
    return Markup(f'<time datetime="{text}">{text[:10]} {text[11:16]} UTC</time>')


def day(at: datetime | None) -> Markup:
    """The day alone."""
    if at is None:
        return Markup("–")
    at = at.astimezone(UTC)
    text = at.date().isoformat()
    return Markup(f'<time datetime="{text}">{text}</time>')


def _days(count: int) -> str:
    return "day" if count == 1 else "days"
