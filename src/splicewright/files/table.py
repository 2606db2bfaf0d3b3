"""Reading a table (CSV) that people typed: all its faults at once, each with line and column.

A column's unit stands in its heading, `value [mm]`, or in its cells, `9.6 mm`. Lines that begin
with # are remarks; `# invented` marks the data as invented.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from splicewright.errors import Fault, InputError, UnitError
from splicewright.files.typed_file import Readable, as_text, read_bytes
from splicewright.quantities import POLICY, Kind, read, show
from splicewright.quantities.limits import beyond_days
from splicewright.quantities.measure import Measure

LARGEST = 2_000_000
"""Files above this many bytes are refused: a belt measured weekly for ten years needs less."""
MOST_ROWS = 20_000
"""Rows of a table, where what is worked from it asks for no fewer."""
_LONGEST = 200
_MOST_FAULTS = 20
_HEADING = re.compile(r"^(?P<name>[^\[\]]+?)\s*(?:\[(?P<unit>[^\[\]]*)\])?$")
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")


@dataclass
class Table:
    """A file's rows, and the faults found in it so far.

    units : column -> unit in its heading, empty where there is none
    invented : a remark says so
    faults : filled while cells are read
    """

    name: str
    units: Mapping[str, str]
    rows: tuple[Row, ...] = ()
    invented: bool = False
    faults: list[Fault] = field(default_factory=list)

    def has(self, column: str) -> bool:
        """Whether the file has the column."""
        return column in self.units

    def fault(self, line: int | None, column: str, sentence: str) -> None:
        """Note a fault."""
        self.faults.append(Fault(column, sentence, self.name, line))

    def settle(self) -> None:
        """Refuse the file if anything was wrong.

        Raises InputError: all faults; of very many the first ones and their number.
        """
        if len(self.faults) > _MOST_FAULTS:
            left = len(self.faults) - _MOST_FAULTS
            more = Fault("", f"{left} further faults like these", self.name)
            raise InputError(*self.faults[:_MOST_FAULTS], more)
        if self.faults:
            raise InputError(*self.faults)

    def measure(self, columns: Sequence[str]) -> Measure:
        """What ages or uses are counted in, by the unit of the first cell that has one."""
        for column in columns:
            measure = _measure_of(self.units.get(column, ""))
            if measure:
                return measure
        for row in self.rows:
            for column in columns:
                unit = re.sub(r"^[\s\d.eE+/-]+", "", row.cells.get(column, "")).strip()
                measure = _measure_of(unit)
                if measure:
                    return measure
        return Measure.TIME


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the file: its cells by column, and readers that note what is wrong."""

    table: Table
    line: int
    cells: Mapping[str, str]

    def text(self, column: str) -> str:
        """The cell as it stands."""
        return self.cells.get(column, "")

    def number(
        self, column: str, kind: Kind, *, least: float = 0.0, most: float = 1e18
    ) -> float | None:
        """The cell in SI; None when it is empty or wrong."""
        typed = self.text(column)
        if not typed:
            return None
        if typed[0] in "=@":
            self.table.fault(self.line, column, f'"{typed}" is a formula; save the values')
            return None
        unit = self.table.units[column]
        try:
            bare = re.fullmatch(r"[\s\d.,eE+/⁄½¼¾-]+", typed) is not None
            value = read(f"{typed} {unit}" if bare else typed, kind)
        except UnitError as error:
            self.table.fault(self.line, column, error.faults[0].sentence)
            return None
        if not least <= value <= most:
            low, high = show(least, kind), show(most, kind)
            self.table.fault(self.line, column, f'"{typed}" cannot be; accepted is {low} to {high}')
            return None
        return value

    def whole(self, column: str, default: int, *, least: int = 0) -> int:
        """The cell as a whole number."""
        typed = self.text(column)
        if not typed:
            return default
        if not re.fullmatch(r"\d{1,7}", typed) or int(typed) < least:
            self.table.fault(
                self.line,
                column,
                f'"{typed}" cannot be used; accepted is a whole number of {least} or more',
            )
            return default
        return int(typed)

    def yes(self, column: str) -> bool:
        """Whether the cell says yes."""
        typed = self.text(column).lower()
        if typed not in {"", "yes", "no"}:
            self.table.fault(self.line, column, f'"{typed}" is not known; accepted is yes or no')
        return typed == "yes"

    def day(self, column: str) -> date | None:
        """The cell as a date."""
        typed = self.text(column)
        if not typed:
            return None
        try:
            if re.fullmatch(r"\d{4}-\d\d-\d\d", typed) is None:
                raise ValueError
            day = date.fromisoformat(typed)
        except ValueError:
            self.table.fault(
                self.line, column, f'"{typed}" is no date; accepted is year-month-day: 2026-03-31'
            )
            return None
        if why := beyond_days(day):
            self.table.fault(self.line, column, f"{day} {why}")
            return None
        return day


def read_table(
    path: Readable,
    must: Sequence[str],
    may: Sequence[str],
    most: int = MOST_ROWS,
    largest: int = LARGEST,
) -> Table:
    """Read a table with known columns.

    path : CSV in UTF-8; cells parted by comma, semicolon or tab
    must, may : names of the columns it must and may have
    most : rows that are accepted: what is worked from them grows with them, or with their square
    largest : size that is accepted [bytes]
    Raises InputError: a file that cannot be read, is too large, no text, no table, or with columns
    that are missing, unknown or given twice.
    """
    text = _text(path, largest)
    name = path.name
    lines = list(_lines(text, name))
    if not lines:
        raise InputError(Fault("", "holds no table; the first line names the columns", name))
    remarks = [line for line in text.splitlines() if line.lstrip().startswith("#")]
    if len(lines) > most + 1:
        say = f"holds {len(lines) - 1} rows; accepted are up to {most}: cut it into parts"
        raise InputError(Fault("", say, name, lines[most + 1][0]))
    line, heads = lines[0]
    table = Table(name, {}, invented=any("invented" in r.lower() for r in remarks))
    units = _units(table, line, heads, (*must, *may), must)
    table.settle()
    table.units = units
    columns = list(units)
    rows = []
    for line, cells in lines[1:]:
        if len(cells) > len(columns) and any(c.strip() for c in cells[len(columns) :]):
            table.fault(
                line, "", f"has {len(cells)} cells, but the table has {len(columns)} columns"
            )
            continue
        held = {c: v.strip() for c, v in zip(columns, cells, strict=False)}
        for column, value in held.items():
            _check_cell(table, line, column, value)
        rows.append(Row(table, line, held))
    if len(lines) == 1:
        table.fault(None, "", "has no line below the names of its columns")
    table.settle()
    table.rows = tuple(rows)
    return table


def _text(path: Readable, largest: int) -> str:
    advice = "give one conveyor's readings at a time"
    return as_text(read_bytes(path, largest, "a CSV file", advice), path.name)


def _lines(text: str, name: str) -> Iterator[tuple[int, list[str]]]:
    """Lines that hold something and are no remarks, with their numbers."""
    lines = text.splitlines(keepends=True)
    first = next((one for one in lines if one.strip() and not one.lstrip().startswith("#")), "")
    mark = max(",;\t", key=first.count)
    reader = csv.reader(lines, delimiter=mark, strict=True)
    before = 0
    try:
        for cells in reader:
            line, before = before + 1, reader.line_num
            if any(c.strip() for c in cells) and not lines[line - 1].lstrip().startswith("#"):
                yield line, cells
    except csv.Error as error:
        wording = f"cannot be read as a table: {error}"
        raise InputError(Fault("", wording, name, reader.line_num)) from None


def _units(
    table: Table, line: int, heads: Sequence[str], known: Sequence[str], must: Sequence[str]
) -> dict[str, str]:
    units: dict[str, str] = {}
    for head in heads:
        match = _HEADING.match(head.strip())
        name = match["name"].strip().lower() if match else head.strip()[:_LONGEST]
        if name in units:
            table.fault(line, name, "stands twice among the columns")
        elif match is None or name not in known:
            table.fault(line, name, f"is no column of this file; accepted are {', '.join(known)}")
        else:
            units[name] = (match["unit"] or "").strip()
    for name in must:
        if name not in units:
            table.fault(line, name, "is missing; the table must have this column")
    return units


def _check_cell(table: Table, line: int, column: str, value: str) -> None:
    if len(value) > _LONGEST:
        wording = f"holds {len(value)} characters; accepted are up to {_LONGEST}"
        table.fault(line, column, wording)
    elif _CONTROL.search(value):
        table.fault(line, column, "holds signs that are no text")
    elif value[:1] in {"=", "@"}:
        table.fault(line, column, f'"{value}" is a formula; save the values')


def _measure_of(unit: str) -> Measure | None:
    if not unit:
        return None
    for measure in Measure:
        if unit in {u.name for u in POLICY[measure.kind].accepted}:
            return measure
    return None
