"""`PushPhones` in SQL. A row hangs on its session and goes with it, whoever ends that, and how."""

from __future__ import annotations

import contextlib
from collections.abc import Collection
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

from sqlalchemy import ColumnElement, Connection, delete, insert, or_, select, update

from splicewright.store.accounts import sessions
from splicewright.store.accounts.changing import AccountChanges
from splicewright.store.accounts.push_phones import PushPhone
from splicewright.store.accounts.schema import PUSH_KEYS, PUSH_PHONES, SESSIONS
from splicewright.store.database import opening
from splicewright.store.database.sealing import KeyAwayError, Seal

HELD = timedelta(seconds=90)
"""So long a worker holds a phone; a call is much shorter."""
FIRST_WAIT, LONGEST_WAIT = 60.0, 3600.0
"""After the first failure, and at most, between two tries [s]; each wait is twice the last."""
_COLUMNS = (*PUSH_PHONES.c, SESSIONS.c.account)


class SqlPush(AccountChanges):
    """`PushPhones` in SQL."""

    def key(self) -> bytes:
        """The private key of this server; see `PushPhones.key`."""
        with opening.reading(self._engine) as connection:
            kept = connection.execute(select(PUSH_KEYS)).first()
        if kept is not None:
            with contextlib.suppress(KeyAwayError):
                return self._seal.open(kept.key, bytes(kept.secret))
        return self._new_key(kept)

    def _new_key(self, lost: Any) -> bytes:
        """Make a key in the place of one that nothing opens; what was asked under that is void."""
        from cryptography.hazmat.primitives.asymmetric import ec

        scalar = ec.generate_private_key(ec.SECP256R1()).private_numbers().private_value
        key, secret = uuid4(), scalar.to_bytes(32)
        with self._writing() as connection:
            there = connection.execute(select(PUSH_KEYS)).first()
            if there is not None and (lost is None or there.key != lost.key):
                return self._seal.open(there.key, bytes(there.secret))  # another was faster
            if there is not None:
                connection.execute(delete(PUSH_KEYS))
                connection.execute(delete(PUSH_PHONES))
                # Where that file is missed for more than this, it has to come back.
                self._seal.check(connection)
            sealed = self._seal.seal(connection, key, secret)
            connection.execute(
                insert(PUSH_KEYS).values(key=key, secret=sealed, created=self._now())
            )
        return secret

    def of(self, token: str) -> PushPhone | None:
        """What a session's phone is told; see `PushPhones.of`."""
        with opening.reading(self._engine) as connection:
            session = _session(connection, token)
            mine = select(*_COLUMNS).join(SESSIONS).where(PUSH_PHONES.c.session == session)
            row = connection.execute(mine).first()
            return None if row is None else _read(row)

    def set(
        self,
        token: str,
        endpoint: str,
        public_key: bytes,
        secret: bytes,
        kinds: Collection[str],
        head: int,
    ) -> None:
        """Tell a session's phone from now on; see `PushPhones.set`."""
        with self._writing() as connection:
            session, now = _session(connection, token), self._now()
            # A browser has one place: what somebody before asked for there is over.
            there = or_(PUSH_PHONES.c.session == session, PUSH_PHONES.c.endpoint == endpoint)
            connection.execute(delete(PUSH_PHONES).where(there))
            if session is None or not kinds:
                return
            connection.execute(
                insert(PUSH_PHONES).values(
                    session=session,
                    endpoint=endpoint,
                    public_key=public_key,
                    secret=secret,
                    kinds=",".join(sorted(kinds)),
                    seen=head,
                    looked=now,
                    tries=0,
                    next_try=now,
                )
            )

    def due(self) -> tuple[PushPhone, ...]:
        """Phones that may be told now; see `PushPhones.due`."""
        now = self._now()
        query = (
            select(*_COLUMNS)
            .join(SESSIONS)
            .where(
                # A hold from the future was taken before the clock was set back.
                or_(
                    PUSH_PHONES.c.next_try <= now,
                    PUSH_PHONES.c.next_try > now + timedelta(seconds=LONGEST_WAIT),
                ),
                sessions.lasts(now),
            )
            .order_by(PUSH_PHONES.c.next_try)
        )
        with opening.reading(self._engine) as connection:
            return tuple(_read(row) for row in connection.execute(query))

    def take(self, phone: PushPhone) -> PushPhone | None:
        """Hold a phone; see `PushPhones.take`."""
        return self._move(phone, next_try=self._now() + HELD)

    def notified(self, phone: PushPhone, seen: int, looked: datetime) -> None:
        """It is told up to there."""
        self._move(phone, seen=seen, looked=looked, tries=0, next_try=self._now())

    def missed(self, phone: PushPhone, wait: float) -> None:
        """It was not told; see `PushPhones.missed`."""
        pause = max(FIRST_WAIT * 2.0 ** min(phone.tries, 20), wait)
        later = self._now() + timedelta(seconds=min(pause, LONGEST_WAIT))
        self._move(phone, tries=phone.tries + 1, next_try=later)

    def drop(self, phone: PushPhone) -> None:
        """Its push service does not know it any more."""
        with self._writing() as connection:
            connection.execute(delete(PUSH_PHONES).where(_as_read(phone)))

    def _move(self, phone: PushPhone, **values: Any) -> PushPhone | None:
        """Change a phone that nobody else changed."""
        with self._writing() as connection:
            moved = update(PUSH_PHONES).where(_as_read(phone)).values(**values)
            if not connection.execute(moved).rowcount:
                return None
            mine = select(*_COLUMNS).join(SESSIONS).where(PUSH_PHONES.c.session == phone.session)
            return _read(connection.execute(mine).one())


def drop_lost(connection: Connection, seal: Seal) -> None:
    """Let go of a key that nothing opens: it is made anew when somebody next asks for it."""
    for row in connection.execute(select(PUSH_KEYS)).all():
        try:
            seal.open(row.key, bytes(row.secret))
        except KeyAwayError:
            connection.execute(delete(PUSH_KEYS).where(PUSH_KEYS.c.key == row.key))


def _session(connection: Connection, token: str) -> UUID | None:
    kept = sessions.digest(token)
    mine = or_(SESSIONS.c.digest == kept, SESSIONS.c.previous == kept)
    session: UUID | None = connection.execute(select(SESSIONS.c.session).where(mine)).scalar()
    return session


def _as_read(phone: PushPhone) -> ColumnElement[bool]:
    return (
        (PUSH_PHONES.c.session == phone.session)
        & (PUSH_PHONES.c.endpoint == phone.endpoint)
        & (PUSH_PHONES.c.next_try == phone.next_try)
        & (PUSH_PHONES.c.seen == phone.seen)
    )


def _read(row: Any) -> PushPhone:
    return PushPhone(
        row.session,
        row.account,
        row.endpoint,
        bytes(row.public_key),
        bytes(row.secret),
        frozenset(word for word in row.kinds.split(",") if word),
        row.seen,
        row.looked,
        row.tries,
        row.next_try,
    )
