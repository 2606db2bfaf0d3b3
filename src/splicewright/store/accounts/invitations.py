"""One-time links in SQL, within a transaction of `SqlAccounts`.

A link lets in, or gives a new password, only while whoever made it still may: it is looked at anew
when it is used. It ends with its use, with the use of another for the same person, when the role or
sites of either side change, when either account is closed, when it is revoked, and after a week.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, insert, or_, select, update

from splicewright.errors import Fault, InputError
from splicewright.store.accounts import account_sites, sessions
from splicewright.store.accounts.accounts import Invitation
from splicewright.store.accounts.schema import ACCOUNTS, INVITATIONS
from splicewright.store.authority import may_admit
from splicewright.store.facts.plant_facts import PersonRole
from splicewright.store.sites import Sites, covers, from_written, written

LASTS = timedelta(days=7)


def make(connection: Connection, invitation: Invitation, now: datetime) -> None:
    """Keep a link by the digest of its secret; it lasts from now on."""
    connection.execute(
        insert(INVITATIONS).values(
            digest=invitation.digest,
            name=invitation.name,
            role=invitation.role,
            account=invitation.account,
            by=invitation.by,
            created=now,
            until=now + LASTS,
            all_sites=invitation.sites is None,
            sites=written(invitation.sites) or "",
        )
    )


def find(connection: Connection, secret: str, now: datetime) -> Invitation | None:
    """The link of that secret, when it can still be used."""
    row = connection.execute(
        select(INVITATIONS).where(INVITATIONS.c.digest == sessions.digest(secret))
    ).first()
    return _read(row) if row is not None and _works(connection, row, now) else None


def usable(connection: Connection, now: datetime) -> tuple[Invitation, ...]:
    """All links that can still be used, the newest first."""
    query = select(INVITATIONS).where(INVITATIONS.c.taken.is_(None), INVITATIONS.c.until > now)
    rows = connection.execute(
        query.order_by(INVITATIONS.c.created.desc(), INVITATIONS.c.digest)
    ).all()
    return tuple(_read(row) for row in rows if _works(connection, row, now))


def use(connection: Connection, used: Invitation, now: datetime) -> None:
    """It ends, and with it every other for the same person."""
    for other in usable(connection, now):
        same = (
            other.account == used.account
            if used.account is not None
            else other.account is None and other.name.casefold() == used.name.casefold()
        )
        if same:
            _end(connection, INVITATIONS.c.digest == other.digest, now)


def revoke(connection: Connection, id_: UUID, now: datetime) -> Invitation:
    """End a link by its id."""
    for invitation in usable(connection, now):
        if invitation.id == id_:
            _end(connection, INVITATIONS.c.digest == invitation.digest, now)
            return invitation
    raise InputError(Fault("invitation", "there is no such link any more; it opens nothing"))


def end_of(connection: Connection, account: UUID, now: datetime) -> None:
    """End all links for an account, and all that it made."""
    theirs = or_(INVITATIONS.c.account == account, INVITATIONS.c.by == account)
    _end(connection, theirs, now)


def _end(connection: Connection, which: Any, now: datetime) -> None:
    open_ = which & INVITATIONS.c.taken.is_(None)
    connection.execute(update(INVITATIONS).where(open_).values(taken=now))


def _works(connection: Connection, row: Any, now: datetime) -> bool:
    if row.taken is not None or row.until <= now:
        return False
    if row.account is not None:
        there = _now(connection, row.account)
        if there is None or there != (row.role, _sites(row)):
            return False
    if row.by is None:
        return True  # made at the console
    maker = _now(connection, row.by)
    return maker is not None and may_admit(maker[0], row.role) and covers(maker[1], _sites(row))


def _now(connection: Connection, account: UUID) -> tuple[PersonRole, Sites] | None:
    """Role and sites of an account; None when it is closed or never was."""
    query = select(ACCOUNTS.c.role, ACCOUNTS.c.all_sites).where(
        ACCOUNTS.c.account == account, ACCOUNTS.c.closed.is_(None)
    )
    row = connection.execute(query).first()
    if row is None:
        return None
    return row.role, account_sites.read(connection, account, all_sites=row.all_sites)


def _sites(row: Any) -> Sites:
    return None if row.all_sites else from_written(row.sites)


def _read(row: Any) -> Invitation:
    digest = bytes(row.digest)
    return Invitation(row.name, row.role, row.until, row.account, row.by, digest, _sites(row))
