"""Record a reading: a thickness or depth of a place, or what a conveyor's meter shows."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID, uuid4

from splicewright.errors import BeyondError, Fault, InputError, UnitError
from splicewright.quantities import Kind, read

if TYPE_CHECKING:
    from splicewright.store import Register, Stream

METER = "meter"
"""Name of a reading of the meter where none is given."""
_USES = (Kind.RUN_TIME, Kind.TONNAGE, Kind.TURNS)


def record_reading(
    register: Register,
    of: Stream,
    about: UUID,
    place: str,
    typed: str,
    *,
    by: str,
    now: datetime,
    note: str = "",
    person: UUID | None = None,
    device: str = "",
) -> None:
    """Record a value of a conveyor or joint as it was typed.

    of, about : what is read
    place : name of the place, or of the meter
    typed : the value with its unit; a length is wear, hours, tonnes or turns are the meter's
    note : anything; "checked" and "new meter" have a meaning (docs/history-files.md)
    Raises InputError: no name, or a value that cannot be read.
    """
    from splicewright.store import Fact
    from splicewright.store.facts.joint_facts import ReadingTaken

    name = place.strip()
    faults: list[Fault] = []
    kind, value = measured(typed, faults)
    if not name and kind is not None and kind in _USES:
        name = METER
    if not name:
        faults.append(Fault("what", "is empty; name the place, such as carry cover left"))
    if faults or kind is None:
        raise InputError(*faults)
    taken = ReadingTaken(of, about, name, kind, value, typed.strip(), note.strip())
    register.append(Fact(uuid4(), now, by, taken, person, device))


def measured(typed: str, faults: list[Fault]) -> tuple[Kind | None, float]:
    """What a value measures by its unit, and its SI value; None with its fault put down."""
    for kind in (Kind.LENGTH, *_USES):
        try:
            value = read(typed, kind, "value")
        except BeyondError as error:
            faults.append(error.faults[0])
            return None, 0.0
        except UnitError:
            continue
        if value < 0:
            faults.append(Fault("value", f'"{typed}" is below zero; accepted is zero or more'))
        return kind, value
    wording = f'"{typed[:40]}" is no reading; accepted is such as 5.6 mm, 7/32 in, 3420 h or 650 kt'
    faults.append(Fault("value", wording))
    return None, 0.0
