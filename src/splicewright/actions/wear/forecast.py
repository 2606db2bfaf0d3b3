"""Forecast wear: from a table of readings to the places in order, and to the report."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError
from splicewright.files.typed_file import Readable
from splicewright.quantities import Kind, read

if TYPE_CHECKING:
    from uuid import UUID

    from splicewright.actions.register.use import UseName
    from splicewright.history.wear.study import WearStudy
    from splicewright.store import Register


def forecast_wear(
    readings: Readable,
    today: date,
    *,
    limit: str = "",
    new: str = "",
    gauge: str = "",
    confidence: float = 0.9,
) -> WearStudy:
    """Forecast the wear of every place in a table.

    today : readings after it are refused
    limit, new : value worn out and value at use 0, where the file has none; with units
    gauge : standard deviation of the gauge, with unit
    confidence : of the ranges [0..1]
    Raises InputError: anything wrong in the file or the values.
    """
    from splicewright.history.wear.file import load_readings
    from splicewright.history.wear.study import study_wear

    worn, start, error = _lengths(limit, new, gauge)
    series, measure, invented = load_readings(readings, worn, start)
    return study_wear(
        series,
        today=today,
        name=readings.stem,
        measure=measure,
        gauge_error=error or 0.0,
        confidence=confidence,
        invented=invented,
    )


def forecast_recorded_wear(
    register: Register,
    now: datetime,
    *,
    conveyor: str | UUID = "",
    use: UseName = "",
    limit: str = "",
    new: str = "",
    gauge: str = "",
    confidence: float = 0.9,
) -> WearStudy:
    """Forecast the wear of every place of one conveyor that the register holds readings of.

    conveyor : its name; may be empty where only one has readings
    limit, new, gauge, confidence : as for `forecast_wear`
    Raises InputError: no readings, several conveyors that have some, or anything wrong in them.
    """
    from splicewright.actions.register.use import look_into
    from splicewright.actions.wear.from_register import wear_of_register
    from splicewright.history.wear.study import study_wear

    worn, start, error = _lengths(limit, new, gauge)
    with register.at_one_moment():
        looked = look_into(register, now, conveyor=conveyor, use=use)
        by_conveyor = wear_of_register(looked, worn, start)
    if not by_conveyor:
        wording = "holds no thickness or depth of a place with a limit"
        raise InputError(Fault("register", f"{wording}{_why(looked.left_out)}"))
    if len(by_conveyor) > 1:
        names = ", ".join(looked.labels[c] for c in by_conveyor)
        raise InputError(Fault("conveyor", f"several have readings; name one of: {names}"))
    ((whose, series),) = by_conveyor.items()
    return study_wear(
        series,
        today=looked.today,
        name=looked.labels[whose],
        measure=looked.measure,
        gauge_error=error or 0.0,
        confidence=confidence,
        invented=looked.invented,
        notes=(*looked.assumed, *looked.left_out),
    )


def _why(left_out: list[str]) -> str:
    return f" ({'; '.join(left_out[:4])})" if left_out else ""


def _lengths(*texts: str) -> tuple[float | None, ...]:
    """Limit, new value and gauge error as typed [m]; None where nothing was."""
    keys = ("limit", "new", "gauge")
    return tuple(
        read(text, Kind.LENGTH, key) if text else None
        for text, key in zip(texts, keys, strict=True)
    )
