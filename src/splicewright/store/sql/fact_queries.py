"""Queries of the log: facts in the order of arrival, of some kinds, or about some things."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import (
    ARRAY,
    CompoundSelect,
    Connection,
    Engine,
    Executable,
    Select,
    bindparam,
    func,
    not_,
    select,
    union_all,
)

from splicewright.store.database import opening
from splicewright.store.database.schema import FACTS, TABLES, TELLING
from splicewright.store.facts.facts import Stored
from splicewright.store.facts.kinds import Stream
from splicewright.store.present.deriving import amend
from splicewright.store.present.present import SubjectNow
from splicewright.store.register import Head
from splicewright.store.sql.appending import STORED, read_stored
from splicewright.store.sql.present import lies_at_query
from splicewright.store.sql.within import Visibility, things_within

_AT_ONCE = 400
_CORRECTION, _PLATE = "correction", "plate inspected"
_ABOUT = FACTS.c.subject.in_(bindparam("subjects", expanding=True))
_THINGS = (
    func.unnest(bindparam("subjects", type_=ARRAY(FACTS.c.subject.type)))
    .table_valued("thing")
    .render_derived()
)
_KINDS = (
    func.unnest(bindparam("kinds", type_=ARRAY(FACTS.c.kind.type)))
    .table_valued("kind")
    .render_derived()
)
COUNT_ABOUT = select(func.count()).select_from(FACTS).where(_ABOUT)
_PLATES_OF_THINGS = select(*STORED, FACTS.c.corrects).where(
    # Not the kind as it stands: then SQLite goes by the index of kinds, through all facts of them.
    FACTS.c.kind.concat("") == _PLATE,
    _ABOUT,
)
_SOUND_OF = select(*STORED).where(FACTS.c.id.in_(bindparam("ids", expanding=True)), not_(TELLING))
NEWEST_ABOUT = select(*STORED).where(_ABOUT).order_by(FACTS.c.seq.desc()).limit(bindparam("limit"))


def since_query(seen: Visibility, seq: int, limit: int, kinds: Collection[str]) -> Select[Any]:
    """Facts after number `seq`, of some kinds or all, to be bound to `seen.given`."""
    query = seen.facts(select(*STORED).where(FACTS.c.seq > seq))
    if kinds:
        # Each kind by its own index: asked together, a rare one is looked for in all facts.
        each = [
            seen.facts(select(FACTS.c.seq).where(FACTS.c.seq > seq, FACTS.c.kind == kind))
            .order_by(FACTS.c.seq)
            .limit(limit)
            .subquery()
            for kind in kinds
        ]
        first = union_all(*(select(one.c.seq) for one in each)).subquery()
        query = select(*STORED).where(FACTS.c.seq.in_(select(first.c.seq)))
    return query.order_by(FACTS.c.seq).limit(limit)


def _telling_of_things(seen: Visibility, kinds: Collection[str]) -> CompoundSelect[Any]:
    """Asked of SQLite: each kind by itself.

    Of two lists it takes one to the index, and goes through every movement in the store of a site
    that is among the things.
    """
    telling = select(*STORED, FACTS.c.corrects).where(_ABOUT, TELLING)
    return union_all(*(seen.facts(telling.where(FACTS.c.kind == kind)) for kind in sorted(kinds)))


def _telling_of_each_thing(seen: Visibility) -> Select[Any]:
    """Asked of PostgreSQL: each kind of each thing by the index, in that part of the log alone.

    The offset of none keeps it from reading a list, or the log, whole.
    """
    telling = select(*STORED, FACTS.c.corrects).where(
        FACTS.c.subject == _THINGS.c.thing, FACTS.c.kind == _KINDS.c.kind, TELLING
    )
    one = seen.facts(telling).offset(0).lateral()
    return select(*one.c).select_from(_THINGS, _KINDS, one)


_FROM = (
    select(FACTS.c.seq, FACTS.c.kind, FACTS.c.subject, FACTS.c.hash)
    .where(FACTS.c.seq >= bindparam("seq"))
    .order_by(FACTS.c.seq)
    .limit(bindparam("most"))
)


def come_since(
    connection: Connection, head: Head, most: int
) -> tuple[tuple[str, UUID], ...] | None:
    """Kind and subject of the facts after a head; see `Register.since`."""
    rows = connection.execute(_FROM, {"seq": head.seq, "most": most + 2}).all()
    if not rows or (rows[0].seq, bytes(rows[0].hash)) != (head.seq, head.hash):
        return None
    return tuple((row.kind, row.subject) for row in rows[1:]) if len(rows) < most + 2 else None


def facts_of_things(
    connection: Connection,
    seen: Visibility,
    subjects: Collection[UUID],
    kinds: Collection[str],
    *,
    sound: bool = True,
) -> list[Any]:
    """Rows of facts of some kinds about some things, and all corrections there, as they arrived."""
    wanted, rows = list(subjects), list[Any]()
    plates = _PLATE in kinds
    telling = {*kinds, _CORRECTION} - ({_PLATE} if sound else set())
    if connection.dialect.name == "sqlite":
        of_each: Executable = _telling_of_things(seen, telling)
    else:
        of_each = _telling_of_each_thing(seen)
    for start in range(0, len(wanted), _AT_ONCE):
        some = seen.given | {"subjects": wanted[start : start + _AT_ONCE]}
        with opening.planned_once(connection):
            rows += connection.execute(of_each, some | {"kinds": sorted(telling)})
        if plates and sound:
            rows += connection.execute(seen.facts(_PLATES_OF_THINGS), some)
    if plates and not sound:
        # Not as a condition above: it would be looked up for every plate.
        corrected = [row.corrects for row in rows if row.corrects is not None]
        for start in range(0, len(corrected), _AT_ONCE):
            ids = {"ids": corrected[start : start + _AT_ONCE]}
            rows += connection.execute(_SOUND_OF, ids)
    return sorted(rows, key=lambda row: row.seq)


def belts_ever(connection: Connection, seen: Visibility, conveyor: UUID) -> frozenset[UUID]:
    """Belts of which a fact, or what corrects one, names the conveyor."""
    query = select(FACTS.c.subject).where(
        FACTS.c.kind.in_(("belt placed", _CORRECTION)),
        FACTS.c.stream == Stream.BELT,
        FACTS.c.body.contains(str(conveyor)),
    )
    return frozenset(connection.execute(seen.facts(query), seen.given).scalars())


def changes_of(
    connection: Connection, seen: Visibility, subjects: Collection[UUID]
) -> dict[UUID, tuple[int, datetime]]:
    """Number and arrival of the last fact about each of some things; see `Register`."""
    table = TABLES[SubjectNow]
    query = select(table.c.subject, FACTS.c.seq, FACTS.c.received).join(
        FACTS, FACTS.c.seq == table.c.version
    )
    if seen.limited:
        query = query.where(things_within(table.c.subject, table.c.stream))
    wanted, changes = list(subjects), dict[UUID, tuple[int, datetime]]()
    for start in range(0, len(wanted), _AT_ONCE):
        some = query.where(table.c.subject.in_(wanted[start : start + _AT_ONCE]))
        changes |= {row[0]: (row[1], row[2]) for row in connection.execute(some, seen.given)}
    return changes


class ThingReads:
    """What a register is asked of one conveyor and what lies there; see `Register`."""

    _engine: Engine

    @property
    def _seen(self) -> Visibility:
        """Whose sites."""
        raise AssertionError  # the register's own stands in its place

    def facts_of_things(
        self, subjects: Collection[UUID], kinds: Collection[str], *, sound: bool = True
    ) -> tuple[Stored, ...]:
        """Facts of some kinds about some things, corrections applied."""
        with opening.reading(self._engine) as connection:
            found = facts_of_things(connection, self._seen, subjects, kinds, sound=sound)
        return amend([*map(read_stored, found)])

    def belts_ever(self, conveyor: UUID) -> frozenset[UUID]:
        """Belts that lie or once lay on a conveyor."""
        with opening.reading(self._engine) as connection:
            return belts_ever(connection, self._seen, conveyor)

    def lies_at(self, conveyor: UUID) -> frozenset[UUID]:
        """Belts, joints and jobs of a conveyor."""
        query = lies_at_query(limited=self._seen.limited)
        with opening.reading(self._engine) as connection:
            found = connection.execute(query, {"conveyor": conveyor} | self._seen.given)
            return frozenset(found.scalars())
