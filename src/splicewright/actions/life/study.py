"""Study the lives of joints: from a table to the law, the kinds, and the report."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError
from splicewright.files.typed_file import Readable
from splicewright.quantities import read
from splicewright.quantities.measure import Measure, read_use

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date, datetime
    from uuid import UUID

    from splicewright.actions.register.use import UseName
    from splicewright.history.life.study import LifeStudy, Record
    from splicewright.history.life.weibull import Weibull
    from splicewright.store import Register


def study_lives(
    lives: Readable,
    *,
    cause: str = "",
    by: str = "",
    further: str = "",
    confidence: float = 0.9,
    shape: float = 2.0,
    use_a_day: str = "",
    today: date | None = None,
) -> LifeStudy:
    """Study the lives of joints in a table.

    cause : count only this one as failure; empty counts any
    by : "conveyor" or "kind", the groups that lean on each other; empty chooses
    further : use over which the running joints are looked at, with unit
    confidence : of the limits [0..1]
    shape : assumed where the lives settle none [1]
    use_a_day : how much the belts run a day, with unit; without it there are no dates
    today : day from which they count
    Raises InputError: anything wrong in the file or the values.
    """
    from splicewright.history.life.file import load_lives
    from splicewright.history.life.study import study_life

    records, invented = load_lives(lives)
    ahead = _asked(records, lives.name, cause, further)
    return study_life(
        _at_pace(records, use_a_day),
        name=lives.stem,
        cause=cause,
        by=by,
        further=ahead,
        confidence=confidence,
        shape=shape,
        invented=invented,
        today=today if use_a_day else None,
    )


def study_recorded_lives(
    register: Register,
    now: datetime,
    *,
    conveyor: str | UUID = "",
    use: UseName = "",
    cause: str = "",
    by: str = "",
    further: str = "",
    confidence: float = 0.9,
    shape: float = 2.0,
    use_a_day: str = "",
) -> LifeStudy:
    """Study the lives of the joints in the register.

    conveyor : the only one to look at; empty takes all
    use : what lives are counted in; empty chooses
    cause, by, further, confidence, shape : as for `study_lives`
    use_a_day : how much the belts run a day from now on; without it, as their meters show
    Raises InputError: no joint that has run, more than are studied one by one, or values out of
    range.
    """
    from splicewright.actions.life.from_register import lives_of_register
    from splicewright.actions.register.use import look_into
    from splicewright.history.life.file import MOST
    from splicewright.history.life.study import study_life

    looked = look_into(register, now, conveyor=conveyor, use=use)
    records = lives_of_register(looked).records
    if not records:
        raise InputError(Fault("joints", f"none of {looked.name} has run yet; nothing to study"))
    if len(records) > MOST:
        wording = (
            f"are {len(records)}, and up to {MOST} are studied one by one; name a conveyor, or "
        )
        raise InputError(Fault("joints", f"{wording}see the whole fleet with splicewright fleet"))
    ahead = _asked(records, looked.name, cause, further)
    return study_life(
        _at_pace(records, use_a_day),
        name=looked.name,
        cause=cause,
        by=by,
        further=ahead,
        confidence=confidence,
        shape=shape,
        invented=looked.invented,
        notes=(*looked.assumed, *looked.left_out),
        today=looked.today,
    )


def recorded_law(register: Register, now: datetime, conveyor: str | UUID) -> Weibull | None:
    """The most likely law of life of a conveyor's joints by time; None where none is settled."""
    from splicewright.actions.life.from_register import lives_of_register
    from splicewright.actions.register.use import look_into
    from splicewright.history.life.lives import gather
    from splicewright.history.life.weibull import fit_weibull

    try:
        looked = look_into(register, now, conveyor=conveyor, use="time")
        records = lives_of_register(looked, kinds=False).records
        return fit_weibull(gather([r.life for r in records])).law if records else None
    except InputError:
        return None


def _at_pace(records: Sequence[Record], use_a_day: str) -> Sequence[Record]:
    """The same with a stated use a day."""
    if not use_a_day:
        return records
    rate = use_a_day_of(use_a_day, records[0].life.measure)
    return [replace(r, per_day=rate) for r in records]


def use_a_day_of(typed: str, measure: Measure) -> float:
    """A stated use a day, in the measure of the lives [measure per day]."""
    rate, counted = read_use(typed, "use_a_day")
    if counted is not measure:
        wording = f'"{typed}" counts {counted}, the lives {measure}; give both in one'
        raise InputError(Fault("use_a_day", wording))
    if counted is Measure.TIME and rate > 86400.0:
        raise InputError(Fault("use_a_day", f'"{typed}" is more than a day has'))
    return rate


def _asked(records: Sequence[Record], where: str, cause: str, further: str) -> float:
    """The further use asked about [measure]; refuses a cause that is not on file."""
    known = sorted({r.life.cause for r in records if r.life.cause})
    if cause and cause not in known:
        wording = f'"{cause}" is no cause in {where}; accepted are {", ".join(known) or "none"}'
        raise InputError(Fault("cause", wording))
    ahead = read(further, records[0].life.measure.kind, "next") if further else 0.0
    if ahead < 0:
        raise InputError(Fault("next", f'"{further}" lies behind; accepted is more than zero'))
    return ahead
