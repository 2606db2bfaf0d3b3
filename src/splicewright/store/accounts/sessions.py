"""Sessions and tries to sign in, within a transaction of `SqlAccounts`.

A device's token is replaced every hour. The one before stays good until the device has used the
new one (its answer may be lost on the way) and a minute longer (requests sent side by side).
"""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

from sqlalchemy import (
    ColumnElement,
    Connection,
    bindparam,
    delete,
    func,
    insert,
    or_,
    select,
    update,
)

from splicewright.store.accounts.schema import ACCOUNTS, SESSIONS, TRIES
from splicewright.store.refusals import TooOftenError

ROTATED_AFTER = timedelta(hours=1)
OVERLAP = timedelta(minutes=1)
IDLE, LONGEST = timedelta(days=14), timedelta(days=60)
"""How long a session lasts without use, and at all: crews are without signal for days."""
USED_TOLD = timedelta(minutes=5)
"""How stale `used` may be: not every look at a page writes to the database."""
WINDOW = timedelta(minutes=15)
TRIES_OF_BOTH, TRIES_OF_LOGIN, TRIES_OF_ADDRESS = 5, 30, 50
"""Failed tries in the window: of one name from one address, of one name, from one address.

Of one name from everywhere they are only slowed down after that: a stranger who tries wrong
passwords on purpose shall lock nobody out.
"""
SLOWED = timedelta(seconds=30)
"""Between two tries of such a name."""
TRIES_OF_DEVICE = 10
"""Of a device that signed in before; nobody else's tries count against it."""
WAITS = timedelta(minutes=10)
"""How long a session waits for its code."""
KEPT_FOR = timedelta(days=90)
"""How long a session that nobody ended is remembered: a phone that comes back later is told."""
_DEVICE = "device "


def digest(secret: str) -> bytes:
    """What is kept of a random secret; it has 256 bits, so no slow hash is needed."""
    return hashlib.sha256(secret.encode("utf-8", "replace")).digest()


def begin(
    connection: Connection, account: UUID, now: datetime, *, waits: bool = False
) -> tuple[str, bytes]:
    """A new session: its token and its CSRF secret; one that waits opens nothing yet."""
    token, csrf = secrets.token_urlsafe(32), secrets.token_bytes(32)
    connection.execute(
        delete(SESSIONS).where(
            or_(SESSIONS.c.used < now - KEPT_FOR, SESSIONS.c.began < now - KEPT_FOR)
        )
    )
    connection.execute(
        insert(SESSIONS).values(
            session=uuid4(),
            account=account,
            digest=digest(token),
            csrf=csrf,
            began=now,
            rotated=now,
            taken=True,
            used=now,
            waits=waits,
        )
    )
    return token, csrf


_FIND = (
    select(
        SESSIONS.c.digest,
        SESSIONS.c.csrf,
        SESSIONS.c.began,
        SESSIONS.c.rotated,
        SESSIONS.c.taken,
        SESSIONS.c.used,
        SESSIONS.c.waits,
        *ACCOUNTS.c,
    )
    .join(ACCOUNTS, ACCOUNTS.c.account == SESSIONS.c.account)
    .where(or_(SESSIONS.c.digest == bindparam("kept"), SESSIONS.c.previous == bindparam("kept")))
)


def find(connection: Connection, token: str, now: datetime) -> tuple[Any, bytes, bool] | None:
    """Row of the account of a token, its CSRF secret, whether the session is to be touched."""
    kept = digest(token)
    row = connection.execute(_FIND, {"kept": kept}).first()
    if row is None or row.waits or row.used < now - IDLE or row.began < now - LONGEST:
        return None
    if bytes(row.digest) != kept:
        if now - row.rotated <= OVERLAP:
            return row, bytes(row.csrf), False
        return None if row.taken else (row, bytes(row.csrf), True)
    stale = not row.taken or now - row.rotated > ROTATED_AFTER or now - row.used > USED_TOLD
    return row, bytes(row.csrf), stale


def lasts(now: datetime) -> ColumnElement[bool]:
    """Whether a session still opens something."""
    return (
        SESSIONS.c.waits.is_(False)
        & (SESSIONS.c.used >= now - IDLE)
        & (SESSIONS.c.began >= now - LONGEST)
    )


def waiting(connection: Connection, token: str, now: datetime) -> UUID | None:
    """Whose session it is that waits for a code, for a while."""
    mine = (SESSIONS.c.digest == digest(token)) & SESSIONS.c.waits.is_(True)
    query = select(SESSIONS.c.account).where(mine, SESSIONS.c.began > now - WAITS)
    account: UUID | None = connection.execute(query).scalar()
    return account


def let_pass(connection: Connection, token: str) -> None:
    """The code was right: the session opens what its account may."""
    mine = SESSIONS.c.digest == digest(token)
    connection.execute(update(SESSIONS).where(mine).values(waits=False))


def touch(connection: Connection, token: str, now: datetime) -> str | None:
    """Note that a session is used; a new token when the old one's hour is over.

    The caller's transaction writes, so that two requests at once rotate once.
    """
    kept = digest(token)
    row = connection.execute(
        select(SESSIONS)
        .where(or_(SESSIONS.c.digest == kept, SESSIONS.c.previous == kept))
        .with_for_update()
    ).first()
    if row is None:
        return None
    known = bytes(row.digest) == kept
    change: dict[str, object] = {"used": now}
    new = None
    if not known and now - row.rotated > OVERLAP and not row.taken:
        # The answer with the newer token never came through: give another.
        new = secrets.token_urlsafe(32)
        change |= {"digest": digest(new), "rotated": now}
    elif known and now - row.rotated > ROTATED_AFTER:
        new = secrets.token_urlsafe(32)
        change |= {"digest": digest(new), "previous": kept, "rotated": now, "taken": False}
    elif known and not row.taken:
        change["taken"] = True
    connection.execute(update(SESSIONS).where(SESSIONS.c.session == row.session).values(**change))
    return new


def end(connection: Connection, token: str) -> UUID | None:
    """End the session of a token; whose it was."""
    kept = digest(token)
    mine = or_(SESSIONS.c.digest == kept, SESSIONS.c.previous == kept)
    account: UUID | None = connection.execute(select(SESSIONS.c.account).where(mine)).scalar()
    connection.execute(delete(SESSIONS).where(mine))
    return account


def end_all(connection: Connection, account: UUID) -> None:
    """End all sessions of an account."""
    connection.execute(delete(SESSIONS).where(SESSIONS.c.account == account))


def is_there(connection: Connection, token: str) -> bool:
    """Whether a token's session is remembered, though it may have been left unused too long."""
    return connection.execute(_FIND, {"kept": digest(token)}).first() is not None


def count_try(
    connection: Connection, login: str, address: str, now: datetime, device: str = ""
) -> UUID:
    """Count a try before its password is looked at, so that tries side by side all count.

    device : what tells it from others when it signed in as this name before, else ""

    Raises
    ------
    TooOftenError
        There were too many; this one is not counted.
    """
    connection.execute(delete(TRIES).where(TRIES.c.at < now - WINDOW))
    name = digest(login)
    mine, strange = TRIES.c.login == name, ~TRIES.c.address.startswith(_DEVICE)
    if device:
        address = f"{_DEVICE}{device}"
        _limit(connection, mine & (TRIES.c.address == address), TRIES_OF_DEVICE, now)
    else:
        _limit(connection, mine & (TRIES.c.address == address), TRIES_OF_BOTH, now)
        _limit(connection, TRIES.c.address == address, TRIES_OF_ADDRESS, now)
        count, last = connection.execute(
            select(func.count(), func.max(TRIES.c.at)).where(mine & strange)
        ).one()
        if count >= TRIES_OF_LOGIN and now - last < SLOWED:
            raise TooOftenError((last + SLOWED - now).total_seconds())
    this = uuid4()
    connection.execute(
        insert(TRIES).values({"try": this, "login": name, "address": address, "at": now})
    )
    return this


def _limit(connection: Connection, rule: Any, most: int, now: datetime) -> None:
    count, first = connection.execute(select(func.count(), func.min(TRIES.c.at)).where(rule)).one()
    if count >= most:
        raise TooOftenError((first + WINDOW - now).total_seconds())


def forget_try(connection: Connection, this: UUID) -> None:
    """A try that succeeded does not count."""
    connection.execute(delete(TRIES).where(TRIES.c["try"] == this))
