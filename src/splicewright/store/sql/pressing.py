"""What presses in a fleet of any size: the first joints of each reason, and how many there are."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from functools import cache
from typing import Any, TypeVar
from uuid import UUID

from sqlalchemy import (
    BindParameter,
    Column,
    Connection,
    Engine,
    Select,
    bindparam,
    case,
    func,
    literal_column,
    select,
    union_all,
)

from splicewright.history.life.counts import LifeCount
from splicewright.store.database import opening
from splicewright.store.database.schema import RUNNING, STANDING, TABLES, UNFIT
from splicewright.store.present.present import ConveyorNow, DamageNow, DueNow, JointNow, Row, key_of
from splicewright.store.register import Pressing
from splicewright.store.sql.appending import AT_ONCE
from splicewright.store.sql.life_counts import read_counts
from splicewright.store.sql.present import open_damage_query, rows
from splicewright.store.sql.within import Visibility, rows_within

R = TypeVar("R", bound=Row)
_J, _D = TABLES[JointNow], TABLES[DueNow]


@cache
def _queries(*, limited: bool) -> dict[str, Select[Any]]:
    """Ids of the first joints by each reason, and counts; built once."""
    most: BindParameter[int] = bindparam("most")
    joints = [rows_within(JointNow)] if limited else []
    dues = [rows_within(DueNow)] if limited else []
    today: BindParameter[datetime] = bindparam("today")
    until: BindParameter[datetime] = bindparam("until")
    unfit = select(_J.c.joint).where(UNFIT, *joints)
    # What is due at a joint that must not run is due there already.
    due = [*dues, _D.c.joint.not_in(unfit)]
    standing = select(_J.c.joint).where(STANDING, *joints, _J.c.joint.not_in(unfit))
    by_due = select(_D.c.joint).where(_D.c.due < until, *due).order_by(_D.c.due, _D.c.joint)
    oldest = select(_J.c.joint).where(RUNNING, *joints).order_by(_J.c.put_to_work, _J.c.joint)
    # Each joint by the first that is due there, once for both numbers: nearly all may be due, and
    # to tell them apart is what takes long. One that stands counts as due since ever.
    by_joint = union_all(
        select(_D.c.joint, _D.c.due).where(_D.c.due < bindparam("latest"), *due),
        standing.add_columns(literal_column("0")),
    ).subquery()
    first = select(func.min(by_joint.c.due).label("due")).group_by(by_joint.c.joint).subquery()
    numbers = (func.count(case((first.c.due < day, 1))) for day in (today, until))
    return {
        "unfit": unfit.order_by(_J.c.label, _J.c.joint).limit(most),
        "standing": standing.order_by(_J.c.label, _J.c.joint).limit(most),
        "due": by_due.limit(most),
        "oldest": oldest.limit(most),
        "number unfit": select(func.count()).select_from(unfit.subquery()),
        "numbers due": select(*numbers),
    }


def pressing(
    connection: Connection, seen: Visibility, today: datetime, until: datetime, most: int
) -> Pressing:
    """See `Register.pressing`."""
    queries = _queries(limited=seen.limited)
    given = seen.given | {"today": today, "until": until, "most": most}
    given["latest"] = max(today, until)
    ids = dict.fromkeys(
        id_
        for name in ("unfit", "standing", "due", "oldest")
        for id_ in connection.execute(queries[name], given).scalars()
    )
    joints = _by_id(connection, JointNow, _J.c.joint, ids)
    dues = _by_id(connection, DueNow, _D.c.joint, ids)
    plants = dict.fromkeys(j.conveyor for j in joints)
    conveyors = _by_id(connection, ConveyorNow, TABLES[ConveyorNow].c.conveyor, plants)
    unfit = int(connection.execute(queries["number unfit"], given).scalar_one())
    late, soon = map(int, connection.execute(queries["numbers due"], given).one())
    return Pressing(joints, dues, conveyors, unfit, late, soon - late)


def _by_id(
    connection: Connection, kind: type[R], column: Column[Any], ids: Iterable[UUID]
) -> tuple[R, ...]:
    wanted, matches = list(ids), list[R]()
    for start in range(0, len(wanted), AT_ONCE):
        some = wanted[start : start + AT_ONCE]
        matches += rows(kind, connection.execute(select(TABLES[kind]).where(column.in_(some))))
    place = {id_: n for n, id_ in enumerate(wanted)}
    matches.sort(key=lambda row: (place[getattr(row, column.name)], *map(str, key_of(row))))
    return tuple(matches)


@cache
def _not_due(*, limited: bool, by_kind: bool) -> Select[Any]:
    here = [rows_within(JointNow)] if limited else []
    if by_kind:
        here.append(_J.c.construction == bindparam("kind"))
    due = select(_D.c.joint).where(_D.c.joint == _J.c.joint, _D.c.due < bindparam("until"))
    begun = _J.c.put_to_work.between(bindparam("begun"), bindparam("last"))
    return (
        select(func.count())
        .select_from(_J)
        .where(RUNNING, begun, _J.c.can_run.is_not(False), ~due.exists(), *here)
    )


def running_not_due(
    connection: Connection,
    seen: Visibility,
    begun: datetime,
    before: datetime,
    until: datetime,
    kind: str | None = None,
) -> int:
    """See `Register.running_not_due`."""
    last = before - timedelta(microseconds=1)
    given = seen.given | {"begun": begun, "last": last, "until": until}
    by_kind = kind is not None
    query = _not_due(limited=seen.limited, by_kind=by_kind)
    return int(connection.execute(query, given | ({"kind": kind} if by_kind else {})).scalar_one())


class FleetReads:
    """What a register is asked of its whole fleet; see `Register`."""

    _engine: Engine

    @property
    def _seen(self) -> Visibility:
        """Whose sites."""
        raise AssertionError  # the register's own stands in its place

    def pressing(self, today: datetime, until: datetime, most: int) -> Pressing:
        """The joints that press most; see `Register.pressing`."""
        with opening.reading(self._engine) as connection:
            return pressing(connection, self._seen, today, until, most)

    def running_not_due(
        self, begun: datetime, before: datetime, until: datetime, kind: str | None = None
    ) -> int:
        """Running joints with nothing due."""
        with opening.reading(self._engine) as connection:
            return running_not_due(connection, self._seen, begun, before, until, kind)

    def open_damage(self, limit: int = 100_000) -> tuple[tuple[DamageNow, ConveyorNow], ...]:
        """Damage that was not mended; see `Register.open_damage`."""
        query, own = open_damage_query(limited=self._seen.limited), len(TABLES[DamageNow].c)
        with opening.reading(self._engine) as connection:
            records = connection.execute(query, self._seen.given | {"limit": limit})
            return tuple((DamageNow(*row[:own]), ConveyorNow(*row[own:])) for row in records)

    def life_counts(self, site: UUID | None = None) -> tuple[LifeCount, ...]:
        """Lives alike, counted."""
        with opening.reading(self._engine) as connection:
            return read_counts(connection, self._seen, site)
