"""The register in SQLite or PostgreSQL: one class for both."""

from __future__ import annotations

import contextlib
import copy
import hashlib
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar
from uuid import UUID

from sqlalchemy import Connection, Engine, Select, select

from splicewright.errors import Fault, InputError
from splicewright.store.authority import CONSOLE, NOBODY, Actor
from splicewright.store.background import PATIENCE, BackgroundTasks
from splicewright.store.database import opening
from splicewright.store.database.gathering import Gathering
from splicewright.store.database.schema import CONTENTS, FACTS, TABLES
from splicewright.store.facts.facts import Fact, Stored
from splicewright.store.hooks import Hooks
from splicewright.store.incoming import Incoming
from splicewright.store.notices import MailWishes
from splicewright.store.present.deriving import amend
from splicewright.store.present.present import (
    BeltNow,
    ConveyorNow,
    DamageNow,
    DeviationNow,
    JobNow,
    JointNow,
    PersonNow,
    PieceNow,
    Row,
    SiteNow,
    State,
    StockNow,
)
from splicewright.store.progress import Tell, tell_nobody
from splicewright.store.refusals import ConflictError, DamagedError
from splicewright.store.register import (
    Content,
    DueItem,
    Head,
    LeftItem,
    Receipt,
    Verified,
)
from splicewright.store.sites import Sites
from splicewright.store.sql import copying, following, partitioning, verifying, within
from splicewright.store.sql.appending import AT_ONCE, STORED, Appending, read_stored, read_stream
from splicewright.store.sql.contents import keep, note_sender, refuse_unfit, unpack
from splicewright.store.sql.fact_queries import (
    COUNT_ABOUT,
    NEWEST_ABOUT,
    ThingReads,
    changes_of,
    come_since,
    since_query,
)
from splicewright.store.sql.label_parts import KeptLabels
from splicewright.store.sql.plants import KeptPlants
from splicewright.store.sql.present import (
    barred_query,
    deviations_query,
    due_query,
    jobs_after,
    jobs_query,
    joints_query,
    of_joints,
    rows,
    rows_within_query,
    subject_version,
    such_joints,
)
from splicewright.store.sql.pressing import FleetReads

if TYPE_CHECKING:
    from splicewright.store.accounts.sql import SqlAccounts

R = TypeVar("R", bound=Row)
_Call = tuple[Sequence[Fact], Mapping[UUID, int], Actor]
MOST_FACTS = 10_000
"""Facts of one call."""


def _system_clock() -> datetime:
    return datetime.now(UTC)


def open_register(
    where: str | Path,
    *,
    clock: Callable[[], datetime] = _system_clock,
    busy_seconds: float = opening.BUSY_SECONDS,
    check: bool = True,
    make: bool = True,
    tell: Tell = tell_nobody,
) -> SqlRegister:
    """Open the register in a file or at a URL; make it when it is not there.

    Parameters
    ----------
    where : a file, "sqlite:///FILE" or "postgresql://USER@HOST/DATABASE"
    clock : what the register says the time is; only the order of arrival orders facts
    busy_seconds : how long to wait for another writer [s]
    check : whether SQLite checks its file first, which takes about a second for 300 MB
    make : False refuses a file that is not there
    tell : is called while a large file is checked, and while an old register is brought up to date

    Raises
    ------
    InputError
        The place cannot be used.
    DamagedError
        The file is damaged, holds something else, or was made by a newer Splicewright.
    BusyError
        It is locked or away.
    """
    url = opening.read_url(where)
    if not make and url.drivername == "sqlite" and not Path(str(url.database)).is_file():
        raise InputError(Fault("register", f"there is no register at {url.database}"))
    engine = opening.connect(url, busy_seconds)
    with opening.disposed_of_where_it_fails(engine), opening.said_plainly():
        if check and engine.dialect.name == "sqlite":
            opening.check_sqlite(engine, tell)
        opening.migrate(engine)
        verifying.rebuild_if_old(engine, tell)
        if check:
            verifying.check_head(engine)
    return SqlRegister(engine, clock)


def open_as_it_stands(
    where: str | Path, *, clock: Callable[[], datetime] = _system_clock
) -> SqlRegister:
    """Open a register that another process brings up to date, to read it as it was before.

    Raises
    ------
    BusyError
        It cannot be read yet, or not by this release.
    """
    engine = opening.connect(opening.read_url(where), reads_only=True)
    with opening.disposed_of_where_it_fails(engine):
        verifying.check_readable(engine)
    return SqlRegister(engine, clock)


class SqlRegister(FleetReads, ThingReads):
    """A `Register` in SQL. Made by `open_register`; may be used by many threads."""

    def __init__(self, engine: Engine, clock: Callable[[], datetime] = _system_clock) -> None:
        self._engine = engine
        self._writer = opening.writing(engine)
        self._clock = clock
        self._gathering = Gathering(self._append_together)
        self._actor = CONSOLE
        self._plants = KeptPlants()
        self._labels = KeptLabels()

    def said_by(self, actor: Actor) -> SqlRegister:
        """The same register, for what this actor records."""
        theirs = copy.copy(self)
        theirs._actor = actor
        return theirs

    @property
    def sites_seen(self) -> Sites:
        """The sites whose things are read here; None for all."""
        return self._actor.sites

    @property
    def in_process(self) -> bool:
        """Whether the database works in this process, as SQLite does, not in its own beside it."""
        return self._engine.dialect.name == "sqlite"

    @property
    def _seen(self) -> within.Visibility:
        return within.Visibility(self._actor.sites, self._actor.account)

    def __enter__(self) -> SqlRegister:
        return self

    def __exit__(self, *error: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    def accounts(self, *, hash_memory: int | None = None) -> SqlAccounts:
        """The accounts kept in the same database.

        hash_memory : of one password's hash [KiB]; None takes the usual 64 MiB
        """
        from splicewright.store.accounts.sql import SqlAccounts

        return SqlAccounts(self._engine, self._clock, hash_memory)

    def tasks(self, patience: float = PATIENCE) -> BackgroundTasks:
        """The tasks kept in the same database.

        patience : a background task is taken up by another after so long without a sign of life [s]
        """
        return BackgroundTasks(self._engine, self._clock, patience)

    def hooks(self) -> Hooks:
        """The hooks kept in the same database."""
        return Hooks(self._engine, self._clock)

    def incoming(self) -> Incoming:
        """What is kept in the same database of values that come in from other systems."""
        return Incoming(self._engine, self._clock)

    def mail_wishes(self) -> MailWishes:
        """Who wants to be told of what by mail, in the same database."""
        return MailWishes(self._engine, self._clock)

    @contextlib.contextmanager
    def at_one_moment(self) -> Iterator[None]:
        """Reads inside are of one moment; see `Register.at_one_moment`."""
        with opening.at_one_moment(self._engine):
            yield

    def append(self, *facts: Fact, seen: Mapping[UUID, int] | None = None) -> tuple[Receipt, ...]:
        """Record facts; see `Register.append`."""
        if self._actor is NOBODY:
            msg = "facts are recorded through `said_by`, so that authority is known"
            raise RuntimeError(msg)
        if not facts:
            return ()
        if len(facts) > MOST_FACTS:
            say = f"{len(facts)} facts at once; accepted is up to {MOST_FACTS}"
            raise InputError(Fault("", say))
        return self._gathering.do((facts, seen or {}, self._actor))

    def _append_together(self, calls: Sequence[_Call]) -> list[tuple[Receipt, ...] | Exception]:
        outcomes: list[tuple[Receipt, ...] | Exception] = []
        with opening.said_plainly():
            if len(calls) == 1:  # refused, it takes the transaction back, which holds nothing else
                with self._writer.begin() as connection:
                    return [self._append_one(connection, calls[0])]
            with self._writer.begin() as connection:
                for call in calls:
                    try:
                        with connection.begin_nested():
                            outcomes.append(self._append_one(connection, call))
                    except (InputError, ConflictError) as error:
                        outcomes.append(error)  # its savepoint took back what it began
        return outcomes

    def _append_one(self, connection: Connection, call: _Call) -> tuple[Receipt, ...]:
        facts, seen, actor = call
        return Appending(connection, self._clock().astimezone(UTC), actor).run(facts, seen)

    def keep(self, data: bytes, media_type: str) -> str:
        """Keep a content; see `Register.keep`."""
        refuse_unfit(data, media_type)
        digest = hashlib.sha256(data).hexdigest()
        with opening.said_plainly(), self._writer.begin() as connection:
            keep(connection, digest, media_type, data)
            if self._seen.limited and self._seen.account is not None:
                note_sender(connection, digest, self._seen.account)
        return digest

    def content(self, digest: str) -> Content:
        """A kept content; see `Register.content`."""
        row = self._first(select(CONTENTS).where(CONTENTS.c.digest == digest))
        if row is None or not self.has_content(digest):
            raise InputError(Fault("digest", f"the register keeps no content {digest[:12]}..."))
        data = unpack(row.data, row.packed)
        if data is None or hashlib.sha256(data).hexdigest() != digest:
            msg = f"content {digest[:12]}... is not what was kept; check with register verify"
            raise DamagedError(msg)
        return Content(digest, row.media_type, data)

    def has_content(self, digest: str) -> bool:
        """Whether it is kept."""
        return self._first(self._seen.content(digest), self._seen.given) is not None

    def head(self) -> Head:
        """The end of the chain."""
        with opening.reading(self._engine) as connection:
            return verifying.read_head(connection)

    def version(self, subject: UUID) -> int:
        """Number of the last fact about a thing."""
        with opening.reading(self._engine) as connection:
            seen = self._seen.sees(connection, subject)
            return subject_version(connection, subject) if seen else 0

    def changes_of(self, subjects: Collection[UUID]) -> Mapping[UUID, tuple[int, datetime]]:
        """Number and arrival of their last facts."""
        with opening.reading(self._engine) as connection:
            return changes_of(connection, self._seen, subjects)

    def fact(self, id: UUID) -> Stored | None:
        """The fact of that id, with its latest correction."""
        with opening.reading(self._engine) as connection:
            query = select(*STORED, FACTS.c.subject).where(
                (FACTS.c.id == id) | (FACTS.c.corrects == id)
            )
            records = connection.execute(query.order_by(FACTS.c.seq)).all()
            if not records or not self._seen.sees(connection, records[0].subject):
                return None
            return {s.fact.id: s for s in amend([*map(read_stored, records)])}.get(id)

    def known(self, ids: Iterable[UUID]) -> frozenset[UUID]:
        """Those of the ids that are ids of recorded facts."""
        wanted, known_ids = list(ids), set[UUID]()
        with opening.reading(self._engine) as connection:
            for start in range(0, len(wanted), AT_ONCE):
                query = select(FACTS.c.id).where(FACTS.c.id.in_(wanted[start : start + AT_ONCE]))
                rows_ = connection.execute(self._seen.facts(query), self._seen.given)
                known_ids |= set(rows_.scalars())
        return frozenset(known_ids)

    def facts_since(
        self, seq: int, limit: int = 1000, kinds: Collection[str] = ()
    ) -> tuple[Stored, ...]:
        """Facts after number `seq` as recorded."""
        query = since_query(self._seen, seq, limit, kinds)
        with opening.reading(self._engine) as connection:
            records = connection.execute(query, self._seen.given)
            return tuple(read_stored(row) for row in records)

    def since(self, head: Head, most: int) -> tuple[tuple[str, UUID], ...] | None:
        """Kind and subject of every fact after a head; see `Register.since`."""
        with opening.reading(self._engine) as connection:
            return come_since(connection, head, most)

    def facts_about(self, subject: UUID, since: int = 0) -> tuple[Stored, ...]:
        """Facts about one thing, corrections applied."""
        with opening.reading(self._engine) as connection:
            if not self._seen.sees(connection, subject):
                return ()
            return tuple(s for s in amend(read_stream(connection, subject)) if s.seq > since)

    def newest_about(
        self, subjects: Collection[UUID], limit: int
    ) -> tuple[int, tuple[Stored, ...]]:
        """How many facts there are about some things, and the newest; see `Register`."""
        about = {"subjects": list(subjects)}
        with opening.at_one_moment(self._engine), opening.reading(self._engine) as connection:
            about["subjects"] = [s for s in subjects if self._seen.sees(connection, s)]
            count = connection.execute(COUNT_ABOUT, about).scalar_one()
            records = connection.execute(NEWEST_ABOUT, about | {"limit": limit}).all()
        return count, amend([read_stored(row) for row in records[::-1]])[::-1]

    def sites(self) -> tuple[SiteNow, ...]:
        """All sites, by name."""
        return self._rows(SiteNow, "name", "site")

    def site(self, site: UUID) -> SiteNow | None:
        """One site."""
        return self._row(SiteNow, site=site)

    def conveyors(self, site: UUID | None = None) -> tuple[ConveyorNow, ...]:
        """All conveyors, or those of a site."""
        with opening.at_one_moment(self._engine), opening.reading(self._engine) as connection:
            read = partial(self._rows, ConveyorNow, "name", "conveyor", site=site)
            return self._plants.read(connection, (site, self._actor.sites), read)

    def conveyor(self, conveyor: UUID) -> ConveyorNow | None:
        """One conveyor."""
        return self._row(ConveyorNow, conveyor=conveyor)

    def belt(self, belt: UUID) -> BeltNow | None:
        """One belt."""
        return self._row(BeltNow, belt=belt)

    def belts(self, conveyor: UUID) -> tuple[BeltNow, ...]:
        """Belts placed on a conveyor, the newest first."""
        return self._rows(BeltNow, "placed", "belt", conveyor=conveyor)[::-1]

    def pieces(self, belt: UUID) -> tuple[PieceNow, ...]:
        """Pieces of a belt."""
        return self._rows(PieceNow, "start", "piece", belt=belt)

    def damage(self, belt: UUID) -> tuple[DamageNow, ...]:
        """Damage of a belt."""
        return self._rows(DamageNow, "place", "damage", belt=belt)

    def joint(self, joint: UUID) -> JointNow | None:
        """One joint."""
        return self._row(JointNow, joint=joint)

    def joints(
        self,
        conveyor: UUID | None = None,
        states: Collection[State] = (),
        *,
        label: str = "",
        like: Collection[str] = (),
        after: tuple[str, UUID] | None = None,
        limit: int = 500,
    ) -> tuple[JointNow, ...]:
        """Joints by label, a page at a time."""
        query = joints_query(of_one=conveyor is not None, limited=self._seen.limited)
        given = {"limit": limit} | self._seen.given | _given(conveyor=conveyor)
        dialect = self._engine.dialect.name
        query = such_joints(query, states, label, like, after, dialect)
        with opening.at_one_moment(self._engine), opening.reading(self._engine) as connection:
            if like and dialect == "sqlite":
                some = self._labels.may_have(connection, like)
                query = query if some is None else of_joints(query, some)
            return rows(JointNow, connection.execute(query, given))

    def barred(
        self, *, site: UUID | None = None, conveyor: UUID | None = None, limit: int = 200
    ) -> tuple[JointNow, ...]:
        """Joints that must not run, by label."""
        given = _given(site=site, conveyor=conveyor)
        query = barred_query(frozenset(given), limited=self._seen.limited)
        given |= {"limit": limit} | self._seen.given
        return self._asked(JointNow, query, given)

    def jobs(
        self,
        conveyor: UUID | None = None,
        *,
        site: UUID | None = None,
        open_only: bool = False,
        limit: int = 500,
        after: tuple[datetime, UUID] | None = None,
    ) -> tuple[JobNow, ...]:
        """Jobs, the newest first, a page at a time."""
        given = _given(site=site, conveyor=conveyor)
        query = jobs_query(frozenset(given), open_only=open_only, limited=self._seen.limited)
        query = query if after is None else jobs_after(query, *after)
        return self._asked(JobNow, query, {"limit": limit} | self._seen.given | given)

    def job(self, job: UUID) -> JobNow | None:
        """One job."""
        return self._row(JobNow, job=job)

    def people(self) -> tuple[PersonNow, ...]:
        """All people, by name."""
        return self._rows(PersonNow, "name", "person")

    def stock(self, site: UUID) -> tuple[StockNow, ...]:
        """What lies in a site's store."""
        return self._rows(StockNow, "item", site=site)

    def due(
        self,
        before: datetime,
        *,
        site: UUID | None = None,
        conveyor: UUID | None = None,
        joint: UUID | None = None,
        limit: int = 200,
    ) -> tuple[DueItem, ...]:
        """What is due before a moment, the longest due first."""
        given = _given(site=site, conveyor=conveyor, joint=joint)
        query = due_query(frozenset(given), limited=self._seen.limited)
        asked = self._seen.given | given | {"before": before, "limit": limit}
        with opening.reading(self._engine) as connection:
            return tuple(DueItem(*row) for row in connection.execute(query, asked))

    def left_outside(
        self,
        before: datetime,
        *,
        site: UUID | None = None,
        conveyor: UUID | None = None,
        joint: UUID | None = None,
        limit: int = 100_000,
    ) -> tuple[LeftItem, ...]:
        """Values left outside their limits; see `Register.left_outside`."""
        given = _given(site=site, conveyor=conveyor, joint=joint)
        query = deviations_query(frozenset(given), limited=self._seen.limited)
        own = len(TABLES[DeviationNow].c)
        with opening.reading(self._engine) as connection:
            records = connection.execute(
                query, self._seen.given | given | {"before": before, "limit": limit}
            )
            return tuple(
                LeftItem(
                    DeviationNow(*row[:own]),
                    row[own],
                    row[own + 1],
                    row[own + 2] or "",
                    *row[own + 3 :],
                )
                for row in records
            )

    def verify(self, anchor: Head | None = None, tell: Tell = tell_nobody) -> Verified:
        """Check everything; see `Register.verify`."""
        self._seen.whole()
        with opening.reading(self._engine) as connection:
            return verifying.verify(connection, anchor, tell)

    def verify_part(self, since: Head, most: int, tell: Tell = tell_nobody) -> Verified:
        """Check facts behind a head; see `Register.verify_part`."""
        self._seen.whole()
        with opening.reading(self._engine) as connection:
            return verifying.verify_part(connection, since, most, tell)

    def dump(self) -> Iterator[str]:
        """The whole register as JSON lines, as it was when the first line was asked for."""
        self._seen.whole()
        with opening.reading(self._engine) as connection:
            yield from copying.dump(connection)

    def load(self, lines: Iterable[str]) -> Head:
        """Fill an empty register from a dump."""
        with opening.said_plainly(), self._writer.begin() as connection:
            return copying.load(connection, lines)

    def back_up(self, to: Path) -> Head:
        """Write a whole copy to a new file; see `Register.back_up`."""
        self._seen.whole()
        with opening.said_plainly():
            return copying.back_up(self._engine, to)

    def follow(self, to: str | Path) -> tuple[Head, int]:
        """Bring a copy up to date; see `following.follow`."""
        self._seen.whole()
        return following.follow(self._engine, to)

    def rebuild(self, tell: Tell = tell_nobody) -> None:
        """Derive the present state anew from all facts."""
        with opening.said_plainly(), self._writer.begin() as connection:
            verifying.rebuild(connection, tell)
        self._plants.forget()
        self._labels.forget()

    def partition(self, parts: int, tell: Tell = tell_nobody) -> None:
        """Part the log of a large register in PostgreSQL; see `store.sql.partitioning`."""
        self._seen.whole()
        with opening.said_plainly(), self._writer.begin() as connection:
            partitioning.partition(connection, parts, tell)

    def _first(self, query: Select[Any], given: Mapping[str, Any] | None = None) -> Any:
        with opening.reading(self._engine) as connection:
            return connection.execute(query, given or {}).first()

    def _asked(self, kind: type[R], query: Select[Any], given: Mapping[str, Any]) -> tuple[R, ...]:
        with opening.reading(self._engine) as connection:
            return rows(kind, connection.execute(query, given))

    def _row(self, kind: type[R], **same: UUID) -> R | None:
        matches = self._rows(kind, **same)
        return matches[0] if matches else None

    def _rows(self, kind: type[R], *order: str, **same: UUID | None) -> tuple[R, ...]:
        given = _given(**same)
        query = rows_within_query(TABLES[kind], order, frozenset(given), limited=self._seen.limited)
        return self._asked(kind, query, given | self._seen.given)


def _given(**values: UUID | None) -> dict[str, Any]:
    return {name: value for name, value in values.items() if value is not None}
