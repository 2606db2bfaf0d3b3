"""Lives of joints from a table (CSV): when last seen good, when first found failed."""

from __future__ import annotations

import math

from splicewright.files.table import Row, Table, read_table
from splicewright.files.typed_file import Readable
from splicewright.history.life.lives import Life
from splicewright.history.life.study import Record

MUST = ("good", "failed")
MAY = ("joint", "kind", "conveyor", "entered", "running", "cause", "count", "note")
MOST = 1_000_000
"""Joints in one table."""
LARGEST = 100_000_000
"""Size of such a table [bytes]."""
MOST_GROUPS = 200
"""Conveyors, and kinds of joint, of one table: each takes some 45 ms of a core to weigh."""
_AGES = ("good", "failed", "entered")


def load_lives(path: Readable) -> tuple[tuple[Record, ...], bool]:
    """Read the lives of joints.

    path : CSV with the columns of docs/history-files.md
    Returns one record for each joint, and whether they are invented. Raises InputError: anything
    wrong in the file; each fault with line and column.
    """
    table = read_table(path, MUST, MAY, MOST, LARGEST)
    measure = table.measure(_AGES)
    records: list[Record] = []
    for row in table.rows:
        ages = {column: row.number(column, measure.kind) for column in _AGES}
        running, count = row.yes("running"), row.whole("count", 1, least=1)
        if len(records) + count > MOST:
            wording = f"makes more than {MOST} joints in all; give one fleet at a time"
            table.fault(row.line, "count", wording)
            break
        if not _possible(table, row, ages, running):
            continue
        good, bad, entered = ages["good"], ages["failed"], ages["entered"] or 0.0
        name = row.text("joint") or f"line {row.line}"
        life = Life(
            good or 0.0, math.inf if bad is None else bad, entered, measure, name, row.text("cause")
        )
        records += [Record(life, row.text("kind"), row.text("conveyor"), running)] * count
    for column in ("conveyor", "kind"):
        groups = len({getattr(record, column) for record in records})
        if groups > MOST_GROUPS:
            say = f"names {groups} different ones; accepted are up to {MOST_GROUPS}: cut the table"
            table.fault(None, column, say)
    table.settle()
    return tuple(records), table.invented


def _possible(table: Table, row: Row, ages: dict[str, float | None], running: bool) -> bool:
    """Note what cannot be, in the words of the file."""
    good, bad, entered = ages["good"], ages["failed"], ages["entered"] or 0.0
    typed = {column: row.text(column) for column in _AGES}
    if any(typed[c] and ages[c] is None for c in _AGES):
        return False  # already noted
    fault: tuple[str, str] | None = None
    if good is None and bad is None:
        fault = ("good", "is empty; give the age at which the joint was last seen good")
    elif good is None:
        fault = (
            "good",
            "is empty; give the age at the last good inspection: the same as failed if the "
            "failure was seen as it happened, 0 if the first inspection found it",
        )
    elif bad is not None and bad <= 0:
        fault = ("failed", f'"{typed["failed"]}" cannot be; a joint that never ran is no life')
    elif bad is not None and bad < good:
        fault = (
            "failed",
            f'"{typed["failed"]}" is less than good "{typed["good"]}"; a failure comes after the '
            "last good look",
        )
    elif good < entered or (bad == entered and entered > 0):
        fault = (
            "entered",
            f'"{typed["entered"]}" is not before good "{typed["good"]}"; give the age at which the '
            "log began to watch the joint",
        )
    elif running and bad is not None:
        fault = ("running", "says yes, but the joint has failed; leave one of the two out")
    elif bad is None and row.text("cause"):
        fault = ("cause", "is given, but the joint has not failed; put it into note")
    if fault:
        table.fault(row.line, *fault)
    return fault is None
