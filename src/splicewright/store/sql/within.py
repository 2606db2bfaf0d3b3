"""Rows of the sites somebody is let into, as conditions of queries (`store.sites` is the rule).

Where a thing lies is looked up at the moment of the question: a conveyor that is moved to another
site takes its belts, joints and jobs with it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, Connection, Select, and_, bindparam, or_, select

from splicewright.store.accounts.schema import ACCOUNT_SITES, ACCOUNTS
from splicewright.store.database.schema import CONTENT_SENDERS, CONTENTS, FACTS, TABLES
from splicewright.store.facts.kinds import Stream
from splicewright.store.present.present import (
    BeltNow,
    ContentNow,
    ConveyorNow,
    DamageNow,
    DeviationNow,
    DueNow,
    JobNow,
    JointNow,
    PersonNow,
    PieceNow,
    Row,
    SiteNow,
    StockNow,
    SubjectNow,
)
from splicewright.store.sites import Sites

_SITES: ColumnElement[Any] = bindparam("within", expanding=True)
_ME: ColumnElement[Any] = bindparam("me")
_C, _B, _J, _O = (TABLES[kind] for kind in (ConveyorNow, BeltNow, JointNow, JobNow))


@dataclass(frozen=True, slots=True)
class Visibility:
    """What somebody sees: sites they are let into, None for all; account : their own."""

    sites: Sites
    account: UUID | None

    @property
    def limited(self) -> bool:
        """Whether there may be sites that they are not let into."""
        return self.sites is not None

    @property
    def given(self) -> dict[str, Any]:
        """What the conditions of this module are bound to; nothing for all sites."""
        return {} if self.sites is None else {"within": list(self.sites), "me": self.account}

    def sees(self, connection: Connection, subject: UUID) -> bool:
        """Whether a thing that the register knows is of those sites."""
        if not self.limited:
            return True
        table = TABLES[SubjectNow]
        query = select(table.c.subject).where(
            table.c.subject == subject, things_within(table.c.subject, table.c.stream)
        )
        return connection.execute(query, self.given).first() is not None

    def facts(self, query: Select[Any]) -> Select[Any]:
        """The query of facts, for those about things of those sites and people there."""
        return query.where(_facts_within()) if self.limited else query

    def content(self, digest: str) -> Select[Any]:
        """The digest when it is kept, and named by something there or kept by them."""
        if self.limited:
            return content_within(digest)
        return select(CONTENTS.c.digest).where(CONTENTS.c.digest == digest)

    def whole(self) -> None:
        """Refuse what takes the register as a whole; no door offers it to them."""
        if self.limited:
            msg = "the register as a whole is for whoever is let into all sites"
            raise RuntimeError(msg)


def rows_within(kind: type[Row]) -> ColumnElement[bool]:
    """Rows of one kind of the present state."""
    table = TABLES[kind]
    if kind in {SiteNow, StockNow, ConveyorNow}:
        return table.c.site.in_(_SITES)
    if kind in {BeltNow, JointNow, DueNow, JobNow}:
        return table.c.conveyor.in_(_conveyors())
    if kind in {PieceNow, DamageNow}:
        return table.c.belt.in_(_of_conveyors(BeltNow))
    if kind is DeviationNow:
        return table.c.job.in_(_of_conveyors(JobNow))
    if kind is PersonNow:
        return table.c.person.in_(_people())
    raise AssertionError(kind)  # a kind of row that is read needs its rule here


def things_within(subject: ColumnElement[Any], stream: ColumnElement[Any]) -> ColumnElement[bool]:
    """Things of those sites, each looked up by its own key."""
    plants = select(_C.c.conveyor).where(_C.c.site.in_(_SITES))
    people = TABLES[PersonNow].alias("somebody")

    def lies(of: Stream, table: Any) -> ColumnElement[bool]:
        own = table.c[of.value] == subject
        there = select(table.c[of.value]).where(own, table.c.conveyor.in_(_conveyors()))
        return and_(stream == of, there.exists())

    return or_(
        and_(stream == Stream.SITE, subject.in_(_SITES)),
        and_(stream == Stream.CONVEYOR, plants.where(_C.c.conveyor == subject).exists()),
        lies(Stream.BELT, _B),
        lies(Stream.JOINT, _J),
        lies(Stream.JOB, _O),
        and_(
            stream == Stream.PERSON,
            select(people.c.person)
            .where(people.c.person == subject, people.c.person.in_(_people()))
            .exists(),
        ),
    )


@cache
def _facts_within() -> ColumnElement[bool]:
    """Built once: it takes longer than most queries."""
    return things_within(FACTS.c.subject, FACTS.c.stream)


def content_within(digest: str) -> Select[Any]:
    """The digest, when something of those sites names it or the asker kept it."""
    named = TABLES[ContentNow]
    subjects = TABLES[SubjectNow]
    of_a_thing = (
        select(named.c.digest)
        .join(subjects, subjects.c.subject == named.c.subject)
        .where(named.c.digest == digest, things_within(subjects.c.subject, subjects.c.stream))
    )
    own = select(CONTENT_SENDERS.c.digest).where(
        CONTENT_SENDERS.c.digest == digest, CONTENT_SENDERS.c.account == _ME
    )
    kept = select(CONTENTS.c.digest).where(CONTENTS.c.digest == digest)
    return kept.where(or_(of_a_thing.exists(), own.exists()))


def _conveyors() -> Select[Any]:
    return select(_C.c.conveyor).where(_C.c.site.in_(_SITES))


def _of_conveyors(kind: type[Row]) -> Select[Any]:
    table = TABLES[kind]
    return select(next(iter(table.primary_key.columns))).where(table.c.conveyor.in_(_conveyors()))


def _people() -> Select[Any]:
    """Accounts let into one of those sites or into all, and the asker's own."""
    theirs = select(ACCOUNT_SITES.c.account).where(ACCOUNT_SITES.c.site.in_(_SITES))
    everywhere = ACCOUNTS.c.all_sites.is_(True)
    return select(ACCOUNTS.c.account).where(
        or_(ACCOUNTS.c.account.in_(theirs), everywhere, ACCOUNTS.c.account == _ME)
    )
