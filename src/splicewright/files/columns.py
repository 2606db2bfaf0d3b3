"""Tables for analysts: documented columns as CSV or Parquet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from splicewright.errors import Fault, InputError

Cell = str | int | float | bool | datetime | None
TableFormat = Literal["csv", "parquet"]
MEDIA_TYPES: dict[TableFormat, str] = {
    "csv": "text/csv; charset=utf-8",
    "parquet": "application/vnd.apache.parquet",
}


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its name, what kind of value stands in it, and what it says, with its unit."""

    name: str
    kind: type[str] | type[int] | type[float] | type[bool] | type[datetime]
    says: str


def write_columns(
    form: TableFormat, columns: Sequence[Column], rows: Iterable[Sequence[Cell]]
) -> bytes:
    """Rows under columns; a cell that is not known is empty.

    form : "csv" (UTF-8, moments in ISO 8601, true and false) or "parquet"
    Raises InputError: Parquet is asked for and its library is not there.
    """
    return _parquet(columns, rows) if form == "parquet" else _csv(columns, rows)


def _csv(columns: Sequence[Column], rows: Iterable[Sequence[Cell]]) -> bytes:
    buffer = io.StringIO(newline="")
    writer = csv.writer(buffer, lineterminator="\n")
    writer.writerow([c.name for c in columns])
    for row in rows:
        writer.writerow([_text(cell) for cell in row])
    return buffer.getvalue().encode()


def _text(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, datetime):
        return cell.isoformat()
    text = repr(cell) if isinstance(cell, float) else str(cell)
    # A spreadsheet would take such a text for a formula.
    return f"'{text}" if isinstance(cell, str) and text[:1] in {"=", "+", "-", "@"} else text


def _parquet(columns: Sequence[Column], rows: Iterable[Sequence[Cell]]) -> bytes:
    try:
        import pyarrow
        from pyarrow import parquet
    except ModuleNotFoundError:
        say = "Parquet needs the extra: pip install splicewright[parquet]; CSV does not"
        raise InputError(Fault("format", say)) from None
    kinds = {
        str: pyarrow.string(),
        int: pyarrow.int64(),
        float: pyarrow.float64(),
        bool: pyarrow.bool_(),
        datetime: pyarrow.timestamp("us", tz="UTC"),
    }
    schema = pyarrow.schema(
        [pyarrow.field(c.name, kinds[c.kind], metadata={"says": c.says}) for c in columns]
    )
    held = list(zip(*rows, strict=True)) or [()] * len(columns)
    arrays = [
        pyarrow.array(values, type=kinds[c.kind]) for c, values in zip(columns, held, strict=True)
    ]
    buffer = io.BytesIO()
    parquet.write_table(pyarrow.Table.from_arrays(arrays, schema=schema), buffer)
    return buffer.getvalue()
