"""Keys for programs in SQL. A key is 256 random bits: a SHA-256 of it is enough to keep."""

from __future__ import annotations

import secrets
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from sqlalchemy import Connection, bindparam, insert, select, update

from splicewright.errors import Fault, InputError
from splicewright.store.accounts import account_sites, sessions
from splicewright.store.accounts.accounts import LONGEST_TOKEN, SCOPE_ROLES, Account, Token
from splicewright.store.accounts.schema import ACCOUNTS, TOKENS
from splicewright.store.authority import Scope
from splicewright.store.sites import ALL_SITES, NO_SITES, Sites, both, covers, from_written, written

SIGN = "sw_"
"""What keys begin with, so that one left lying about is recognised."""
MOST = 200
"""Keys that work at the same time."""


def make(
    connection: Connection,
    account: Account,
    label: str,
    scopes: frozenset[Scope],
    until: datetime,
    now: datetime,
    sites: Sites = ALL_SITES,
) -> str:
    """Make a key; see `Accounts.make_token`. The label is checked already."""
    faults = []
    if account.closed is not None:
        faults.append(Fault("account", "is closed"))
    if not scopes:
        say = f"none is given; accepted are one or more of {', '.join(Scope)}"
        faults.append(Fault("scopes", say))
    for scope in sorted(scopes):
        if not account.role.reaches(SCOPE_ROLES[scope]):
            say = f'"{scope}" is more than {account.name} may, being {account.role}'
            faults.append(Fault("scopes", say))
    if not now < until <= now + LONGEST_TOKEN:
        say = f"cannot be; accepted are 1 to {LONGEST_TOKEN.days} days from now"
        faults.append(Fault("until", say))
    if sites is not None and not covers(account.sites, sites):
        say = f"are more than {account.name} is let into; accepted are sites of theirs"
        faults.append(Fault("sites", say))
    working = [t for t in all_of(connection, None) if t.works(now)]
    if any(t.label == label for t in working):
        say = f'"{label}" is the name of a key that works; revoke that, or take another name'
        faults.append(Fault("label", say))
    if len(working) >= MOST:
        faults.append(Fault("", f"{MOST} keys work already; revoke some first"))
    if faults:
        raise InputError(*faults)
    key = SIGN + secrets.token_urlsafe(32)
    connection.execute(
        insert(TOKENS).values(
            token=uuid4(),
            digest=sessions.digest(key),
            account=account.account,
            label=label,
            scopes=" ".join(sorted(scopes)),
            created=now,
            until=until,
            sites=written(sites),
        )
    )
    return key


_FIND = (
    select(TOKENS, *(column.label(f"of_{column.name}") for column in ACCOUNTS.c))
    .join(ACCOUNTS, ACCOUNTS.c.account == TOKENS.c.account)
    .where(TOKENS.c.digest == bindparam("kept"))
)


def find(connection: Connection, key: str, now: datetime) -> tuple[Token, Account] | None:
    """The token of a key that works, and its account."""
    try:
        digest = sessions.digest(key)
    except UnicodeEncodeError:
        return None
    row = connection.execute(_FIND, {"kept": digest}).first()
    token = None if row is None else _token(row)
    if row is None or token is None or not token.works(now):
        return None
    account = Account(
        row.of_account,
        row.of_login,
        row.of_name,
        row.of_role,
        row.of_units,
        row.of_created,
        row.of_closed,
        account_sites.read(connection, row.of_account, all_sites=row.of_all_sites),
    )
    return token, account


def note_use(connection: Connection, token: UUID, now: datetime) -> None:
    """Note when it was used."""
    connection.execute(update(TOKENS).where(TOKENS.c.token == token).values(used=now))


def all_of(connection: Connection, account: UUID | None) -> tuple[Token, ...]:
    """Keys of an account or all, the newest first."""
    query = select(TOKENS).order_by(TOKENS.c.created.desc(), TOKENS.c.token)
    if account is not None:
        query = query.where(TOKENS.c.account == account)
    return tuple(_token(row) for row in connection.execute(query))


def end(
    connection: Connection, token: UUID, now: datetime, sites: Sites = ALL_SITES
) -> Token | None:
    """Revoke a key; None when it was before.

    sites : of whoever revokes; a key that opens others is none of theirs
    """
    mine = TOKENS.c.token == token
    opens = select(ACCOUNTS.c.account, ACCOUNTS.c.all_sites).where(
        ACCOUNTS.c.account == TOKENS.c.account
    )
    row = connection.execute(select(TOKENS).where(mine)).first()
    of = connection.execute(opens.where(mine)).first()
    theirs = NO_SITES
    if row is not None and of is not None:
        its = account_sites.read(connection, of.account, all_sites=of.all_sites)
        theirs = both(from_written(row.sites), its)
    if row is None or not covers(sites, theirs):
        raise InputError(Fault("token", "there is no such key"))
    if row.ended is not None:
        return None
    connection.execute(update(TOKENS).where(mine).values(ended=now))
    return _token(row)


def end_all(connection: Connection, account: UUID, now: datetime) -> None:
    """Revoke all keys of an account."""
    mine = (TOKENS.c.account == account) & TOKENS.c.ended.is_(None)
    connection.execute(update(TOKENS).where(mine).values(ended=now))


def _token(row: Any) -> Token:
    scopes = frozenset(Scope(word) for word in row.scopes.split())
    # A key without an end, from before they had to have one, ended when it was made.
    until = row.until if row.until is not None else row.created
    sites = from_written(row.sites)
    return Token(
        row.token, row.account, row.label, scopes, row.created, until, row.used, row.ended, sites
    )
