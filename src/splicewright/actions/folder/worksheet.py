"""The worksheet beside a report: how each of its numbers came about, read back by `explain`."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from splicewright.actions.folder.reading import read_result
from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from pydantic import TypeAdapter

    from splicewright.quantities import Record

NAME = "worksheet.json"


def worksheet_file(record: Record) -> bytes:
    """A worksheet as JSON, without loss."""
    return _adapter().dump_json(record, indent=1)


def read_worksheet(source: Path) -> Record | None:
    """The worksheet the user points at: a folder that holds one, the file, or a report's JSON.

    Raises InputError: it cannot be read.
    """
    folder = source if source.is_dir() else source.parent
    beside = source if source.name == NAME else folder / NAME
    known = source.is_dir() or source.suffix == ".json"
    return read_result(beside, NAME, _parse) if known and beside.is_file() else None


def _parse(raw: bytes) -> Record:
    from pydantic import ValidationError

    try:
        return _adapter().validate_json(raw)
    except ValidationError:
        raise InputError(Fault("", "is no worksheet of this version; make the report again")) from (
            None
        )


@cache
def _adapter() -> TypeAdapter[Record]:
    from pydantic import TypeAdapter

    from splicewright.quantities import Record

    return TypeAdapter(Record)
