"""Wear readings from a table (CSV): places, dates, use and what was read."""

from __future__ import annotations

import itertools
from datetime import date

from splicewright.errors import Fault, InputError
from splicewright.files.table import Row, Table, read_table
from splicewright.files.typed_file import Readable
from splicewright.history.wear.limit_met import Reading
from splicewright.history.wear.study import Series
from splicewright.quantities import Kind
from splicewright.quantities.measure import Measure

MUST = ("use", "value")
MAY = ("place", "date", "limit", "new", "checked", "note")
MOST_READINGS, MOST_PLACES = 5000, 200
"""Of one file: one belt read at 20 places every week for five years. 20,000 took 4.7 GB."""
_THICKEST = 0.5


def load_readings(
    path: Readable, limit: float | None = None, new: float | None = None
) -> tuple[tuple[Series, ...], Measure, bool]:
    """Read the wear of one belt or joint.

    path : CSV with the columns of docs/history-files.md
    limit : value at which a place is worn out, where the file names none [m]
    new : value at use 0 that is known for sure, where the file names none [m]
    Returns the places in the order of the file, what use is counted in, and whether it is invented.
    Raises InputError: anything wrong in the file; each fault with line and column.
    """
    table = read_table(path, MUST, MAY, MOST_READINGS)
    measure = table.measure(("use",))
    rows: dict[str, list[tuple[Row, date | None, Reading]]] = {}
    limits: dict[str, float] = {}
    starts: dict[str, float] = {}
    for row in table.rows:
        place = row.text("place") or "place"
        use = row.number("use", measure.kind)
        value = row.number("value", Kind.LENGTH, most=_THICKEST)
        for column, held in (("limit", limits), ("new", starts)):
            number = row.number(column, Kind.LENGTH, most=_THICKEST)
            if number is not None and held.setdefault(place, number) != number:
                table.fault(row.line, column, f"differs from the {column} given before for {place}")
        day, checked = row.day("date"), row.yes("checked")
        for column in MUST:
            if not row.text(column):
                table.fault(row.line, column, "is empty; it must be given")
        if use is None or value is None:
            continue
        label = str(day) if day else f"line {row.line}"
        rows.setdefault(place, []).append((row, day, Reading(use, value, label, checked)))
    if len(rows) > MOST_PLACES:
        say = f"names {len(rows)} places; accepted are up to {MOST_PLACES}: cut it into parts"
        table.fault(None, "place", say)
        table.settle()
    for place, read in rows.items():
        _check_order(table, read)
        if place not in limits and limit is None:
            table.fault(None, "limit", f"is not given for {place}; state the value worn out")
    table.settle()
    series = tuple(
        Series(
            place,
            tuple(reading for _, _, reading in read),
            limits[place] if place in limits else _known(limit),
            starts.get(place, new),
            tuple((day, reading.use) for _, day, reading in read if day is not None),
        )
        for place, read in rows.items()
    )
    return series, measure, table.invented


def _known(limit: float | None) -> float:
    if limit is None:
        raise InputError(Fault("limit", "is not given; state the value worn out"))
    return limit


def _check_order(table: Table, read: list[tuple[Row, date | None, Reading]]) -> None:
    for (_, day, before), (row, then, after) in itertools.pairwise(read):
        typed = row.text("use")
        if after.use < before.use:
            table.fault(
                row.line,
                "use",
                f'"{typed}" is less than in the line before of the same place; use does not run '
                "backwards: add what a changed or reset meter had counted before",
            )
        elif day and then and then < day:
            table.fault(row.line, "date", f"{then} comes after {day}; dates must not fall")
        elif day and then and then == day and after.use != before.use:
            table.fault(row.line, "use", f'"{typed}" differs from another reading of {then}')
