"""Import joints, readings or stock movements from a CSV or XLSX table, or say what would fail."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Literal
from uuid import UUID

from splicewright.actions.register.record_facts import record_facts
from splicewright.errors import Fault, InputError
from splicewright.store.progress import Tell, tell_nobody

if TYPE_CHECKING:
    from splicewright.files.spreadsheets import Table
    from splicewright.store import Fact, Head, Register

TableKind = Literal["joints", "readings", "stock"]
_AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class RefusedRow:
    """A row that was not imported: the line of the file, and every reason."""

    line: int
    faults: tuple[Fault, ...]


@dataclass(frozen=True, slots=True)
class Imported:
    """What an import did, or in a dry run would do.

    rows : that can be read; who imports may not say some of them, which stand in `refused` too
    recorded, already : facts that were new, and that were there before
    """

    rows: int
    recorded: int
    already: int
    refused: tuple[RefusedRow, ...]
    dry_run: bool


def import_rows(
    register: Register,
    kind: TableKind,
    file: Path,
    *,
    by: str,
    now: datetime,
    dry_run: bool = False,
) -> Imported:
    """Import a table. Rows that cannot be used are told and left out; importing again is harmless.

    file : CSV or XLSX; columns in `actions.register.table_rows.COLUMNS`
    now : rows later than a day after this are refused
    dry_run : only say what would be done
    Raises InputError: the file cannot be read at all, or has other columns.
    """
    from splicewright.files.spreadsheets import read_table

    return _import(register, kind, file.name, read_table(file), by, now, dry_run, tell_nobody)


def import_table(
    register: Register,
    kind: TableKind,
    name: str,
    data: bytes,
    *,
    by: str,
    now: datetime,
    person: UUID | None = None,
    dry_run: bool = False,
    tell: Tell = tell_nobody,
) -> Imported:
    """As `import_rows`, for the bytes of a file of that name.

    tell : is called between steps; when it raises, what was recorded until then stays
    """
    from splicewright.files.spreadsheets import as_table

    tell(0, 0, f"reading {name}")
    return _import(register, kind, name, as_table(name, data), by, now, dry_run, tell, person)


def refused_table(refused: Sequence[RefusedRow]) -> bytes:
    """The refused rows as CSV: line, column and reason; formulas are made harmless."""
    from splicewright.files.spreadsheets import write_table

    rows = [(str(row.line), fault.key, fault.sentence) for row in refused for fault in row.faults]
    return write_table(Path("refused-rows.csv"), ("line", "column", "why"), rows)


def _import(
    register: Register,
    kind: TableKind,
    name: str,
    table: Table,
    by: str,
    now: datetime,
    dry_run: bool,
    tell: Tell,
    person: UUID | None = None,
) -> Imported:
    from splicewright.actions.register.table_rows import Importing
    from splicewright.store.facts.facts import IMPORTED

    if not by.strip():
        raise InputError(Fault("by", "is empty; the name of who imports must be given"))
    tell(0, len(table.rows), f"checking {len(table.rows)} rows")
    prepared = Importing(register, by, f"{IMPORTED}{name}"[:200], now, person).prepare(kind, table)
    facts = [fact for _, row_facts in prepared.facts for fact in row_facts]
    known = set[UUID]()
    for start in range(0, len(facts), _AT_ONCE):
        tell(start, len(facts), "looking which facts are there already")
        known |= register.known(fact.id for fact in facts[start : start + _AT_ONCE])
    new = [fact for fact in facts if fact.id not in known]
    not_taken = {} if dry_run else _record(register, new, tell)
    refused = {row.line: row.faults for row in prepared.refused}
    for line, row_facts in prepared.facts:
        faults = tuple(fault for fact in row_facts for fault in not_taken.get(fact.id, ()))
        if faults:
            refused[line] = faults
    return Imported(
        rows=len(prepared.facts),
        recorded=len(new) - len(not_taken),
        already=len(facts) - len(new),
        refused=tuple(RefusedRow(line, refused[line]) for line in sorted(refused)),
        dry_run=dry_run,
    )


def load_register(register: Register, dump: Path) -> Head:
    """Fill an empty register from a dump; all of it, or nothing.

    Raises InputError: the file is no whole dump, or the register is not empty.
    """
    try:
        with dump.open(encoding="utf-8") as lines:
            return register.load(lines)
    except UnicodeDecodeError:
        raise InputError(Fault("", "is no dump of a register", dump.name)) from None
    except FileNotFoundError:
        raise InputError(Fault("", f"there is no file {dump.name}", dump.name)) from None
    except OSError as error:
        raise InputError(Fault("", f"cannot be read: {error.strerror}", dump.name)) from None


def _record(register: Register, facts: list[Fact], tell: Tell) -> dict[UUID, tuple[Fault, ...]]:
    """Record facts some at a time, in order, so that no pages wait long; why some were refused."""
    refused = {}
    for start in range(0, len(facts), _AT_ONCE):
        tell(start, len(facts), f"{start} of {len(facts)} facts recorded")
        some = facts[start : start + _AT_ONCE]
        for fact, outcome in zip(some, record_facts(register, some), strict=True):
            if outcome.receipt is None:
                refused[fact.id] = outcome.faults
    return refused
