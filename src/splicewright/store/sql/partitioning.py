"""The log of a large register in PostgreSQL as several tables, by the thing that a fact is about.

By the thing and not by its site: a fact never changes, a conveyor that is moved takes its belts and
joints to another site. What is asked of one thing then reads one part; what is asked in the order
of arrival reads the head of each.

PostgreSQL keeps a value unique over all parts only where it holds what they are parted by. So it
keeps a number, or an id, from standing twice in one part, no longer in two: that is left to the one
place that appends, which holds the register's row while it looks, and `verify` looks for both.
"""

from __future__ import annotations

from sqlalchemy import Connection, text

from splicewright.errors import Fault, InputError
from splicewright.store.progress import Tell, tell_nobody

MOST_PARTS = 256
_AT_ONCE = 100_000
_KEYS = "ADD CONSTRAINT pk_facts PRIMARY KEY (seq, subject), ADD CONSTRAINT uq_facts_id UNIQUE"


def partition(connection: Connection, parts: int, tell: Tell = tell_nobody) -> None:
    """Part the log; one transaction, in which nobody else reads or writes.

    Raises
    ------
    InputError
        SQLite; parted already; or a number of parts that is none.
    """
    if connection.dialect.name != "postgresql":
        say = "lies in SQLite, whose tables have no parts; accepted is a register in PostgreSQL"
        raise InputError(Fault("register", say))
    if not 2 <= parts <= MOST_PARTS:
        raise InputError(Fault("parts", f"{parts} cannot be; accepted is 2 to {MOST_PARTS}"))

    def run(sql: str) -> None:
        connection.execute(text(sql))

    last = connection.execute(text("SELECT seq FROM register FOR UPDATE")).scalar_one()
    run("LOCK TABLE facts IN ACCESS EXCLUSIVE MODE")
    if number_of_parts(connection):
        say = f"is parted already, into {number_of_parts(connection)}"
        raise InputError(Fault("register", say))
    of_log = "WHERE tablename = 'facts' AND schemaname = current_schema()"
    query = f"SELECT indexdef FROM pg_indexes {of_log} AND indexname LIKE 'ix\\_%'"
    indexes = connection.execute(text(query)).scalars().all()
    run("ALTER TABLE facts RENAME TO facts_whole")
    run("CREATE TABLE facts (LIKE facts_whole INCLUDING DEFAULTS INCLUDING CONSTRAINTS) "
        "PARTITION BY HASH (subject)")  # fmt: skip
    names = ["facts", *(f"facts_{n}" for n in range(parts))]
    for n, name in enumerate(names[1:]):
        run(f"CREATE TABLE {name} PARTITION OF facts FOR VALUES WITH (MODULUS {parts}, "
            f"REMAINDER {n})")  # fmt: skip
    copied = 0
    for first in range(1, last + 1, _AT_ONCE):
        tell(first, last, "parting the log")
        some = f"seq BETWEEN {first} AND {first + _AT_ONCE - 1}"
        copied += connection.execute(
            text(f"INSERT INTO facts SELECT * FROM facts_whole WHERE {some}")
        ).rowcount
    if copied != last:
        say = f"holds {copied} facts and should hold {last}; see: splicewright register verify"
        raise InputError(Fault("register", say))
    tell(last, last, "making its indexes")
    run("DROP TABLE facts_whole")
    run(f"ALTER TABLE facts {_KEYS} (id, subject)")
    for definition in indexes:
        run(definition)
    for name in names:  # who writes into a part by itself is refused, too
        run(f"CREATE TRIGGER {name}_never_changed BEFORE UPDATE OR DELETE OR TRUNCATE ON {name} "
            "FOR EACH STATEMENT EXECUTE FUNCTION never_changed()")  # fmt: skip
    run("ANALYZE facts")


def number_of_parts(connection: Connection) -> int:
    """Of the log; 0 where it is one table."""
    if connection.dialect.name != "postgresql":
        return 0
    query = "SELECT count(*) FROM pg_inherits WHERE inhparent = 'facts'::regclass"
    return int(connection.execute(text(query)).scalar_one())


def doubled(connection: Connection, most: int) -> list[str]:
    """What a log in parts may hold twice without the database noticing, as faults."""
    if not number_of_parts(connection):
        return []
    query = f"SELECT id FROM facts GROUP BY id HAVING count(*) > 1 LIMIT {most}"
    return [f"two facts have the id {id_}" for id_ in connection.execute(text(query)).scalars()]
