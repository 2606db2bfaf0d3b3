"""Import joints, readings or stock movements from a CSV or XLSX table, or say what would fail."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from splicewright.store import Fact, Head, Register

TableKind = Literal["joints", "readings", "stock"]
_AT_ONCE = 2000


@dataclass(frozen=True, slots=True)
class RefusedRow:
    """A row that was not imported: the line of the file, and every reason."""

    line: int
    faults: tuple[Fault, ...]


@dataclass(frozen=True, slots=True)
class Imported:
    """What an import did, or in a dry run would do.

    rows : usable rows; recorded, already : facts that were new, and that were there before
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

    Parameters
    ----------
    register : where to
    kind : what the rows are
    file : CSV or XLSX; columns in `store.importing.COLUMNS`
    by : who imports
    now : rows later than a day after this are refused
    dry_run : only say what would be done

    Raises
    ------
    InputError
        The file cannot be read at all, or has other columns.
    """
    from splicewright.store.importing import Importing
    from splicewright.store.spreadsheets import read_table

    if not by.strip():
        raise InputError(Fault("by", "is empty; the name of who imports must be given"))
    table = read_table(file)
    prepared = Importing(register, by, f"import of {file.name}"[:200], now).prepare(kind, table)
    facts = [fact for _, made in prepared.facts for fact in made]
    new = [fact for fact in facts if register.fact(fact.id) is None]
    recorded = 0 if dry_run else _record(register, new)
    return Imported(
        rows=len(prepared.facts),
        recorded=len(new) if dry_run else recorded,
        already=len(facts) - len(new),
        refused=tuple(RefusedRow(r.line, r.faults) for r in prepared.refused),
        dry_run=dry_run,
    )


def load_register(register: Register, dump: Path) -> Head:
    """Fill an empty register from a dump; all of it, or nothing.

    Raises
    ------
    InputError
        The file is no whole dump, or the register is not empty.
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


def _record(register: Register, facts: list[Fact]) -> int:
    """Record facts a few thousand at a time, keeping together those of one joint."""
    for start in range(0, len(facts), _AT_ONCE):
        register.append(*facts[start : start + _AT_ONCE])
    return len(facts)
