"""Compare what was measured with what was predicted: tensions, plate loads, any figure; wear."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError
from splicewright.quantities import Kind, Line, read

if TYPE_CHECKING:
    from splicewright.history.measurement import Compared
    from splicewright.quantities import Record

MUST = ("figure", "measured")
MAY = ("uncertainty", "date", "note")


def compare_measured(
    table: Path,
    source: Path,
    work: Path | None = None,
    fasteners: tuple[Path, ...] = (),
    gauge: str = "",
) -> tuple[tuple[Compared, ...], bool]:
    """Compare every row of a table with its prediction.

    table : CSV with `figure` (as `explain` lists it), `measured` and `uncertainty`, values with
        units; with readings of wear as the source, later readings of the same places
    source : folder or JSON file of a plan or study, a conveyor file, or a table of earlier readings
    work, fasteners : with a conveyor file, as for planning
    gauge : standard deviation of later readings of wear, with unit
    Returns the rows, and whether the measured data are invented. Raises InputError: anything wrong
    in the files; every fault of the table at once.
    """
    if source.suffix.lower() == ".csv":
        return _wear(table, source, gauge)
    if gauge:
        raise InputError(Fault("gauge", "belongs to readings of wear; here the table states it"))
    return _figures(table, source, work, fasteners)


def _wear(table: Path, source: Path, gauge: str) -> tuple[tuple[Compared, ...], bool]:
    from splicewright.history.measurement import compare_wear
    from splicewright.history.wear.file import load_readings

    before, measure, _ = load_readings(source)
    after, other, invented = load_readings(table)
    if measure is not other:
        wording = f"counts use in {other.value}, the earlier readings in {measure.value}"
        raise InputError(Fault("use", wording, table.name))
    error = read(gauge, Kind.LENGTH, "gauge") if gauge else 0.0
    return compare_wear(before, after, error), invented


def _figures(
    table: Path, source: Path, work: Path | None, fasteners: tuple[Path, ...]
) -> tuple[tuple[Compared, ...], bool]:
    from splicewright.actions.explain import lines_of
    from splicewright.files.table import read_table
    from splicewright.history.measurement import Compared

    rows = read_table(table, MUST, MAY)
    record = lines_of(source, None, work, fasteners)
    comparisons = []
    for row in rows.rows:
        key = row.text("figure")
        try:
            entry = record.find(key)
        except InputError as error:
            rows.fault(row.line, "figure", f'"{key}": {error.faults[0].sentence}')
            continue
        figure = entry.figure if isinstance(entry, Line) else entry
        if not isinstance(entry, Line):
            wording = f'"{key}" is what was put in, not what was predicted'
            rows.fault(row.line, "figure", wording)
            continue
        measured = row.number("measured", figure.kind, least=-1e18)
        if measured is None:
            if not row.text("measured"):
                rows.fault(row.line, "measured", "is empty; it must be given, with its unit")
            continue
        row.day("date")
        comparisons.append(
            Compared(
                key,
                figure.label,
                figure.kind,
                float(figure.value),
                measured,
                _half_width(record, key, measured),
                row.number("uncertainty", figure.kind),
                bound=_bound(record, key),
                note=row.text("note"),
            )
        )
    if not rows.rows:
        rows.fault(None, "figure", "no row holds a value")
    rows.settle()
    return tuple(comparisons), rows.invented


def _half_width(record: Record, key: str, measured: float) -> float | None:
    """From a typical value to the end of its range on the side of what was measured."""
    stem, _, last = key.rpartition(".")
    if last != "typical":
        return None
    values = [_value(record, f"{stem}.{end}") for end in ("smallest", "typical", "largest")]
    if None in values:
        return None
    low, typical, high = (v for v in values if v is not None)
    return high - typical if measured > typical else typical - low


def _value(record: Record, key: str) -> float | None:
    lines = (e.figure for e in record.entries if isinstance(e, Line))
    return next((float(f.value) for f in lines if f.key == key), None)


def _bound(record: Record, key: str) -> str:
    """Forces of the stopped belt, and the ends of a range, are bounds and no likely values."""
    stem, _, last = key.rpartition(".")
    if key.startswith("at_rest."):
        return "least" if last == "least" else "largest"
    if _value(record, f"{stem}.typical") is None:
        return ""
    return {"smallest": "least", "largest": "largest"}.get(last, "")
