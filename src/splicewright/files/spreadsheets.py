"""Reading and writing tables as CSV and XLSX, with limits on what is read.

Cells are texts on both ways. What a spreadsheet would take for a formula is never written as
one, and never read as a value.
"""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path

from splicewright.errors import Fault, InputError
from splicewright.files.typed_file import as_text, read_bytes

LARGEST_FILE = 20_000_000
"""Bytes of one file."""
LARGEST_UNPACKED = 200_000_000
"""Bytes of an XLSX file when unpacked."""
MOST_ROWS = 100_000
MOST_COLUMNS = 60
LONGEST_CELL = 4000
_STILL = datetime(1980, 1, 1)
"""When a workbook was made: the same rows give the same bytes."""
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
ENDINGS = (".csv", ".xlsx")


@dataclass(frozen=True, slots=True)
class Table:
    """A table: its header, and its rows with the line each stands on."""

    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]


def read_table(path: Path) -> Table:
    """Read the first sheet of an XLSX file, or a CSV file, by its ending.

    CSV is UTF-8, separated by comma, semicolon or tab, as its first line shows.

    Raises InputError: missing, too large, packed beyond reason, not what its ending says, or
    without a header.
    """
    if path.suffix.lower() not in ENDINGS:
        raise _wrong(path, f'"{path.suffix}" is not read; accepted is .csv or .xlsx')
    raw = read_bytes(path, LARGEST_FILE, "a CSV or XLSX file", "cut it into parts")
    return as_table(path.name, raw)


def as_table(name: str, raw: bytes) -> Table:
    """The table in the bytes of a file of that name, as `read_table`.

    Raises InputError: as `read_table`.
    """
    path = Path(name)
    ending = path.suffix.lower()
    if ending not in ENDINGS:
        raise _wrong(path, f'"{path.suffix}" is not read; accepted is .csv or .xlsx')
    cells = _read_xlsx(path, raw) if ending == ".xlsx" else _read_csv(path, raw)
    if not cells:
        raise _wrong(path, "is empty; the first line must name the columns")
    header = tuple(cell.strip().lower() for cell in cells[0][1])
    while header and not header[-1]:
        header = header[:-1]
    if len(set(header)) != len(header) or not all(header):
        raise _wrong(path, "the first line must name every column, each once", 1)
    rows = []
    for line, row in cells[1:]:
        if any(cell.strip() for cell in row):
            filled = (*row, *[""] * (len(header) - len(row)))
            rows.append((line, tuple(cell.strip() for cell in filled)))
    return Table(header, tuple(rows))


def write_table(path: Path, header: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    """The bytes of a table for a file with this ending; formulas are made harmless.

    Raises InputError: the ending is neither .csv nor .xlsx.
    """
    ending = path.suffix.lower()
    if ending == ".csv":
        text = io.StringIO(newline="")
        writer = csv.writer(text, lineterminator="\r\n")
        writer.writerow(header)
        writer.writerows([harmless(cell) for cell in row] for row in rows)
        return text.getvalue().encode("utf-8-sig")  # the mark makes spreadsheets read UTF-8
    if ending == ".xlsx":
        return _xlsx(header, rows)
    raise _wrong(path, f'"{path.suffix}" is not written; accepted is .csv or .xlsx')


def harmless(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula: an apostrophe goes before its sign."""
    return f"'{cell}" if cell.startswith((*_FORMULA, "'")) and not _number(cell) else cell


def plain(cell: str) -> str:
    """A cell as `harmless` was given it."""
    return cell[1:] if cell.startswith("'") and cell[1:].startswith((*_FORMULA, "'")) else cell


def looks_like_formula(cell: str) -> bool:
    """Whether a spreadsheet would work it out instead of showing it."""
    return cell.startswith(("=", "@", "+", "-", "\t", "\r")) and not _number(cell)


_SIGNED = re.compile(
    r"""[+-]\s*(?:\d+\s*-\s*\d+/\d+(?=\s*[A-Za-z"'])   # -1-3/8 in, but not -1-3/8, a sum
    |\d+/\d+|(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)
    \s*(?:°?[^\W\d_][^-+=@|!()*<>&]*|["'°%′″])?""",
    re.VERBOSE,
)


def _number(cell: str) -> bool:
    """Whether it is a signed number, with or without a unit."""
    return _SIGNED.fullmatch(cell) is not None


def _read_csv(path: Path, raw: bytes) -> list[tuple[int, list[str]]]:
    text = as_text(raw, path.name, "CSV UTF-8")
    if "\x00" in text:
        raise _wrong(
            path, "holds zero bytes; it is no CSV", text[: text.index("\x00")].count("\n") + 1
        )
    first = text.split("\n", 1)[0]
    separator = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    cells: list[tuple[int, list[str]]] = []
    while True:
        begun = reader.line_num + 1
        try:
            row = next(reader)
        except StopIteration:
            return cells
        except csv.Error as error:
            raise _wrong(path, f"cannot be read as CSV: {error}", begun) from None
        _within(path, begun, len(cells), row)
        cells.append((begun, row))


def _read_xlsx(path: Path, raw: bytes) -> list[tuple[int, list[str]]]:
    from python_calamine import CalamineError, CalamineWorkbook

    _refuse_bomb(path, raw)
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(raw))
        sheet = book.get_sheet_by_index(0)
        if sheet.width > MOST_COLUMNS or sheet.height > MOST_ROWS + 1:
            raise _wrong(
                path,
                f"has {sheet.height} lines and {sheet.width} columns; accepted is "
                f"up to {MOST_ROWS} and {MOST_COLUMNS}",
            )
        rows = sheet.to_python(skip_empty_area=False)
    except (CalamineError, ValueError, IndexError) as error:
        raise _wrong(path, f"cannot be read as XLSX: {error}") from None
    cells: list[tuple[int, list[str]]] = []
    for number, row in enumerate(rows, 1):
        texts = [_text(cell) for cell in row]
        _within(path, number, len(cells), texts)
        cells.append((number, texts))
    return cells


def _refuse_bomb(path: Path, raw: bytes) -> None:
    """A few kB can unpack to many GB: unpack once, counting, before anything is built of it."""
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            if len(archive.infolist()) > 2000:
                raise _wrong(path, "holds more parts than any spreadsheet")
            total = 0
            for part in archive.infolist():
                with archive.open(part) as content:
                    while piece := content.read(1 << 20):
                        total += len(piece)
                        if total > LARGEST_UNPACKED:
                            most = LARGEST_UNPACKED // 1_000_000
                            raise _wrong(path, f"unpacks to more than {most} MB; it is not read")
    except (zipfile.BadZipFile, RuntimeError, EOFError, OSError, ValueError):
        raise _wrong(path, "is no XLSX file") from None


def _within(path: Path, line: int, rows: int, row: list[str]) -> None:
    if rows > MOST_ROWS:
        raise _wrong(path, f"has more than {MOST_ROWS} lines; cut it into parts")
    if len(row) > MOST_COLUMNS:
        raise _wrong(path, f"has {len(row)} columns; accepted is up to {MOST_COLUMNS}", line)
    longest = max(map(len, row), default=0)
    if longest > LONGEST_CELL:
        raise _wrong(
            path, f"a cell has {longest} characters; accepted is up to {LONGEST_CELL}", line
        )


def _text(cell: str | float | bool | date | time | datetime | timedelta) -> str:
    """A cell of a sheet as text; a whole number without its ".0", a moment in ISO form."""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    if isinstance(cell, date | time):
        return cell.isoformat()
    return str(cell)


def _xlsx(header: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    import xlsxwriter

    buffer = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    with xlsxwriter.Workbook(buffer, options) as book:
        book.set_properties({"created": _STILL})
        sheet = book.add_worksheet()
        bold = book.add_format({"bold": True})
        for column, name in enumerate(header):
            sheet.write_string(0, column, name, bold)
        for line, row in enumerate(rows, 1):
            for column, cell in enumerate(row):
                sheet.write_string(line, column, harmless(cell))
        sheet.freeze_panes(1, 0)
    return buffer.getvalue()


def _wrong(path: Path, sentence: str, line: int | None = None) -> InputError:
    return InputError(Fault("", sentence, path.name, line))
