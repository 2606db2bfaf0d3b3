"""What lies under the chain: the database's own check of its file, and whether each row reads.

SQLite compares every row with every index here (`integrity_check`), which its quick check at
opening does not. PostgreSQL has `pg_amcheck --heapallindexed` for that, outside the register.
"""

from __future__ import annotations

from sqlalchemy import Connection, Table, select

# Their tables lie beside the chain: imported so that `METADATA` holds them.
from splicewright.store import background as _background  # noqa: F401
from splicewright.store.accounts import schema as _accounts  # noqa: F401
from splicewright.store.database import opening
from splicewright.store.database.schema import CONTENTS, FACTS, METADATA, TABLES
from splicewright.store.refusals import DamagedError

_MOST = 20
"""Faults of the file that are named."""
_OF_ROW = ("CHECK constraint failed", "NULL value in", "NUMERIC value in", "TEXT value in")
"""What SQLite says of one row whose page is sound."""


def check(connection: Connection) -> tuple[list[str], bool]:
    """What is wrong with the file and its indexes, and whether rows can be read in spite of it."""
    if connection.dialect.name != "sqlite":
        return [], True
    texts = connection.exec_driver_sql(f"PRAGMA integrity_check({_MOST})").scalars()
    lines = [line for text in texts for line in str(text).splitlines() if line != "ok"]
    lines = [line for line in lines if not line.startswith("*** in database")]
    wrong = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    # "non-unique entry in", "row 7 missing from", "wrong # of entries in index ix_..."
    of_index = [line for line in lines if "index" in line and not line.startswith("Tree")]
    of_row = [line for line in lines if line.startswith(_OF_ROW)]
    of_file = [line for line in lines if line not in {*of_index, *of_row}]
    faults = [f"the file is damaged ({line})" for line in of_file[:_MOST]]
    faults += [f"an index does not hold what its table holds ({line})" for line in of_index[:_MOST]]
    faults += [f"a value cannot be what was kept ({line})" for line in of_row[:_MOST]]
    faults += [f"a row of {row[0]} names a thing that is not there" for row in wrong[:_MOST]]
    return faults, not of_file


def check_beside(connection: Connection) -> list[str]:
    """Tables beside the chain (accounts, tasks): whether each of their rows can be read.

    No hash covers them: a letter changed in a name is not noticed.
    """
    covered = {FACTS.name, CONTENTS.name, *(t.name for t in TABLES.values())}
    return [
        f"{table.name}: {fault}"
        for table in METADATA.sorted_tables
        if table.name not in covered and (fault := _unreadable(connection, table))
    ]


def _unreadable(connection: Connection, table: Table) -> str:
    try:
        with opening.said_plainly():
            for _ in connection.execute(select(table)):
                pass
    except DamagedError as error:
        return str(error)
    return ""


def index_anew(connection: Connection) -> None:
    """Make all indexes anew from their tables."""
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql("REINDEX")
