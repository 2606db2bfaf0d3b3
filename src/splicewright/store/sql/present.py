"""Rows of the present state in SQL: reading them, and keeping them while facts are worked in."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import datetime
from functools import cache
from typing import Any, TypeVar
from uuid import UUID

from sqlalchemy import (
    CompoundSelect,
    Connection,
    Select,
    Table,
    UpdateBase,
    and_,
    bindparam,
    case,
    delete,
    or_,
    select,
    tuple_,
    union_all,
)
from sqlalchemy.dialects import postgresql, sqlite

from splicewright.store.database.schema import STANDING, TABLES, UNFIT
from splicewright.store.facts.kinds import Stream
from splicewright.store.facts.plant_facts import Grade
from splicewright.store.present.present import (
    KEYS,
    ROWS_OF,
    BeltNow,
    ConveyorNow,
    DamageNow,
    DeviationNow,
    DueNow,
    JobNow,
    JointNow,
    Row,
    Standing,
    State,
    SubjectNow,
    key_of,
)
from splicewright.store.sql.within import rows_within

R = TypeVar("R", bound=Row)


def rows(kind: type[R], records: Iterable[Sequence[Any]]) -> tuple[R, ...]:
    """Rows as the database gives them, as ours: a table's columns are its row's fields in order."""
    return tuple(kind(*row) for row in records)


# Queries are built once: to put one together takes longer than SQLite takes to answer it.


@cache
def rows_query(table: Table, order: tuple[str, ...], same: frozenset[str]) -> Select[Any]:
    """Rows of a table where some columns are as given."""
    query = select(table).order_by(*(table.c[name] for name in order))
    return query.where(*(table.c[name] == bindparam(name) for name in sorted(same)))


@cache
def rows_within_query(
    table: Table, order: tuple[str, ...], same: frozenset[str], *, limited: bool
) -> Select[Any]:
    """As `rows_query`; limited: only of the sites that the query is bound to."""
    query = rows_query(table, order, same)
    kind = next(kind for kind, other in TABLES.items() if other is table)
    return query.where(rows_within(kind)) if limited else query


@cache
def joints_query(*, of_one: bool, limited: bool) -> Select[Any]:
    """Joints by label; of one conveyor or all."""
    table = TABLES[JointNow]
    query = select(table).order_by(table.c.label, table.c.joint).limit(bindparam("limit"))
    query = query.where(rows_within(JointNow)) if limited else query
    return query.where(table.c.conveyor == bindparam("conveyor")) if of_one else query


def such_joints(
    query: Select[Any],
    states: Collection[State],
    label: str,
    like: Collection[str],
    after: tuple[str, UUID] | None,
    dialect: str,
) -> Select[Any]:
    """Only joints in some states, of one label, with texts in it, or behind one in the order."""
    table = TABLES[JointNow]
    if states:
        query = query.where(table.c.state.in_(list(states)))
    if label:
        query = query.where(table.c.label == label)
    # SQLite's LIKE takes a and A for the same itself, as far as its lower() would: half the work.
    has = table.c.label.contains if dialect == "sqlite" else table.c.label.icontains
    query = query.where(*(has(part, autoescape=True) for part in like))
    if after is not None:
        query = query.where(tuple_(table.c.label, table.c.joint) > tuple_(*after))
    return query


def of_joints(query: Select[Any], joints: Collection[UUID]) -> Select[Any]:
    """Only some of the joints."""
    return query.where(TABLES[JointNow].c.joint.in_(joints))


@cache
def barred_query(same: frozenset[str], *, limited: bool) -> Select[Any]:
    """Joints that must not run, as `authority.is_barred` says it; of a site or conveyor."""
    table, plants = TABLES[JointNow], TABLES[ConveyorNow]
    # Each by its own index.
    barred = union_all(*(select(table.c.joint).where(some) for some in (UNFIT, STANDING)))
    query = select(table).where(table.c.joint.in_(barred))
    query = query.where(rows_within(JointNow)) if limited else query
    if "conveyor" in same:
        query = query.where(table.c.conveyor == bindparam("conveyor"))
    if "site" in same:
        there = plants.c.conveyor == table.c.conveyor
        query = query.join(plants, there).where(plants.c.site == bindparam("site"))
    return query.order_by(table.c.label, table.c.joint).limit(bindparam("limit"))


@cache
def lies_at_query(*, limited: bool) -> CompoundSelect[Any]:
    """Ids of the belts, joints and jobs of a conveyor."""
    each = []
    for kind in (BeltNow, JointNow, JobNow):
        table = TABLES[kind]
        query = select(table.c[KEYS[kind][0]]).where(table.c.conveyor == bindparam("conveyor"))
        each.append(query.where(rows_within(kind)) if limited else query)
    return union_all(*each)


@cache
def jobs_query(same: frozenset[str], *, open_only: bool, limited: bool) -> Select[Any]:
    """Jobs, the newest first; of a site, a conveyor or all, open ones only or all."""
    table = TABLES[JobNow]
    query = select(table).order_by(table.c.opened.desc(), table.c.job).limit(bindparam("limit"))
    if "conveyor" in same:
        query = query.where(table.c.conveyor == bindparam("conveyor"))
    if "site" in same:
        plants = TABLES[ConveyorNow]
        there = select(plants.c.conveyor).where(plants.c.site == bindparam("site"))
        query = query.where(table.c.conveyor.in_(there))
    query = query.where(rows_within(JobNow)) if limited else query
    return query.where(table.c.closed.is_(None)) if open_only else query


def jobs_after(query: Select[Any], opened: datetime, job: UUID) -> Select[Any]:
    """Of jobs, those after one in the order of `jobs_query`."""
    table = TABLES[JobNow]
    same = and_(table.c.opened == opened, table.c.job > job)
    return query.where(or_(table.c.opened < opened, same))


@cache
def due_query(same: frozenset[str], *, limited: bool) -> Select[Any]:
    """Lines of the due list, the longest due first; of a site, conveyor or joint."""
    due, joints, plants = TABLES[DueNow], TABLES[JointNow], TABLES[ConveyorNow]
    query = (
        select(
            due.c.joint,
            joints.c.label,
            joints.c.state,
            due.c.conveyor,
            plants.c.name,
            plants.c.site,
            due.c.task,
            due.c.due,
            due.c.why,
            joints.c.construction,
        )
        .join(joints, joints.c.joint == due.c.joint)
        .join(plants, plants.c.conveyor == due.c.conveyor)
        .where(due.c.due < bindparam("before"))
        .order_by(due.c.due, due.c.joint, due.c.task)
        .limit(bindparam("limit"))
    )
    query = query.where(rows_within(DueNow)) if limited else query
    of = {"site": plants.c.site, "conveyor": due.c.conveyor, "joint": due.c.joint}
    return query.where(*(of[name] == bindparam(name) for name in sorted(same)))


@cache
def deviations_query(same: frozenset[str], *, limited: bool) -> Select[Any]:
    """Deviations with a day that are not put right, the earliest first; of a site, ... or joint."""
    left, jobs, joints = TABLES[DeviationNow], TABLES[JobNow], TABLES[JointNow]
    plants = TABLES[ConveyorNow]
    query = (
        select(
            left,
            jobs.c.name,
            jobs.c.joint,
            joints.c.label,
            joints.c.state,
            jobs.c.conveyor,
            plants.c.name,
            plants.c.site,
        )
        .join(jobs, jobs.c.job == left.c.job)
        .join(plants, plants.c.conveyor == jobs.c.conveyor)
        .outerjoin(joints, joints.c.joint == jobs.c.joint)
        .where(left.c.until < bindparam("before"), left.c.standing != Standing.RIGHT)
        .where(or_(joints.c.state.is_(None), joints.c.state != State.REMOVED))
        .order_by(left.c.until, left.c.job, left.c.step, left.c.what, left.c.box)
        .limit(bindparam("limit"))
    )
    query = query.where(rows_within(JobNow)) if limited else query
    of = {"site": plants.c.site, "conveyor": jobs.c.conveyor, "joint": jobs.c.joint}
    return query.where(*(of[name] == bindparam(name) for name in sorted(same)))


@cache
def open_damage_query(*, limited: bool) -> Select[Any]:
    """Damage not mended, with its conveyor; the gravest first, then the longest known."""
    damage, belts, plants = TABLES[DamageNow], TABLES[BeltNow], TABLES[ConveyorNow]
    gravest = case({Grade.STOP: 0, Grade.REPAIR: 1}, value=damage.c.grade, else_=2)
    query = (
        select(damage, plants)
        .join(belts, belts.c.belt == damage.c.belt)
        .join(plants, plants.c.conveyor == belts.c.conveyor)
        .where(damage.c.mended.is_(None))
        .order_by(gravest, damage.c.found, damage.c.damage)
        .limit(bindparam("limit"))
    )
    return query.where(rows_within(DamageNow)) if limited else query


class SqlPresent:
    """The rows of the present state over one open transaction; `flush` writes what changed."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._rows: dict[tuple[type[Row], tuple[object, ...]], Row | None] = {}
        self._changed: set[tuple[type[Row], tuple[object, ...]]] = set()
        self._about: dict[tuple[type[Row], object], set[tuple[object, ...]]] = {}

    def get(self, kind: type[R], *key: object) -> R | None:
        """The row of that kind and key."""
        place = (kind, key)
        if place not in self._rows:
            same = dict(zip(KEYS[kind], key, strict=True))
            query = rows_query(TABLES[kind], (), frozenset(same))
            record = self._connection.execute(query, same).first()
            self._rows[place] = None if record is None else kind(*record)
        row = self._rows[place]
        assert row is None or isinstance(row, kind)
        return row

    def put(self, row: Row) -> None:
        """Add or replace a row."""
        place = (type(row), key_of(row))
        self._rows[place] = row
        self._changed.add(place)
        about = self._about.get((type(row), place[1][0]))
        if about is not None:
            about.add(place[1])

    def drop(self, kind: type[Row], *key: object) -> None:
        """Remove a row."""
        place = (kind, key)
        self._rows[place] = None
        self._changed.add(place)

    def about(self, kind: type[R], subject: UUID) -> Iterable[R]:
        """The rows of that kind about one thing; asked of the database once."""
        place = (kind, subject)
        if place not in self._about:
            query = rows_query(TABLES[kind], (), frozenset({KEYS[kind][0]}))
            there = self._connection.execute(query, {KEYS[kind][0]: subject})
            keys = {k for of, k in self._rows if of is kind and k[0] == subject}
            for record in there:
                row = kind(*record)
                self._rows.setdefault((kind, key_of(row)), row)
                keys.add(key_of(row))
            self._about[place] = keys
        found_rows = (self._rows.get((kind, key)) for key in self._about[place])
        return [row for row in found_rows if isinstance(row, kind)]

    def forget(self, subject: UUID, stream: Stream) -> None:
        """Remove all rows that the facts about one thing made, but not that it is known."""
        self.flush()
        for kind in ROWS_OF[stream]:
            table = TABLES[kind]
            first = KEYS[kind][0]
            self._connection.execute(delete(table).where(table.c[first] == subject))
            for place in [p for p in self._rows if p[0] is kind and p[1][0] == subject]:
                del self._rows[place]
            self._about.pop((kind, subject), None)

    def flush(self) -> None:
        """Write what changed: what others refer to first."""
        for kind, table in TABLES.items():
            changed = [place for place in self._changed if place[0] is kind]
            kept = [self._rows[place] for place in changed]
            gone = [place[1] for place in changed if self._rows[place] is None]
            for key in gone:
                same = and_(*(table.c[n] == k for n, k in zip(KEYS[kind], key, strict=True)))
                self._connection.execute(delete(table).where(same))
            values = [{c.name: getattr(row, c.name) for c in table.c} for row in kept if row]
            if values:
                self._upsert(kind, values)
        self._changed.clear()

    def clear(self) -> None:
        """Forget what was read, after `flush`, to keep memory small in long work."""
        self._rows.clear()
        self._about.clear()

    def _upsert(self, kind: type[Row], values: list[dict[str, Any]]) -> None:
        dialect = self._connection.dialect.name
        self._connection.execute(_upserting(TABLES[kind], KEYS[kind], dialect), values)


@cache
def _upserting(table: Table, keys: tuple[str, ...], dialect: str) -> UpdateBase:
    query = (sqlite if dialect == "sqlite" else postgresql).insert(table)
    others = {c.name: query.excluded[c.name] for c in table.c if c.name not in keys}
    if not others:  # a row that is all key is there or not
        kept: UpdateBase = query.on_conflict_do_nothing(index_elements=list(keys))
        return kept
    upsert: UpdateBase = query.on_conflict_do_update(index_elements=list(keys), set_=others)
    return upsert


def subject_version(connection: Connection, subject: UUID) -> int:
    """Number of the last fact about a thing; 0 when it is not known."""
    table = TABLES[SubjectNow]
    version = connection.execute(select(table.c.version).where(table.c.subject == subject)).scalar()
    return int(version) if version is not None else 0
