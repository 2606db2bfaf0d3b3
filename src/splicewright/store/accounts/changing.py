"""What changes of accounts go through: one transaction at a time, each with a line in the log."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, Engine, func, insert, select, text, update

from splicewright.errors import Fault, InputError
from splicewright.store.accounts import account_sites
from splicewright.store.accounts.accounts import Account, Change
from splicewright.store.accounts.schema import ACCOUNTS, CHANGES
from splicewright.store.database import opening
from splicewright.store.database.sealing import Seal
from splicewright.store.facts.plant_facts import PersonRole
from splicewright.store.sites import ALL_SITES, Sites, shares
from splicewright.store.sites import may_let_into as may_let

_ALONE = 7_304_222
"""PostgreSQL advisory lock under which accounts are written one after the other."""

_MEANWHILE = (
    "Until then sign in with a recovery code or a passkey, or have the factor cleared: "
    "splicewright register people clear-factor LOGIN"
)


class AccountChanges:
    """The database of accounts, and what its writers share."""

    def __init__(self, engine: Engine, clock: Callable[[], datetime]) -> None:
        self._engine = engine
        self._writer = opening.writing(engine)
        self._clock = clock
        self._seal = Seal(opening.key_place(engine.url), _MEANWHILE)

    def _now(self) -> datetime:
        return self._clock().astimezone(UTC)

    @contextlib.contextmanager
    def _writing(self) -> Iterator[Connection]:
        """A transaction that writes, one at a time: checks in it hold until it ends."""
        with opening.said_plainly(), self._writer.begin() as connection:
            if connection.dialect.name == "postgresql":
                connection.execute(text("SELECT pg_advisory_xact_lock(:n)"), {"n": _ALONE})
            yield connection

    def _set(self, connection: Connection, account: UUID, **values: object) -> None:
        connection.execute(update(ACCOUNTS).where(ACCOUNTS.c.account == account).values(**values))

    def _log_sites(
        self, connection: Connection, account: UUID, by: UUID | None, before: Sites, after: Sites
    ) -> None:
        note = account_sites.change_of_sites(connection, before, after)
        self._log(connection, Change.SITES, account, by, note)

    def _log(
        self,
        connection: Connection,
        change: Change,
        account: UUID | None,
        by: UUID | None,
        note: str = "",
    ) -> None:
        log(connection, self._now(), change, account, by, note)


def log(
    connection: Connection,
    now: datetime,
    change: Change,
    account: UUID | None,
    by: UUID | None,
    note: str = "",
) -> None:
    """Write a line of the log, which the database itself never changes."""
    connection.execute(
        insert(CHANGES).values(at=now, account=account, by=by, change=change, note=note)
    )


def read_account(connection: Connection, row: Any) -> Account:
    """The account of a row."""
    return account_of(row, account_sites.read(connection, row.account, all_sites=row.all_sites))


def account_of(row: Any, sites: Sites) -> Account:
    """The same where its sites were read."""
    return Account(
        row.account, row.login, row.name, row.role, row.units, row.created, row.closed, sites
    )


def find(connection: Connection, account: UUID) -> Account | None:
    """One account."""
    row = connection.execute(select(ACCOUNTS).where(ACCOUNTS.c.account == account)).first()
    return None if row is None else read_account(connection, row)


def must_find(connection: Connection, account: UUID) -> Account:
    """One account; refused when there is none."""
    record = find(connection, account)
    if record is None:
        raise InputError(Fault("account", f"there is no account {account}"))
    return record


def must_see(connection: Connection, account: UUID, by: UUID | None) -> Account:
    """The account; one that shares no site with the doer is as if there were none."""
    record = must_find(connection, account)
    if by is not None and not shares(must_find(connection, by).sites, record.sites):
        raise InputError(Fault("account", f"there is no account {account}"))
    return record


def may_let_into(connection: Connection, by: UUID | None, sites: Sites) -> None:
    """Refuse to let anybody into sites that the doer is not let into; the console is into all."""
    fault = may_let(must_find(connection, by).sites, sites) if by is not None else None
    if fault is not None:
        raise InputError(fault)


def keep_an_admin(connection: Connection, account: Account) -> None:
    """Refuse what would leave nobody to let people in, into all sites."""
    if (account.role, account.closed, account.sites) != (PersonRole.ADMIN, None, ALL_SITES):
        return
    admins = connection.execute(
        select(func.count()).where(
            ACCOUNTS.c.role == PersonRole.ADMIN,
            ACCOUNTS.c.closed.is_(None),
            ACCOUNTS.c.all_sites.is_(True),
        )
    ).scalar_one()
    if admins <= 1:
        raise InputError(
            Fault(
                "role",
                f"{account.name} is the only admin of all sites; make another person admin first",
            )
        )
