"""`Phones` in SQL, beside the accounts."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

from sqlalchemy import Connection, delete, insert, select, update

from splicewright.store.accounts.changing import AccountChanges
from splicewright.store.accounts.phones import PhoneHeard, PhoneKnown, PhoneReport
from splicewright.store.accounts.schema import PHONES
from splicewright.store.database import opening
from splicewright.store.database.schema import FACTS

HEARD_TOLD = timedelta(minutes=10)
"""How stale `heard` may be: not every request writes."""
KEPT_FOR = timedelta(days=400)
"""How long a phone is remembered; browsers keep no cookie longer."""
MOST = 100
"""Phones of one account that are remembered."""


class SqlPhones(AccountChanges):
    """`Phones` in SQL."""

    def hear(self, account: UUID, report: PhoneReport, cookie: UUID | None) -> PhoneHeard:
        """Remember what a phone says; see `Phones.hear`."""
        phone, now = report.phone or cookie or report.store or uuid4(), self._now()
        with opening.reading(self._engine) as connection:
            there = _known(connection, account, phone)
            # An id that was given to this very store goes with it: its page was left before it kept
            # that, or the answer was lost.
            anew = report.phone is None and phone != report.store
            lost = there is not None and (anew or there.entries > report.entries)
            new = report.phone is None and not lost
            others = _waiting(connection, account, phone) if new else ()
        if lost:
            return PhoneHeard(phone, there)
        if _tells(there, report, now):
            with self._writing() as connection:
                _remember(connection, account, phone, report, now)
        return PhoneHeard(phone, None, others)

    def lacking(self, ids: Collection[UUID]) -> frozenset[UUID]:
        """Receipts without a fact; see `Phones.lacking`."""
        with opening.reading(self._engine) as connection:
            there = connection.execute(select(FACTS.c.id).where(FACTS.c.id.in_(list(ids))))
            return frozenset(ids) - frozenset(there.scalars())


def _read(row: Any) -> PhoneKnown:
    return PhoneKnown(row.phone, row.device, row.entries, row.waits, row.heard)


def _known(connection: Connection, account: UUID, phone: UUID) -> PhoneKnown | None:
    mine = (PHONES.c.account == account) & (PHONES.c.phone == phone)
    row = connection.execute(select(PHONES).where(mine)).first()
    return None if row is None else _read(row)


def _waiting(connection: Connection, account: UUID, phone: UUID) -> tuple[PhoneKnown, ...]:
    query = select(PHONES).where(
        PHONES.c.account == account, PHONES.c.phone != phone, PHONES.c.waits > 0
    )
    rows = connection.execute(query.order_by(PHONES.c.heard.desc()).limit(5))
    return tuple(_read(row) for row in rows)


def _tells(there: PhoneKnown | None, report: PhoneReport, now: datetime) -> bool:
    """Whether what a phone says is worth a write."""
    if there is None:
        return True
    same = (there.entries, there.waits, there.device) == (
        report.entries,
        report.waits,
        report.device,
    )
    return not same or now - there.heard > HEARD_TOLD


def _remember(
    connection: Connection, account: UUID, phone: UUID, report: PhoneReport, now: datetime
) -> None:
    values = {
        "device": report.device,
        "entries": report.entries,
        "waits": report.waits,
        "heard": now,
    }
    mine = (PHONES.c.account == account) & (PHONES.c.phone == phone)
    if connection.execute(update(PHONES).where(mine).values(**values)).rowcount:
        return
    connection.execute(insert(PHONES).values(account=account, phone=phone, **values))
    theirs = PHONES.c.account == account
    connection.execute(delete(PHONES).where(theirs, PHONES.c.heard < now - KEPT_FOR))
    newest = select(PHONES.c.phone).where(theirs).order_by(PHONES.c.heard.desc()).limit(MOST)
    connection.execute(delete(PHONES).where(theirs, PHONES.c.phone.not_in(newest)))
