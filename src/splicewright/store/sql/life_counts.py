"""Counts of lives in SQL: kept up to date in the transaction of the facts they come from.

Rows are by site, and once more for the register as a whole under a site that is none (`ALL`),
which is read only by whoever is let into all sites: a question about five million joints then
reads a few thousand rows.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, bindparam, delete, func, select
from sqlalchemy.dialects import postgresql, sqlite

from splicewright.history.life.counts import Fate, LifeCount, merged
from splicewright.store.database.schema import LIFE_COUNTS, TABLES
from splicewright.store.facts.facts import Stored
from splicewright.store.facts.kinds import Stream
from splicewright.store.present.life import Lived, life_of
from splicewright.store.present.present import ConveyorNow, JointNow
from splicewright.store.progress import Tell, tell_nobody
from splicewright.store.sql.present import SqlPresent
from splicewright.store.sql.within import Visibility

ALL = UUID(int=0)
"""Stands for all sites together."""
_PAGE, _KEPT = 5_000, 50_000
_C = LIFE_COUNTS.c
_J, _P = TABLES[JointNow], TABLES[ConveyorNow]
_LIVED = tuple(_J.c[field] for field in Lived.__dict__ if field in _J.c)
_Key = tuple[UUID, str, Fate, str, int]
_KEYS = ("site", "kind", "fate", "cause", "bin")


class Tally:
    """What a call of facts takes from the counts and adds to them."""

    def __init__(self) -> None:
        self._sums: dict[_Key, list[int]] = {}

    def add(self, site: UUID | None, life: LifeCount | None, times: int = 1) -> None:
        """Count a life at a site, and of the register as a whole; -1 times takes it away."""
        if site is not None:
            self.add_at(site, life, times)
            self.add_at(ALL, life, times)

    def add_at(self, place: UUID, life: LifeCount | None, times: int = 1) -> None:
        """Count a life at one place only."""
        if life is None:
            return
        key = (place, life.kind, life.fate, life.cause, life.bin)
        sums = self._sums.setdefault(key, [0, 0])
        sums[0] += times * life.count
        sums[1] += times * life.seconds

    def rows(self) -> dict[_Key, tuple[int, int]]:
        """Count and seconds of each key, where either is not 0."""
        return {key: (n, s) for key, (n, s) in self._sums.items() if n or s}

    def write(self, connection: Connection) -> None:
        """Work it into the table."""
        rows: list[dict[str, Any]] = [
            dict(zip(_KEYS, key, strict=True)) | {"count": n, "seconds": s}
            for key, (n, s) in sorted(self.rows().items())
        ]
        if not rows:
            return
        statement = (sqlite if connection.dialect.name == "sqlite" else postgresql).insert(
            LIFE_COUNTS
        )
        more = {name: _C[name] + statement.excluded[name] for name in ("count", "seconds")}
        connection.execute(statement.on_conflict_do_update(index_elements=_KEYS, set_=more), rows)
        if any(row["count"] <= 0 for row in rows):
            gone = [row for row in rows if row["count"] <= 0]
            same = (_C[name] == bindparam(f"_{name}") for name in _KEYS)
            empty = delete(LIFE_COUNTS).where(*same, _C.count == 0)
            connection.execute(empty, [{f"_{name}": row[name] for name in _KEYS} for row in gone])


class LivesBefore:
    """The lives that a call of facts may change, as they were before it."""

    def __init__(self, facts: Iterable[Stored], present: SqlPresent) -> None:
        self._present = present
        self._lives: dict[UUID, tuple[UUID | None, LifeCount | None]] = {}
        self._sites: dict[UUID, UUID | None] = {}
        for stored in facts:
            fact = stored.fact
            if fact.stream is Stream.CONVEYOR:
                self._sites.setdefault(fact.subject, self._site(fact.subject))
            elif fact.stream is Stream.JOINT and fact.subject not in self._lives:
                self._lives[fact.subject] = self._now(fact.subject)

    def _now(self, joint: UUID) -> tuple[UUID | None, LifeCount | None]:
        row = self._present.get(JointNow, joint)
        if row is None:
            return None, None
        return self._site(row.conveyor), life_of(row)

    def _site(self, conveyor: UUID) -> UUID | None:
        row = self._present.get(ConveyorNow, conveyor)
        return row.site if row is not None else None

    def write_changes(self, connection: Connection) -> None:
        """Work what has changed since into the counts; after `SqlPresent.flush`."""
        tally = Tally()
        for joint, before in self._lives.items():
            after = self._now(joint)
            for (site, life), times in ((before, -1), (after, 1)) if before != after else ():
                tally.add(site, life, times)
        for conveyor, was in self._sites.items():
            now = self._site(conveyor)
            if now != was:
                self._move(connection, conveyor, was, now, tally)
        tally.write(connection)

    def _move(
        self,
        connection: Connection,
        conveyor: UUID,
        was: UUID | None,
        now: UUID | None,
        tally: Tally,
    ) -> None:
        """A conveyor's other joints, which go to another site with it."""
        query = select(_J.c.joint, *_LIVED).where(_J.c.conveyor == conveyor)
        for row in connection.execute(query):
            if row.joint not in self._lives:
                tally.add(was, life_of(row), -1)
                tally.add(now, life_of(row))


def count_anew(connection: Connection, tell: Tell = tell_nobody) -> None:
    """Make all counts from the rows of the joints."""
    connection.execute(delete(LIFE_COUNTS))
    # Site by site, written and forgotten as they come: kept to the end, they are as many as joints;
    # in the order of the joints each would be sought all over the table.
    tally, everywhere = Tally(), Tally()
    of = connection.execute(select(func.count()).select_from(_J)).scalar_one()
    query = select(_P.c.site, *_LIVED).join(_P, _P.c.conveyor == _J.c.conveyor)
    query = query.order_by(_P.c.site)
    rows = connection.execute(query.execution_options(yield_per=_PAGE))
    for number, row in enumerate(rows, 1):
        life = life_of(row)
        tally.add_at(row.site, life)
        everywhere.add_at(ALL, life)
        if number % _PAGE == 0:
            tell(number, of, "counting lives")
        if number % _KEPT == 0:
            tally.write(connection)
            tally = Tally()
    tally.write(connection)
    everywhere.write(connection)


def miscounted(
    connection: Connection, joints: Iterable[JointNow], conveyors: Mapping[UUID, ConveyorNow]
) -> int:
    """How many rows of the counts are not what these joints give."""
    tally = Tally()
    for joint in joints:
        if joint.conveyor in conveyors:
            tally.add(conveyors[joint.conveyor].site, life_of(joint))
    should = tally.rows()
    there = {tuple(row[:-2]): tuple(row[-2:]) for row in connection.execute(select(LIFE_COUNTS))}
    return sum(there.get(key) != should.get(key) for key in there.keys() | should.keys())


def read_counts(
    connection: Connection, seen: Visibility, site: UUID | None
) -> tuple[LifeCount, ...]:
    """The counts of one site, or of all that somebody is let into."""
    query = select(_C.fate, _C.cause, _C.bin, _C.count, _C.seconds, _C.kind)
    if seen.sites is None or (site is not None and site in seen.sites):
        query = query.where(_C.site == (site or ALL))
        rows = connection.execute(query.order_by(_C.kind, _C.fate, _C.cause, _C.bin))
        return tuple(LifeCount(*row) for row in rows.all())
    if site is not None:
        return ()
    # Added up here: some databases give sums as decimal numbers.
    query = query.where(_C.site.in_(bindparam("within", expanding=True)))
    rows = connection.execute(query, {"within": list(seen.sites)})
    return merged(LifeCount(*row) for row in rows)
