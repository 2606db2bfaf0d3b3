"""A register of any size, invented, for the benchmarks.

    python -m benchmarks.large_register 1000000 FILE        a million facts of one site
    python -m benchmarks.large_register 10000000 URL 25     ten million of 25 sites, PostgreSQL
    python -m benchmarks.large_register 10000000 URL 25 16  the same, its log in 16 parts

Ten years of joints, each planned, built, run, re-tightened and inspected twice, one in twenty
removed; the facts come in the order of time, so what is about one joint lies far apart, as in a
register that is in use. Sites are of unequal size. Facts are chained and derived by the register's
own code, but written as rows, a hundred times faster than one call each; `register verify` finds
nothing wrong with it.
"""

from __future__ import annotations

import heapq
import json
import random
import sqlite3
import sys
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from itertools import islice
from pathlib import Path
from uuid import UUID

from sqlalchemy import insert, text, update

from splicewright.joint.inspection.verdict import PlateState
from splicewright.joint.layout import End
from splicewright.quantities import Kind
from splicewright.store import Fact
from splicewright.store.database.schema import REGISTER, TABLES
from splicewright.store.facts.facts import FIRST_HASH, Stored, link, microseconds, to_data
from splicewright.store.facts.joint_facts import (
    InspectionClosed,
    JointBuilt,
    JointPlanned,
    JointPutToWork,
    JointRemoved,
    JointRetightened,
    Mode,
    PlateInspected,
    ReadingTaken,
)
from splicewright.store.facts.kinds import Stream, What
from splicewright.store.facts.plant_facts import BeltPlaced, ConveyorRecorded, SiteAdded
from splicewright.store.present.deriving import MemoryPresent, derive
from splicewright.store.sql.life_counts import count_anew
from splicewright.store.sql.register import SqlRegister, open_register

START = datetime(2016, 1, 4, 6, 0, tzinfo=UTC)
YEARS = 10.0
DAY = 86400.0
PER_JOINT, PER_CONVEYOR, PLATES = 50, 20, 21
MODES = (Mode.PIN_WORN, Mode.LOOP_WORN, Mode.PULL_OUT, Mode.RENEWED)
KINDS = ("hinged", "solid plate")
_COLUMNS = "seq, id, subject, stream, kind, corrects, at, received, body, hash"
_AT_ONCE = 20_000
_Row = tuple[object, ...]


def filled(where: str | Path, facts: int, sites: int = 1, parts: int = 0) -> None:
    """Fill a register that is not there yet; `parts` of its log, in PostgreSQL."""
    chance = random.Random(facts)
    with open_register(where) as register:
        if register.head().seq:
            return
        if parts:
            register.partition(parts)
        begun = time.perf_counter()
        stream = _facts(chance, facts, sites)
        if register._engine.dialect.name == "sqlite":
            _fill(register, stream, _sqlite)
        else:
            _fill(register, stream, _postgresql)
        print(f"{register.head().seq} facts filled in {time.perf_counter() - begun:.0f} s")


def _id(chance: random.Random) -> UUID:
    return UUID(int=chance.getrandbits(128), version=4)


def _facts(chance: random.Random, facts: int, sites: int) -> Iterator[Fact]:
    """All of it in the order of time; `at` is when it came."""
    number, queue = 0, list[tuple[datetime, int, Iterator[tuple[datetime, What]]]]()
    names = [_id(chance) for _ in range(sites)]
    weights = [1.0 / (n + 1) for n in range(sites)]

    def fact(at: datetime, what: What) -> Fact:
        return Fact(_id(chance), at, "Ada Example", what, device="phone 1")

    for n, site in enumerate(names):
        yield fact(START, SiteAdded(site, f"Karst Hollow {n + 1} (invented)"))
    joints = facts // PER_JOINT
    conveyor = belt = names[0]
    for number in range(joints):
        at = START + timedelta(days=YEARS * 365.25 * number / joints)
        while queue and queue[0][0] <= at:
            yield from _next(queue, fact)
        if number % PER_CONVEYOR == 0:
            conveyor, belt = _id(chance), _id(chance)
            site = chance.choices(names, weights)[0]
            name = f"K{number // PER_CONVEYOR + 1}"
            yield fact(at, ConveyorRecorded(conveyor, site, name, None, 240.0, 2.0))
            yield fact(at, BeltPlaced(belt, conveyor, "belt", 240.0))
        life = _life(chance, number, at, conveyor, belt)
        heapq.heappush(queue, (at, number, life))
        yield from _next(queue, fact)
    while queue:
        yield from _next(queue, fact)


def _next(
    queue: list[tuple[datetime, int, Iterator[tuple[datetime, What]]]],
    fact: Callable[[datetime, What], Fact],
) -> Iterator[Fact]:
    """What the joint at the head of the queue says on its day; it waits there for its next."""
    then, number, life = heapq.heappop(queue)
    for at, what in life:
        yield fact(then, what)
        if at != then:
            heapq.heappush(queue, (at, number, life))
            return


def _life(
    chance: random.Random, number: int, at: datetime, conveyor: UUID, belt: UUID
) -> Iterator[tuple[datetime, What]]:
    """What is said of one joint, each with the day of what comes after it."""
    joint = _id(chance)
    place = 240.0 * (number % PER_CONVEYOR) / PER_CONVEYOR
    kind = KINDS[number % len(KINDS)]
    planned = JointPlanned(
        joint, conveyor, f"J{number}", belt, place, None, "", DAY, DAY, construction=kind
    )
    then = at + timedelta(days=1)
    yield at, planned
    yield at, JointBuilt(joint)
    yield then, JointPutToWork(joint)
    for done in range(2):
        inspection, worn = _id(chance), chance.randrange(1, PLATES + 1)
        if not done:
            later = then + timedelta(days=20 * chance.random())
            yield later, JointRetightened(joint)
            then = later
        for plate in range(1, PLATES + 1):
            state = PlateState.OK if plate != worn else PlateState.WORN
            yield then, PlateInspected(joint, inspection, End.LEADING, plate, state)
        typed = f"{2 + done + chance.randrange(10) / 10:.1f}"
        metres = float(typed) / 1e3
        yield then, ReadingTaken(Stream.JOINT, joint, "pin", Kind.LENGTH, metres, f"{typed} mm")
        then += timedelta(days=30)
        after = (30 + 300 * chance.random()) * DAY
        yield then, InspectionClosed(joint, inspection, True, after, not_seen="trailing end")
    if number % 20 == 7:
        yield then, JointRemoved(joint, chance.choice(MODES))


def _fill(
    register: SqlRegister,
    facts: Iterator[Fact],
    written: Callable[[SqlRegister], Iterator[Callable[[list[Stored], list[str]], None]]],
) -> None:
    present, seq, hash_ = MemoryPresent(), 0, FIRST_HASH
    for write in written(register):
        begun = time.perf_counter()
        while some := list(islice(facts, _AT_ONCE)):
            stored, bodies = list[Stored](), list[str]()
            for fact in some:
                seq += 1
                body = _plate_json(fact, fact.what) or json.dumps(
                    to_data(fact), sort_keys=True, separators=(",", ":"), ensure_ascii=False
                )
                if seq % 1000 == 1:
                    assert body == fact.to_json()
                hash_ = link(hash_, seq, fact.at, body)
                stored.append(Stored(seq, fact.at, hash_, fact))
                bodies.append(body)
                derive(stored[-1], present)
            write(stored, bodies)
            if seq % 1_000_000 < _AT_ONCE:
                print(f"{seq} facts, {time.perf_counter() - begun:.0f} s", flush=True)
    with register._writer.begin() as connection:
        for kind, table in TABLES.items():
            rows = iter(present.rows(kind).values())
            while part := list(islice(rows, 5000)):
                names = [column.name for column in table.c]
                connection.execute(
                    insert(table), [{name: getattr(row, name) for name in names} for row in part]
                )
        connection.execute(update(REGISTER).values(seq=seq, hash=hash_))
        count_anew(connection)
        connection.execute(text("ANALYZE"))


def _plate_json(fact: Fact, what: What) -> str:
    """The JSON of most facts here, faster than by their fields; empty for any other."""
    if not isinstance(what, PlateInspected):
        return ""
    return (
        f'{{"at":"{fact.at.isoformat()}","by":"{fact.by}","device":"{fact.device}","format":1,'
        f'"id":"{fact.id}","kind":"plate inspected","person":null,"what":{{'
        f'"end":"{what.end.value}","inspection":"{what.inspection}","joint":"{what.joint}",'
        f'"note":"","plate":{what.plate},"state":"{what.state.value}"}}}}'
    )


def _sqlite(register: SqlRegister) -> Iterator[Callable[[list[Stored], list[str]], None]]:
    """Rows without a flush each; indexes are made at the end, as that is faster."""
    bare = sqlite3.connect(str(register._engine.url.database), isolation_level=None)
    for pragma in ("synchronous = OFF", "cache_size = -1000000"):
        bare.execute(f"PRAGMA {pragma}")
    query = "SELECT name, sql FROM sqlite_master WHERE type = 'index' AND tbl_name = 'facts'"
    made = [(name, sql) for name, sql in bare.execute(query) if sql]
    for name, _ in made:
        bare.execute(f"DROP INDEX {name}")
    marks = ",".join("?" * len(_COLUMNS.split(",")))

    def write(stored: list[Stored], bodies: list[str]) -> None:
        bare.execute("BEGIN")
        rows = (_row(one, body, hexed=True) for one, body in zip(stored, bodies, strict=True))
        bare.executemany(f"INSERT INTO facts ({_COLUMNS}) VALUES ({marks})", rows)
        bare.execute("COMMIT")

    yield write
    for _, sql in made:
        bare.execute(sql)
    bare.close()


def _postgresql(register: SqlRegister) -> Iterator[Callable[[list[Stored], list[str]], None]]:
    """Rows by COPY; indexes and keys are made at the end, as that is faster."""
    connection = register._engine.raw_connection()
    cursor = connection.cursor()
    of_log = "FROM pg_indexes WHERE tablename = 'facts' AND schemaname = current_schema()"
    cursor.execute(f"SELECT indexname, indexdef {of_log} AND indexname LIKE 'ix\\_%'")
    indexes = cursor.fetchall()
    cursor.execute(
        "SELECT conname, pg_get_constraintdef(oid) FROM pg_constraint "
        "WHERE conrelid = 'facts'::regclass AND contype IN ('p', 'u')"
    )
    keys = cursor.fetchall()
    for name, _ in indexes:
        cursor.execute(f"DROP INDEX {name}")
    for name, _ in keys:
        cursor.execute(f"ALTER TABLE facts DROP CONSTRAINT {name}")
    connection.commit()

    def write(stored: list[Stored], bodies: list[str]) -> None:
        with cursor.copy(f"COPY facts ({_COLUMNS}) FROM STDIN") as copy:
            for one, body in zip(stored, bodies, strict=True):
                copy.write_row(_row(one, body, hexed=False))
        connection.commit()

    yield write
    for name, said in keys:
        cursor.execute(f"ALTER TABLE facts ADD CONSTRAINT {name} {said}")
    for _, said in indexes:
        cursor.execute(
            said.replace(" ON ONLY ", " ON ")
        )  # of each part, not of the log's name alone
    connection.commit()
    connection.close()


def _row(stored: Stored, body: str, *, hexed: bool) -> _Row:
    fact = stored.fact
    id_, subject = (fact.id.hex, fact.subject.hex) if hexed else (fact.id, fact.subject)
    at, received = microseconds(fact.at), microseconds(stored.received)
    stream = fact.stream.value
    return stored.seq, id_, subject, stream, fact.kind, None, at, received, body, stored.hash


if __name__ == "__main__":
    filled(sys.argv[2], int(sys.argv[1]), *map(int, sys.argv[3:]))
