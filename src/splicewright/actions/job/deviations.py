"""Sign a deviation: a value stays outside its limits, and somebody answers for it by name."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING
from uuid import UUID, uuid5

from splicewright.actions.job.read import read_job
from splicewright.actions.register.record_facts import append_once
from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from splicewright.job import Answered, Step
    from splicewright.quantities import System
    from splicewright.store import Register
    from splicewright.store.present.job_sheet import Entry


@dataclass(frozen=True, slots=True)
class ToSign:
    """A value outside its limits, and the deviation that was signed of it; None where none was."""

    step: Step
    answered: Answered
    signed: Entry | None = None


def outside(register: Register, job: UUID) -> tuple[ToSign, ...]:
    """All values of a job that are outside their limits, whether somebody answers for them or not.

    A lead who looked at one again signs anew, with another day.
    """
    view = read_job(register, job)
    if view is None or view.plan is None:
        return ()
    return tuple(
        ToSign(step, answered, view.deviation(step, answered))
        for step in view.plan.steps
        for answered in view.outside(step)
    )


def sign_deviation(
    register: Register,
    job: UUID,
    step: str,
    name: str,
    box: str,
    seen: str,
    why: str,
    to_do: str,
    until: str,
    *,
    sent: UUID,
    by: str,
    now: datetime,
    system: System,
    person: UUID | None = None,
    device: str = "",
) -> bool:
    """Sign that a value stays outside its limits.

    step, name, box : the value, as the page named it
    seen : the value that the page showed [SI]; measured anew since, it is refused
    why, to_do : it stays, and what is done about it
    until : by which day that is done (2026-05-04); "" for none
    sent : id of the form; sent again it records nothing
    by, person, device : who signs; they must be a lead or an admin
    system : in which the limit is told
    Returns whether it is new. Raises InputError: there is no such value outside its limits, or a
    field is empty; every fault, its key the field.
    """
    from splicewright.job import printed_limits
    from splicewright.store import Fact
    from splicewright.store.facts.job_facts import DEVIATION, DeviationSigned

    id_ = uuid5(sent, "\n".join((step, name, box, seen)))
    if register.fact(id_) is not None:
        return False
    faults = [
        Fault(key, f"is empty; {say}")
        for key, text, say in (
            ("why", why, "say why the value stays outside its limits"),
            ("to_do", to_do, "say what is done about it, such as measured again at the next stop"),
        )
        if not text.strip()
    ]
    day = _day(until, now, faults)
    match = next(
        (
            t
            for t in outside(register, job)
            if (t.step.key, t.answered.what, str(t.answered.box)) == (step, name, box)
            and repr(t.answered.value) == seen
        ),
        None,
    )
    if match is None:
        say = "is not outside its limits any more, or was measured again; check it again"
        faults.append(Fault("value", say))
    if faults or match is None:
        raise InputError(*faults)
    reading = match.answered.reading
    low, high = printed_limits(reading)
    signed = DeviationSigned(
        job,
        step,
        name,
        match.answered.box,
        reading.kind,
        match.answered.value,
        reading.limit.say(system),
        why.strip(),
        to_do.strip(),
        DEVIATION,
        day,
        low,
        high,
    )
    append_once(register, Fact(id_, now, by, signed, person, device))
    return True


def _day(text: str, now: datetime, faults: list[Fault]) -> datetime | None:
    if not text.strip():
        return None
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        faults.append(Fault("until", f'"{text[:20]}" is no date; write it like 2026-05-04'))
        return None
    if not now.date() <= day <= date(now.year + 20, 1, 1):
        say = f"{day} is not accepted; accepted is from today to twenty years ahead"
        faults.append(Fault("until", say))
        return None
    return datetime(day.year, day.month, day.day, tzinfo=UTC)
