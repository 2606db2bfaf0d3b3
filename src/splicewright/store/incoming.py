"""Values that come in from other systems: which message is what, the last of each, what was wrong.

What is recorded of them are readings, facts like any other, under the authority of whoever sends.
Here stands what is beside the facts: the mapping of each site, the last message of each topic, and
one line for each thing that was wrong, with how often it was.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from uuid import UUID

from sqlalchemy import (
    BigInteger,
    Column,
    Connection,
    Engine,
    Table,
    Text,
    and_,
    delete,
    func,
    insert,
    select,
    update,
)

from splicewright.errors import Fault
from splicewright.store.accounts import account_sites, changing
from splicewright.store.accounts.accounts import Change
from splicewright.store.authority import Actor, Scope
from splicewright.store.database import opening
from splicewright.store.database.schema import METADATA, Id, Instant
from splicewright.store.facts.plant_facts import PersonRole
from splicewright.store.refusals import ConflictError, NotAllowedError
from splicewright.store.sites import covers

MOST_FAULTS = 500
"""Lines kept of one site; the oldest go."""
LONGEST_TOPIC = 200
_ADMINS = "mappings, and what was wrong with messages, are for admins of the site; ask them"


@dataclass(frozen=True, slots=True)
class KeptMapping:
    """The mapping of a site: the file as it was given, when and by whom."""

    site: UUID
    file: str
    at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class LastMessage:
    """The last good message of a topic.

    received : when it came; recorded : when one of it was last recorded; at : of what moment that
    was; typed : the value that was recorded, with its unit
    """

    topic: str
    received: datetime
    recorded: datetime
    at: datetime
    typed: str


@dataclass(frozen=True, slots=True)
class WrongMessage:
    """What was wrong with messages of a topic, when first and last, and how often."""

    topic: str
    sentence: str
    first: datetime
    last: datetime
    count: int


MAPPINGS = Table(
    "incoming_maps",
    METADATA,
    Column("site", Id, primary_key=True),
    Column("file", Text, nullable=False),
    Column("at", Instant, nullable=False),
    Column("by", Text, nullable=False),
)
TOPICS = Table(
    "incoming_topics",
    METADATA,
    Column("site", Id, primary_key=True),
    Column("topic", Text, primary_key=True),
    Column("received", Instant, nullable=False),
    Column("recorded", Instant, nullable=False),
    Column("at", Instant, nullable=False),
    Column("typed", Text, nullable=False),
)
FAULTS = Table(
    "incoming_faults",
    METADATA,
    Column("site", Id, primary_key=True),
    Column("topic", Text, primary_key=True),
    Column("sentence", Text, primary_key=True),
    Column("first", Instant, nullable=False),
    Column("last", Instant, nullable=False),
    Column("count", BigInteger, nullable=False),
)


class Incoming:
    """What a register's database keeps of values that come in. May be used by many threads."""

    def __init__(self, engine: Engine, clock: Callable[[], datetime]) -> None:
        self._engine = engine
        self._writer = opening.writing(engine)
        self._clock = clock

    # What admins do

    def keep_mapping(self, actor: Actor, site: UUID, file: str, before: str | None = None) -> None:
        """Keep a mapping that was looked through, in the place of the one before.

        Raises
        ------
        ConflictError
            The one before is not `before` any more.
        """
        ask_admin(actor, site)
        with opening.said_plainly(), self._writer.begin() as connection:
            there = delete(MAPPINGS).where(MAPPINGS.c.site == site)
            if before is not None:
                there = there.where(MAPPINGS.c.file == before)
            if not connection.execute(there).rowcount and before is not None:
                msg = "another mapping was kept meanwhile; read it again"
                raise ConflictError(msg, site)
            connection.execute(
                insert(MAPPINGS).values(
                    site=site, file=file, at=self._now(), by=actor.name or "console"
                )
            )
            self._log(connection, actor, Change.MAPPING_KEPT, site)

    def faults(self, actor: Actor, site: UUID, limit: int = 100) -> tuple[WrongMessage, ...]:
        """What was wrong, the last first."""
        ask_admin(actor, site)
        query = select(*list(FAULTS.c)[1:]).where(FAULTS.c.site == site)
        query = query.order_by(FAULTS.c.last.desc(), FAULTS.c.topic, FAULTS.c.sentence)
        with opening.reading(self._engine) as connection:
            return tuple(WrongMessage(*row) for row in connection.execute(query.limit(limit)))

    def forget_faults(self, actor: Actor, site: UUID) -> None:
        """Let go of what was wrong: somebody has seen to it."""
        ask_admin(actor, site)
        with opening.said_plainly(), self._writer.begin() as connection:
            connection.execute(delete(FAULTS).where(FAULTS.c.site == site))
            self._log(connection, actor, Change.FAULTS_CLEARED, site)

    # What doors ask and note; who may record is asked where the fact is appended

    def mapping(self, site: UUID) -> KeptMapping | None:
        """The mapping of a site."""
        query = select(MAPPINGS).where(MAPPINGS.c.site == site)
        with opening.reading(self._engine) as connection:
            row = connection.execute(query).first()
        return None if row is None else KeptMapping(*row)

    def last(self, site: UUID) -> tuple[LastMessage, ...]:
        """The last good message of each topic of a site, by topic."""
        query = select(*list(TOPICS.c)[1:]).where(TOPICS.c.site == site).order_by(TOPICS.c.topic)
        with opening.reading(self._engine) as connection:
            return tuple(LastMessage(*row) for row in connection.execute(query))

    def last_of(self, site: UUID, topic: str) -> LastMessage | None:
        """The last good message of one topic."""
        query = select(*list(TOPICS.c)[1:]).where(TOPICS.c.site == site, TOPICS.c.topic == topic)
        with opening.reading(self._engine) as connection:
            row = connection.execute(query).first()
        return None if row is None else LastMessage(*row)

    def note_recorded(self, site: UUID, topic: str, at: datetime, typed: str) -> None:
        """A message was recorded."""
        mine, now = and_(TOPICS.c.site == site, TOPICS.c.topic == topic), self._now()
        values = {"received": now, "recorded": now, "at": at, "typed": typed}
        with opening.said_plainly(), self._writer.begin() as connection:
            connection.execute(delete(TOPICS).where(mine))
            connection.execute(insert(TOPICS).values(site=site, topic=topic, **values))

    def note_received(self, site: UUID, topic: str) -> None:
        """A message came that says nothing new."""
        mine = and_(TOPICS.c.site == site, TOPICS.c.topic == topic)
        with opening.said_plainly(), self._writer.begin() as connection:
            connection.execute(update(TOPICS).where(mine).values(received=self._now()))

    def note_fault(self, site: UUID, topic: str, sentence: str) -> None:
        """A message could not be used: one more line, or one more of a line."""
        now, topic, sentence = self._now(), topic[:LONGEST_TOPIC], sentence[:400]
        mine = and_(FAULTS.c.site == site, FAULTS.c.topic == topic, FAULTS.c.sentence == sentence)
        with opening.said_plainly(), self._writer.begin() as connection:
            again = update(FAULTS).where(mine).values(last=now, count=FAULTS.c.count + 1)
            if connection.execute(again).rowcount:
                return
            connection.execute(
                insert(FAULTS).values(
                    site=site, topic=topic, sentence=sentence, first=now, last=now, count=1
                )
            )
            here = FAULTS.c.site == site
            number = connection.execute(select(func.count()).select_from(FAULTS).where(here))
            if number.scalar_one() > MOST_FAULTS:
                oldest = select(func.min(FAULTS.c.last)).where(here).scalar_subquery()
                connection.execute(delete(FAULTS).where(here, FAULTS.c.last == oldest))

    def _log(self, connection: Connection, actor: Actor, change: Change, site: UUID) -> None:
        note = f"of {account_sites.named(connection, frozenset({site}))}"
        changing.log(connection, self._now(), change, actor.account, actor.account, note)

    def _now(self) -> datetime:
        return self._clock().astimezone(UTC)


def ask_admin(actor: Actor, site: UUID) -> None:
    """Mappings say what a message of others means: only admins of the site, at every door.

    Raises
    ------
    NotAllowedError
        The actor is none.
    """
    admin = actor.role.reaches(PersonRole.ADMIN) and actor.holds(Scope.ADMIN)
    if not admin or not covers(actor.sites, frozenset({site})):
        raise NotAllowedError(Fault("", _ADMINS))
