"""Export the register: whole as JSON lines, or joints, readings and stock as tables."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Literal
from uuid import UUID

from splicewright.actions.register.facts import every_joint, facts_of
from splicewright.errors import Fault, InputError, OutputError

if TYPE_CHECKING:
    from splicewright.actions.register.joint_table import JointTable
    from splicewright.files.columns import TableFormat
    from splicewright.store import Register

TableKind = Literal["joints", "readings", "stock"]


def dump_register(register: Register, to: Path) -> int:
    """Write the whole register as JSON lines to a new file that only its owner can read.

    Returns how many lines were written. Raises OutputError: the file exists or cannot be written;
    nothing was left.
    """
    lines = 0
    with _new_file(to) as path, path.open("w", encoding="utf-8") as file:
        for line in register.dump():
            file.write(line + "\n")
            lines += 1
    return lines


def export_table(register: Register, kind: TableKind, to: Path) -> int:
    """Write joints, readings or stock movements to a new CSV or XLSX file.

    The columns are those that `import_rows` reads. Corrections are applied, withdrawn facts
    left out.

    Returns how many rows were written. Raises InputError: the ending is neither .csv nor .xlsx.
    Raises OutputError: the file exists or cannot be written; nothing was left.
    """
    from splicewright.files.spreadsheets import write_table

    work = {"joints": _joints, "readings": _readings, "stock": _stock}[kind]
    header, rows = work(register)
    content = write_table(to, header, rows)
    with _new_file(to) as path:
        path.write_bytes(content)
    return len(rows)


def export_joint_table(register: Register, to: Path, since: int = 0) -> JointTable:
    """Write the joints as a table for analysts to a new CSV or Parquet file.

    since : only those changed after this fact number
    Raises InputError: the ending is neither, or Parquet's library is not there. Raises OutputError:
    the file exists or cannot be written; nothing was left.
    """
    from splicewright.actions.register.joint_table import joint_table

    forms: dict[str, TableFormat] = {".csv": "csv", ".parquet": "parquet"}
    form = forms.get(to.suffix.lower())
    if form is None:
        raise InputError(
            Fault("to", f"{to.name} has no ending that is written; accepted are .csv and .parquet")
        )
    table = joint_table(register, form, since, most=register.head().seq)
    with _new_file(to) as path:
        path.write_bytes(table.content)
    return table


_Rows = tuple[tuple[str, ...], list[tuple[str, ...]]]


def _joints(register: Register) -> _Rows:
    names = _Names(register)
    header = (
        "site",
        "conveyor",
        "label",
        "place",
        "built",
        "put to work",
        "removed",
        "mode",
        "note",
        "state",
    )
    rows: list[tuple[str, ...]] = []
    for joint in every_joint(register):
        place = "" if joint.place is None else f"{joint.place!r} m"
        moments = [_moment(m) for m in (joint.built, joint.put_to_work, joint.removed)]
        where = (*names.conveyor(joint.conveyor), joint.label)
        mode = joint.mode.value if joint.mode is not None else ""
        rows.append((*where, place, *moments, mode, "", joint.state.value))
    return header, rows


def _readings(register: Register) -> _Rows:
    from splicewright.store import Stream
    from splicewright.store.facts.joint_facts import ReadingTaken

    names = _Names(register)
    header = ("site", "conveyor", "label", "what", "measure", "value", "when", "note")
    rows: list[tuple[str, ...]] = []
    for stored in facts_of(register, "reading taken"):
        reading = stored.what
        assert isinstance(reading, ReadingTaken)
        where = None
        if reading.of is Stream.JOINT:
            where = names.joint(reading.about)
        elif reading.of is Stream.CONVEYOR:
            where = (*names.conveyor(reading.about), "")
        if where is not None:
            cells = (
                reading.what,
                reading.measure.value,
                reading.typed,
                _moment(stored.fact.at),
                reading.note,
            )
            rows.append((*where, *cells))
    return header, rows


def _stock(register: Register) -> _Rows:
    from splicewright.store.facts.plant_facts import StockMoved

    sites = {site.site: site.name for site in register.sites()}
    rows: list[tuple[str, ...]] = []
    for stored in facts_of(register, "stock moved"):
        movement = stored.what
        assert isinstance(movement, StockMoved)
        where = sites.get(movement.site, str(movement.site))
        rows.append(
            (where, movement.item, f"{movement.count!r}", _moment(stored.fact.at), movement.why)
        )
    return ("site", "item", "count", "when", "why"), rows


class _Names:
    """Names of sites, conveyors and joints by their ids."""

    def __init__(self, register: Register) -> None:
        self._register = register
        self._sites = {site.site: site.name for site in register.sites()}
        self._conveyors = {c.conveyor: c for c in register.conveyors()}

    def conveyor(self, conveyor: UUID) -> tuple[str, str]:
        """Site and conveyor."""
        row = self._conveyors.get(conveyor)
        if row is None:
            return "", str(conveyor)
        return self._sites.get(row.site, str(row.site)), row.name

    def joint(self, joint: UUID) -> tuple[str, str, str]:
        """Site, conveyor and label."""
        row = self._register.joint(joint)
        return ("", "", str(joint)) if row is None else (*self.conveyor(row.conveyor), row.label)


def _moment(moment: datetime | None) -> str:
    return "" if moment is None else moment.isoformat()


@contextlib.contextmanager
def _new_file(to: Path) -> Iterator[Path]:
    """A new file for its owner only, flushed when done, removed when it failed."""
    try:
        os.close(os.open(to, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
    except FileExistsError:
        msg = f"{to.name} is already there; it was not touched"
        raise OutputError(msg) from None
    except OSError as error:
        msg = f"{to.name} cannot be written: {error.strerror}"
        raise OutputError(msg) from None
    done = False
    try:
        yield to
        with to.open("rb+") as file:
            os.fsync(file.fileno())
        done = True
    except OSError as error:
        msg = f"{to.name} cannot be written: {error.strerror}; nothing was left"
        raise OutputError(msg) from None
    finally:
        if not done:
            with contextlib.suppress(OSError):
                to.unlink()
